"""Which words end a press for which cause: a table by hand, so that a count is not the product's own."""

import collections
import re

WORDS = {  # cause: how the sentence begins that ends a press for it
    "lift": r"The finger was lifted\.",
    "drift": r"The finger drifted off\.",
    "second touch": r"A second touch came\.",
    "stop key": r"STOP TEST was touched\.|The stop key was pressed\.",
    "focus": r"The window is not in front any more\.",
    "page": r"Another page was opened\.",
    "operator": r"Somebody else signed in\.|Signed in:",
    "no beat": r"The finger's hold was not seen in time\.",
    "late loop": r"The tool was too slow for a moment\.",
    "engine speed": r"Engine is turning|Engine stopped less than",
    "second source": r"Engine speed disagrees",
    "stale": r"Engine speed is not known from both|Engine: not known|The controller repeats old|"
    r"The controller's counter is not heard|"
    r"Manifold pressure or barometer is not|Battery voltage is not|(Lanyard|Start switch): not known",
    "start switch": r"Start switch: pressed",
    "lanyard": r"Lanyard: pulled",
    "battery": r"Battery \d",
    "another tester": r"Another tester talks",
    "leak": r"A leak was seen\.",
    "silence of the craft": r"The craft is not heard",
    "wire lost": r"The adapter or the craft went away\.",
    "time limit": r"The time limit of|Done: every pulse was given|The time is up\.",
    "controller refuses": r"The controller refused\.",
    "session lost": r"The controller left the session\.",
    "released by itself": r"The controller gave (the output|it) back by itself\.",
    "another craft": r"Another controller answers now|The controller's serial is not known",
    "another craft recognised": r"Another craft was recognised\.",
    "second press": r"A second press came\.",
    "no answer": r"The controller did not answer",
    "manifold": r"Manifold and barometer differ",
    "fuel pump": r"Fuel pump: on|Fuel pump: not known",
    "a word lapsed": r".*: (not confirmed|too long ago)",
    "forgotten": r"Listening for another tester|Lanyard: not seen pulled|Engine speed was never seen",
    "what earlier tests left": r"Fuel in |Fuel test, leak|A spark test|What earlier tests left",
    "the disk": r"The journal cannot be written|The storage was too slow",
    "owed": r".* was not confirmed stopped\.|.* went live after|The controller carried out a start|"
    r"Another tester spoke while",
    "not read back": r"The controller did not say that it holds|The controller says that it does not hold|"
    r"The controller does not say",
    "ended on the glass": r"It was ended",
}
HELD = {  # the same for an inhibit that was read back
    "held: ended": r"It was ended",
    "held: glass gone": r"The glass does not show it",
    "held: time over": r"The time limit of",
    "held: another tester": r"Another tester talks",
    "held: operator": r"Somebody else signed in\.",
    "held: page": r"Another page was opened\.",
    "held: dropped": r"The controller gave it back by itself|The controller left the session",
    "held: says 00": r"The controller says that it does not hold",
    "held: mute": r"Not read back for",
    "held: wire lost": r"The adapter or the craft went away\.",
    "held: does not say": r"The controller does not say",
    "held: second press": r"A second press came\.",
    "held: leak": r"A leak was seen\.",
    "held: another craft recognised": r"Another craft was recognised\.",
}
MUST_COME = [
    "lift",
    "drift",
    "second touch",
    "stop key",
    "focus",
    "page",
    "operator",
    "no beat",
    "late loop",
    "engine speed",
    "second source",
    "stale",
    "start switch",
    "lanyard",
    "battery",
    "another tester",
    "leak",
    "silence of the craft",
    "wire lost",
    "time limit",
    "controller refuses",
    "session lost",
    "released by itself",
    "another craft",
    "another craft recognised",
    "second press",
    "no answer",
    "manifold",
    "fuel pump",
    "the disk",
    "not read back",
    "ended on the glass",
    "held: ended",
    "held: glass gone",
    "held: time over",
    "held: another tester",
    "held: operator",
    "held: page",
    "held: dropped",
    "held: says 00",
    "held: mute",
    "held: wire lost",
    "held: second press",
    "held: leak",
    "held: another craft recognised",
    "held: does not say",
]
"""Causes there is a story of; the long profile must have seen each of them often."""


def named(words):
    """The cause that these words name, by their first sentence."""
    return _named(words, WORDS)


def held_named(words):
    """The same of an inhibit that was read back."""
    return _named(words, HELD)


def _named(words, table):
    first = words.split(". ")[0].rstrip(".") + "."
    found = [cause for cause, pattern in table.items() if re.match(pattern, first)]
    if len(found) != 1:
        raise LookupError(f"words that the table has {len(found)} causes for: {words!r}")
    return found[0]


def table_of(counts):
    """Lines for a person: how often each cause ended a press that had fired, and one that had not yet."""
    lines = [f"{'what ended a press':28} {'fired':>8} {'not yet':>8}"]
    lines += [
        f"{cause:28} {counts[cause, True]:8} {counts[cause, False]:8}"
        for cause in (*WORDS, *HELD)
        if counts[cause, True] or counts[cause, False] or cause in MUST_COME
    ]
    lines += [f"{what:28} {counts[what]:8}" for what in ("starts", "steps", "turns")]
    return "\n".join(lines)


def none_yet():
    """An empty count."""
    return collections.Counter()
