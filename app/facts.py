"""The connection as plain facts, for a technician."""

from __future__ import annotations

from typing import TYPE_CHECKING

import msgspec

from app.engine_words import link_state_words
from app.link_words import rate_words

if TYPE_CHECKING:
    from app.messages import Recording
    from app.moment import Moment

NONE = "–"


class Fact(msgspec.Struct, frozen=True):
    """One row; a wide one may hold a sentence."""

    label: str
    text: str
    wide: bool = False


def connection_facts(moment: Moment) -> tuple[Fact, ...]:
    """The same rows in the same order whatever is known, so that nothing moves."""
    snapshot, link = moment.snapshot, moment.link
    craft = None if snapshot is None else snapshot.craft
    recording = None if snapshot is None else snapshot.recording
    rate = f"{link.frames_per_s:.0f}" if link is not None and moment.live else NONE
    return (
        Fact("Link", link_state_words(moment)),
        Fact("Bit rate", NONE if link is None else rate_words(link.bitrate)),
        Fact("Frames", NONE if link is None else str(link.frames)),
        Fact("Bad frames", NONE if link is None else str(link.bad_frames)),
        Fact("Family", NONE if craft is None else craft.title),
        Fact("Serial", NONE if craft is None or craft.serial is None else craft.serial),
        Fact("Frames/s", rate),
        Fact("Recorded", NONE if recording is None else str(recording.frames)),
        Fact("Adapter", NONE if link is None or not link.adapter else link.adapter, wide=True),
        Fact("Recording", _recording(recording, live=moment.live), wide=True),
    )


def _recording(recording: Recording | None, *, live: bool) -> str:
    if recording is None:
        return "none"
    if recording.trouble:
        return recording.trouble
    if not recording.file:
        return "none"
    frames = f"{recording.frames} frame{'' if recording.frames == 1 else 's'}"
    return f"{recording.file}, {frames}{'' if live else ' as last heard'}"
