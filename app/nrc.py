"""What a controller says when it refuses: negative response codes of ISO 14229-1, in words."""

from __future__ import annotations

from typing import NamedTuple

PENDING = 0x78
"""Not a refusal: the controller has understood and asks for more time."""


class Refusal(NamedTuple):
    """One code.

    Attributes:
        name: as the standard calls it.
        words: for a person, what it means and what to do; empty where the name must do.
    """

    name: str
    words: str = ""


REFUSALS: dict[int, Refusal] = {
    0x10: Refusal("generalReject"),
    0x11: Refusal("serviceNotSupported"),
    0x12: Refusal("subFunctionNotSupported"),
    0x13: Refusal("incorrectMessageLengthOrInvalidFormat"),
    0x14: Refusal("responseTooLong"),
    0x21: Refusal("busyRepeatRequest", "It is busy with something else. Wait a moment, ask again."),
    0x22: Refusal(
        "conditionsNotCorrect", "The craft is not in the state it needs. Key on, engine stopped, ask again."
    ),
    0x24: Refusal("requestSequenceError"),
    0x25: Refusal("noResponseFromSubnetComponent"),
    0x26: Refusal("failurePreventsExecutionOfRequestedAction"),
    0x31: Refusal("requestOutOfRange", "It does not know what was asked for. The family data may not fit."),
    0x33: Refusal("securityAccessDenied", "It is locked against this. The maker's own access is needed."),
    0x34: Refusal("authenticationRequired"),
    0x35: Refusal("invalidKey"),
    0x36: Refusal("exceedNumberOfAttempts"),
    0x37: Refusal("requiredTimeDelayNotExpired"),
    0x70: Refusal("uploadDownloadNotAccepted"),
    0x71: Refusal("transferDataSuspended"),
    0x72: Refusal("generalProgrammingFailure"),
    0x73: Refusal("wrongBlockSequenceCounter"),
    PENDING: Refusal("requestCorrectlyReceived-ResponsePending", "It asks for more time. Wait."),
    0x7E: Refusal(
        "subFunctionNotSupportedInActiveSession",
        "It does this only in another session. The family data may not fit it.",
    ),
    0x7F: Refusal(
        "serviceNotSupportedInActiveSession",
        "It does this only in another session. The family data may not fit it.",
    ),
    0x81: Refusal("rpmTooHigh", "Engine speed is too high for this. Let the engine idle, or stop it."),
    0x82: Refusal("rpmTooLow", "Engine speed is too low for this."),
    0x83: Refusal("engineIsRunning", "The engine is running. Stop it, ask again."),
    0x84: Refusal("engineIsNotRunning", "The engine is not running, and this needs it to."),
    0x85: Refusal("engineRunTimeTooLow", "The engine has not run for long enough. Let it run on."),
    0x86: Refusal("temperatureTooHigh", "It is too hot for this. Let it cool down."),
    0x87: Refusal("temperatureTooLow", "It is too cold for this. Let it warm up."),
    0x88: Refusal("vehicleSpeedTooHigh", "The craft is moving too fast for this."),
    0x89: Refusal("vehicleSpeedTooLow", "The craft is moving too slowly for this."),
    0x8A: Refusal("throttle/PedalTooHigh", "The throttle lever is pulled too far. Let go of it."),
    0x8B: Refusal("throttle/PedalTooLow", "The throttle lever is not pulled far enough."),
    0x8C: Refusal("transmissionRangeNotInNeutral", "It wants neutral."),
    0x8D: Refusal("transmissionRangeNotInGear", "It wants a gear."),
    0x8E: Refusal("ISOSAEReserved", "It gives a code that the standard has left without a meaning."),
    0x8F: Refusal("brakeSwitch(es)NotClosed", "It wants the brake or reverse lever pulled."),
    0x90: Refusal("shifterLeverNotInPark"),
    0x91: Refusal("torqueConverterClutchLocked"),
    0x92: Refusal("voltageTooHigh", "The battery voltage is too high. Check the charger and the regulator."),
    0x93: Refusal("voltageTooLow", "The battery voltage is too low. Charge it, ask again."),
    0x94: Refusal("resourceTemporarilyNotAvailable"),
}
"""Numbers and names of ISO 14229-1, by two open libraries that agree; the words are our own."""


def refusal_words(code: int) -> str:
    """One or two sentences about a code; a code that the table does not hold is said as a number."""
    refusal = REFUSALS.get(code)
    if refusal is None:
        return f"It gives a reason that is not known here (code {code:02X})."
    return f"{refusal.words or 'It gives this reason.'} ({refusal.name}, code {code:02X})"
