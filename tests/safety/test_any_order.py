"""Everything that can happen around a press, in any order: what moves is allowed to move, at every turn.

The judge below is worked out from the safety notes by hand and shares nothing with the product: it looks at
the craft as it is (not at what was heard of it) and at the little controller, and allows what was not heard
yet no more than the time it takes to be heard.
"""

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    precondition,
    rule,
    run_state_machine_as_test,
)

from app.errors import AdapterLost

SLACK_S = 0.03
"""Turns of the loop and of this test."""

HEARD_WITHIN = {  # how long after a cause in the craft the release must have been heard by the controller
    "lanyard": 0.05,  # messages every 50 ms
    "start": 0.05,
    "engine": 0.05,
    "display": 0.1,
    "battery": 0.1,
    "manifold": 0.02,
    "serial": 0.1,
    "EngineFast": 0.15,  # silence: 3 periods, speed at most 250 ms
    "DisplayMain": 0.25,
    "EngineFluids": 0.3,
    "EngineSwitches": 0.15,
    "EngineAir": 0.06,
    "all": 0.15,
    "finger": 0.0,
    "vanished": 0.3,  # design 2: older than 300 ms: dead
    "role": 0.0,
    "tester": 0.0,
    "leak": 0.0,
    "pump": 0.05,
    "page": 0.0,
    "process": 0.35,  # killed and started: until the craft has said its serial
}
INJECTORS, COIL, FAN, HORN, PUMP = (0xD101, 0xD102), 0xD111, 0xD121, 0xD122, 0xD123
KEYS = {
    0xD101: "injector_1",
    0xD102: "injector_2",
    COIL: "coil_1",
    FAN: "fan",
    HORN: "horn",
    PUMP: "fuel_pump",
}
FINITE_S = dict.fromkeys(INJECTORS, 4.0) | {COIL: 2.0, FAN: 0.5, HORN: 0.5, PUMP: 0.5}  # by its last request
LONGEST_S = dict.fromkeys(INJECTORS, 4.15) | {COIL: 2.15, FAN: 10.0, HORN: 3.0, PUMP: 5.0}
FUEL = {*INJECTORS, PUMP}
"""What begins the venting."""
ONCE = {*INJECTORS, COIL}
"""What one press may ask for once."""
WORDS_S = {"no_smell": 600.0, "no_leak": 600.0, "hands_clear": 30.0, "spark_safe": 30.0}
OWN_WORD = {COIL: "spark_safe", FAN: "hands_clear", PUMP: "no_leak"}
PROVED = 20417


class Judge:
    """What is so, since when, and what follows from the safety notes."""

    def __init__(self):
        self.bad = {}
        self.turned_at = self.turned_before = self.turn_began = 0.0
        self.ran_since = None
        self.pulled = {PROVED}
        self.said_at = {}
        self.fuel = {}
        self.spark_ended = {}
        self.fuel_ended = {}
        self.tester_at = 0.0

    def mark(self, cause, now, *, bad):
        if not bad:
            self.bad.pop(cause, None)
        else:
            self.bad.setdefault(cause, now)

    def overdue(self, now, stalled, did=None):
        return [
            cause
            for cause, since in self.bad.items()
            if (cause != "pump" or did not in FUEL) and now - since > HEARD_WITHIN[cause] + SLACK_S + stalled
        ]


