"""What may happen to an inhibit, worked out by hand from section 4, rule 8 of the safety notes.

It shares nothing with the product. Before it was read back an inhibit ends like any other press, except that
its release waits for rest. From then on only what is listed here ends it, and at rest only.
"""

import dataclasses

from inhibits import DID

from any_order_parts.judge import HEARD_WITHIN, INHIBITS, SLACK_S, demand

REST_S, TURN_S = 2.0, 0.02
"""Design 8: ended only at zero speed for 2 s; one turn of the loop."""

NOTICED_S = 2.3
"""Until rest must have been noticed: two messages of 100 ms, after something was not known, then 2 s."""

SAID_S = 0.1
"""The glass is told every 50 ms."""

ASKED_S, KNOWN_S, WATCHED_S, LONGEST_S = 1.0, 2.0, 3.0, 120.0
"""Read back every; not read back, not seen on the glass, held for: our own figures (notes on inhibits)."""

CLAIMED_S = KNOWN_S + 0.2
"""How old the controller's word may be while the glass says "it holds"."""

EVENTS = {
    "operator": "held: operator",
    "page": "held: page",
    "second press": "held: second press",
    "leak": "held: leak",
    "recognised": "held: another craft recognised",
    "tester": "held: another tester",
    "ended": "held: ended",
}
"""Causes of a moment that end one that holds; a finger, a fact and a late loop do not."""

MOVES = {"engine", "display", "start", "EngineFast", "DisplayMain", "EngineSwitches", "all"}
"""While one of these is so, nothing may be given back."""

UNKNOWN = {"EngineFast", "DisplayMain", "all"}
"""Silences in which engine speed is not known."""


@dataclasses.dataclass
class Hold:
    """One press whose start is on the wire.

    Attributes:
        first, last: when the controller said that it holds, first and last; None and long ago if never.
        denied: since when it says no, or that it gave it back; None while it does not.
        held: it was noted as held.
        causes: what may give it back.
        due: what must, and from when on that must be said.
        let_go: when its last release left.
        asked: when it was last read back, or began to be held again.
    """

    press: int
    since: float
    watched: float
    first: float | None = None
    last: float = -1e9
    denied: float | None = None
    held: bool = False
    causes: set = dataclasses.field(default_factory=set)
    due: dict = dataclasses.field(default_factory=dict)
    let_go: float = -1e9
    asked: float = -1e9

    def must(self, cause, now):
        """It is to be given back from now on."""
        self.causes.add(cause)
        self.due.setdefault(cause, now)

    def deny(self, cause, now):
        """The controller itself speaks against it."""
        self.must(cause, now)
        self.denied = now if self.denied is None else self.denied


