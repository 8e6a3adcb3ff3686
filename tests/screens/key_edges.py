"""Colours at the edges of a key, read from a picture: its outline, the ground within, the ground around."""

SIDES = {"left": (0, 0.5, 1), "right": (1, 0.5, -1), "bottom": (0.5, 0, 1), "top": (0.5, 1, -1)}
"""A place on the edge as shares of the box, and which way its inside lies."""

DEPTHS_MM = (0.25, 1.0, -0.4)
"""From the edge inwards: to the middle of the outline, to the ground within, to the ground around."""


def edge_colours(picture, box, millimetre):
    """Three colours by side, see DEPTHS_MM, without sides that lie at the edge of the picture.

    ``box``: left, bottom, width, height in pixels, counted from the lower left.
    """
    left, low, width, height = box
    sides = {}
    for side, (across, up, inward) in SIDES.items():
        found = []
        for away in (depth * millimetre * inward for depth in DEPTHS_MM):
            dx, dy = (away, 0) if side in ("left", "right") else (0, away)
            x, y = left + across * (width - 1) + dx, low + up * (height - 1) + dy
            if 0 <= x < picture.width and 0 <= y < picture.height:
                found.append(list(picture.getpixel((int(x), picture.height - 1 - int(y)))))
        if len(found) == len(DEPTHS_MM):
            sides[side] = found
    return sides
