"""Lines checked before they count: each that does not fit is counted with what is wrong with it, in any engine.

What an engine reads is text in every column of a line, and nothing where a line is none of ours.
"""

from __future__ import annotations

from dataclasses import dataclass

import ibis
from ibis import Table, Value, _

from kb.history.intake import MOST_MINUTES
from kb.office.sending import FORMS
from kb.office.shared import COLUMNS, FORMAT, KINDS

#: The longest text that a line may hold.
LONGEST = 200
#: What a file and its shop are called.
FILE = r"shared-([0-9a-z]{12})\.(?:jsonl|parquet)$"

#: The highest number of a job or machine.
MOST_NUMBERED = 10**9
#: What no question asks for, so that it need not be held.
UNASKED = ("format", "outcome")

#: What is wrong with a line, by the word that the check gives.
WRONG = {
    "unreadable": "that no export --shared has written",
    "format": f"of a format that this program does not read (it reads {FORMAT}): update it",
    "shop": "of another shop than the file",
    "kind": "of a kind that this program does not know",
    "number": "with something else where a number belongs",
    "text": "with a text too long, or with signs that no name has",
    "day": "of no day (YYYY-MM-DD)",
    "missing": "in which something is missing",
}
_SORTS = {"str": "string", "int": "int64", "float": "float64", "bool": "boolean"}
_TEXTS = tuple(name for name, sort in COLUMNS.items() if sort == "str")
_NUMBERS = {name: _SORTS[sort] for name, sort in COLUMNS.items() if sort != "str"}
_NEEDED = {
    "job": ("model", "job", "machine", "entry", "cause", "listed"),
    "test": ("model", "job", "test"),
    "fit": ("model", "from_model", "part", "shown"),
    "gap": ("shown",),
}


@dataclass(frozen=True, slots=True)
class Unfit:
    """So many lines of a file that do not count (the whole file where they are 0), and what is wrong with them."""

    file: str
    lines: int
    why: str

    def __str__(self) -> str:
        """As one sentence."""
        told = "1 line" if self.lines == 1 else f"{self.lines} lines"
        return (
            f"{self.file}: {told if self.lines else 'the file is left out:'} {self.why}"
        )


def judged(raw: Table) -> Table:
    """The lines, each column of its sort, with the word for what is wrong with each in `fault`, empty if it fits.

    `unit` tells machines of all shops apart. What no question asks for is left out.
    """
    fault = ibis.cases(
        (raw.format.isnull(), "unreadable"),
        (raw.format != str(FORMAT), "format"),
        (~_is_of_its_file(raw), "shop"),
        (raw.kind.isnull() | ~raw.kind.isin(KINDS), "kind"),
        (_any([_is_no_number(raw, name) for name in _NUMBERS]), "number"),
        (
            _any([raw[name].length() > LONGEST for name in _TEXTS]).fill_null(False)
            | _has_strange_signs(raw),
            "text",
        ),
        (~(raw.day.try_cast("date").cast("string") == raw.day).fill_null(False), "day"),
        (_lacking(raw), "missing"),
        else_="",
    )
    told = {name: raw[name].fill_null("") for name in _TEXTS if name not in UNASKED}
    numbers = {
        name: raw[name].try_cast(sort)
        for name, sort in _NUMBERS.items()
        if name not in UNASKED
    }
    unit = raw.shop + "/" + raw.machine.fill_null("")
    return raw.select(**told, **numbers, unit=unit, fault=fault, file=raw.file)


def fitting(lines: Table) -> Table:
    """The lines that fit."""
    return lines.filter(_.fault == "").drop("fault", "file")


def unfit(lines: Table) -> Table:
    """How many lines of which file have which fault."""
    return lines.filter(_.fault != "").group_by("file", "fault").agg(lines=_.count())


def _is_of_its_file(raw: Table) -> Value:
    """Whether the shop of a line is that of its file."""
    named = [
        raw.file.endswith(ibis.literal("shared-") + raw.shop + f".{form}")
        for form in FORMS
    ]
    return _any(named).fill_null(False)


def _is_no_number(raw: Table, name: str) -> Value:
    """Whether something stands in that column that is no number within its bounds, or no truth."""
    match _NUMBERS[name]:
        case "boolean":
            right = raw[name].isin(("true", "false"))
        case "float64":
            right = raw[name].try_cast("float64").between(0, MOST_MINUTES)
        case _:
            number = raw[name].try_cast("int64")
            right = number.between(0, MOST_NUMBERED) & (
                number.cast("string") == raw[name]
            )
    return raw[name].notnull() & ~right.fill_null(False)


def _has_strange_signs(raw: Table) -> Value:
    """Whether a sign that steers stands in any text; all of them are looked through as one."""
    whole = raw[_TEXTS[0]].fill_null("")
    for name in _TEXTS[1:]:
        whole += raw[name].fill_null("")
    return whole.re_search(r"[\x00-\x1f\x7f]")


def _lacking(raw: Table) -> Value:
    """Whether a line lacks what one of its kind must tell."""
    lacking = []
    for kind, needed in _NEEDED.items():
        empty = [raw[name].isnull() | (raw[name] == "") for name in needed]
        lacking.append((raw.kind == kind) & _any(empty))
    return _any(lacking)


def _any(truths: list[Value]) -> Value:
    found = truths[0]
    for truth in truths[1:]:
        found |= truth
    return found
