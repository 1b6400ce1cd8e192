"""The sheet form: what the fields of a sheet hold as they were sent, whatever their number."""

from __future__ import annotations

import re

from flask import request

from kb.library.sheet_fields import (
    CauseFields,
    FixFields,
    OutcomeFields,
    SheetFields,
    TestFields,
)
from webui.fields import text_in_form

#: The field that says that a form is one of these; it holds the text that the fields lie over.
WAS = "was"
#: The most rows of one kind that are read; a sheet with as many would be larger than any that is saved.
MOST = 200
_ROW = re.compile(r"(?P<row>[ctf][1-9]\d{0,2}(?:-o[1-9]\d{0,2})?)-\w+")


def typed() -> SheetFields | None:
    """The fields of a sheet in the form; None for a form that holds the text itself, or nothing of a sheet."""
    if WAS not in request.form or "text" in request.form:
        return None
    matches = map(_ROW.fullmatch, request.form)
    rows = {match["row"] for match in matches if match}
    return SheetFields(
        title=text_in_form("title"),
        area=text_in_form("area"),
        symptoms=text_in_form("symptoms"),
        causes=tuple(
            _cause(f"c{number}") for number in range(1, _count("c", rows) + 1)
        ),
        tests=tuple(
            _test(f"t{number}", rows) for number in range(1, _count("t", rows) + 1)
        ),
        fixes=tuple(_fix(f"f{number}") for number in range(1, _count("f", rows) + 1)),
        safety=text_in_form("safety"),
        wordings=text_in_form("wordings"),
        was=text_in_form(WAS),
    )


def _count(kind: str, rows: set[str]) -> int:
    """How many rows whose names begin so follow one another from the first; a form of a page sends each of them.

    >>> _count("c", {"c1", "c2", "c200", "t1", "t1-o1"}), _count("t1-o", {"t1", "t1-o1"}), _count("f", {"f2"})
    (2, 1, 0)
    """
    for number in range(MOST):
        if f"{kind}{number + 1}" not in rows:
            return number
    return MOST


def _number(name: str) -> int:
    given = request.form.get(name, "")
    return int(given) if re.fullmatch(r"[0-9]{1,3}", given) else 0


def _numbers(name: str) -> tuple[int, ...]:
    return tuple(
        int(one)
        for one in request.form.getlist(name)
        if re.fullmatch(r"[1-9][0-9]{0,2}", one)
    )


def _cause(row: str) -> CauseFields:
    return CauseFields(
        text=text_in_form(f"{row}-text"),
        weight=text_in_form(f"{row}-weight"),
        was=_number(f"{row}-was"),
    )


def _test(row: str, rows: set[str]) -> TestFields:
    outcomes = range(1, _count(f"{row}-o", rows) + 1)
    return TestFields(
        title=text_in_form(f"{row}-title"),
        minutes=text_in_form(f"{row}-minutes"),
        detail=text_in_form(f"{row}-detail"),
        needs=text_in_form(f"{row}-needs"),
        cover_off=bool(request.form.get(f"{row}-cover")),
        outcomes=tuple(_outcome(f"{row}-o{number}") for number in outcomes),
        was=_number(f"{row}-was"),
        marks=text_in_form(f"{row}-marks"),
    )


def _outcome(row: str) -> OutcomeFields:
    to, against = _numbers(f"{row}-to"), _numbers(f"{row}-not")
    return OutcomeFields(
        text=text_in_form(f"{row}-text"),
        to=to,
        against=against,
        was=_number(f"{row}-was"),
    )


def _fix(row: str) -> FixFields:
    return FixFields(
        causes=_numbers(f"{row}-causes"),
        minutes=text_in_form(f"{row}-minutes"),
        text=text_in_form(f"{row}-text"),
        parts=text_in_form(f"{row}-parts"),
        needs=text_in_form(f"{row}-needs"),
        cover_off=bool(request.form.get(f"{row}-cover")),
        was=_number(f"{row}-was"),
        marks=text_in_form(f"{row}-marks"),
    )
