"""What may move, worked out from the safety notes by hand; shares nothing with the product.

The judge looks at the craft as it is (not at what was heard of it), at the little controller, and at what was
sent, and allows what was not heard yet no more than the time it takes to be heard.
"""

from inhibits import DID

SLACK_S = 0.03
"""Turns of the loop and of this test."""

HEARD_WITHIN = {  # how long after a cause the release must be on the wire, and nothing may move
    "lanyard": 0.05,  # in the craft: until the message that tells it has come
    "start": 0.05,
    "engine": 0.05,
    "display": 0.1,
    "battery": 0.1,
    "manifold": 0.02,
    "serial": 0.1,
    "pump": 0.05,
    "EngineFast": 0.15,  # silence: 3 periods, speed at most 250 ms
    "DisplayMain": 0.25,
    "EngineFluids": 0.3,
    "EngineSwitches": 0.15,
    "EngineAir": 0.06,
    "all": 0.15,
    "finger": 0.0,  # on the screen: at once
    "second press": 0.0,
    "page": 0.0,
    "role": 0.0,
    "operator": 0.0,
    "leak": 0.0,
    "recognised": 0.0,
    "tester": 0.0,
    "vanished": 0.3,  # design 2: older than 300 ms: dead
    "hang": 0.0,  # design 2: late by more than 100 ms: revoke, release
    "refusal": 0.01,  # of the controller: until its answer has come
    "session": 0.01,
    "by itself": 0.01,
    "no answer": 0.5,  # our own figure; UDS answers within 50 ms (notes on standards 2.2)
    "process": 0.35,  # killed and started: until the craft has said its serial
}
TOLD_BY = {  # the message without which a cause in the craft is not heard
    "engine": "EngineFast",
    "display": "DisplayMain",
    "lanyard": "EngineSwitches",
    "start": "EngineSwitches",
    "pump": "EngineSwitches",
    "battery": "EngineFluids",
    "manifold": "EngineAir",
    "serial": "DisplayPages",
}
INJECTORS, COIL, FAN, HORN, PUMP = (0xD101, 0xD102), 0xD111, 0xD121, 0xD122, 0xD123
FUEL_OFF, SPARK_OFF = DID["fuel_off"], DID["spark_off"]
INHIBITS = {FUEL_OFF, SPARK_OFF}
"""They do not end by themselves, and stay without a finger: ``holds`` looks after what is held, not this."""
KEYS = {
    0xD101: "injector_1",
    0xD102: "injector_2",
    COIL: "coil_1",
    FAN: "fan",
    HORN: "horn",
    PUMP: "fuel_pump",
    FUEL_OFF: "fuel_off",
    SPARK_OFF: "spark_off",
}
FINITE_S = dict.fromkeys(INJECTORS, 4.0) | {COIL: 2.0, FAN: 0.5, HORN: 0.5, PUMP: 0.5}  # by its last request
LONGEST_S = dict.fromkeys(INJECTORS, 4.15) | {COIL: 2.15, FAN: 10.0, HORN: 3.0, PUMP: 5.0}
FUEL = {*INJECTORS, PUMP, SPARK_OFF}
"""What begins the venting; cranked with spark held off, every injector sprays."""
ONCE = {*INJECTORS, COIL, *INHIBITS}
"""What one press may ask for once."""
WORDS_S = {"no_smell": 600.0, "no_leak": 600.0, "hands_clear": 30.0, "spark_safe": 30.0, "jet_clear": 30.0}
OWN_WORDS = {COIL: ("spark_safe",), FAN: ("hands_clear",), PUMP: ("no_leak",)}
OWN_WORDS |= dict.fromkeys(INHIBITS, ("hands_clear", "jet_clear"))
PROVED = 20417
LIFTED_S = 0.5 - 0.05
"""Design, below 8: no restart until lifted for 0.5 s; the last beat may be 50 ms older than the lift."""


class Wrong(AssertionError):
    """Something moved, was sent or was claimed that must not."""


def demand(holds, *words):
    """Raises Wrong if it does not hold."""
    if not holds:
        raise Wrong(*words)


class Judge:
    """What is so, since when, and what follows from the safety notes.

    Attributes:
        bad: causes that last, and since when.
        events: causes of a moment that a start on the wire has still to be released for.
        dead: presses that may send no start any more, since when, and why.
        open: outputs whose start is on the wire and no release after it, and since when.
    """

    def __init__(self):
        self.bad = {}
        self.events = []
        self.dead = {}
        self.open = {}
        self.heard_again = {}
        self.turned_at = 0.0
        self.ran_since = self.slow_since = None
        self.crank_began = self.cranked_at = None
        self.pulled = {PROVED}
        self.said_at = {}
        self.fuel = {}
        self.spark_ended = {}
        self.fuel_ended = {}
        self.tester_at = -1e9

    def mark(self, cause, now, *, bad):
        """A cause that lasts begins or ends."""
        if not bad:
            if self.bad.pop(cause, None) is not None:
                self.heard_again[cause] = now
        else:
            self.bad.setdefault(cause, now)

    def event(self, cause, now, press):
        """Something happened after which this press is over; at once, if no message must come first."""
        self.events.append((cause, now))
        within = HEARD_WITHIN[cause]
        self.dead.setdefault(press, (now + within + SLACK_S if within else now, cause))

    def overdue(self, now, stalled, did=None):
        """Lasting causes that must have had their effect by now; a process that has just begun knows none."""
        began = self.bad.get("process")
        if began is not None and now - began <= HEARD_WITHIN["process"] + SLACK_S:
            return []
        return [
            cause
            for cause, since in self.bad.items()
            if (cause != "pump" or did not in FUEL)
            and now - self.told_since(cause, since) > HEARD_WITHIN[cause] + SLACK_S + stalled
        ]

    def turning(self, now):
        """Whether a source of the engine speed has said so; what is shorter than a period may go unheard."""
        told = [
            self.told_since(cause, self.bad[cause]) for cause in ("engine", "display") if cause in self.bad
        ]
        return any(now - since > 0.1 + SLACK_S for since in told)

    def told_since(self, cause, since):
        """When the craft began to tell a cause; while its message is silent that is the cause instead."""
        for name in (TOLD_BY.get(cause), "all"):
            if cause in TOLD_BY and name is not None:
                silent = self.bad.get(name)
                if silent is not None and silent - since <= HEARD_WITHIN[cause] + SLACK_S:
                    return float("inf")
                since = max(since, self.heard_again.get(name, since))
        return since

    def restarted(self, now):
        """Venting that was not over begins again (design 6); what was over just now may or may not."""
        for clock in (self.fuel_ended, self.spark_ended):
            for craft, at in clock.items():
                clock[craft] = now if now - at < 239.5 else at

    def sent(self, did, at, *, start):
        """A start or a release is on the wire; when an inhibit must end is told by holds, not here."""
        if did in INHIBITS:
            return
        if start:
            self.open.setdefault(did, at)
        else:
            self.open.pop(did, None)

    def look(self, now, stalled, press):
        """After each turn: every start that a cause came after has its release."""
        for did in self.open:
            demand(not (causes := self.overdue(now, stalled, did)), "no release after", causes, KEYS[did])
        for did, since in self.open.items():
            late = [
                cause
                for cause, at in self.events
                if since <= at and now - at > HEARD_WITHIN[cause] + SLACK_S + stalled
            ]
            demand(not late, "no release after", late, KEYS[did])
        self.events = [
            (cause, at) for cause, at in self.events if any(since <= at for since in self.open.values())
        ]
        if causes := self.overdue(now, stalled, PUMP):
            self.dead.setdefault(press, (now, causes[0]))