class AnyOrder(RuleBasedStateMachine):
    make_bench = None
    fired = 0
    kinds = frozenset()
    cranked_out = 0
    ends = frozenset()

    @initialize()
    def begin(self):
        self.bench = self.make_bench().make_ready()
        self.judge = Judge()
        self.judge.said_at = {"no_smell": self.now, "hands_clear": self.now}
        self.judge.bad["finger"] = 0.0
        self.seen = 0
        self.live_before = set()
        self.last_start, self.first_start = {}, {}
        self.press_of = {}
        self.releasing_since = None
        self.dawdled = False
        self.stalled = 0.0
        self.wire_gone = False
        self.swapped, self.serial_before = -1e9, PROVED

    @property
    def craft(self):
        """The craft that can have been heard by now; the page with its serial comes every 100 ms."""
        return self.serial_before if self.now - self.swapped <= 0.1 + SLACK_S else self.bench.serial

    @property
    def now(self):
        return self.bench.clock()

    @property
    def dawdles(self):
        """The controller asks for time, or works on a start."""
        controller = self.bench.controller
        return bool(controller.pending or controller.work) or controller.slow_s is not None

    # --- time and the checks of every turn --------------------------------------------------------------

    def tick(self, ms=5):
        bench = self.bench
        if self.wire_gone:
            bench.ms += ms
            bench.journal.sync()
        else:
            try:
                bench.turn(ms)
            except AdapterLost:
                bench.gate._let_go()
                self.wire_gone = True
        self.follow()
        self.check()

    def wait(self, seconds, ms=5):
        until = self.bench.ms + round(seconds * 1000)
        while self.bench.ms < until:
            self.tick(ms)

    def follow(self):
        """What follows from how the craft is."""
        judge, values, silent, now = self.judge, self.bench.values, self.bench.silent, self.now
        turning = max(values["EngineSpeed"], values["EngineSpeedDisplay"]) > 0
        judge.mark("engine", now, bad=values["EngineSpeed"] > 0)
        judge.mark("display", now, bad=values["EngineSpeedDisplay"] > 0)
        judge.mark("lanyard", now, bad=values["Lanyard"] != "In place")
        judge.mark("start", now, bad=values["StartSwitch"] != "Released")
        judge.mark("battery", now, bad=values["BatteryVoltage"] < 11.8)
        judge.mark("manifold", now, bad=abs(values["ManifoldPressure"] - values["BarometricPressure"]) > 4)
        judge.mark("serial", now, bad=self.bench.serial != PROVED)
        for name in ("EngineFast", "DisplayMain", "EngineFluids", "EngineSwitches", "EngineAir", "all"):
            judge.mark(name, now, bad=name in silent)
        if turning:
            if now - judge.turned_at > 0.1:
                judge.turned_before, judge.turn_began = judge.turned_at, now
            judge.turned_at = now
        running = min(values["EngineSpeed"], values["EngineSpeedDisplay"]) > 500
        judge.ran_since = (judge.ran_since or now) if running else None
        long = [cause for cause in ("engine", "display", "serial") if cause in judge.overdue(now, 0.2)]
        away = [name for name in ("EngineFast", "all") if now - judge.bad.get(name, now) > 0.7]
        if (long and not silent) or away:
            judge.said_at.clear()

    def check(self):
        bench, judge, now = self.bench, self.judge, self.now
        new, self.seen = bench.controller.heard[self.seen :], len(bench.controller.heard)
        for at, pdu in new:
            assert pdu in (b"\x10\x03", b"\x10\x01") or pdu[0] == 0x2F
            if pdu[0] == 0x2F and pdu[3] == 3:
                self.started(int.from_bytes(pdu[1:3], "big"), at)
        live = bench.controller.live()
        for did in self.live_before - live:
            if did in FUEL:
                judge.fuel_ended[self.craft] = now
                judge.said_at.pop("no_smell", None)
            elif did == COIL:
                judge.spark_ended[self.craft] = now
        self.live_before = live
        controller = bench.controller
        willing = not (controller.deaf or controller.stubborn or controller.refuses or self.dawdles)
        obeys = willing and not self.wire_gone
        for did in live:
            assert now - controller.carried[did] <= FINITE_S[did] + SLACK_S
            if obeys:
                assert judge.overdue(now, self.stalled, did) == []
                assert now - self.first_start[did] <= LONGEST_S[did] + SLACK_S + self.stalled
        self.check_claims(live)
        self.stalled = 0.0

    def check_claims(self, live):
        bench, now = self.bench, self.now
        state = bench.state
        if state is not None and state.phase is not None:
            type(self).ends |= {str(state.phase)}
        dids = {did for did, key in KEYS.items() if state is not None and key == state.output}
        if state is not None and state.phase == "ended":
            assert not live & dids, "it is called ended, and it moves"
        if state is not None and state.phase == "not_confirmed":
            assert bench.actuation.locked
        busy = bench.actuation.busy and not self.wire_gone and state is not None
        if not (busy and state.phase == "releasing"):
            self.releasing_since, self.dawdled = None, False
        elif self.releasing_since is None:
            self.releasing_since = now
        else:
            self.releasing_since += self.stalled
            self.dawdled = self.dawdled or self.dawdles
            # who asks for time has 6 s after the start; a start that comes then is released all over again
            longest = 6.0 + 2 * 1.5 if self.dawdled else 1.5
            assert now - self.releasing_since <= longest + 2 * SLACK_S

    def started(self, did, at):
        """A start was heard: the table of the safety notes, row by row."""
        bench, judge = self.bench, self.judge
        type(self).fired += 1
        type(self).kinds |= {did}
        assert judge.overdue(at, self.stalled, did) == []
        assert "process" not in judge.bad
        heard = at - judge.turn_began > 0.1 + SLACK_S
        assert at - (judge.turned_at if heard else judge.turned_before) >= 2.0
        assert at - judge.tester_at > 5.0
        assert self.craft in judge.pulled
        for word in filter(None, ("no_smell", OWN_WORD.get(did))):
            assert word in judge.said_at
            assert at - judge.said_at[word] <= WORDS_S[word] + SLACK_S
        assert at - judge.fuel_ended.get(self.craft, -1e9) >= 240.0 - SLACK_S
        fuel = judge.fuel.setdefault(self.craft, {})
        assert did != COIL or not fuel, "a spark with test fuel in a cylinder"
        if did in INJECTORS:
            assert at - judge.spark_ended.get(self.craft, -1e9) >= 240.0 - SLACK_S
        assert not (bench.controller.live() - {did}), "two at once"
        charged = [body for body in bench.journal.of("output_start") if body["output"] == KEYS[did]]
        press = bench.actuation._run.press
        assert charged[-1]["press"] == press
        assert charged[-1]["craft"] == f"auk {self.craft}"
        again = self.press_of.get(did) == press
        self.press_of[did] = press
        self.last_start[did] = at
        if again:
            assert did not in ONCE, "fuel or spark asked for twice in one press"
            return
        self.first_start[did] = at
        if did in INJECTORS:
            fuel[did] = fuel.get(did, 0.0) + 0.5  # 20 x 5 ms at 5 cm3/s
            assert fuel[did] <= 3.0 + 1e-9
            assert sum(fuel.values()) <= 4.0 + 1e-9

    # --- the finger and the screen ------------------------------------------------------------------------

    @rule(output=st.sampled_from(["horn", "horn", "fan", "injector_1", "injector_2", "coil_1", "fuel_pump"]))
    def press(self, output):
        busy = self.bench.actuation.busy
        self.bench.press(output)
        self.judge.bad.pop("vanished", None)
        self.judge.mark("finger", self.now, bad=busy)
        self.wait(0.2)

    @rule()
    def lift(self):
        self.bench.lift()
        self.judge.mark("finger", self.now, bad=True)
        self.wait(0.1)

    @rule(seconds=st.sampled_from([0.1, 0.2, 0.4, 1.0]))
    def finger_drops_out_without_a_word(self, seconds):
        finger, self.bench.finger = self.bench.finger, None
        self.judge.mark("vanished", self.now, bad=True)
        self.wait(seconds)
        self.bench.finger = finger
        self.judge.mark("vanished", self.now, bad=seconds > 0.3)

    @rule(output=st.sampled_from(["horn", "fan", "injector_1", "injector_2", "coil_1", "fuel_pump"]))
    def press_as_an_honest_hand_does(self, output):
        """So that much is fired: everything made ready first."""
        self.everything_is_made_ready_again()
        if output == "coil_1" and self.judge.fuel.get(PROVED):
            self.engine_runs_for_half_a_minute()
            self.confirm("no_smell", old=False)
        ended = [self.judge.fuel_ended.get(PROVED, -1e9)]
        if output.startswith("injector"):
            ended.append(self.judge.spark_ended.get(PROVED, -1e9))
        if self.now - max(ended) < 241.0:
            self.the_hull_is_vented_and_sniffed()
        for what in ("hands_clear", "no_leak", "spark_safe"):
            self.confirm(what, old=False)
        self.press(output)

    @rule(
        output=st.sampled_from(["horn", "fan", "injector_1", "coil_1", "fuel_pump"]),
        seconds=st.sampled_from([0.1, 0.7, 1.5]),
    )
    def press_and_hold_as_an_honest_hand_does(self, output, seconds):
        self.press_as_an_honest_hand_does(output)
        self.wait(seconds)

    @rule(output=st.sampled_from(["horn", "injector_2"]))
    def lift_before_a_controller_that_has_gone_dumb(self, output):
        self.press_as_an_honest_hand_does(output)
        self.bench.controller.mute = True
        self.lift()
        self.wait(2.0)

    @rule(what=st.sampled_from(sorted(WORDS_S)), old=st.booleans())
    def confirm(self, what, old):
        self.bench.confirm(what, self.now - 2.0 if old else None)
        values = self.bench.values
        still = values["EngineSpeed"] == values["EngineSpeedDisplay"] == 0
        vented = self.now - self.judge.fuel_ended.get(self.bench.serial, -1e9) >= 240.0
        if not old and still and (vented or what != "no_smell"):
            self.judge.said_at[what] = self.now
        self.tick()

    @rule()
    def see_a_leak(self):
        self.bench.confirm("leak_seen")
        self.judge.fuel_ended[self.bench.serial] = self.now
        self.judge.said_at.pop("no_smell", None)
        self.judge.said_at.pop("no_leak", None)
        self.judge.mark("leak", self.now, bad=True)
        self.wait(0.1)
        self.judge.bad.pop("leak")

    @rule(who=st.sampled_from(["technician", "rider", "technician", "technician"]))
    def sign_in(self, who):
        self.bench.sign_in(who, operator="Kim")
        self.judge.mark("role", self.now, bad=who != "technician")
        self.tick()

    @rule(page=st.sampled_from([None, "horn", "fan"]))
    def open_page(self, page):
        self.bench.consider(page)
        shown = self.bench.state.output if self.bench.state is not None else None
        if self.bench.actuation.busy and page != shown:
            self.judge.mark("page", self.now, bad=True)
        self.wait(0.1)
        self.judge.bad.pop("page", None)

    # --- the craft ----------------------------------------------------------------------------------------

    @rule(seconds=st.sampled_from([0.05, 0.5, 2.5, 6.0]))
    def time_passes(self, seconds):
        self.wait(seconds, ms=20 if seconds > 1 else 5)

    @rule()
    def the_hull_is_vented_and_sniffed(self):
        self.bench.lift()
        self.judge.mark("finger", self.now, bad=True)
        self.wait(241.0, ms=80)
        self.confirm("no_smell", old=False)

    @rule(
        speed=st.sampled_from([0.0, 0.0, 0.0, 20.0, 1300.0, 12500.0]),
        by=st.sampled_from(["both", "one", "two"]),
    )
    def engine(self, speed, by):
        if by != "two":
            self.bench.values["EngineSpeed"] = speed
        if by != "one":
            self.bench.values["EngineSpeedDisplay"] = speed
        self.wait(0.15)

    @rule()
    def engine_stands_again(self):
        self.bench.values |= {"EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0, "ManifoldPressure": 101.0}
        self.wait(2.5, ms=20)

    @rule()
    def engine_runs_for_half_a_minute(self):
        self.bench.values |= {"EngineSpeed": 1300.0, "EngineSpeedDisplay": 1300.0, "ManifoldPressure": 40.0}
        before = len(self.bench.purged)
        self.wait(31.0, ms=25)
        if len(self.bench.purged) > before:
            assert self.judge.ran_since is not None
            assert self.now - self.judge.ran_since >= 29.9
            self.judge.fuel.pop(self.bench.serial, None)
        self.engine_stands_again()

    @rule(
        seconds=st.sampled_from([3.0, 6.0, 6.0]),
        speed=st.sampled_from([100.0, 300.0, 300.0, 900.0]),
        later=st.sampled_from([1.0, 1.0, 130.0]),
        honest=st.booleans(),
    )
    def crank_and_say_that_it_purged(self, seconds, speed, later, honest):
        if honest:
            self.press_as_an_honest_hand_does("injector_2")
            self.wait(1.0)
            self.lift()
            self.wait(1.0)
        self.bench.values |= {"EngineSpeed": speed, "EngineSpeedDisplay": speed, "StartSwitch": "Pressed"}
        self.wait(seconds, ms=20)
        self.bench.values["StartSwitch"] = "Released"
        self.engine_stands_again()
        self.wait(later, ms=50)
        before = len(self.bench.journal.of("purge"))
        self.bench.confirm("purged_by_cranking")
        self.tick()
        self.tick()
        if len(self.bench.journal.of("purge")) > before:
            type(self).cranked_out += 1
            assert (seconds, speed, later) == (6.0, 300.0, 1.0)
            assert "role" not in self.judge.bad
            self.judge.fuel.pop(self.craft, None)
            self.judge.fuel_ended[self.craft] = self.now
            self.judge.said_at.pop("no_smell", None)

    @rule(seconds=st.sampled_from([0.2, 2.0]))
    def the_fuel_pump_runs_by_itself(self, seconds):
        bench = self.bench
        ours = bench.actuation._run is not None and bench.actuation._run.plan.data.did in FUEL
        bench.values["FuelPumpRelay"] = "On"
        self.judge.mark("pump", self.now, bad=True)
        self.wait(seconds)
        bench.values["FuelPumpRelay"] = "Off"
        self.judge.mark("pump", self.now, bad=False)
        if not ours and not bench.silent and not self.wire_gone:
            for word in ("no_smell", "spark_safe"):
                self.judge.said_at.pop(word, None)
        self.wait(0.2)

    @rule(state=st.sampled_from(["In place", "In place", "Pulled", "Error", "Not available"]))
    def lanyard(self, state):
        self.bench.values["Lanyard"] = state
        self.wait(0.15)
        if state == "Pulled" and not self.bench.silent & {"EngineSwitches", "all"} and not self.wire_gone:
            self.judge.pulled.add(self.bench.serial)

    @rule(
        state=st.sampled_from(["Released", "Released", "Pressed"]), volts=st.sampled_from([12.6, 12.6, 11.0])
    )
    def switch_and_battery(self, state, volts):
        self.bench.values |= {"StartSwitch": state, "BatteryVoltage": volts}
        self.wait(0.15)

    @rule(
        what=st.sampled_from(
            ["EngineFast", "DisplayMain", "EngineFluids", "EngineSwitches", "EngineAir", "all"]
        )
    )
    def something_falls_silent(self, what):
        self.bench.silent.add(what)
        self.wait(0.4)

    @rule(seconds=st.sampled_from([0.0, 1.0]))
    def everything_is_heard_again(self, seconds):
        self.wait(seconds)
        self.bench.silent.clear()
        self.wait(0.3)

    @rule()
    def another_tester(self):
        self.bench.extra.append((0x7DF, bytes.fromhex("023e000000000000")))
        self.judge.mark("tester", self.now, bad=True)
        self.judge.tester_at = self.now
        self.wait(0.1)
        self.judge.bad.pop("tester")

    @rule()
    def another_craft_is_plugged_in(self):
        if self.wire_gone:  # what was live there is not ours to see any more
            self.wait(4.5, ms=50)
        self.swapped, self.serial_before = self.now, self.craft
        self.bench.serial = 20418 if self.bench.serial == PROVED else PROVED
        self.wait(0.2)
        self.judge.pulled.clear()

    # --- the controller, the loop, the disk, the wire -------------------------------------------------------

    @rule(output=st.sampled_from(["horn", "injector_2"]), seconds=st.sampled_from([0.3, 2.0, 8.0]))
    def press_before_a_controller_that_takes_its_time(self, output, seconds):
        self.press_as_an_honest_hand_does(output)
        self.lift()
        self.wait(2.5)
        self.bench.controller.slow_s = seconds
        self.press(output)
        self.lift()
        self.wait(1.0)

    @rule(how=st.sampled_from(["mute", "deaf", "stubborn", "refuses", "pending", "slow"]))
    def controller_misbehaves(self, how):
        controller = self.bench.controller
        if how in ("mute", "deaf", "stubborn"):
            setattr(controller, how, True)
        elif how == "refuses":
            controller.refuses[0x2F] = 0x22
        elif how == "slow":
            controller.slow_s = 1.0
        else:
            controller.pending.add(0x2F)
        self.wait(0.1)

    @rule()
    def controller_is_good_again(self):
        controller = self.bench.controller
        was = controller.deaf or controller.stubborn or controller.refuses or self.dawdles
        controller.slow_s = None
        controller.mute = controller.deaf = controller.stubborn = False
        controller.refuses.clear()
        controller.pending.clear()
        if was:  # what it did not hear is made up for by its own limits
            self.wait_out()

    def wait_out(self):
        controller = self.bench.controller
        controller.deaf = True
        self.wait(4.6, ms=20)
        while controller.work is not None or controller.live():
            self.tick(ms=20)
        controller.deaf = False

    @rule(seconds=st.sampled_from([0.09, 0.12, 0.6, 2.0]))
    def the_loop_hangs(self, seconds):
        self.stalled = seconds
        self.tick(ms=round(seconds * 1000))
        self.wait(0.05)

    @rule(how=st.sampled_from(["good", "good", "stuck", "full"]))
    def disk(self, how):
        self.bench.journal.stuck = how == "stuck"
        self.bench.journal.full = how == "full"
        self.wait(0.05)

    @precondition(lambda self: not self.wire_gone)
    @rule()
    def the_wire_goes(self):
        self.bench.wire.fails = AdapterLost("It went away.")
        self.wait(0.1)

    @precondition(lambda self: self.wire_gone)
    @rule(seconds=st.sampled_from([0.1, 5.0]))
    def the_wire_is_back(self, seconds):
        self.wait(seconds)
        self.bench.wire = type(self.bench.wire)(self.bench)
        self.bench.gate._wire = self.bench.wire
        self.judge.mark("process", self.now, bad=True)
        self.wire_gone = False
        self.wait(0.3)
        self.judge.bad.pop("process")
        self.judge.mark("finger", self.now, bad=True)

    @rule()
    def the_process_is_killed_and_started(self):
        old = self.bench
        new = self.make_bench(list(old.journal.entries), serial=PROVED)
        for name in ("ms", "values", "silent", "said_at", "presses", "finger", "serial"):
            setattr(new, name, getattr(old, name))
        new.controller = old.controller
        new.controller.clock = new.clock
        new.actuation._past._started = new.clock()
        self.bench, self.wire_gone = new, False
        self.judge.mark("process", self.now, bad=True)
        self.judge.pulled.clear()
        self.judge.said_at.clear()
        self.judge.fuel_ended = dict.fromkeys(self.judge.fuel_ended, self.now)
        self.judge.spark_ended = dict.fromkeys(self.judge.spark_ended, self.now)
        self.wait(0.4)
        self.judge.bad.pop("process")
        self.judge.bad["role"] = self.judge.bad["finger"] = self.now

    @rule()
    def everything_is_made_ready_again(self):
        bench = self.bench
        bench.lift()
        self.judge.mark("finger", self.now, bad=True)
        bench.journal.stuck = bench.journal.full = False
        bench.silent.clear()
        if self.wire_gone:
            self.the_wire_is_back(0.0)
        self.controller_is_good_again()
        if bench.serial != PROVED:
            self.another_craft_is_plugged_in()
        bench.values |= {"StartSwitch": "Released", "BatteryVoltage": 12.6}
        self.engine_stands_again()
        self.lanyard("Pulled")
        self.lanyard("In place")
        self.sign_in("technician")
        self.wait(2.5, ms=20)
        self.confirm("no_smell", old=False)
        self.confirm("hands_clear", old=False)
        if bench.actuation.locked:
            bench.gate.unlock_outputs()
            self.wait(0.1)


def run(make_bench, examples, steps, *, derandomize):
    class OnTheBench(AnyOrder):
        pass

    OnTheBench.make_bench = staticmethod(make_bench)
    run_state_machine_as_test(
        OnTheBench,
        settings=settings(
            max_examples=examples,
            stateful_step_count=steps,
            derandomize=derandomize,
            database=None,
            deadline=None,
            suppress_health_check=list(HealthCheck),
            phases=[Phase.generate],  # shrinking runs of minutes of craft time takes too long
        ),
    )
    assert OnTheBench.fired > 50, "too little was fired to have shown anything"
    assert set(KEYS) - OnTheBench.kinds <= {INJECTORS[0]}, "a kind never fired"
    assert OnTheBench.cranked_out
    assert {"live", "ended", "refused", "releasing", "not_confirmed"} <= OnTheBench.ends


@pytest.mark.timeout(900)
def test_in_any_order_nothing_moves_that_must_not_and_nothing_is_claimed_that_is_not_known(make_bench):
    run(make_bench, 20, 30, derandomize=True)


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_the_same_in_many_more_orders_new_ones_each_time(make_bench):
    run(make_bench, 200, 40, derandomize=False)
