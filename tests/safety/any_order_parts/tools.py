"""What the controller, the loop, the disk, the wire and the process do."""

from any_order_parts.crafts import Crafts
from any_order_parts.fingers import OUTPUTS
from any_order_parts.judge import KEYS, PROVED
from any_order_parts.machine import rule
from app.errors import AdapterLost
from app.output_messages import SignIn
from bus.actuate import Actuation
from bus.facts import FactTable


class Tools(Crafts):
    @rule(2, output=("horn", "injector_2", "coil_1"), seconds=(0.3, 2.0, 8.0))
    def press_before_a_controller_that_takes_its_time(self, output, seconds):
        self.make_fit(output)
        self.bench.controller.slow_s = seconds
        self.press(output)
        self.wait(0.1)
        self.lift("lift")
        self.wait(1.0)

    @rule(2, output=("horn", "injector_2"))
    def lift_before_a_controller_that_has_gone_dumb(self, output):
        self.press_as_an_honest_hand_does(output, 0.1)
        self.bench.controller.mute = True
        self.lift("lift")
        self.wait(2.0)

    @rule(4, how=("mute", "deaf", "stubborn", "refuses", "pending", "slow"))
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
        self.tick()

    @rule(8)
    def controller_is_good_again(self):
        controller = self.bench.controller
        was = bool(controller.deaf or controller.stubborn or controller.refuses or self.dawdles)
        controller.slow_s = None
        controller.mute = controller.deaf = controller.stubborn = controller.forgets = False
        controller.refuses.clear()
        controller.pending.clear()
        controller.mutes.clear()
        if was:  # what it did not hear is made up for by its own limits
            self.wait_out()

    def wait_out(self):
        controller = self.bench.controller
        controller.deaf = True
        self.wait(4.6, ms=20)
        while controller.work is not None or controller.live():
            self.tick(ms=20)
        controller.deaf = False

    @rule(8, seconds=(0.09, 0.11, 0.25, 0.6, 2.0))
    def the_loop_hangs(self, seconds):
        self.stalled = seconds
        if seconds > 0.1:
            self.judge.event("hang", self.now + seconds - 0.001, self.last_press)
        self.tick(ms=round(seconds * 1000))

    @rule(6, how=("good", "good", "good", "stuck", "full"))
    def disk(self, how):
        self.bench.journal.stuck = how == "stuck"
        self.bench.journal.full = how == "full"
        self.tick()

    @rule(3)
    def the_wire_goes(self):
        if not self.wire_gone:
            self.bench.wire.fails = AdapterLost("It went away.")
        self.wait(0.05)

    @rule(6, seconds=(0.1, 1.0))
    def the_wire_is_back(self, seconds):
        if not self.wire_gone:
            return
        self.wait(seconds)
        self.bench.wire = type(self.bench.wire)(self.bench)
        self.bench.gate._wire = self.bench.wire
        self.mark("process")
        self.wire_gone = False
        self.wait(0.3)
        self.judge.bad.pop("process")
        self.mark("finger")

    @rule(2)
    def the_process_is_killed_and_started(self):
        old = self.bench
        new = self.make_bench(list(old.journal.entries), serial=PROVED, start_s=old.ms / 1000)
        for name in ("ms", "values", "silent", "said_at", "presses", "finger", "serial"):
            setattr(new, name, getattr(old, name))
        new.controller = old.controller
        new.controller.clock = new.clock
        self.bench, self.wire_gone, self.purges = new, False, 0
        self.wired, self.told = 0, len(new.journal.told)
        self.judge.open.clear()
        self.operator = None
        self.mark("process")
        self.born_at, self.born_deaf = self.now, "all" in new.silent
        started = {body["press"]: body["output"] for body in old.journal.of("output_start")}
        ended = {body["press"] for body in old.journal.of("output_end")}
        left = {output for press, output in started.items() if press not in ended}
        self.holds.restarted(self.now, {did for did, output in KEYS.items() if output in left})
        self.judge.pulled.clear()
        self.judge.said_at.clear()
        self.judge.restarted(self.now)
        self.wait(0.4)
        self.judge.bad.pop("process")
        self.judge.bad["role"] = self.judge.bad["finger"] = self.now

    @rule(2)
    def a_craft_is_recognised_anew(self):
        """As after a silence: facts and outputs begin afresh, with the same journal and person."""
        bench, old = self.bench, self.bench.actuation
        self.event("recognised")
        table = FactTable(
            bench.facts._family, bench.facts._heard._testers, bench.proved, lambda name: None, bench.purge
        )
        new = Actuation(table, old._plans, bench.journal, bench.clock)
        if self.operator is not None:
            new.handle(SignIn(*self.operator))
        bench.facts = table
        bench.gate.serve_craft(new, frozenset())
        self.judge.pulled.clear()
        self.judge.said_at.clear()
        self.tick()

    @rule(2)
    def everything_is_made_ready_again(self):
        bench = self.bench
        self.lifted_for_a_while()
        self.what_is_held_is_given_back()
        bench.journal.stuck = bench.journal.full = False
        bench.silent.clear()
        self.the_wire_is_back(0.0)
        self.controller_is_good_again()
        if bench.serial != PROVED:
            self.another_craft_is_plugged_in()
        bench.values |= {"StartSwitch": "Released", "BatteryVoltage": 12.6, "FuelPumpRelay": "Off"}
        bench.values |= {"EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0, "ManifoldPressure": 101.0}
        self.lanyard("Pulled")
        self.lanyard("In place")
        self.sign_in("Kim", "technician")
        self.wait(max(2.5, 5.2 - (self.now - self.judge.tester_at)), ms=20)
        self.until_nothing_is_under_way()
        self.confirm("no_smell", old=False)
        self.confirm("hands_clear", old=False)
        if bench.actuation.locked:
            bench.gate.unlock_outputs()
            self.wait(0.1)

    def until_nothing_is_under_way(self):
        """A release that was owed may have gone out a moment ago."""
        until = self.now + 3.0
        while self.busy and self.now < until:
            self.tick(20)


__all__ = ["OUTPUTS", "Tools"]
