"""One press without a gate, and fixtures of it, which several test modules share."""

import pytest

from app.interlock import Fact, Interlock, Need
from bus.output_run import OutputRun, Step

SESSION, DEFAULT = b"\x10\x03", b"\x10\x01"
SESSION_YES, DEFAULT_YES = bytes.fromhex("5003003201f4"), bytes.fromhex("5001003201f4")
REPEAT_S, RELEASE_S, CLOSE_S = 0.05, 1.0, 0.5  # design 7: every 50 ms for 1 s, then default session, silence
TURN_S = 0.005


class Press:
    """A run with a finger, a clock and whatever the controller is told to say."""

    def __init__(self, plan):
        self.now = 50.0
        self.facts = {need: Fact(True, f"{need} seen") for need in Need}
        self.lock = Interlock(lambda output: self.facts, lambda: self.now)
        self.plan = plan
        self.permit = self.lock.grant(plan.data.key, plan.data.kind, 1, self.now)
        self.run = OutputRun(plan, 1, self.permit, self.lock, self.now)
        self.held = True
        self.sent = []

    def step(self, *answers, dt=TURN_S):
        self.now += dt
        if self.held:
            self.lock.renew(self.permit, self.now)
        before, cause, since = self.run.step_now, self.run.cause, self.run.since
        out = self.run.step(self.now, list(answers))
        self.sent += [(self.now, pdu) for pdu in out]
        self.check(before, cause, since, out)
        return out

    def check(self, before, cause, since, out):
        """What holds after every step, whatever a test is about."""
        run = self.run
        assert run.since in ((since, self.now) if run.step_now is before else (self.now,))
        if run.cause and not cause:
            assert (self.plan.release in out) is run.fired
        told = run.known_live_s(self.now)
        grows = run.known_live_s(self.now + 1.0) - told
        assert grows == 0.0 or (grows == pytest.approx(1.0) and not run.cause)
        assert {type(value) for value in (run.complete, run.confirmed, run.fired)} == {bool}

    def live(self):
        assert self.step() == [SESSION]
        assert self.step(SESSION_YES) == [self.plan.start]
        return self

    def answered(self):
        self.live()
        assert self.step(self.yes(self.plan.start)) == []
        return self

    def yes(self, pdu):
        return b"\x6f" + pdu[1:]

    def for_(self, seconds, *answers):
        before = len(self.sent)
        end = self.now + seconds
        while self.now < end - 1e-9:
            self.step(*answers)
        return [pdu for _, pdu in self.sent[before:]]

    def times(self, pdu):
        return [at for at, sent in self.sent if sent == pdu]

    def ends(self, seconds=3.0):
        end = self.now + seconds
        while self.run.step_now is not Step.DONE:
            assert self.now < end, "it never ended"
            self.step()
        return self.run.phase
