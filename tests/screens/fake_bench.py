"""A bus side that fires without a craft: what the glass asked for decides what it says next."""

from __future__ import annotations

import msgspec

from app.interlock import Kind
from app.output_messages import Consider, Lift, OutputInfo, OutputState, Phase, Press

FAN = OutputInfo("fan", "Cooling fan", Kind.FAN, 10.0, 0, 0.0, 0.0, released=True)


def _view(link, *, confirms: bool):
    view = link.view(changed={"EngineSpeed": 0.0, "EngineState": "Stopped", "CraftSpeed": 0.0})
    catalogue = msgspec.structs.replace(view.catalogue, outputs=[FAN])
    snapshot = msgspec.structs.replace(view.snapshot, output=_state(link, confirms=confirms))
    return msgspec.structs.replace(view, snapshot=snapshot, catalogue=catalogue)


def _state(link, *, confirms: bool) -> OutputState | None:
    state = None
    for request in link.asked:
        if isinstance(request, Consider):
            state = None if request.output is None else OutputState(FAN.key, 0, None, 0.0, [], ready=True)
        elif isinstance(request, Press):
            state = OutputState(FAN.key, request.press, Phase.LIVE, request.at, [], fired=True)
        elif isinstance(request, Lift) and state is not None and state.press == request.press:
            phase = Phase.ENDED if confirms else Phase.RELEASING
            state = msgspec.structs.replace(state, phase=phase, cause=request.cause)
    return state


BENCH_SCENES = {
    "fan": lambda link: _view(link, confirms=True),
    "fan_goes_on": lambda link: _view(link, confirms=False),
}
