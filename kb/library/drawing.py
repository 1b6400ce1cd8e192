"""Drawing a ring or an arrow onto a picture, in the colours of the pages with a pale edge, to be seen on any ground."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from PIL import Image, ImageDraw

Shape = Literal["ring", "arrow"]
#: The line, and what lies around it.
_LINE, _EDGE = (178, 58, 12), (255, 252, 240)
#: Parts of the longest side: the ring's radius, the arrow's length, half the width of its head, the line's width.
_RADIUS, _LENGTH, _HEAD, _WIDTH = 0.09, 0.2, 0.035, 0.012
#: Drawn so many times as large and made smaller, so that edges are smooth.
_FINE = 2


@dataclass(frozen=True, slots=True)
class Mark:
    """A ring around a place, or an arrow to it; the place in parts of width and height, from the top left."""

    shape: Shape
    x: float
    y: float


def drawn(image: Image.Image, mark: Mark) -> Image.Image:
    """The picture with the mark on it; the one that was given stays as it is.

    >>> plain = Image.new("RGB", (100, 100), "white")
    >>> ringed = drawn(plain, Mark("ring", 0.5, 0.5))
    >>> ringed.getpixel((59, 50)), ringed.getpixel((50, 50)), plain.getpixel((59, 50))
    ((178, 58, 12), (255, 255, 255), (255, 255, 255))
    """
    side = max(image.size) * _FINE
    width = max(side * _WIDTH, 3 * _FINE)
    at = (
        min(max(mark.x, 0.0), 1.0) * image.width * _FINE,
        min(max(mark.y, 0.0), 1.0) * image.height * _FINE,
    )
    done = image.copy()
    for colour, more in ((_EDGE, 0.8 * width), (_LINE, 0.0)):
        mask = Image.new("L", (image.width * _FINE, image.height * _FINE))
        if mark.shape == "ring":
            _ring(ImageDraw.Draw(mask), at, side * _RADIUS, width + more)
        else:
            _arrow(ImageDraw.Draw(mask), at, side, width + more)
        done.paste(colour, mask=mask.resize(image.size, Image.Resampling.BOX))
    return done


def _ring(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], radius: float, width: float
) -> None:
    (x, y), out = at, radius + width / 2
    draw.ellipse((x - out, y - out, x + out, y + out), outline=255, width=round(width))


def _arrow(
    draw: ImageDraw.ImageDraw, at: tuple[float, float], side: float, width: float
) -> None:
    """An arrow whose tip is at that place; it comes from the middle of the picture, where there is room."""
    middle = draw.im.size[0] / 2, draw.im.size[1] / 2
    (x, y), (to_x, to_y) = at, (middle[0] - at[0], middle[1] - at[1])
    far = math.hypot(to_x, to_y)
    along = (
        (to_x / far, to_y / far)
        if far > side * _LENGTH / 2
        else (-math.sqrt(0.5), math.sqrt(0.5))
    )
    across = (-along[1], along[0])
    more = width - side * _WIDTH  # of the edge around the line
    head, half = side * _HEAD * 2 + more, side * _HEAD + more
    neck = (x + along[0] * head, y + along[1] * head)
    tail = (
        x + along[0] * (side * _LENGTH + more / 2),
        y + along[1] * (side * _LENGTH + more / 2),
    )
    tip = (x - along[0] * more / 2, y - along[1] * more / 2)
    draw.line((neck, tail), fill=255, width=round(width))
    wings = [
        (neck[0] + sign * across[0] * half, neck[1] + sign * across[1] * half)
        for sign in (1, -1)
    ]
    draw.polygon((tip, *wings), fill=255)
