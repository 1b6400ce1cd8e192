"""Drawing on a picture: a ring around the place, an arrow whose tip is there, on any ground, the picture untouched."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops

from kb.library.drawing import Mark, Shape, drawn


def changed(before: Image.Image, after: Image.Image) -> tuple[int, int, int, int]:
    """The box of all points that differ."""
    box = ImageChops.difference(before, after).getbbox()
    assert box
    return box


def test_a_ring_lies_around_the_place_and_covers_nothing_in_it() -> None:
    plain = Image.new("RGB", (400, 300), "white")

    left, top, right, bottom = changed(
        plain, ringed := drawn(plain, Mark("ring", 0.25, 0.5))
    )

    assert ((left + right) / 2, (top + bottom) / 2) == pytest.approx((100, 150), abs=1)
    assert right - left == pytest.approx(2 * 0.09 * 400, abs=14)
    inside = (100 - 20, 150 - 20, 100 + 20, 150 + 20)
    assert (
        ImageChops.difference(plain.crop(inside), ringed.crop(inside)).getbbox() is None
    )


@pytest.mark.parametrize(("x", "y"), [(0.9, 0.9), (0.1, 0.2), (0.5, 0.5), (0.0, 1.0)])
def test_the_tip_of_an_arrow_is_at_the_place_and_its_shaft_in_the_picture(
    x: float, y: float
) -> None:
    plain = Image.new("RGB", (400, 300), "white")
    pointed = drawn(plain, Mark("arrow", x, y))
    left, top, right, bottom = changed(plain, pointed)

    assert left - 6 <= x * 400 <= right + 6
    assert top - 6 <= y * 300 <= bottom + 6
    assert max(right - left, bottom - top) >= 0.2 * 400 * 0.6
    near = pointed.crop(
        (int(x * 400) - 9, int(y * 300) - 9, int(x * 400) + 9, int(y * 300) + 9)
    )
    assert ImageChops.difference(near, Image.new("RGB", near.size, "white")).getbbox()


@pytest.mark.parametrize("ground", ["white", "black", (178, 58, 12), (255, 252, 240)])
@pytest.mark.parametrize("shape", ["ring", "arrow"])
def test_a_mark_is_seen_on_any_ground(
    ground: str | tuple[int, int, int], shape: Shape
) -> None:
    """Contrast of at least 3 to 1 somewhere, as WCAG 2.2, 1.4.11 asks of what has to be seen."""
    plain = Image.new("RGB", (200, 200), ground)
    marked = drawn(plain, Mark(shape, 0.5, 0.5))
    given = luminance(plain.getpixel((0, 0)))  # type: ignore[arg-type]
    seen = [luminance(colour) for _, colour in marked.getcolors(40000)]  # type: ignore[union-attr, arg-type]

    assert max((max(one, given) + 0.05) / (min(one, given) + 0.05) for one in seen) >= 3


def luminance(colour: tuple[int, int, int]) -> float:
    """Relative luminance (WCAG 2.2)."""
    parts = [part / 255 for part in colour]
    red, green, blue = [
        one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4
        for one in parts
    ]
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@settings(max_examples=20)
@given(
    x=st.floats(-2, 3),
    y=st.floats(-2, 3),
    width=st.integers(1, 90),
    height=st.integers(1, 90),
    shape=st.sampled_from(["ring", "arrow"]),
)
def test_any_place_on_any_picture_is_drawn_and_the_picture_itself_stays(
    x: float, y: float, width: int, height: int, shape: Shape
) -> None:
    plain = Image.new("RGB", (width, height), "green")
    before = plain.tobytes()

    assert drawn(plain, Mark(shape, x, y)).size == (width, height)
    assert plain.tobytes() == before
