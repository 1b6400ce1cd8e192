"""Codes of the check-out: read back by an independent reader at the resolution of a plain printer, and never a tag."""

from __future__ import annotations

from helpers.label_reading import read

from kb.machines.checkout.codes import CODES, is_line_code
from kb.machines.labels import tag_code


def test_every_code_is_read_back_and_known_again() -> None:
    printed = [tag_code(code) for code in CODES]

    assert [read(code) for code in printed] == [[code] for code in CODES]
    assert max(code.side_mm for code in printed) <= 15
    assert all(is_line_code(code.lower()) for code in CODES)


def test_a_tag_is_no_code() -> None:
    assert [
        tag
        for tag in ("P7-012", "LINE-7", "LINE", "LINE1", "LINE77", "LINEGOODS")
        if is_line_code(tag)
    ] == []
