"""What a person does: the finger, the pages, words by touch, signing in."""

from any_order_parts.judge import PROVED, WORDS_S
from any_order_parts.machine import QUIET_MS, Machine, rule
from app.output_messages import EndInhibit

INHIBITED = ("fuel_off", "fuel_off", "fuel_off", "spark_off")
OUTPUTS = ("horn", "fan", "injector_1", "injector_2", "coil_1", "fuel_pump")
LIFTS = {
    "lift": "The finger was lifted.",
    "drift": "The finger drifted off.",
    "second touch": "A second touch came.",
    "stop key": "STOP TEST was touched.",
    "focus": "The window is not in front any more.",
}
"""Causes that the screen sends in words."""


class Fingers(Machine):
    @rule(30, output=("horn", "horn", *OUTPUTS))
    def press(self, output):
        busy = self.busy
        if busy:
            self.event("second press")
        number = self.bench.press(output)
        self.last_press = number
        self.pressed_at[number], self.touched_before[number] = self.now, self.touched_at
        self.touched_at = self.now
        self.judge.bad.pop("vanished", None)
        self.mark("finger", bad=busy)
        self.tick()

    @rule(30, cause=tuple(LIFTS))
    def lift(self, cause):
        if self.bench.finger is not None:
            self.event("finger")
            self.touched_at = self.now
        self.bench.lift(LIFTS[cause])
        self.mark("finger")
        self.tick()

    @rule(10, seconds=(0.1, 0.2, 0.29, 0.4, 1.0))
    def finger_drops_out_without_a_word(self, seconds):
        finger, self.bench.finger = self.bench.finger, None
        self.mark("vanished")
        self.wait(seconds)
        self.bench.finger = finger
        self.mark("vanished", bad=seconds > 0.3)

    @rule(20, what=(*WORDS_S, "no_smell"), old=(False, False, True))
    def confirm(self, what, old):
        self.bench.confirm(what, self.now - 2.0 if old else None)
        values = self.bench.values
        still = values["EngineSpeed"] == values["EngineSpeedDisplay"] == 0
        vented = self.now - self.judge.fuel_ended.get(self.bench.serial, -1e9) >= 240.0
        if not old and still and (vented or what != "no_smell"):
            self.judge.said_at[what] = self.now
        self.tick()

    @rule(6)
    def see_a_leak(self):
        self.event("leak")
        self.bench.confirm("leak_seen")
        self.judge.fuel_ended[self.bench.serial] = self.now
        self.judge.said_at.pop("no_smell", None)
        self.judge.said_at.pop("no_leak", None)
        self.tick()

    @rule(10, who=("Kim", "Kim", "Lee"), role=("technician", "technician", "technician", "rider"))
    def sign_in(self, who, role):
        if (who, role) != self.operator:
            self.event("operator")
        self.operator = (who, role)
        self.bench.sign_in(role, operator=who)
        self.mark("role", bad=role != "technician")
        self.tick()

    @rule(8, page=(None, "horn", "fan"))
    def open_page(self, page):
        shown = self.bench.state.output if self.bench.state is not None else None
        if self.busy and page != shown:
            self.event("page")
        self.bench.consider(page)
        self.tick()

    @rule(4)
    def the_controller_is_read_afresh(self):
        self.bench.gate.unlock_outputs()
        self.tick()

    @rule(60, seconds=(0.005, 0.02, 0.05, 0.1, 0.2, 0.5, 0.5))
    def time_passes(self, seconds):
        self.wait(seconds)

    @rule(6, seconds=(2.1, 2.5, 6.0))
    def much_time_passes(self, seconds):
        self.wait(seconds, ms=20)

    def lifted_for_a_while(self):
        """Until another press may count."""
        if self.bench.finger is not None:
            self.lift("lift")
        self.mark("finger")
        while self.now - self.touched_at < 0.56:
            self.tick(20)

    @rule(1)
    def the_hull_is_vented_and_sniffed(self):
        self.lifted_for_a_while()
        self.what_is_held_is_given_back()
        self.wait(241.0, ms=QUIET_MS)
        self.confirm("no_smell", old=False)

    @rule(1)
    def the_tool_is_put_aside_while_the_hull_is_vented(self):
        """The same, with nothing heard meanwhile: what was heard and said before counts no more."""
        self.lifted_for_a_while()
        self.what_is_held_is_given_back()
        while self.busy:
            self.tick(20)
        self.stalled = 241.0
        self.judge.said_at.clear()
        self.tick(ms=241_000)
        self.wait(2.6, ms=20)
        self.confirm("no_smell", old=False)

    @rule(8, output=OUTPUTS, held=(0.0, 0.02, 0.1, 0.5, 1.5))
    def press_as_an_honest_hand_does(self, output, held):
        """So that much is fired: everything made ready first."""
        self.make_fit(output)
        self.press(output)
        self.wait(held)

    def make_fit(self, output):
        """All needs of this output are met."""
        self.lifted_for_a_while()
        if not self.fit(output):
            self.wait_for_rest(output)
        if not self.fit(output):
            self.everything_is_made_ready_again()
            self.empty_the_cylinders(output)
            self.vent(output)
            self.wait_for_rest(output)
        for what in WORDS_S:
            self.confirm(what, old=False)

    def missing(self, output):
        return {need.need for need in self.bench.actuation._needs(output) if need.holds is not True}

    def fit(self, output):
        """Nothing is missing but what a word mends; the controller, the disk and the wire are good."""
        controller, journal = self.bench.controller, self.bench.journal
        if controller.deaf or controller.mute or controller.stubborn or controller.refuses or self.dawdles:
            return False
        if controller.forgets:
            return False
        if self.wire_gone or journal.stuck or journal.full or self.busy or self.bench.silent:
            return False
        if set(self.judge.bad) - {"finger", "vanished"} or controller.mutes:
            return False
        return self.missing(output) <= set(WORDS_S)

    def wait_for_rest(self, output):
        for _ in range(12 if output == "coil_1" else 3):
            if self.missing(output) - set(WORDS_S) == {"outputs_free"}:
                self.wait(0.9, ms=20)

    def empty_the_cylinders(self, output):
        missing = self.missing(output)
        if missing & {"fuel_room", "purged"}:
            self.engine_runs_for_half_a_minute()

    def vent(self, output):
        ended = self.judge.fuel_ended.get(PROVED, -1e9)
        if self.now - ended < 241.0 or self.missing(output) & {"vented", "spark_ago"}:
            self.the_tool_is_put_aside_while_the_hull_is_vented()

    @property
    def holding(self):
        """The glass shows that something is held off until rest."""
        state = self.bench.state
        return bool(self.holds.under_way) or (self.busy and state is not None and state.phase == "latched")

    def end_inhibit(self):
        """As the key on the glass does it."""
        press = self.bench.watching
        if press is None:
            return
        for hold in self.holds.under_way.values():
            if hold.press == press and not self.wire_gone:
                hold.must("held: ended", self.now)
        self.bench.ask(EndInhibit(press, "It was ended on the glass."))

    def what_is_held_is_given_back(self):
        """Whatever was done before; without it nobody waits for the end."""
        if not self.holding:
            return
        if self.bench.watching is None:
            self.bench.watching = self.bench.state.press
        self.end_inhibit()
        self.bench.silent.clear()
        self.bench.values |= {"StartSwitch": "Released", "EngineSpeed": 0.0, "EngineSpeedDisplay": 0.0}
        until = self.now + 12.0
        while self.holding and self.now < until:
            self.tick(20)
        assert not self.holding, "it is never given back"

    def everything_is_made_ready_again(self):
        raise NotImplementedError

    def engine_runs_for_half_a_minute(self):
        raise NotImplementedError
