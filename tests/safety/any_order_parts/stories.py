"""One story for each cause: an honest press, the cause at some moment of it, and everything mended again."""

import dataclasses
from collections.abc import Callable

from any_order_parts.causes import MUST_COME
from any_order_parts.fingers import LIFTS
from any_order_parts.inhibit_stories import HELD_STORIES
from any_order_parts.inhibits_held import InhibitsHeld
from any_order_parts.judge import KEYS, PROVED
from any_order_parts.machine import rule

DELAYS = (0, 5, 10, 15, 25, 50, 100, 200, 300, 333)
"""ms after the press at which the cause comes: while it is charged, starting, live, renewed."""

BURSTS = ("horn", "horn", "horn", "fan", "fan", "fan", "fuel_pump")
MOST = (*BURSTS, "injector_1", "coil_1")
DIDS = {key: did for did, key in KEYS.items()}


@dataclasses.dataclass(frozen=True)
class Story:
    """What happens.

    Attributes:
        provoke: the cause.
        mend: everything as it was.
        live_only: only what is live can end for it.
        outputs: with which.
        before: before the press.
        words: causes that may be named instead.
    """

    provoke: Callable
    mend: Callable = lambda machine: None
    live_only: bool = False
    outputs: tuple = MOST
    before: Callable = lambda machine: None
    words: tuple = ()


def values(**changed):
    """The craft is otherwise from now on."""
    return lambda machine: machine.bench.values.update(changed)


def silent(what):
    return lambda machine: machine.bench.silent.add(what)


def heard_again(machine):
    machine.bench.silent.clear()
    machine.wait(2.6, ms=20)


def page(machine):
    machine.open_page("fan" if machine.bench.state.output != "fan" else "horn")


def other_operator(machine):
    machine.sign_in("Lee" if machine.operator[0] == "Kim" else "Kim", "technician")


def finger_gone(machine):
    machine.bench.finger = None
    machine.mark("vanished")


def hangs(machine):
    machine.the_loop_hangs(0.11)


def tester_gone(machine):
    machine.wait(5.2, ms=20)


def wire_goes(machine):
    machine.the_wire_goes()


def next_start_refused(machine):
    """The controller refuses to renew, and obeys the release that follows."""
    controller = machine.bench.controller
    controller.refuses[0x2F] = 0x22
    heard = len(controller.heard)
    while machine.busy and len(controller.heard) == heard:
        machine.tick()
    controller.refuses.clear()
    if len(controller.heard) > heard:
        machine.event("refusal")


def answers(machine, pdu):
    """Something the controller says unasked."""
    machine.bench.controller.answers.append((machine.now, (bytes([len(pdu)]) + pdu).ljust(8, b"\x00")))


def session_lost(machine):
    controller = machine.bench.controller
    controller.session = 1
    controller._all_off(machine.now)
    answers(machine, bytes.fromhex("5001003201f4"))
    machine.event("session")


def given_back(machine):
    controller = machine.bench.controller
    for did in sorted(controller.live()):
        controller._off(did, machine.now)
        answers(machine, b"\x6f" + did.to_bytes(2, "big") + b"\x00")
    machine.event("by itself")


def start_unanswered(machine):
    """It does what it is told and says nothing."""
    machine.bench.controller.mutes = {0x2F}


def silence_noticed(machine):
    """Half a second after the start, and not later."""
    while machine.busy and not machine.judge.open:
        machine.tick()
    for since in machine.judge.open.values():
        machine.judge.event("no answer", since, machine.last_press)
    machine.wait(0.6)
    machine.bench.controller.mutes.clear()


def nothing(machine):
    """Time alone."""


def does_not_hold(machine):
    """It says yes to the start, and when it is read, no."""
    machine.bench.controller.forgets = True


def holds_again(machine):
    machine.bench.controller.forgets = False


def reads_unanswered(machine):
    machine.bench.controller.mutes = {0x22}


def ended_early(machine):
    """On the glass, before it was read back."""
    machine.bench.watching = machine.last_press
    machine.end_inhibit()
    machine.tick()


def reads_answered(machine):
    machine.bench.controller.mutes.clear()
    machine.bench.watching = None


def disk_takes_nothing(machine):
    """It is full, or it hangs for longer than a finger is held over nothing."""
    journal = machine.bench.journal
    journal.full = machine.last_press % 2 == 0
    journal.stuck = not journal.full


def disk_takes_it_again(machine):
    machine.bench.journal.full = machine.bench.journal.stuck = False
    machine.tick()


