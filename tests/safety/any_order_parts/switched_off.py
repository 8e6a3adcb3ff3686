"""For each cause that ends a press: the one method of the product without which it would not."""

from app.interlock import Fact, Interlock, Need
from app.output_messages import Confirm
from bus import actuate, output_run
from bus.actuate import Actuation
from bus.facts import FactTable
from bus.gate import Gate
from bus.output_run import OutputRun, Step

WORDS_OF_A_PERSON = {"no_smell", "no_leak", "hands_clear", "spark_safe"}
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
    "no answer": method(output_run, "ANSWER_S", float("inf")),
}
"""Three are no methods: LATE_S and ANSWER_S are figures, take_word is a function."""

WHILE_CHARGED = method(Actuation, "stop", only_what_runs_is_stopped)
"""Whatever ends a press whose charge is not on the disk yet."""
