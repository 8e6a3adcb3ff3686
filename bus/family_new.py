"""A commented family to begin with: ``boathook families new NAME``."""

from __future__ import annotations

import re
from pathlib import Path

from app.errors import BoathookError
from bus.family import own_folder

SKELETON = Path(__file__).parent / "family_skeleton"
FILES = ("family.toml", "signals.dbc")
_NAME = re.compile(r"[a-z][a-z0-9_-]{0,30}")


def begin(name: str, within: Path | None = None) -> Path:
    """Write the skeleton into a folder of its own.

    Args:
        name: of the family and its folder.
        within: folder of families; None = the user's own.

    Returns:
        The new folder.

    Raises:
        BoathookError: no such name, there is such a folder already, or it cannot be written.
    """
    if not _NAME.fullmatch(name):
        raise BoathookError(
            f"{name!r} cannot be the name of a family. Use small letters, digits, - and _, a letter first."
        )
    folder = (own_folder() if within is None else within) / name
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        folder.mkdir()
        for file in FILES:
            text = (SKELETON / file).read_text("utf-8")
            text = text.replace("@NAME@", name).replace("@TITLE@", name.replace("_", " ").capitalize())
            (folder / file).write_text(text, "utf-8")
    except FileExistsError as error:
        raise BoathookError(
            f"{folder} is there already, and nothing in it was changed. Take another name."
        ) from error
    except OSError as error:
        raise BoathookError(f"{folder} cannot be written: {error.strerror}.") from error
    return folder
