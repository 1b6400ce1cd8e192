"""The sheet form: what the fields of a sheet hold as they were sent, whatever their number."""

from __future__ import annotations

import re

from flask import request

from kb.library.sheet_fields import CauseFields, FixFields, OutcomeFields, SheetFields, TestFields

#: The field that says that a form is one of these; it holds the text that the fields lie over.
WAS = "was"
#: The most rows of one kind that are read; a sheet with as many would be larger than any that is saved.
MOST = 200
_ROW = re.compile(r"(?P<row>[ctf][1-9]\d{0,2}(?:-o[1-9]\d{0,2})?)-\w+")


def typed() -> SheetFields | None:
    """The fields of a sheet in the form; None for a form that holds the text itself, or nothing of a sheet."""
    if WAS not in request.form or "text" in request.form:
        return None
    rows = {match["row"] for name in request.form if (match := _ROW.fullmatch(name))}
    return SheetFields(
        title=_text("title"),
        area=_text("area"),
        symptoms=_text("symptoms"),
        causes=tuple(_cause(f"c{number}") for number in range(1, _count("c", rows) + 1)),
        tests=tuple(_test(f"t{number}", rows) for number in range(1, _count("t", rows) + 1)),
        fixes=tuple(_fix(f"f{number}") for number in range(1, _count("f", rows) + 1)),
        safety=_text("safety"),
        wordings=_text("wordings"),
        was=_text(WAS),
    )


def _count(kind: str, rows: set[str]) -> int:
    """The highest number of the rows whose names begin so."""
    numbers = [int(row.removeprefix(kind)) for row in rows if row.removeprefix(kind).isdecimal()]
    return min(max(numbers, default=0), MOST)


def _text(name: str) -> str:
    r"""A field with plain line ends.

    The first line end of a text area is not sent back by a browser that was given one (HTML, 13.1.2.5).
    """
    return request.form.get(name, "").replace("\r\n", "\n").replace("\r", "\n").replace("\x00", "")


def _number(name: str) -> int:
    given = request.form.get(name, "")
    return int(given) if re.fullmatch(r"[0-9]{1,3}", given) else 0


def _numbers(name: str) -> tuple[int, ...]:
    return tuple(int(one) for one in request.form.getlist(name) if re.fullmatch(r"[1-9][0-9]{0,2}", one))


def _cause(row: str) -> CauseFields:
    return CauseFields(text=_text(f"{row}-text"), weight=_text(f"{row}-weight"), was=_number(f"{row}-was"))


def _test(row: str, rows: set[str]) -> TestFields:
    outcomes = range(1, _count(f"{row}-o", rows) + 1)
    return TestFields(
        title=_text(f"{row}-title"),
        minutes=_text(f"{row}-minutes"),
        detail=_text(f"{row}-detail"),
        needs=_text(f"{row}-needs"),
        cover_off=bool(request.form.get(f"{row}-cover")),
        outcomes=tuple(_outcome(f"{row}-o{number}") for number in outcomes),
        was=_number(f"{row}-was"),
        marks=_text(f"{row}-marks"),
    )


def _outcome(row: str) -> OutcomeFields:
    to, against = _numbers(f"{row}-to"), _numbers(f"{row}-not")
    return OutcomeFields(text=_text(f"{row}-text"), to=to, against=against, was=_number(f"{row}-was"))


def _fix(row: str) -> FixFields:
    return FixFields(
        causes=_numbers(f"{row}-causes"),
        minutes=_text(f"{row}-minutes"),
        text=_text(f"{row}-text"),
        parts=_text(f"{row}-parts"),
        needs=_text(f"{row}-needs"),
        cover_off=bool(request.form.get(f"{row}-cover")),
        was=_number(f"{row}-was"),
        marks=_text(f"{row}-marks"),
    )
