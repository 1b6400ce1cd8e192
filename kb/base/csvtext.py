"""Rows as CSV text that a spreadsheet shows as text and never runs as a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable

#: A cell that begins with one of these may be run as a formula (OWASP ASVS 5.0, item 1.2.10, and the full-width
#: signs, which some programs read as the plain ones).
RUNS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")

Cell = str | int | float | None


def to_csv(rows: Iterable[Iterable[Cell]]) -> str:
    r"""The rows as CSV (RFC 4180: comma, CRLF, quotes doubled); a number stays a number, None is empty.

    Text that a spreadsheet could run as a formula gets an apostrophe before it.

    >>> to_csv([["part", "count"], ["=1+1", 3], ['19" panel', -2.5], ["a\r\nb", None]])
    'part,count\r\n\'=1+1,3\r\n"19"" panel",-2.5\r\n"a\r\nb",\r\n'
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    for row in rows:
        writer.writerow([_cell(cell) for cell in row])
    return out.getvalue()


def guarded(text: str) -> str:
    """The text as a cell that is only ever text; NUL and lone surrogates become U+FFFD.

    >>> guarded("@SUM(A1)"), guarded("19.5 V"), guarded("")
    ("'@SUM(A1)", '19.5 V', '')
    """
    text = text.replace("\x00", "\ufffd").encode("utf-8", "replace").decode("utf-8")
    return f"'{text}" if text.lstrip(" ").startswith(RUNS) else text


def _cell(cell: Cell) -> Cell:
    return guarded(cell) if isinstance(cell, str) else cell
