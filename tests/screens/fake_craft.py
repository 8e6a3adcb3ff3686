"""A craft that is not there: plays given moments to the kiosk, without bus, simulator or time.

Run it to look at one: ``python tests/screens/fake_craft.py --scene lost --panel 7-1280x720``.
The signals are those of the family auk, read from its two data files by a few lines of our own, so that the
glass can be looked at without the bus library.
"""

from __future__ import annotations

import argparse
import math
import re
import sys
import time
import tomllib
from pathlib import Path

from fake_outputs import outputs
from fake_reports import FAULT_SCENES

from app.engine_data import EngineData
from app.messages import (
    Catalogue,
    Craft,
    Limit,
    Link,
    LinkState,
    Mode,
    RawFrame,
    Recording,
    SignalInfo,
    Snapshot,
    Value,
)
from app.output_messages import SignIn
from app.ports import View
from app.reading import Quality

FAMILY = Path(__file__).parents[2] / "bus" / "families" / "auk"

GOOD_VALUES = {
    "EngineSpeed": 3480.0, "EngineSpeedDisplay": 3478.0, "Throttle1": 31.5, "Throttle2": 31.4,
    "ThrottleLever": 32.0, "ThrottleCommand": 32.0, "EngineLoad": 44.0, "EngineState": "Running",
    "SpeedLimit": 8000.0, "ManifoldPressure": 61.2, "BarometricPressure": 101.3,
    "IntakeAirTemperature": 38.0, "AirMassFlow": 41.7, "FuelRailPressure": 301.0,
    "InjectorPulseWidth": 4.62, "FuelRate": 14.5, "IgnitionTiming": 22.5, "KnockRetard": 0.0,
    "Lambda": 0.982, "LambdaCorrection": -3.5, "FuelTemperature": 29.0, "CoolantTemperature": 71.0,
    "OilTemperature": 84.0, "ExhaustTemperature": 62.0, "ControllerTemperature": 47.0,
    "WaterTemperature": 18.4, "OilPressure": 310.0, "BatteryVoltage": 14.1, "SensorSupply": 5.0,
    "DisplayVoltage": 14.0, "FuelPumpRelay": "On", "FanRelay": "Off", "Lanyard": "In place",
    "StartSwitch": "Released", "StopSwitch": "Released", "ReverseSwitch": "Forward", "KeyLevel": 100.0,
    "LimitedPower": "Low oil pressure", "ActiveFaults": 0.0, "CraftSpeed": 42.0, "FuelLevel": 63.0,
    "DisplayState": "Ready", "EngineHours": 1142.35, "TripHours": 0.71, "TripFuel": 8.4,
    "ServiceHoursLeft": 27.0, "ControllerSerial": 20417.0,
}  # fmt: skip


def catalogue(number: int = 1) -> Catalogue:
    """The signals of auk."""
    table = tomllib.loads((FAMILY / "family.toml").read_text("utf-8"))
    dbc = (FAMILY / "signals.dbc").read_text("utf-8")
    units = dict(re.findall(r'SG_ (\w+)[^"]*"([^"]*)"', dbc))
    enumerated = set(re.findall(r"VAL_ \d+ (\w+)", dbc))
    signals = [
        _info(name, facts, units[name], enumerated=name in enumerated)
        for name, facts in table["signals"].items()
        if not facts.get("hidden")
    ]
    ride = [table["ride"]["arc"], *table["ride"]["tiles"]]
    facts = table["engine"]
    engine = EngineData(
        facts["strokes"],
        facts["injectors"],
        facts["injector_flow_cm3_min"],
        facts["injector_dead_ms"],
        facts["injector_pulse"],
        facts["fuel_rail"],
        facts["rail_pressure"] == "absolute",
        rated_speed=facts["rated_speed"],
    )
    order = table["groups"]["order"]
    return Catalogue(
        number, "auk", signals, table["roles"], ride, order, outputs=list(outputs()), engine=engine
    )


