"""The gallery: no widget without its states, nothing that overlaps, every page drawn at every panel."""

from __future__ import annotations

import ast
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

pytestmark = pytest.mark.glass

ROOT = Path(__file__).parents[2]
WIDGETS = ROOT / "screens" / "widgets"

PARTS = {
    "Worn": "what tiles and arc have in common",
    "Writing": "a line of text: in every other",
    "Paragraph": "lines of text: on the pages of words",
    "HoldKey": "what keys that count while they are held have in common",
    "FactRow": "a row of Rows",
    "StripBox": "a fact of StripLine",
}
"""No widgets of their own, and why."""


def widget_classes():
    """Every class of screens/widgets that is drawn, read from the source: what nobody lists is found too."""
    found = {}
    for file in sorted(WIDGETS.glob("*.py")):
        for node in ast.parse(file.read_text()).body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                bases = {base.id for base in node.bases if isinstance(base, ast.Name)}
                if bases - {"NamedTuple"}:
                    found[node.name] = bases
    return found


def run_python(code, home):
    environment = dict(os.environ, PYTHONPATH=str(ROOT), HOME=str(home))
    done = subprocess.run(
        [sys.executable, "-c", code],
        env=environment,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return json.loads(done.stdout.splitlines()[-1])


SHOWN = """
import json
from screens import panel
panel.prepare(panel.find("7-800x480"), fullscreen=False)
from kivy.core.window import Window
from screens import theme
theme.use(panel.find("7-800x480"))
from screens.gallery_states import FAMILIES
print(json.dumps(sorted({family.widget.__name__ for family in FAMILIES})))
"""


def test_every_widget_stands_in_the_gallery(display, tmp_path):
    shown = set(run_python(SHOWN, tmp_path))
    wanted = set(widget_classes()) - set(PARTS)
    assert wanted <= shown, "give it an entry in screens/gallery_states.py"
    assert set(PARTS) <= set(widget_classes()), "no such widget any more"


@pytest.mark.parametrize("panel", ["7-800x480", "7-1280x720"])
@pytest.mark.parametrize("skin", ["day", "night"])
def test_a_picture_of_every_page(display, tmp_path, panel, skin):
    command = [sys.executable, "-m", "app", "gallery", "--panel", panel, "--skin", skin]
    environment = dict(os.environ, HOME=str(tmp_path))
    done = subprocess.run(
        [*command, "--pictures", str(tmp_path / "pictures")],
        cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr[-2000:]
    pictures = sorted((tmp_path / "pictures").glob("*.png"))
    assert len(pictures) >= 20
    size = tuple(int(side) for side in panel.partition("-")[2].split("x"))
    for path in pictures:
        picture = Image.open(path)
        assert picture.size == size
        assert len(picture.getcolors(1 << 20)) > 2, f"nothing is drawn in {path.name}"


MEASURE = """
import json, sys
from screens import panel
profile = panel.find(sys.argv[1] if len(sys.argv) > 1 else "7-800x480")
panel.prepare(profile, fullscreen=False)
from kivy.core.window import Window
from kivy.base import EventLoop, runTouchApp
from kivy.uix.label import Label
from screens import theme
theme.use(profile)
from screens.gallery_page import GalleryPage
page = GalleryPage()
runTouchApp(page, embedded=True)
wrong = []
for number in range(1, page.count + 1):
    page.turn_to(number)
    for _ in range(3):
        EventLoop.idle()
    labels = [each for each in page.walk(restrict=True) if isinstance(each, Label) and each.text]
    boxes = [(each.text, each.x, each.y, each.right, each.top) for each in labels]
    for text, left, low, right, high in boxes:
        if left < -1 or low < -3 or right > Window.width + 1 or high > Window.height + 3:
            wrong.append(f"{page.title}: {text} leaves the window")
        if "…" in text:
            wrong.append(f"{page.title}: {text} was shortened")
    for at, (text, left, low, right, high) in enumerate(boxes):
        for other, left2, low2, right2, high2 in boxes[at + 1:]:
            wide = min(right, right2) - max(left, left2)
            tall = min(high, high2) - max(low, low2)
            if wide > 1 and tall > 0.45 * min(high - low, high2 - low2):
                wrong.append(f"{page.title}: {text!r} lies on {other!r}")
print(json.dumps(wrong))
"""


@pytest.mark.parametrize("panel", ["7-800x480", "7-1024x600", "7-1280x720", "10-1280x800"])
def test_no_words_of_a_widget_lie_on_others_or_are_cut(display, tmp_path, panel):
    assert run_python(MEASURE.replace('"7-800x480")', f'"{panel}")'), tmp_path) == []
