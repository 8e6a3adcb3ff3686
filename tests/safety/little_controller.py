"""A controller that obeys, for the bench of an auk: it alone knows what moves."""

import math

REQUEST = 0x7E0

HELD_OFF = 0xD14
"""Of the identifiers of what is held off until it is given back, all but the last digit."""


class LittleController:
    """Services 10, 14, 19, 22, 2F and 3E of ISO 14229-1, as far as a test needs them. It obeys every start:
    whether one may be sent is not its business here. Injectors and coils end by count, the rest by burst, and
    what is held off by its release or with the session; ``forgets``: it says of that that it does not hold.
    """

    def __init__(self, clock):
        self.clock = clock
        self.session = 1
        self.heard_at = 0.0
        self.heard = []
        self.until = {}
        self.moves = []
        self.answers = []
        self.deaf = False
        self.mute = False
        self.mutes = set()
        self.stubborn = False
        self.forgets = False
        self.refuses = {}
        self.pending = set()
        self.slow_s = None
        self.work = None
        self.carried = {}
        self.delay_s = 0.004

    def open(self):
        """Put it into the session of an earlier tester."""
        self.session, self.heard_at = 3, self.clock()

    def hear(self, ident, data):
        now = self.clock()
        if ident != REQUEST or self.deaf:
            return
        pdu = data[1 : 1 + data[0]]
        self.tick()
        self.heard.append((now, pdu))
        self.heard_at = now
        if self.work is not None:
            self._answer(bytes([0x7F, pdu[0], 0x21]))
        elif pdu[0] in self.pending:
            self._answer(bytes([0x7F, pdu[0], 0x78]))
        elif pdu[0] in self.refuses:
            self._answer(bytes([0x7F, pdu[0], self.refuses[pdu[0]]]))
        elif pdu[0] == 0x10:
            self.session = pdu[1]
            if pdu[1] == 1:
                self._all_off(now)
            self._answer(bytes([0x50, pdu[1]]) + bytes.fromhex("003201f4"))
        elif pdu[0] == 0x2F and pdu[3] and self.session == 3 and self.slow_s is not None:
            self.work = (now + self.slow_s, pdu)
            self._answer(b"\x7f\x2f\x78")
        elif pdu[0] == 0x2F:
            self._control(pdu, now)
        elif pdu[0] == 0x22 and pdu[1:2] == b"\xd1":
            held = self.until.get(int.from_bytes(pdu[1:3], "big"), 0) > now and not self.forgets
            self._answer(b"\x62" + pdu[1:3] + bytes([held]))

    def _control(self, pdu, now):
        did = int.from_bytes(pdu[1:3], "big")
        if self.session != 3:
            self._answer(b"\x7f\x2f\x7f")
        elif pdu[3] == 0:
            if not self.stubborn:
                self._off(did, now)
                self._answer(b"\x6f" + pdu[1:])
        elif did >> 4 == HELD_OFF:
            self.moves.append([did, now, math.inf])
            self.until[did] = math.inf
            self.carried[did] = now
            self._answer(b"\x6f" + pdu[1:])
        else:
            pulsed = did >> 4 in (0xD10, 0xD11)
            longest = pdu[4] * 0.2 if pulsed else pdu[4] / 10
            if self.until.get(did, 0) <= now:
                self.moves.append([did, now, now + longest])
            self.until[did] = self.moves[-1][2] = now + longest
            self.carried[did] = now
            self._answer(b"\x6f" + pdu[1:])

    def _answer(self, pdu):
        if not self.mute and self.heard[-1][1][0] not in self.mutes:
            self.answers.append((self.clock() + self.delay_s, bytes([len(pdu)]) + pdu + bytes(7 - len(pdu))))

    def _off(self, did, now):
        if self.until.get(did, 0) > now:
            self.until[did] = now
            for move in self.moves:
                if move[0] == did:
                    move[2] = min(move[2], now)

    def _all_off(self, now):
        for did in list(self.until):
            self._off(did, now)

    def tick(self):
        """A slow start is carried out; 5 s without a request and everything is given back."""
        now = self.clock()
        if self.work is not None:
            self.heard_at = now
            if now >= self.work[0]:
                pdu, self.work = self.work[1], None
                self._control(pdu, now)
        if self.session != 1 and now - self.heard_at > 5.0:
            self.session = 1
            self._all_off(now)

    def live(self):
        self.tick()
        return {did for did, until in self.until.items() if until > self.clock()}
