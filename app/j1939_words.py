"""Words for trouble codes of SAE J1939-73: what a number of a part (SPN) and of a failure (FMI) means.

Sources: FMI 0 to 19 and the SPN marked in shared/reference/standards.md 5.3 and 5.4; FMI 20, 21 and 31, and
SPN 51, 84 and 91, from memory. A number that stands in no table gets no words: a name is never invented.
"""

from __future__ import annotations

FMIS = {
    0: "above normal, most severe",
    1: "below normal, most severe",
    2: "erratic",
    3: "voltage too high",
    4: "voltage too low",
    5: "current too low, or an open circuit",
    6: "current too high, or a short to ground",
    7: "mechanical",
    8: "frequency or pulse width not right",
    9: "updated too seldom",
    10: "changes too fast",
    11: "root cause not known",
    12: "bad device",
    13: "out of calibration",
    14: "special instructions: maker's manual",
    15: "above normal, least severe",
    16: "above normal, moderately severe",
    17: "below normal, least severe",
    18: "below normal, moderately severe",
    19: "data of the network are wrong",
    20: "drifted high",
    21: "drifted low",
    31: "the condition is there",
}
OF_THE_QUANTITY = frozenset({0, 1, 15, 16, 17, 18})
"""FMI that say the quantity itself is too high or too low: the circuit of its sensor works."""

SPNS = {
    22: "Blow-by",
    51: "Throttle position",
    52: "Intercooler",
    81: "Particle trap inlet",
    84: "Craft speed",
    91: "Throttle lever",
    94: "Fuel delivery pressure",
    98: "Oil level",
    100: "Oil pressure",
    101: "Crankcase pressure",
    102: "Boost pressure",
    105: "Intake temperature",
    106: "Air inlet pressure",
    107: "Air filter",
    109: "Coolant pressure",
    110: "Coolant temperature",
    111: "Coolant level",
    112: "Coolant filter",
    114: "Battery current",
    115: "Alternator current",
    158: "Voltage at the key switch",
    167: "Charging voltage",
    168: "Battery voltage",
    173: "Exhaust gas temperature",
    174: "Fuel temperature",
    175: "Oil temperature",
    176: "Turbo oil temperature",
    190: "Engine speed",
    247: "Engine hours",
    512: "Torque the driver wants",
    513: "Engine torque",
    1134: "Thermostat opening",
}


def trouble_words(spn: int, fmi: int) -> str:
    """What a code means, as "Coolant temperature: above normal, most severe"; empty for an unknown part."""
    part = SPNS.get(spn, "")
    what = FMIS.get(fmi, "")
    return f"{part}: {what}" if part and what else part


def trouble_code(spn: int, fmi: int) -> str:
    """A code as it stands in service papers: "SPN 110 FMI 0"."""
    return f"SPN\u00a0{spn} FMI\u00a0{fmi}"


def of_the_quantity(code: str) -> bool:
    """Whether a code as by ``trouble_code`` says that what is measured is itself too high or too low."""
    number = code.rpartition("FMI\u00a0")[2]
    return code.startswith("SPN") and number.isdecimal() and int(number) in OF_THE_QUANTITY
