"""The connection as plain facts, for a technician."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.engine_words import link_state_words
from app.link_words import rate_words

if TYPE_CHECKING:
    from app.messages import Recording
    from app.moment import Moment

NONE = "–"


def connection_facts(moment: Moment) -> tuple[tuple[str, str], ...]:
    """Rows of (what, value). The same rows in the same order whatever is known, so that nothing moves."""
    snapshot, link = moment.snapshot, moment.link
    craft = None if snapshot is None else snapshot.craft
    return (
        ("Link", link_state_words(moment)),
        ("Adapter", NONE if link is None or not link.adapter else link.adapter),
        ("Bit rate", NONE if link is None else rate_words(link.bitrate)),
        ("Frames", NONE if link is None else str(link.frames)),
        ("Frames per second", f"{link.frames_per_s:.0f}" if link and moment.live else NONE),
        ("Bad frames", NONE if link is None else str(link.bad_frames)),
        ("Family", NONE if craft is None else craft.title),
        ("Controller serial", NONE if craft is None or craft.serial is None else craft.serial),
        *_recorded(None if snapshot is None else snapshot.recording, live=moment.live),
    )


def _recorded(recording: Recording | None, *, live: bool) -> tuple[tuple[str, str], ...]:
    if recording is None or not recording.file:
        trouble = "" if recording is None else recording.trouble
        return (("Recording", trouble or "none"), ("Frames in it", NONE))
    name = recording.file if live else f"{recording.file}, as last heard"
    return (("Recording", recording.trouble or name), ("Frames in it", str(recording.frames)))
