"""Labels: read back by an independent reader at the resolution of a plain printer, small enough, and laid out in mm."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
from helpers.label_reading import read

from kb.base.trouble import Refusal
from kb.machines import labels
from kb.machines.labels import Label, LabelSheet


def test_a_hundred_tags_are_read_back_and_none_is_wider_than_15_mm() -> None:
    chance = random.Random("labels")
    signs = "ABCDEFGHJKLMNPQRSTUVWXYZ0123456789-"
    tags = [
        "".join(chance.choices(signs, k=chance.randint(3, 16))).strip("-") or "X"
        for _ in range(80)
    ]
    tags += [f"P7-{number:03d}" for number in range(1, 21)]

    codes = [labels.tag_code(tag) for tag in tags]

    assert [read(code) for code in codes] == [[tag] for tag in tags]
    assert max(code.side_mm for code in codes) <= 15


def test_addresses_are_read_back_in_capitals_and_stay_under_21_mm() -> None:
    codes = [
        labels.address_code(f"P7-{number:04d}", "http://192.168.20.14:8377")
        for number in range(20)
    ]

    assert [read(code) for code in codes] == [
        [f"HTTP://192.168.20.14:8377/U/P7-{number:04d}"] for number in range(20)
    ]
    assert max(code.side_mm for code in codes) <= 21


@pytest.mark.parametrize("tag", ["p7_012", "Ä-7", "shelf 3 left"])
def test_tags_with_other_signs_are_read_back_too(tag: str) -> None:
    assert read(labels.tag_code(tag)) == [tag.upper()]


def test_a_sheet_holds_what_fits_in_its_millimetres() -> None:
    sheet = LabelSheet(width=60, height=30, left=10, top=8.5, gap_across=2, gap_down=0)
    several = [
        Label(f"P7-{n}", "Tern 13", "P7", labels.tag_code(f"P7-{n}")) for n in range(30)
    ]

    assert (sheet.across, sheet.down) == (3, 9)
    assert [len(page) for page in labels.sheets(several, sheet)] == [27, 3]
    told = labels.style(sheet)
    assert "size: 210mm 297mm" in told
    assert "repeat(3, 60mm)" in told
    assert "padding: 8.5mm 0 0 10mm" in told


@pytest.mark.parametrize(
    "wrong", [{"width": 300.0}, {"height": 12.0}, {"left": 205.0}, {"width": 0.0}]
)
def test_a_sheet_that_cannot_be_is_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(Refusal):
        LabelSheet(**wrong).checked()


def test_a_file_of_labels_holds_nothing_that_somebody_typed_as_markup(
    tmp_path: Path,
) -> None:
    label = Label("<b>7</b>", "<script>", "&", labels.tag_code("X"))

    told = labels.to_html([label], LabelSheet())

    assert "<script>" not in told
    assert "&lt;b&gt;7&lt;/b&gt;" in told
