"""The colours of the glass: day is ink on paper; night turns them round and dims. A table each."""

from __future__ import annotations

from app.settings import Skin

DAY = {
    "paper": "FFFFFF",
    "ink": "0B0B0B",
    "watch": "F0D200",
    "watch_ink": "0B0B0B",
    "alarm": "9C2F00",
    "alarm_ink": "FFFFFF",
    "hatch": "D2D2D2",
}
NIGHT = {
    "paper": "0B0B0B",
    "ink": "B8B8B8",
    "watch": "A89F2E",
    "watch_ink": "0B0B0B",
    "alarm": "7A2500",
    "alarm_ink": "E6E6E6",
    "hatch": "2A2A2A",
}

SKINS = {Skin.DAY: DAY, Skin.NIGHT: NIGHT}
