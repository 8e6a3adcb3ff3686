"""How a simulated craft is told from a real one.

Every simulated bus carries, four times a second, a frame with an 11-bit identifier that no family uses and
eight letters that say it. It is recorded like any frame, so a replayed simulation says SIMULATED too.
"""

from __future__ import annotations

MARK_IDENT = 0x7F0
MARK_DATA = b"SIMULATE"