class Holds:
    """What is so about the inhibits.

    Attributes:
        under_way: identifier to its Hold.
        owed: identifiers that are to be given back, at rest, before anything else: process or wire went.
        unknown_at: when engine speed was last not known.
        restless_at: when anything was last so that rest need not have been noticed.
    """

    def __init__(self, judge, now):
        self.judge = judge
        self.under_way, self.owed, self.ever = {}, set(), set()
        self.unknown_at, self.restless_at = -1e9, now
        self.wire_gone_at = None
        self.watched = {}

    # --- what comes ---------------------------------------------------------------------------------------

    def event(self, cause, now):
        """Something happened that ends a press, or this one too."""
        for hold in self.under_way.values():
            if cause in EVENTS:
                hold.must(EVENTS[cause], now)
            elif hold.first is None:
                hold.must(cause, now + HEARD_WITHIN[cause])

    def seen_on_the_glass(self, press, now):
        self.watched[press] = now

    def wire_went(self):
        """Before it is looked at what the tool makes of it."""
        self.owed |= set(self.under_way)
        for hold in self.under_way.values():
            hold.causes.add("held: wire lost")

    def restarted(self, now, charged):
        """Another process; it knows what the journal tells, so that a charged start may have gone out."""
        self.ever |= INHIBITS & charged
        self.owed |= set(self.under_way)
        self.under_way.clear()
        self.unknown_at = self.restless_at = now

    def answered(self, pdu, at, now):
        """The controller's answer has come in; ``at`` is when it was said."""
        for did, hold in self.under_way.items():
            if pdu[:3] == b"\x62" + did.to_bytes(2, "big"):
                self._read_back(hold, pdu, at, now)
            elif pdu[:2] == b"\x7f\x22" and pdu[2] != 0x78:
                hold.deny("held: does not say", now)
            elif (pdu[:4] == b"\x6f" + did.to_bytes(2, "big") + b"\x00" or pdu[:2] == b"\x50\x01") and (
                hold.let_go < hold.since
            ):
                hold.deny("held: dropped", now)

    def _read_back(self, hold, pdu, at, now):
        if pdu[3] != 1:
            hold.deny("held: says 00", now)
            return
        hold.last, hold.denied = at, None
        if hold.first is None:
            hold.first = at
            hold.watched = now
            hold.causes |= set(
                self.judge.bad
            )  # what is so by now may have ended it before it was known to hold

    def follow(self, now, stalled, *, disturbed, wire_gone):
        """After each turn: what of rest is known, and what has become too old."""
        judge = self.judge
        self.wire_gone_at = (self.wire_gone_at or now) if wire_gone else None
        long = [name for name in UNKNOWN if now - judge.bad.get(name, now) > HEARD_WITHIN[name] + SLACK_S]
        gone = wire_gone and now - self.wire_gone_at > HEARD_WITHIN["all"] + SLACK_S
        if long or gone or stalled > 0.1 + SLACK_S:
            self.unknown_at = now
        if disturbed or wire_gone or stalled > 0 or MOVES & set(judge.bad):
            self.restless_at = now
        for did, hold in self.under_way.items():
            if hold.first is None:
                for cause in judge.overdue(now, stalled, did):
                    hold.must(cause, now)
            else:
                self._ages(hold, now, stalled)

    def _ages(self, hold, now, stalled):
        watched = max(hold.watched, self.watched.get(hold.press, -1e9))
        for cause, since, limit in (
            ("held: mute", hold.last, KNOWN_S),
            ("held: glass gone", watched, WATCHED_S),
            ("held: time over", hold.since, LONGEST_S),
        ):
            if now - since >= limit - 0.05:
                hold.causes.add(cause)
            if now - since > limit + 0.05 + SLACK_S + stalled:
                hold.must(cause, now)

    # --- what is looked at --------------------------------------------------------------------------------

    def started(self, did, press, at):
        self.owed.discard(did)
        self.under_way[did] = Hold(press, at, at)

    def frame(self, pdu, at, stalled, holding):
        """A frame is on the wire; ``holding``: what the controller held before it."""
        did = int.from_bytes(pdu[1:3], "big") if pdu[0] in (0x22, 0x2F) else None
        if pdu[0] == 0x22:
            demand(did in self.ever, "never to be sent here", pdu)
            if did in self.under_way:
                self.under_way[did].asked = at
            return
        own = pdu[0] == 0x2F and did in INHIBITS
        if own:
            self.ever.add(did)
        gives_back = pdu == b"\x10\x01" or (pdu[0] == 0x2F and pdu[3] == 0)
        demand(gives_back or not holding, "sent while it is held", pdu)
        demand(gives_back or not self.owed, "sent before what was held was given back", pdu)
        if gives_back and (holding or own):
            self._demand_rest(pdu, at, stalled)
        hold = self.under_way.get(did)
        if own and gives_back:
            self.owed.discard(did)
        if own and gives_back and hold is not None:
            demand(hold.first is None or hold.causes, "given back without a cause")
            hold.let_go = at

    def _demand_rest(self, pdu, at, stalled):
        stood, known = at - self.judge.turned_at, at - self.unknown_at
        demand(stood >= REST_S - TURN_S, "given back, and the engine stood for", stood, pdu)
        demand(known >= REST_S - TURN_S, "given back, and its speed was known for", known, pdu)
        moves = MOVES & set(self.judge.overdue(at, stalled))
        demand(not moves, "given back in spite of", moves, pdu)

    def look(self, now, stalled, state, phase):
        """After each turn: what must be given back is said to be, and at rest it is."""
        for hold in self.under_way.values():
            if phase != "latched" or hold.first is None:
                hold.asked = max(hold.asked, now)
            demand(now - hold.asked <= ASKED_S + SLACK_S + stalled, "not read back for", now - hold.asked)
            if not hold.due:
                continue
            cause, at = min(hold.due.items(), key=lambda item: item[1])
            mine = state is not None and state.press == hold.press
            told = mine and (state.ending or phase not in ("starting", "latched"))
            demand(told or now - at <= SAID_S + SLACK_S + stalled, "not said to end for", cause)
            rest = max(at, self.restless_at + NOTICED_S)
            given = hold.let_go >= self.restless_at
            demand(given or now - rest <= SLACK_S + stalled, "at rest, and not given back for", cause)

    def claims(self, state, phase, now, holding):
        if phase != "latched":
            return
        did = DID[state.output]
        hold = self.under_way.get(did)
        if state.doubt:
            demand(state.ending or (hold is not None and hold.first is not None), "in doubt without a cause")
            return
        demand(hold is not None and hold.press == state.press, "called held by another press")
        demand(hold.first is not None, "called held before the controller said so")
        demand(now - hold.last <= CLAIMED_S, "called held for", now - hold.last, did in holding)
        demand(hold.let_go < hold.last, "called held, and its release has left")
        denied = 0.0 if hold.denied is None else now - hold.denied
        demand(denied <= SAID_S + SLACK_S, "called held, and the controller denied it", denied)

    def told(self, kind, body):
        """An entry of the journal about the press of an inhibit; the Hold it is about, None if none."""
        did = DID.get(body.get("output"))
        hold = self.under_way.get(did)
        if hold is None or hold.press != body["press"]:
            return None
        if kind == "inhibit_held":
            demand(hold.first is not None, "noted as held before the controller said so")
            hold.held = True
        elif kind == "output_end":
            del self.under_way[did]
            if body["confirmed"]:
                self.owed.discard(did)
        return hold
