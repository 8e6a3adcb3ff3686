"""Raw frames of an unknown craft in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.messages import LinkState
from app.output_words import Line

if TYPE_CHECKING:
    from app.messages import RawFrame
    from app.moment import Moment


def has_raw(moment: Moment) -> bool:
    """Whether frames are heard that no family explains."""
    unknown = moment.link is not None and moment.link.state is LinkState.UNKNOWN_CRAFT
    return unknown and moment.live and bool(moment.snapshot and moment.snapshot.raw)


def raw_words(moment: Moment) -> tuple[str, list[Line]]:
    """Title and rows of the page: one for each identifier."""
    if moment.snapshot is None or not has_raw(moment):
        return "Raw frames", [
            Line("A craft is named, or nothing is heard.", "Raw frames are listed while neither is so.")
        ]
    frames = moment.snapshot.raw
    title = f"Raw frames: {len(frames)} identifier{'' if len(frames) == 1 else 's'}"
    return title, [_row(frame) for frame in frames]


def _row(frame: RawFrame) -> Line:
    every = f"every {1000 * frame.gap_s:.0f} ms" if frame.times > 1 else "once"
    said = f" {frame.says}." if frame.says else ""
    return Line(f"{frame.ident}", f"{frame.data or 'no bytes'} · {every}.{said}")
