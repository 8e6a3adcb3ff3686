"""Fuel or spark held off while a person cranks: whatever a bus side may say of it, played to the glass."""

from __future__ import annotations

import msgspec

from app.interlock import Kind, Need
from app.output_messages import Consider, EndInhibit, NeedState, OutputInfo, OutputState, Phase, Press

FUEL = OutputInfo(
    "fuel_inhibit", "Hold fuel off", Kind.FUEL_INHIBIT, 120.0, 0, 0.0, 0.0, released=True, latched=True
)
SPARK = OutputInfo(
    "spark_inhibit", "Hold spark off", Kind.SPARK_INHIBIT, 120.0, 0, 0.0, 0.0, released=True, latched=True
)

ASKED = [
    NeedState(
        Need.NO_SMELL, None, "Hatch open, no smell of fuel: not confirmed", "Open the hatch, sniff, confirm"
    ),
    NeedState(Need.HANDS_CLEAR, None, "Hands, hair and clothes clear: not confirmed", "Stand clear, confirm"),
    NeedState(
        Need.JET_CLEAR,
        None,
        "Nobody near intake, jet and stern: not confirmed",
        "Look round the craft, confirm",
    ),
]
GIVEN = [
    NeedState(Need.NO_SMELL, True, "Hatch open, no smell of fuel: confirmed 64 s ago", ""),
    NeedState(Need.HANDS_CLEAR, True, "Hands, hair and clothes clear: confirmed 12 s ago", ""),
    NeedState(Need.JET_CLEAR, True, "Nobody near intake, jet and stern: confirmed 23 s ago", ""),
]
WHY = "Not read back for 2 s."
SILENT = f"{WHY} NOT known to hold. Release the start switch, lanyard out."
NEVER = "It was not read back. Do not crank. NOT known to hold. Release the start switch, lanyard out."
TOUCHED = "The key to give it back was touched."
LIMIT = "The time of 120 s is over."
CRANKING = {"EngineSpeed": 230.0, "EngineState": "Cranking", "CraftSpeed": 0.0, "BatteryVoltage": 10.6}
STILL = {"EngineSpeed": 0.0, "EngineState": "Stopped", "CraftSpeed": 0.0, "BatteryVoltage": 12.4}
ENDED = {"cause": TOUCHED, "confirmed_at": 1.0, "fired": True}


def _state(link, needs, phase, after, more):
    chosen = max((n for n, one in enumerate(link.asked) if isinstance(one, Consider)), default=None)
    asked = [] if chosen is None else link.asked[chosen:]
    if not asked or asked[0].output is None:
        return None
    press = next((one for one in reversed(asked) if isinstance(one, Press)), None)
    now = link.clock()
    if press is None:
        ready = all(need.holds is True for need in needs)
        return OutputState(asked[0].output, 0, None, now, list(needs), ready=ready)
    if any(isinstance(one, EndInhibit) for one in asked):
        phase = after or phase
        more = {"ending": TOUCHED} | more
    if phase is Phase.LATCHED:
        more = {"confirmed_at": now - 0.4, "fired": True} | more
    return OutputState(press.output, press.press, phase, press.at, list(needs), **more)


def inhibit(
    needs=GIVEN, phase=Phase.LATCHED, *, after=None, engine=CRANKING, qualities=None, hung=False, **more
):
    """A scene; ``hung`` = the bus side falls silent 1.2 s after the press;
    ``after`` = the phase once it was asked to give back."""

    def view(link):
        state = _state(link, needs, phase, after, more)
        old = 0.0
        if hung and state is not None and state.press:
            old = max(0.0, link.clock() - state.since - 1.2)
        seen = link.view(changed=engine, qualities=qualities, snapshot_age=old)
        snapshot = msgspec.structs.replace(seen.snapshot, output=state, operator="Mara")
        catalogue = msgspec.structs.replace(seen.catalogue, outputs=[FUEL, SPARK])
        return msgspec.structs.replace(seen, snapshot=snapshot, catalogue=catalogue)

    return view


FIRST, SECOND, THIRD = ASKED
INHIBIT_SCENES = {
    "inhibit_needs": inhibit(ASKED, engine=STILL),
    "inhibit_two": inhibit([SECOND, THIRD, GIVEN[0]], engine=STILL),
    "inhibit_last": inhibit([THIRD, *GIVEN[:2]], engine=STILL),
    "inhibit_asking": inhibit(phase=Phase.LIVE, engine=STILL, fired=True),
    "inhibit_held": inhibit(),
    "inhibit_still": inhibit(engine=STILL),
    "inhibit_doubt": inhibit(doubt=SILENT, ending=WHY, confirmed_at=990.0),
    "inhibit_early": inhibit(doubt=NEVER, ending="The finger was lifted.", confirmed_at=0.0),
    "inhibit_hung": inhibit(hung=True),
    "inhibit_ending": inhibit(ending=LIMIT),
    "inhibit_blind": inhibit(ending=LIMIT, qualities={"EngineSpeed": "error"}),
    "inhibit_releasing": inhibit(phase=Phase.RELEASING, engine=STILL, confirmed_at=990.0, fired=True),
    "inhibit_returning": inhibit(after=Phase.RELEASING, engine=STILL),
    "inhibit_over": inhibit(phase=Phase.ENDED, engine=STILL, **ENDED),
    "inhibit_never": inhibit(
        phase=Phase.ENDED,
        engine=STILL,
        fired=True,
        cause="The controller did not say within 1 s that it holds.",
    ),
    "inhibit_unconfirmed": inhibit(phase=Phase.NOT_CONFIRMED, engine=STILL, **ENDED),
}
"""By name; each acts as if whatever was pressed had gone this way."""

_HELD = "Bench+Hold fuel off+arm+hold+lift"
INHIBIT_VIEWS = [
    "inhibit_needs:Bench+Hold fuel off",
    "inhibit_two:Bench+Hold fuel off",
    "inhibit_last:Bench+Hold spark off",
    "inhibit_held:Bench+Hold fuel off",
    "inhibit_held:Bench+Hold spark off",
    "inhibit_held:Bench+Hold fuel off+arm",
    "inhibit_asking:Bench+Hold fuel off+arm+hold",
    f"inhibit_held:{_HELD}",
    f"inhibit_still:{_HELD}",
    "inhibit_held:Bench+Hold spark off+arm+hold+lift",
    f"inhibit_doubt:{_HELD}",
    f"inhibit_early:{_HELD}",
    f"inhibit_hung:{_HELD}+wait",
    f"inhibit_ending:{_HELD}",
    f"inhibit_blind:{_HELD}",
    *(f"inhibit_{engine}:{_HELD}+wait+Give fuel" for engine in ("held", "still")),
    f"inhibit_releasing:{_HELD}",
    f"inhibit_returning:{_HELD}+wait+Give fuel",
    f"inhibit_over:{_HELD}",
    "inhibit_over:Bench+Hold spark off+arm+hold+lift",
    f"inhibit_never:{_HELD}",
    f"inhibit_unconfirmed:{_HELD}",
]
