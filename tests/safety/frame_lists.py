"""The frames that may leave for a craft with 29-bit identifiers, as they were written by hand."""

import csv
from pathlib import Path

from bus.frame import EXTENDED

LISTS = Path(__file__).with_name("lists")


def listed(family):
    """Frames (identifier, data) by what they are for; each line has its source."""
    frames = {}
    with (LISTS / f"{family}.csv").open(newline="") as file:
        lines = [line for line in csv.reader(file) if line and not line[0].startswith("#")]
    for what, ident, data, source in lines:
        assert source
        frames.setdefault(what, []).append((EXTENDED | int(ident, 16), bytes.fromhex(data)))
    return frames
