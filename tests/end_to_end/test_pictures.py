"""What stands in the picture, read from its pixels, is what the craft sends at that moment."""

import pytest
from PIL import Image

pytestmark = pytest.mark.glass


def box_of(tile):
    """Where the figure is: the whole tile, or the middle of the arc."""
    x, y, width, height = tile["box"]
    if height > width * 0.8:
        return [x + width * 15 // 100, y + height * 40 // 100, width * 70 // 100, height * 28 // 100]
    return tile["box"]


def test_figures_read_from_the_pixels_equal_what_the_craft_sends(kiosk, read, tmp_path):
    kiosk.kiosk()
    craft = kiosk.craft("idle")
    kiosk.glass.wait_for_tile("EngineSpeed", "good")
    craft.ask(do="throttle", percent=30)
    kiosk.glass.wait_for_number("EngineSpeed", above=2500)
    pages = kiosk.glass.pages()
    compared = []
    while True:
        with craft.held():
            sent = craft.ask(do="state")["values"]
            shown = kiosk.glass.shown()
            kiosk.glass.grab(tmp_path / "page.png")
        picture = Image.open(tmp_path / "page.png")
        for tile in shown["tiles"]:
            value = sent.get(tile["signal"])
            if tile["state"] != "good" or not isinstance(value, (int, float)) or value < 0:
                continue
            text = read(picture, box_of(tile))
            digits = len(text.partition(".")[2])
            assert abs(float(text) - value) <= 0.5 * 10**-digits + 1e-9, (tile, text, value)
            compared.append(tile["signal"])
        if next(pages, None) is None:
            break
    print(f"{len(compared)} figures read from pictures: {', '.join(compared)}")
    assert len(compared) >= 25
    assert "EngineSpeed" in compared
