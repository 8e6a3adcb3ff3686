"""What the craft does: engine, switches, silence, other crafts, other testers."""

from any_order_parts.fingers import Fingers
from any_order_parts.judge import INHIBITS, PROVED
from any_order_parts.machine import QUIET_MS, SILENCES, rule

TESTER_FRAME = (0x7DF, bytes.fromhex("023e000000000000"))


class Crafts(Fingers):
    @rule(12, speed=(0.0, 0.0, 0.0, 20.0, 1300.0, 12500.0), by=("both", "one", "two"))
    def engine(self, speed, by):
        if by != "two":
            self.bench.values["EngineSpeed"] = speed
        if by != "one":
            self.bench.values["EngineSpeedDisplay"] = speed
        self.tick()

    @rule(6)
    def engine_stands_again(self):
        self.bench.values |= {"EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0, "ManifoldPressure": 101.0}
        self.wait(2.3, ms=20)

    @rule(1)
    def engine_runs_for_half_a_minute(self):
        self.what_is_held_is_given_back()  # it could not run
        self.bench.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 40.0}
        self.wait(0.2)
        self.wait(30.8, ms=40)
        self.engine_stands_again()

    @rule(1, seconds=(3.0, 6.0, 6.0), speed=(100.0, 300.0, 300.0, 900.0), later=(1.0, 1.0, 130.0))
    def crank_and_say_that_it_purged(self, seconds, speed, later):
        self.bench.values |= {"EngineSpeed": speed, "EngineSpeedDisplay": speed, "StartSwitch": "Pressed"}
        self.wait(0.2)
        self.wait(seconds, ms=20)
        self.bench.values["StartSwitch"] = "Released"
        self.engine_stands_again()
        self.wait(later, ms=QUIET_MS if later > 60 else 50)
        before = self.purges_told()
        self.bench.confirm("purged_by_cranking")
        self.tick()
        self.tick()
        if self.purges_told() > before:  # on a disk that is stuck it comes before whatever is charged later
            self.cranked_out += 1
            assert self.judge.cranked_at is not None
            assert self.now - self.judge.cranked_at <= 120.0 + 0.2
            assert "role" not in self.judge.bad
            self.judge.fuel.pop(self.craft, None)
            self.judge.fuel_ended[self.craft] = self.now
            self.judge.said_at.pop("no_smell", None)

    def purges_told(self):
        return sum(entry["kind"] == "purge" for entry in self.bench.journal.told)

    @rule(1, speed=(300.0,), later=(1.0, 130.0))
    def fuel_comes_in_and_is_cranked_out(self, speed, later):
        """As an honest hand does it, so that it often counts."""
        self.press_as_an_honest_hand_does("injector_2", 0.5)
        self.everything_is_made_ready_again()
        self.crank_and_say_that_it_purged(6.0, speed, later)

    @rule(3, seconds=(0.2, 1.0))
    def the_fuel_pump_runs_by_itself(self, seconds):
        bench = self.bench
        bench.values["FuelPumpRelay"] = "On"
        ours = False
        until = self.now + seconds
        while self.now < until:
            press = bench.actuation._run
            ours = ours or (press is not None and press.plan.fuel_cm3 > 0) or self.pumping
            self.tick()
        bench.values["FuelPumpRelay"] = "Off"
        if not ours and not bench.silent and not self.wire_gone:
            for word in ("no_smell", "spark_safe"):
                self.judge.said_at.pop(word, None)
        self.wait(0.15)

    @property
    def pumping(self):
        run = self.bench.actuation._run
        return run is not None and run.plan.data.key == "fuel_pump"

    @rule(10, state=("In place", "In place", "Pulled", "Error", "Not available"))
    def lanyard(self, state):
        self.bench.values["Lanyard"] = state
        if state == "Pulled":
            self.wait(0.15)
            if not self.bench.silent & {"EngineSwitches", "all"} and not self.wire_gone:
                self.judge.pulled.add(self.bench.serial)
        self.tick()

    @rule(12, state=("Released", "Released", "Pressed"), volts=(12.6, 12.6, 11.0))
    def switch_and_battery(self, state, volts):
        self.bench.values |= {"StartSwitch": state, "BatteryVoltage": volts}
        self.tick()

    @rule(6, pressure=(101.0, 101.0, 60.0))
    def manifold(self, pressure):
        self.bench.values["ManifoldPressure"] = pressure
        self.tick()

    @rule(10, what=SILENCES)
    def something_falls_silent(self, what):
        self.bench.silent.add(what)
        self.tick()

    @rule(20)
    def everything_is_heard_again(self):
        self.bench.silent.clear()
        self.wait(0.15)

    @rule(3)
    def another_tester(self):
        if not self.wire_gone and "all" not in self.bench.silent:
            self.event("tester")
            self.judge.tester_at = self.now
            self.bench.extra.append(TESTER_FRAME)
        self.tick()

    @rule(2)
    def another_craft_is_plugged_in(self):
        if self.wire_gone:  # what was live there is not ours to see any more
            self.wait(4.5, ms=50)
        self.swapped, self.serial_before = self.now, self.craft
        if self.bench.controller.live() & INHIBITS:  # this one holds nothing off
            self.bench.controller._all_off(self.now)
            self.bench.controller.session = 1
        self.bench.serial = 20418 if self.bench.serial == PROVED else PROVED
        self.wait(0.2)
        self.judge.pulled.clear()
