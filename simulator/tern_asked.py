"""What the invented engine tern answers to requests for a parameter group, and what a tool must not do to it.

Layout from shared/reference/standards.md 5.4; addresses and times from memory of SAE J1939-21 and J1939-81.
This engine gives DM2 when asked, clears by DM11 (active) and DM3 (earlier), and says no to whatever else is
asked of it alone. Shares no code with the tool.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from simulator.codec import EXTENDED

if TYPE_CHECKING:
    from simulator.bench import Bench
    from simulator.tern_faults import Voice

ENGINE, EVERYBODY = 0x00, 0xFF
REQUEST, CLAIM, ACKNOWLEDGE = 0xEA, 0xEE, 0xE8
DM2, DM3, DM11 = 65_227, 65_228, 65_235
CLAIMED_MS = 50
"""A claimed address may be used after 250 ms. On a busy machine the claim may have been long on its way: this
finds a tool that does not wait at all."""
STILL_MS = 1_900
"""The engine has to stand for two seconds before anything is cleared; a tenth is given for the way."""
ANSWERS = {"yes": 0, "no": 1, "denied": 2, "busy": 3}
"""Ways to acknowledge, by what the first byte then is."""


class Asked:
    """Takes what a tool puts on the bus of a tern.

    Attributes:
        answer: a word of ANSWERS, "silent", or "other": it acknowledges what nobody asked for.
    """

    def __init__(self, voice: Voice) -> None:
        self._voice = voice
        self._claimed: dict[int, int] = {}
        self._turned_ms = -STILL_MS
        self.answer = "yes"

    def look(self, at_ms: int, bench: Bench) -> None:
        """Follow the engine; called in every step of the bus."""
        if bench.engine.speed > 0.0:
            self._turned_ms = at_ms

    def hear(self, ident: int, data: bytes, at_ms: int) -> tuple[str, str | None]:
        """Take a frame.

        Args:
            ident: identifier, EXTENDED set for 29 bits.
            data: its bytes.
            at_ms: time of the bus in ms.

        Returns:
            What it did, and what was wrong with it; None if nothing was.
        """
        kind, to, source = ident >> 16 & 0xFF, ident >> 8 & 0xFF, ident & 0xFF
        if not ident & EXTENDED or to not in (ENGINE, EVERYBODY) or ident >> 24 & 3:
            return "nothing: it is not offered", "frame received"
        if kind == CLAIM and to == EVERYBODY and len(data) == 8:
            self._claimed[source] = at_ms
            return f"address {source:02X} is claimed", None
        if kind != REQUEST or len(data) != 3:
            return "nothing: it is not offered", "frame received"
        group = int.from_bytes(data, "little")
        wrong = self._wrong(group, to, source, at_ms)
        return self._request(group, to, source), "; ".join(wrong) or None

    def _wrong(self, group: int, to: int, source: int, at_ms: int) -> list[str]:
        wrong = []
        if at_ms - self._claimed.get(source, at_ms) < CLAIMED_MS:
            wrong.append(f"address {source:02X} is used and was not claimed long enough before")
        if group in (DM3, DM11):
            if to != ENGINE:
                wrong.append("everybody is told to clear")
            if at_ms - self._turned_ms < STILL_MS:
                wrong.append("cleared while the engine turns")
        elif group != DM2:
            wrong.append(f"group {group} is asked for")
        return wrong

    def _request(self, group: int, to: int, source: int) -> str:
        if group == DM2:
            if self.answer == "silent":
                return "nothing: silent"
            self._voice.ask_before()
            return "tells DM2"
        if to != ENGINE:
            return "nothing: not to it alone"
        if self.answer == "silent":
            return "nothing: silent"
        if self.answer == "other":
            self._acknowledge(0, DM2, source)
            return "acknowledges something else"
        answer = self.answer if group in (DM3, DM11) else "no"
        if answer == "yes":
            (self._voice.forget_active if group == DM11 else self._voice.forget_before)()
        self._acknowledge(ANSWERS[answer], group, source)
        return "cleared" if answer == "yes" else f"says {answer}"

    def _acknowledge(self, control: int, group: int, source: int) -> None:
        data = bytes([control, 0xFF, 0xFF, 0xFF, source]) + group.to_bytes(3, "little")
        self._voice.put(EXTENDED | 6 << 26 | ACKNOWLEDGE << 16 | EVERYBODY << 8 | ENGINE, data)
