"""Keys as a test finds them in what a stage has measured."""

from __future__ import annotations

LANES = ("Ride", "Check", "Bench", "Book")
"""Keys that stand on nearly every page."""


def keys(seen):
    """Words of the keys in the body of the page."""
    return [key["text"] for key in seen["keys"] if key["text"] not in LANES]


def key(seen, begins):
    """The first key whose words begin so."""
    return next(each for each in seen["keys"] if each["text"].startswith(begins))


def middle(box):
    """Of a box: left, bottom, width, height."""
    return box[0] + box[2] / 2, box[1] + box[3] / 2


def place(seen, text):
    """The middle of the key with these words."""
    return middle(next(each["box"] for each in seen["keys"] if each["text"] == text))


def touch(stage, *texts):
    """Touch keys one after another; what is seen afterwards."""
    for text in texts:
        stage.ask("tap", text)
        stage.ask("pass_time", 0.3)
    return stage.ask("measure")
