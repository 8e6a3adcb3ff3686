"""The way to the craft in words: what is seen, what it means, what to do next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.messages import LinkState

if TYPE_CHECKING:
    from app.messages import Link
    from app.moment import Moment

RATES = (125_000, 250_000, 500_000, 1_000_000)
"""bit/s a person may choose from: the usual ones of CAN (CiA 301 table of bit rates names all four)."""

STARTING_S = 5.0
"""The part that talks to the craft may take this long to answer before its silence is called a fault."""


class LinkWords(msgspec.Struct, frozen=True):
    """One page of words.

    Attributes:
        name: short name of the state, for the event log.
        title: what is seen, in a few words.
        meaning: what it means.
        todo: what to do next; may be empty when there is nothing to do but wait.
        facts: adapter, bit rate, frames: one line for who wants to know.
        caution: of plugging in, where that is what a hand does next; may be empty.
        offer: "rates" = ask for the bit rate, "again" = offer to look for another one, "" = nothing.
    """

    name: str
    title: str
    meaning: str
    todo: str
    facts: str
    offer: str
    caution: str = ""


PLUG = (
    "Plug in before the hatch is open; never pull a live plug in fuel vapour. "
    "Maker's manual and local rules first."
)
"""The handheld is not ignition-protected, as 33 CFR 183.410 asks of what stands with the fuel."""

_TABLE = {
    LinkState.NO_ADAPTER: (
        "No adapter",
        "The adapter between this handheld and the craft is not there.",
        "As soon as there is one that can be used, this page goes by itself.",
    ),
    LinkState.NEED_RATE: (
        "Which bit rate?",
        "The rate is not guessed, because a wrong one disturbs the craft.",
        "Touch the rate that the craft's papers name. NMEA\u00a02000:\u00a0250.",
    ),
    LinkState.SILENT: (
        "Turn the key on",
        "Nothing is heard: the craft is asleep, or the plug is not in.",
        "Key on, lanyard in place, plug pushed home.",
    ),
    LinkState.LISTENING: (
        "Listening",
        "Looking for the bit rate and the family of what speaks on the bus.",
        "",
    ),
    LinkState.UNKNOWN_CRAFT: (
        "Unknown craft",
        "No family on this handheld explains what is heard, so nothing is named.",
        "",
    ),
    LinkState.LOST: (
        "Craft lost",
        "A craft was found and is heard no more.",
        "Key on? Plug in?",
    ),
    LinkState.FOUND: (
        "Craft found",
        "Its signals are being listed. One moment.",
        "",
    ),
}


def rate_words(bitrate: int | None) -> str:
    """A bit rate as it stands in service papers: "500 kbit/s"."""
    return "not known" if bitrate is None else f"{bitrate / 1000:g} kbit/s"


def link_words(moment: Moment) -> LinkWords:
    """The page shown in place of values while there are none."""
    link = moment.link
    if not moment.live or link is None:
        return _no_bus(moment)
    title, meaning, todo = _TABLE[link.state]
    if link.reason and link.state is LinkState.UNKNOWN_CRAFT:
        title, meaning = "Which craft is it?", f"{_sentence(link.reason)} So nothing is named."
    elif link.reason:
        reason = _sentence(link.reason)
        meaning = reason if link.state is LinkState.NO_ADAPTER else f"{reason} {meaning}"
    if link.state is LinkState.UNKNOWN_CRAFT:
        meaning += f" {_kept(moment, link)}"
        todo = "Frames: Check, Connection."
    caution = PLUG if link.state in (LinkState.NO_ADAPTER, LinkState.SILENT) else ""
    return LinkWords(link.state.value, title, meaning, todo, _facts(link), _offer(link), caution)


def banner(moment: Moment) -> str:
    """The line over the last values while they are old; empty while the craft is heard."""
    if moment.snapshot is None or moment.link is None:
        return ""
    if not moment.live:
        return "The part that talks to the craft has stopped. It is being started again."
    if moment.link.state is LinkState.LOST:
        return "These are the last values. Key on? Plug in?"
    return ""


def shows_values(moment: Moment) -> bool:
    """Whether there is a craft whose values, live or old, can be shown."""
    if moment.catalogue is None or moment.link is None:
        return False
    return moment.link.state in (LinkState.FOUND, LinkState.LOST)


def _no_bus(moment: Moment) -> LinkWords:
    if moment.snapshot is None and moment.waited < STARTING_S:
        return LinkWords(
            "starting", "One moment", "The part that talks to the craft is starting.", "", "", ""
        )
    return LinkWords(
        "no_bus",
        "Starting again",
        "The part that talks to the craft has stopped. It is being started again.",
        "If this stays for a minute: switch the handheld off and on.",
        "",
        "",
    )


def _kept(moment: Moment, link: Link) -> str:
    recording = moment.snapshot.recording if moment.snapshot else None
    heard = f"{link.frames} frame{'' if link.frames == 1 else 's'} heard"
    if recording is None or not recording.file or recording.trouble:
        return f"{heard}; they are not being recorded."
    return f"{heard}; all are recorded as they come."


def _facts(link: Link) -> str:
    if link.state is LinkState.NO_ADAPTER:
        return ""
    parts = [link.adapter] if link.adapter else []
    if link.bitrate is not None:
        parts.append(rate_words(link.bitrate))
    parts.append(f"{link.frames} frames")
    if link.bad_frames:
        parts.append(f"{link.bad_frames} bad")
    return " · ".join(parts)


def _offer(link: Link) -> str:
    if link.state is LinkState.NEED_RATE:
        return "rates"
    hears_nothing_known = link.state in (LinkState.SILENT, LinkState.UNKNOWN_CRAFT)
    return "again" if hears_nothing_known and link.bitrate is not None else ""


def _sentence(text: str) -> str:
    text = text.strip()
    return text if text.endswith((".", "!", "?")) else f"{text}."