def _info(name: str, facts: dict, unit: str, *, enumerated: bool) -> SignalInfo:
    low, high = facts.get("scale", (None, None))
    limits = [
        Limit(
            severity,
            side,
            facts[f"{severity}_{side}"],
            facts.get("engine_above"),
            facts.get("source", ""),
            facts.get("generic", False),
        )
        for severity in ("watch", "alarm")
        for side in ("above", "below")
        if f"{severity}_{side}" in facts
    ]
    return SignalInfo(
        name,
        facts["label"],
        unit,
        facts["group"],
        facts.get("decimals", 0),
        low,
        high,
        0.5,
        limits,
        enumerated,
    )


class FakeLink:
    """Implements app.ports.CraftLink; shows the scene it is set to."""

    def __init__(self, scene: str, clock=time.monotonic) -> None:
        self.clock = clock
        self.began = clock()
        self.catalogue = catalogue()
        self.rates: list[int | None] = []
        self.asked: list = []
        self.closed = False
        self.looks = 0
        self.scene = scene

    @property
    def scene(self) -> str:
        return self._scene

    @scene.setter
    def scene(self, name: str) -> None:
        self._scene = name
        self.set_at = self.clock()
        self.signed_in = ""

    def poll(self) -> View:
        return _breaks(self) if self.scene == "breaks" else (SCENES | FAULT_SCENES)[self.scene](self)

    def set_bit_rate(self, bitrate: int | None) -> None:
        self.rates.append(bitrate)

    def ask(self, request) -> None:
        self.asked.append(request)
        if isinstance(request, SignIn):
            self.signed_in = request.operator

    def close(self) -> None:
        self.closed = True

    def view(
        self,
        state: LinkState = LinkState.FOUND,
        *,
        changed: dict | None = None,
        qualities: dict | None = None,
        silent: tuple = (),
        age: float = 0.0,
        connected: bool = True,
        snapshot_age: float = 0.0,
        mode: Mode = Mode.SIMULATED,
        trouble: str = "",
        recording: bool = True,
        reason: str = "",
        bitrate: int | None = 500_000,
        adapter: str = "slcan on /dev/ttyACM0",
        frames: int = 48_213,
    ) -> View:
        """One view; what is not said is as on a good ride."""
        now = self.clock()
        at = now - snapshot_age
        known = state in (LinkState.FOUND, LinkState.LOST)
        texts = GOOD_VALUES | (changed or {})
        values = [
            Value(
                index,
                texts[info.name],
                at - age,
                (qualities or {}).get(info.name, Quality.GOOD if state is LinkState.FOUND else Quality.STALE),
                0x120,
            )
            for index, info in enumerate(self.catalogue.signals)
            if known and info.name not in silent
        ]
        link = Link(
            state,
            at - age,
            reason,
            adapter,
            bitrate,
            frames,
            0.0 if age else 436.0,
            2,
            at - age if frames else None,
        )
        kept = Recording("2031-06-02T09-14-07-auk-20417.log", self.began - 402.0, 175_338, trouble)
        snapshot = Snapshot(
            at,
            link,
            mode,
            Craft("auk", "Auk three-cylinder", "20417") if known else None,
            kept if recording else None,
            self.catalogue.number if known else 0,
            values,
            raw=RAW if state is LinkState.UNKNOWN_CRAFT else [],
        )
        return View(connected, snapshot, self.catalogue if known else None)


def _moving(link: FakeLink) -> View:
    t = link.clock() - link.began
    speed = 4600 + 3300 * math.sin(t * 0.8)
    return link.view(
        changed={"EngineSpeed": speed, "CraftSpeed": speed / 80, "OilPressure": 120 + speed / 20}
    )


RAW = [
    RawFrame("0C8", "00 1F 40 FF", 1204, 0.02),
    RawFrame("3F1", "", 1, 0.0),
    *(RawFrame(f"5{number:02X}", "01 02 03 04 05 06 07 08", 90, 0.1) for number in range(9)),
    RawFrame("0CF00400", "FF FF FF 8A 03 FF FF FF", 98, 0.02, "SAE J1939 engine: Engine speed 113.25 rpm"),
]

