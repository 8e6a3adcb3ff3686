"""The chart's line alone: a new widget, filled before it has its place, as a page just made does it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.glass

ROOT = Path(__file__).parents[2]

FRESH = """
import json
from screens import panel
panel.prepare(panel.find("7-800x480"), fullscreen=False)
from kivy.core.window import Window
from screens import theme
theme.use(panel.find("7-800x480"))
from app.trend import Track
from screens.widgets.strip_chart import StripChart

def astray(strip):
    left, bottom, width, height = strip._plot()
    places = strip._mesh.vertices
    return sum(
        not (left - 2 <= x <= left + width + 2 and bottom - 4 <= y <= bottom + height + 4)
        for x, y in zip(places[0::4], places[1::4], strict=True)
    )

track = Track()
for place in range(len(track.low)):
    track.low[place], track.high[place] = 20.0 + place % 50, 30.0 + place % 50
strip = StripChart(size_hint=(None, None))
strip.scale(0.0, 100.0, "0", "100")
strip.show(track, 5)
found = {}
strip.pos, strip.size = (20, 300), (700, 120)
found["laid out"] = astray(strip)
strip.pos = (20, 100)
found["moved"] = astray(strip)
strip.size = (300, 60)
found["made smaller"] = astray(strip)
print(json.dumps(found))
"""
"""Nothing is shown again after the widget got its place: only what it does by itself counts."""


def test_a_line_follows_its_widget_without_being_shown_again(display, tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", FRESH],
        env=dict(os.environ, PYTHONPATH=str(ROOT), HOME=str(tmp_path)),
        capture_output=True,
        text=True,
        timeout=100,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    found = json.loads(done.stdout.splitlines()[-1])
    assert found == {"laid out": 0, "moved": 0, "made smaller": 0}