STORIES = {
    **{cause: Story(lambda machine, cause=cause: machine.lift(cause)) for cause in LIFTS},
    "page": Story(page),
    "operator": Story(other_operator),
    "second press": Story(lambda machine: machine.press("horn")),
    "no beat": Story(finger_gone),
    "late loop": Story(hangs, lambda machine: machine.wait(2.6, ms=20)),
    "engine speed": Story(
        values(EngineSpeed=50.0, EngineSpeedDisplay=50.0), lambda machine: machine.engine_stands_again()
    ),
    "second source": Story(
        values(EngineSpeedDisplay=1300.0),
        lambda machine: machine.engine_stands_again(),
        words=("engine speed",),
    ),
    "stale": Story(silent("DisplayMain"), heard_again),
    "start switch": Story(values(StartSwitch="Pressed"), values(StartSwitch="Released")),
    "lanyard": Story(values(Lanyard="Pulled"), values(Lanyard="In place")),
    "battery": Story(values(BatteryVoltage=11.0), values(BatteryVoltage=12.6)),
    "manifold": Story(values(ManifoldPressure=60.0), values(ManifoldPressure=101.0)),
    "fuel pump": Story(
        values(FuelPumpRelay="On"), values(FuelPumpRelay="Off"), outputs=("horn", "fan", "coil_1")
    ),
    "another tester": Story(lambda machine: machine.another_tester(), tester_gone),
    "leak": Story(lambda machine: machine.see_a_leak()),
    "silence of the craft": Story(silent("all"), heard_again),
    "wire lost": Story(wire_goes, lambda machine: machine.the_wire_is_back(0.1)),
    "time limit": Story(nothing, live_only=True, outputs=("horn", "horn", "horn", "coil_1")),
    "controller refuses": Story(next_start_refused, live_only=True, outputs=("horn", "fan")),
    "session lost": Story(session_lost, live_only=True),
    "released by itself": Story(given_back, live_only=True),
    "another craft": Story(lambda machine: machine.another_craft_is_plugged_in()),
    "another craft recognised": Story(
        lambda machine: machine.a_craft_is_recognised_anew(), lambda machine: machine.wait(2.6, ms=20)
    ),
    "not read back": Story(nothing, holds_again, outputs=("fuel_off",), before=does_not_hold),
    "ended on the glass": Story(ended_early, reads_answered, outputs=("fuel_off",), before=reads_unanswered),
    "the disk": Story(nothing, disk_takes_it_again, before=disk_takes_nothing),
    "no answer": Story(silence_noticed, before=start_unanswered, outputs=("horn", "fan")),
}
CAUSES = (*STORIES, *HELD_STORIES)
NEVER_LIVE = ("the disk",)
"""What ends a press before anything was sent for it."""

assert set(CAUSES) == set(MUST_COME)


class Stories(InhibitsHeld):
    words = True
    """Whether the words that end a press are looked at too, or only what moves, what is sent and claimed."""

    @rule(0, cause=CAUSES, draw=tuple(range(1000)), delay=DELAYS)
    def story(self, cause, draw, delay):
        if cause in HELD_STORIES:
            self.story_of_one_held(cause, draw, delay)
            return
        story = STORIES[cause]
        output = story.outputs[draw % len(story.outputs)]
        self.make_fit(output)
        assert self.missing(output) == set(), (cause, output, self.missing(output))
        story.before(self)
        before = len(self.endings)
        self.press(output)
        if story.live_only or draw % 3:
            while self.busy and not self.bench.controller.live():
                self.tick()
        self.wait(delay / 1000)
        story.provoke(self)
        self.until_over()
        if self.words:
            ended = self.endings[before:]
            assert ended, (cause, output, "it goes on")
            assert ended[0] in (cause, *story.words), (cause, output, ended)
        story.mend(self)
        self.settle()

    def story_of_one_held(self, cause, draw, delay):
        """Read back, the finger lifted, cranked or not; the cause, then rest, and everything mended again."""
        story = HELD_STORIES[cause]
        output = "spark_off" if draw % 8 == 4 else "fuel_off"
        self.make_fit(output)
        assert self.missing(output) == set(), (cause, output, self.missing(output))
        before = len(self.endings)
        self.hold_off(output)
        self.until(lambda: not self.busy or self.bench.state.phase == "latched", 1.0)
        self.lift("lift")
        if draw % 3:
            self.crank(250.0, "both", 0.3)
        self.wait(delay / 1000)
        story.provoke(self)
        self.until(lambda: not self.busy or self.bench.state.ending, 1.0)
        story.mend(self)
        self.bench.values["StartSwitch"] = "Released"
        self.engine_stands_again()
        self.until(lambda: not self.busy, 4.0)
        if self.words:
            assert self.endings[before : before + 1] == [cause], (cause, output, self.endings[before:])
        self.until(lambda: not self.bench.actuation._past.due(f"auk {PROVED}"), 4.0)
        self.bench.watching = None
        self.settle()

    def until(self, condition, seconds):
        """Until something is so, or not for longer than this."""
        until = self.now + seconds
        while not condition() and self.now < until:
            self.tick(20)

    def until_over(self):
        """Until the glass says that it is over; a time limit is the latest."""
        until = self.now + 5.0
        while self.busy and self.now < until:
            self.tick(20 if self.judge.bad.keys() <= {"finger"} and not self.judge.events else 5)

    def settle(self):
        """What stood unconfirmed is read afresh, as a technician does it."""
        self.mark("vanished", bad=False)
        if self.bench.serial != PROVED:
            self.another_craft_is_plugged_in()
        if self.bench.actuation.locked and not self.busy and not self.wire_gone:
            self.wait(0.2)
            self.the_controller_is_read_afresh()
