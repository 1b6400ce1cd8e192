"""Codes of a sheet that is scanned in place of a tap at the check-out: good, bad, the next line, an answer."""

from __future__ import annotations

from collections.abc import Mapping

#: What each code says when it is read, and what it stands for; letters and digits alone, as every keyboard has them.
CODES: Mapping[str, str] = {
    "LINEGOOD": "good",
    "LINEBAD": "bad",
    "LINENEXT": "next",
    "LINENONE": "none",
    **{f"LINE{number}": str(number) for number in range(2, 7)},
}


def is_line_code(read: str) -> bool:
    """Whether what was read is one of these codes and no tag.

    >>> is_line_code(" linegood"), is_line_code("LINE3"), is_line_code("LINE-3"), is_line_code("P7-012")
    (True, True, False, False)
    """
    return read.strip().upper() in CODES
