"""The outputs of auk on the glass: every stage of one press, with needs as a bus side would list them."""

from __future__ import annotations

import functools
import tomllib
from pathlib import Path

import msgspec

from app.interlock import Kind, Need
from app.output_messages import Consider, Lift, NeedState, OutputInfo, OutputState, Phase, Press

FAMILY = Path(__file__).parents[2] / "bus" / "families" / "auk" / "family.toml"


@functools.cache
def outputs() -> tuple[OutputInfo, ...]:
    """As the family's data list them; times and fuel worked out by hand for those that are shown."""
    return tuple(
        OutputInfo(
            one["key"],
            one["label"],
            Kind(one["kind"]),
            4.0 if "count" in one else float(one.get("longest_s", 10)),
            one.get("count", 0),
            one.get("width_ms", 0.0),
            0.5 if one["kind"] == "injector" else 0.0,
            released=True,
            after=one.get("after", ""),
        )
        for one in tomllib.loads(FAMILY.read_text("utf-8"))["uds"]["outputs"]
    )


SMELL = NeedState(
    Need.NO_SMELL, None, "Hatch open, no smell of fuel: not confirmed", "Open the hatch, sniff, confirm"
)
HANDS = NeedState(
    Need.HANDS_CLEAR, False, "Hands, hair and clothes clear: too long ago", "Stand clear, confirm"
)
SNIFFED = NeedState(Need.NO_SMELL, True, "Hatch open, no smell of fuel: confirmed 64 s ago", "")
CLEAR = NeedState(Need.HANDS_CLEAR, True, "Hands, hair and clothes clear: confirmed 12 s ago", "")
MISSING = [
    NeedState(Need.ROLE, False, "Signed in: nobody", "Sign in as a technician"),
    NeedState(
        Need.LANYARD_PROVED,
        False,
        "Lanyard: not seen pulled on this visit",
        "Pull the lanyard once, put it back",
    ),
    NeedState(
        Need.SPEED_PROVED,
        False,
        "Engine speed was never seen above 150 rev/min on this controller",
        "Run the engine once with the tool connected",
    ),
    SMELL,
]
ALL_MISSING = [
    *MISSING[:1],
    NeedState(Need.ALONE, False, "Another tester talks to a controller", "Unplug the other tester"),
    NeedState(Need.LANYARD_IN, False, "Lanyard: pulled", "Put the lanyard in"),
    MISSING[1],
    NeedState(
        Need.SPEED_KNOWN,
        False,
        "Engine speed disagrees: 1556 and 1440 rev/min",
        "Find out which is right; no test until they agree",
    ),
    NeedState(Need.ENGINE_STOPPED, False, "Engine is turning, 1556 rev/min", "Stop it, wait 2 s"),
    MISSING[2],
    NeedState(
        Need.MANIFOLD_AT_REST,
        False,
        "Manifold and barometer differ by 67.8 kPa",
        "With the engine at rest they are equal: wait, or check the sensor",
    ),
    NeedState(Need.BATTERY, False, "Battery 11.2 V", "Charge it above 11.8 V"),
    NeedState(
        Need.FUEL_ROOM,
        False,
        "Fuel in cylinder 2: 2.5 of 3.0 cm³, craft 4.0 of 4.0 cm³",
        "Run the engine for 30 s to burn it off",
    ),
    NeedState(
        Need.VENTED,
        False,
        "A fuel test or a leak: 61 s ago",
        "Vent 179 s more, hatch open, sniff again",
    ),
    SMELL,
]


def _since_chosen(link):
    """What was asked since the output was chosen, that first."""
    at = max((n for n, one in enumerate(link.asked) if isinstance(one, Consider)), default=len(link.asked))
    return link.asked[at:]


def _last(asked, kind):
    return next((one for one in reversed(asked) if isinstance(one, kind)), None)


def _state(link, needs, phase, **more):
    asked = _since_chosen(link)
    considered = _last(asked, Consider)
    if considered is None or considered.output is None:
        return None
    ready = all(need.holds is True for need in needs)
    press, lift = _last(asked, Press), _last(asked, Lift)
    number, now = 0, None
    if press is not None and press.output == considered.output and phase is not None:
        number = press.press
        lifted = lift is not None and lift.press == number
        now = phase if phase is Phase.NOT_CONFIRMED or not lifted else Phase.ENDED
    return OutputState(
        considered.output, number, now, link.clock(), list(needs), ready=ready, fired=True, **more
    )


def _scene(needs, phase=None, operator="Mara", **more):
    def view(link):
        seen = link.view(changed={"EngineSpeed": 0.0, "EngineState": "Stopped", "CraftSpeed": 0.0})
        snapshot = msgspec.structs.replace(
            seen.snapshot, output=_state(link, needs, phase, **more), operator=operator
        )
        return msgspec.structs.replace(
            seen, snapshot=snapshot, catalogue=msgspec.structs.replace(seen.catalogue, outputs=outputs())
        )

    return view


READY = [SNIFFED, CLEAR]
OUTPUT_SCENES = {
    "outputs": _scene(READY),
    "needs": _scene(MISSING, operator=""),
    "all_missing": _scene(ALL_MISSING, operator=""),
    "cautions": _scene([SMELL, HANDS]),
    "pressed": _scene(READY, Phase.LIVE, progress=0.35, pulses=7, cause="The finger was lifted."),
    "given": _scene(READY, Phase.ENDED, progress=1.0, pulses=20, cause="Done: every pulse was given."),
    "lapsed": _scene(
        ALL_MISSING[5:9], Phase.REFUSED, cause="Engine is turning, 1556 rev/min. Battery 11.2 V."
    ),
    "unconfirmed": _scene(READY, Phase.NOT_CONFIRMED, cause="The finger was lifted.", progress=0.2, pulses=4),
}
INJECTOR = "Bench+Injector 2"
OUTPUT_VIEWS = [
    "outputs:Bench",
    "outputs:Bench+Page",
    f"needs:{INJECTOR}",
    f"all_missing:{INJECTOR}",
    f"all_missing:{INJECTOR}+More",
    f"cautions:{INJECTOR}",
    "cautions:Bench+Page+Cooling fan",
    "cautions:Bench+Page+Throttle plate",
    f"outputs:{INJECTOR}",
    "outputs:Bench+Page+Cooling fan",
    "outputs:Bench+Sign in?+Mara?",
    f"outputs:{INJECTOR}+arm",
    f"pressed:{INJECTOR}+arm+hold",
    f"pressed:{INJECTOR}+arm+hold+lift",
    "pressed:Bench+Page+Cooling fan+arm+hold",
    f"given:{INJECTOR}+arm+hold",
    f"lapsed:{INJECTOR}",
    f"unconfirmed:{INJECTOR}+arm+hold",
]