MIXED = {
    "CoolantTemperature": Quality.ERROR,
    "ExhaustTemperature": Quality.OUT_OF_RANGE,
    "CraftSpeed": Quality.NOT_AVAILABLE,
    "ThrottleLever": Quality.ERROR,
    "Throttle2": Quality.NOT_AVAILABLE,
    "EngineState": Quality.STALE,
    "EngineLoad": Quality.OUT_OF_RANGE,
}
LONG = "The device /dev/ttyACM0 is there, but this user may not open it: add the user to the group dialout."
SILENT_LINK = {"frames": 0, "recording": False, "mode": Mode.LIVE}
STOPPED = {
    "EngineSpeed": 0.0,
    "EngineState": "Stopped",
    "CraftSpeed": 0.0,
    "OilPressure": 0.0,
    "BatteryVoltage": 12.6,
}


def _breaks(link: FakeLink) -> View:
    """A good ride for twenty looks at it, then something no drawing can be made of."""
    view = link.view()
    link.looks += 1
    if link.looks > 20:
        raise RuntimeError("the picture broke")
    return view


SCENES = {
    "good": lambda link: link.view(),
    "moving": _moving,
    "stopped": lambda link: link.view(changed=STOPPED),
    "watch": lambda link: link.view(
        changed={"ExhaustTemperature": 82.0, "BatteryVoltage": 15.3, "KnockRetard": 3.6}
    ),
    "alarm": lambda link: link.view(
        changed={
            "EngineSpeed": 8120.0,
            "OilPressure": 62.0,
            "CoolantTemperature": 104.0,
            "OilTemperature": 141.0,
        }
    ),
    "qualities": lambda link: link.view(
        qualities=MIXED, silent=("OilPressure", "SpeedLimit"), mode=Mode.LIVE
    ),
    "no_rail": lambda link: link.view(qualities={"FuelRailPressure": Quality.ERROR}),
    "idle": lambda link: link.view(changed={"EngineSpeed": 1310.0, "CraftSpeed": 0.0, "OilPressure": 180.0}),
    "flat": lambda link: link.view(changed=STOPPED | {"BatteryVoltage": 11.2}),
    "speed_unknown": lambda link: link.view(qualities={"EngineSpeed": Quality.ERROR}),
    "trouble": lambda link: link.view(trouble="The disk is full: frames are not being kept.", mode=Mode.LIVE),
    "rest": lambda link: link.view(mode=Mode.REPLAY, recording=False, changed=STOPPED),
    "replay": lambda link: link.view(mode=Mode.REPLAY, recording=False),
    "lost": lambda link: link.view(LinkState.LOST, age=12.0),
    "no_bus": lambda link: link.view(connected=False, snapshot_age=4.0),
    "hung": lambda link: link.view(snapshot_age=link.clock() - link.set_at),
    "starting": lambda _link: View(connected=False, snapshot=None, catalogue=None),
    "no_adapter": lambda link: link.view(
        LinkState.NO_ADAPTER, adapter="", bitrate=None, reason="No adapter is plugged in", **SILENT_LINK
    ),
    "denied": lambda link: link.view(LinkState.NO_ADAPTER, bitrate=None, reason=LONG, **SILENT_LINK),
    "need_rate": lambda link: link.view(LinkState.NEED_RATE, bitrate=None, **SILENT_LINK),
    "silent": lambda link: link.view(LinkState.SILENT, **SILENT_LINK),
    "listening": lambda link: link.view(LinkState.LISTENING, bitrate=None, mode=Mode.LIVE),
    "unknown_craft": lambda link: link.view(LinkState.UNKNOWN_CRAFT, mode=Mode.LIVE),
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--scene", choices=[*SCENES, *FAULT_SCENES, "breaks"], default="moving")
    parser.add_argument("--panel", default="7-800x480")
    parser.add_argument("--event-log", type=Path)
    options = parser.parse_args()
    from screens import kiosk

    return kiosk.run(FakeLink(options.scene), panel=options.panel, event_log=options.event_log)


if __name__ == "__main__":
    sys.exit(main())
