"""How patient an alarm is, and what to do about it, by unit and side of the limit.

The times and deadbands are start values of our own after the usual ones for slow and fast signals in alarm
practice; what to do is common practice without a source, and the maker's manual goes before it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from app.messages import Limit, SignalInfo

PRESSURES = frozenset({"kPa", "bar", "psi"})


class Patience(NamedTuple):
    """Of an alarm.

    Attributes:
        on_s: seconds without a gap beyond the limit before it is raised: hides short peaks.
        off_s: seconds without a gap inside it before it counts as over: hides short recoveries.
        deadband: in the signal's unit: so far the value must come back to be inside.
    """

    on_s: float
    off_s: float
    deadband: float


SHARE_OF_SPAN = 0.01
PRESSURE_SHARE = 0.05
"""Of a signal's scale, where no deadband in its unit is given."""

_BY_UNIT = {
    "degC": Patience(3.0, 5.0, 2.0),
    "degF": Patience(3.0, 5.0, 3.6),
    "V": Patience(5.0, 10.0, 0.2),
}


def patience(info: SignalInfo) -> Patience:
    """How long a value of this signal must be beyond a limit, and how far it must come back."""
    known = _BY_UNIT.get(info.unit)
    if known is not None:
        return known
    span = 0.0 if info.low is None or info.high is None else info.high - info.low
    return Patience(1.0, 3.0, span * (PRESSURE_SHARE if info.unit in PRESSURES else SHARE_OF_SPAN))


LONGEST = 30
"""Letters of what to do: read at one glance under way."""

OTHERWISE = "Ease off and look"


def advice(info: SignalInfo, limit: Limit) -> str:
    """What to do at once, in at most LONGEST letters."""
    unit = "pressure" if info.unit in PRESSURES else info.unit
    return _ADVICE.get((unit, limit.side), OTHERWISE)


_ADVICE = {
    ("degC", "above"): "Ease off. Hotter still: stop",
    ("degF", "above"): "Ease off. Hotter still: stop",
    ("pressure", "below"): "Stop the engine",
    ("V", "below"): "Go in, do not switch off",
    ("V", "above"): "Go in, stop the engine",
    ("rpm", "above"): "Ease off the lever",
    ("rev/min", "above"): "Ease off the lever",
}
