"""For each cause that ends a press: the one method of the product without which it would not."""

from app.interlock import Fact, Interlock, Need
from app.output_messages import Confirm
from bus import actuate, inhibit_run, output_run
from bus.actuate import Actuation
from bus.charging import Charging
from bus.facts import FactTable
from bus.gate import Gate
from bus.inhibit_run import InhibitRun
from bus.output_run import OutputRun, Step

WORDS_OF_A_PERSON = {"no_smell", "no_leak", "hands_clear", "spark_safe", "jet_clear"}
"""They are void as soon as the engine turns, another controller answers or the craft is not heard."""


def deaf_to(words):
    """Actuation.stop takes no notice of these words."""

    def switch_off(patch):
        honest = Actuation.stop

        def stop(self, cause):
            if cause != words:
                honest(self, cause)

        patch.setattr(Actuation, "stop", stop)

    return switch_off


def blind_to(*needs):
    """Actuation._facts calls these needs met, whatever was heard."""

    def switch_off(patch):
        honest = Actuation._facts
        met = dict.fromkeys((Need(need) for need in needs), Fact(True, "Switched off"))
        patch.setattr(Actuation, "_facts", lambda self, output: {**honest(self, output), **met})

    return switch_off


def method(owner, name, instead):
    """A method does something else."""
    return lambda patch: patch.setattr(owner, name, instead)


def in_every_step_but_live(name):
    """A method of OutputRun does nothing while the output is live."""

    def switch_off(patch):
        honest = getattr(OutputRun, name)

        def instead(self, *args):
            if self.step_now is not Step.LIVE:
                honest(self, *args)

        patch.setattr(OutputRun, name, instead)

    return switch_off


def no_leak_is_heard(patch):
    honest = actuate.take_word

    def take_word(request, *args):
        return "" if request == Confirm("leak_seen", request.at) else honest(request, *args)

    patch.setattr(actuate, "take_word", take_word)


def no_disk_is_waited_for(patch):
    """A charge that was not written counts as written."""

    def refusal(self, now):
        self.ticket.failed, self.ticket.synced = "", True
        return self.stopped

    patch.setattr(Charging, "refusal", refusal)


def held_in_spite_of(*beginnings):
    """InhibitRun.stop takes no notice of words that begin like this."""

    def switch_off(patch):
        honest = InhibitRun.stop

        def stop(self, cause, now):
            if not cause.startswith(beginnings):
                honest(self, cause, now)

        patch.setattr(InhibitRun, "stop", stop)

    return switch_off


def only_what_runs_is_stopped(self, cause):
    """Actuation.stop that forgets a press whose charge is on its way to the disk."""
    if cause and self._run is not None:
        self._run.stop(cause, self._clock())


SPEEDS = {"speed_known", "engine_stopped", *WORDS_OF_A_PERSON}
CRAFT = {"controller_known", "speed_proved", "lanyard_proved", "fuel_room", "purged", "vented", "spark_ago"}
SWITCHES = {"lanyard_in", "start_released", "manifold_at_rest", "battery", "pump_quiet"}

OFF = {
    "lift": deaf_to("The finger was lifted."),
    "drift": deaf_to("The finger drifted off."),
    "second touch": deaf_to("A second touch came."),
    "stop key": deaf_to("STOP TEST was touched."),
    "focus": deaf_to("The window is not in front any more."),
    "page": deaf_to("Another page was opened."),
    "operator": deaf_to("Somebody else signed in."),
    "second press": deaf_to("A second press came."),
    "another craft recognised": deaf_to("Another craft was recognised."),
    "no beat": method(Interlock, "_lives", lambda self, permit: permit is self._live),
    "late loop": method(actuate, "LATE_S", float("inf")),
    "engine speed": blind_to("engine_stopped", *WORDS_OF_A_PERSON),
    "second source": blind_to(*SPEEDS),
    "stale": blind_to("speed_known", "engine_stopped"),
    "start switch": blind_to("start_released"),
    "lanyard": blind_to("lanyard_in"),
    "battery": blind_to("battery"),
    "manifold": blind_to("manifold_at_rest"),
    "another tester": blind_to("alone"),
    "leak": no_leak_is_heard,
    "fuel pump": method(FactTable, "doubt", lambda self, what: None),
    "silence of the craft": blind_to("bus_alive", "alone", *SPEEDS, *CRAFT, *SWITCHES),
    "another craft": blind_to(*SPEEDS, *CRAFT),
    "wire lost": method(Gate, "_part", lambda self, actuation: None),
    "time limit": method(OutputRun, "_time_is_up", lambda self, now: None),
    "controller refuses": method(OutputRun, "_refused", lambda self, code, now: None),
    "session lost": in_every_step_but_live("_hear_default"),
    "released by itself": in_every_step_but_live("_hear_released"),
    "the disk": no_disk_is_waited_for,
    "not read back": held_in_spite_of("The controller says", "The controller did not say"),
    "ended on the glass": deaf_to("It was ended on the glass."),
    "no answer": method(output_run, "ANSWER_S", float("inf")),
    "held: ended": deaf_to("It was ended on the glass."),
    "held: glass gone": method(inhibit_run, "WATCHED_WITHIN_S", float("inf")),
    "held: time over": held_in_spite_of("The time limit"),
    "held: another tester": held_in_spite_of("Another tester"),
    "held: operator": deaf_to("Somebody else signed in."),
    "held: page": deaf_to("Another page was opened."),
    "held: dropped": held_in_spite_of("The controller gave it back", "The controller left"),
    "held: says 00": held_in_spite_of("The controller says"),
    "held: mute": method(inhibit_run, "DOUBT_AFTER_S", float("inf")),
    "held: wire lost": method(Gate, "_part", lambda self, actuation: None),
    "held: second press": deaf_to("A second press came."),
    "held: leak": no_leak_is_heard,
    "held: another craft recognised": deaf_to("Another craft was recognised."),
    "held: does not say": held_in_spite_of("The controller does not say", "Not read back"),
}
"""Some are no methods: what ends with _S is a figure, take_word is a function."""


def read_back_is_not_waited_for(self, now):
    """InhibitRun that takes the yes to the start for the state."""
    OutputRun._hear_started(self, now)
    self.latched, self.confirmed_at = True, now


def a_fact_ends_it(self, now):
    """InhibitRun that is dropped when speed rises, as any other output."""
    if not self._craft.at_rest(now):
        self.stop("Another page was opened.", now)


def something_else_is_sent(patch):
    patch.setattr(InhibitRun, "_reading", lambda self, now: [b"\x10\x03"])
    patch.setattr(InhibitRun, "may_send", lambda self, pdu: True)


RULE_8 = {
    "released while it turns": method(FactTable, "at_rest", lambda self, now: True),
    "held before it was read back": method(InhibitRun, "_hear_started", read_back_is_not_waited_for),
    "dropped when speed rises": method(InhibitRun, "_look_after_hold", a_fact_ends_it),
    "never given back": method(FactTable, "at_rest", lambda self, now: False),
    "not read back every second": method(inhibit_run, "READ_EVERY_S", 1.2),
    "doubt is not told": method(InhibitRun, "doubt", ""),
    "something else is sent": something_else_is_sent,
}
"""Each sentence of rule 8 that is no cause, broken once."""

WHILE_CHARGED = method(Actuation, "stop", only_what_runs_is_stopped)
"""Whatever ends a press whose charge is not on the disk yet."""
