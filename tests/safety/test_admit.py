"""The decision about an admission by itself, and the wait of who asked for it."""

import pytest

from app.errors import Refused
from bus.admit import against, answer_to
from bus.exchange import Admission


def test_while_another_craft_is_about_to_be_served_nothing_is_admitted(read_faults):
    words = against(read_faults, None, frozenset({read_faults}), None, sending=True)
    assert words == ("It is not among the requests of this craft's family",)


def test_a_craft_that_is_not_heard_at_a_rate_that_fits_is_asked_nothing(ready, read_faults):
    words = against(read_faults, None, frozenset({read_faults}), ready.actuation, sending=False)
    assert words == ("The craft is not heard at a bit rate that fits",)


class Waited(Admission):
    """An admission whose waits are told, and answered as a test wants."""

    def __init__(self, request, when_waited):
        super().__init__(request)
        self.waits = []
        self.when_waited = when_waited

    def wait(self, timeout_s):
        self.waits.append(timeout_s)
        self.when_waited(self)
        return super().wait(0)


def test_a_gate_that_does_not_answer_is_waited_for_two_seconds_and_said_to_be_not_ready(read_faults):
    admission = Waited(read_faults, lambda self: None)
    with pytest.raises(Refused) as refused:
        answer_to(admission)
    assert refused.value.needs == ("The adapter is not ready",)
    assert admission.waits == [2.0]


def test_an_answer_that_is_being_given_when_the_time_is_up_is_waited_for(read_faults, monkeypatch):
    admission = Waited(read_faults, lambda self: len(self.waits) == 2 and self.settle(None, ("It is late",)))
    monkeypatch.setattr(admission, "abandon", lambda: False)
    with pytest.raises(Refused) as refused:
        answer_to(admission)
    assert refused.value.needs == ("It is late",)
    assert admission.waits == [2.0, 2.0]
