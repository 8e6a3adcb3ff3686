"""Errors Boathook raises on purpose.

BoathookError            exit code 1; always carries one plain sentence for a person
├── UsageError           exit code 2: the command was not understood
├── Refused              exit code 3: the tool will not do it; .needs says what is missing
├── AdapterError         the adapter, not the craft: check the cable
│   ├── AdapterMissing   no such interface or device
│   ├── AdapterDenied    the device is there, this user may not open it
│   └── AdapterLost      it was open and went away
├── ControllerError      a controller on the craft, not the adapter
│   ├── ControllerSilent     no answer came, or none that came to an end
│   ├── ControllerNonsense   something came that is no answer to what was asked
│   └── ControllerRefused    it said no; .code is its reason
├── FamilyError          a family folder is not sound; .file, .line, .mend
├── RecordingError       a recording cannot be read at all
├── StorageError         the disk refused, or is nearly full
└── WallError            the other half of the tool did not answer or spoke nonsense
    └── WallTaken        exit code 3: another one already runs here
"""

from __future__ import annotations


class BoathookError(Exception):
    """Base of every error raised on purpose. ``str()`` is one sentence for a person."""

    exit_code = 1


class UsageError(BoathookError):
    """The command line was not understood."""

    exit_code = 2


class Refused(BoathookError):
    """The tool will not do what was asked.

    Attributes:
        needs: every missing need in the order to mend it; never empty.
    """

    exit_code = 3

    def __init__(self, what: str, needs: tuple[str, ...]) -> None:
        super().__init__(f"{what} is refused: {'; '.join(needs)}")
        self.needs = needs


class AdapterError(BoathookError):
    """The adapter, not the craft."""


class AdapterMissing(AdapterError):
    """No such interface or device."""


class AdapterDenied(AdapterError):
    """The device is there and this user may not open it."""


class AdapterLost(AdapterError):
    """The adapter was open and went away."""


class ControllerError(BoathookError):
    """A controller on the craft, not the adapter."""


class ControllerSilent(ControllerError):
    """No answer came, or none that came to an end."""


class ControllerNonsense(ControllerError):
    """Something came that is no answer to what was asked."""


class ControllerRefused(ControllerError):
    """The controller said no.

    Attributes:
        code: its reason, a negative response code of ISO 14229-1 (see app.nrc).
    """

    def __init__(self, sentence: str, code: int) -> None:
        super().__init__(sentence)
        self.code = code


class FamilyError(BoathookError):
    """A family folder is not sound.

    Attributes:
        file: path of the file at fault.
        line: line number from 1, or None where the whole file is meant.
        what: what was seen.
        mend: what to do about it.
    """

    def __init__(self, file: str, line: int | None, what: str, mend: str) -> None:
        place = file if line is None else f"{file}, line {line}"
        super().__init__(f"{place}: {what}. {mend}")
        self.file, self.line, self.what, self.mend = file, line, what, mend


class RecordingError(BoathookError):
    """A recording cannot be read at all."""


class StorageError(BoathookError):
    """The disk refused, or is nearly full."""


class WallError(BoathookError):
    """The other process did not answer, or spoke nonsense."""


class WallTaken(WallError):
    """Another bus process already runs at this place."""

    exit_code = 3
