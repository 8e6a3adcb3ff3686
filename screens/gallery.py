"""The gallery: every widget in all its states, a page each; for who puts a screen together."""

from __future__ import annotations

from typing import TYPE_CHECKING

from app.errors import BoathookError
from app.settings import Skin
from screens import panel as panels
from screens.colours import SKINS

if TYPE_CHECKING:
    from pathlib import Path

    from screens.gallery_page import GalleryPage


def run(panel: str, skin: str, pictures: Path | None) -> int:
    """Open the gallery, or leave a picture of each of its pages in a folder and end.

    Args:
        panel: name of a profile in panels.toml.
        skin: "day" or "night".
        pictures: folder; None opens a window to turn the pages in.

    Raises:
        BoathookError: unknown panel, no display, or the pictures cannot be written.
    """
    profile = panels.find(panel)
    panels.prepare(profile, fullscreen=False)
    from kivy.core.window import Window  # noqa: PLC0415 - Kivy reads its environment once

    if Window is None:
        raise BoathookError("No display could be opened. In a desktop DISPLAY must be set.")
    from kivy.base import EventLoop, runTouchApp  # noqa: PLC0415

    from screens import theme  # noqa: PLC0415

    theme.use(profile)
    theme.paints.wear(SKINS[Skin(skin)])
    Window.clearcolor = theme.paints.paper
    Window.set_title("Boathook gallery")
    from screens.gallery_page import GalleryPage  # noqa: PLC0415

    page = GalleryPage()
    if pictures is None:
        runTouchApp(page)
        return 0
    runTouchApp(page, embedded=True)
    try:
        pictures.mkdir(parents=True, exist_ok=True)
        for number in range(1, page.count + 1):
            page.turn_to(number)
            for _ in range(3):
                EventLoop.idle()
            _save(page, pictures / f"{number:02}-{page.title.lower().replace(' ', '-').replace(',', '')}.png")
    except OSError as error:
        raise BoathookError(f"The pictures cannot be written to {pictures}: {error.strerror}.") from error
    return 0


def _save(page: GalleryPage, path: Path) -> None:
    """What is on the window, as it was drawn."""
    from kivy.base import EventLoop  # noqa: PLC0415
    from kivy.graphics.opengl import GL_RGB, GL_UNSIGNED_BYTE, glReadPixels  # noqa: PLC0415
    from PIL import Image  # noqa: PLC0415

    window = page.get_root_window()
    window.canvas.ask_update()
    EventLoop.idle()
    pixels = glReadPixels(0, 0, *window.size, GL_RGB, GL_UNSIGNED_BYTE)
    image = Image.frombytes("RGB", tuple(window.size), pixels)
    image.transpose(Image.Transpose.FLIP_TOP_BOTTOM).save(path)
