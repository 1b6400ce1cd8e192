"""Codes as a plain printer puts them on paper, and read back by an independent reader (zxing-cpp)."""

from __future__ import annotations

import re

import zxingcpp
from PIL import Image, ImageDraw

from kb.machines.labels import LabelCode

DOTS_PER_MM = 150 / 25.4


def printed(code: LabelCode) -> Image.Image:
    """The code as a printer of 150 dots an inch puts it on paper: drawn fine, then blurred down to its dots."""
    fine = 12
    drawn = Image.new("L", (code.modules * fine, code.modules * fine), 255)
    pen = ImageDraw.Draw(drawn)
    for x, y, run in re.findall(r"M(\d+) (\d+)h(\d+)v1h-\d+z", code.path):
        left, top = int(x) * fine, int(y) * fine
        pen.rectangle((left, top, left + int(run) * fine - 1, top + fine - 1), fill=0)
    dots = round(code.side_mm * DOTS_PER_MM)
    return drawn.resize((dots, dots), Image.Resampling.BOX)


def read(code: LabelCode) -> list[str]:
    """What the reader finds on a paper with that code."""
    paper = Image.new("L", (300, 300), 255)
    paper.paste(printed(code), (100, 100))
    return [found.text for found in zxingcpp.read_barcodes(paper)]
