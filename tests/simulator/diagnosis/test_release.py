"""How an output ends: the tool's own run of a press against the simulated controller."""

import pytest

from app.interlock import Fact, Interlock, Need
from app.output_messages import Phase
from bus.family import SHIPPED, load_family
from bus.output_run import OutputRun, Step


@pytest.fixture(scope="module")
def plans():
    return {plan.data.key: plan for plan in load_family(SHIPPED / "auk").uds.outputs}


class Press:
    """A run whose requests go to the simulated craft and whose answers come from it, every 5 ms."""

    def __init__(self, talk, plan):
        self.talk, self.plan, self.now = talk, plan, 100.0
        self.lock = Interlock(lambda _: {need: Fact(True, "so") for need in Need}, lambda: self.now)
        self.permit = self.lock.grant(plan.data.key, plan.data.kind, 1, self.now)
        self.run = OutputRun(plan, 1, self.permit, self.lock, self.now)
        self.held = True
        self.answers, self.sent = [], []

    def turn(self):
        self.now += 0.005
        if self.held:
            self.lock.renew(self.permit, self.now)
        answers, self.answers = self.answers, []
        for pdu in self.run.step(self.now, answers):
            self.sent.append(pdu)
            self.talk.send((bytes([len(pdu)]) + pdu).ljust(8, b"\x00").hex())
        heard = self.talk.run(0.005)
        self.answers = [data[1 : 1 + data[0]] for _, ident, data in heard if ident == self.plan.response]

    def until(self, condition, seconds=10.0):
        end = self.now + seconds
        while not condition():
            assert self.now < end, "it never came to that"
            self.turn()

    def live(self):
        self.until(self.talk.live)
        return self

    def lift(self):
        self.held = False
        self.run.stop("lifted", self.now)
        self.until(lambda: self.run.step_now is Step.DONE)
        return self.run.phase


@pytest.mark.parametrize("output", ["horn", "fan", "injector_1"])
def test_a_release_is_confirmed(talk, plans, output):
    press = Press(talk, plans[output]).live()
    assert press.lift() is Phase.ENDED
    assert talk.live() == []


@pytest.mark.parametrize("output", ["horn", "injector_1"])
def test_a_controller_that_is_deaf_to_releases_is_not_confirmed(talk, plans, output):
    talk.do("deaf_to_release", on=True)
    press = Press(talk, plans[output]).live()
    press.until(lambda: press.run.known_live_s(press.now) > 0)
    assert press.lift() is Phase.NOT_CONFIRMED
    assert press.sent.count(plans[output].release) >= 19
    assert talk.live() == []  # the default session, which it is not deaf to, ended it


def test_an_output_that_the_session_timer_ended_is_confirmed_by_refusal_and_default_session(talk, plans):
    press = Press(talk, plans["injector_1"]).live()
    talk.run(6.0)
    assert talk.live() == []
    left = Press(talk, press.plan)
    left.run = OutputRun.only_release(press.plan, 1, left.lock, left.now, "left")
    left.until(lambda: left.run.step_now is Step.DONE)
    assert left.run.phase is Phase.ENDED
    assert left.sent == [press.plan.release, b"\x10\x01"]


def test_a_start_that_is_kept_pending_goes_live_late_and_is_released(talk, plans):
    talk.do("pending", service="2F", times=10, every_ms=200)
    press = Press(talk, plans["injector_1"])
    press.until(lambda: press.plan.start in press.sent)
    press.until(lambda: press.answers)
    press.held = False
    press.run.stop("lifted", press.now)
    press.live()
    talk.do("pending", service="2F", times=0)
    press.until(lambda: press.run.step_now is Step.DONE)
    assert press.run.phase is Phase.ENDED
    ended = talk.outputs.history[-1]
    assert ended["why"] == "released"
    assert ended["stop"] - ended["start"] <= 0.08  # one repeat of the release, and the turns
    assert talk.live() == []
