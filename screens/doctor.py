"""Is the display fit for work?"""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

TYPEFACE = Path("/usr/share/fonts/opentype/b612/B612-Regular.otf")


def examine_screen() -> Iterator[tuple[bool | None, str]]:
    """Findings as (fit, words); opens no window."""
    cards = sorted(Path("/dev/dri").glob("card*"))
    if os.environ.get("DISPLAY"):
        yield True, f"A display is there ({os.environ['DISPLAY']})."
    elif any(os.access(card, os.R_OK | os.W_OK) for card in cards):
        yield True, f"A panel can be opened ({cards[0]})."
    elif cards:
        yield False, "A panel is there but this user may not open it. Add the user to the group video."
    else:
        yield False, "No display is seen. Connect the panel, or use deploy/try --pictures."
    if TYPEFACE.exists():
        yield True, "The typeface B612 is installed."
    else:
        yield False, "The typeface B612 is missing; a substitute is used. Install the package fonts-b612."
