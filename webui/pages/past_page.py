"""Old jobs on a page: a list from the past pasted or sent, shown as it would be saved, saved, and taken back as one."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass

from flask import Blueprint, redirect, render_template, request
from werkzeug.wrappers import Response

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.past import NO_PROPOSALS, Past, PastAsked
from kb.history.spreadsheet import FIELDS, ORDERS, ColumnsMissing, decoded, headings_of
from kb.model import Remark
from webui import fields

pages = Blueprint("past", __name__)

#: Jobs shown as they would be saved, and lines shown with their problem.
SHOWN, PROBLEMS = 10, 30
#: What the command line calls things that have a field of their own on the page.
_ON_THE_PAGE = {
    "--days dmy, or --days mdy": "under “Days are written”",
    "or add --new-models if it is another": "or tick that new models are meant as written",
    "such as --propose 80": "as chosen under “Proposed causes saved”",
    ", or name its encoding, such as --encoding cp1250": "",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class SentList:
    """A list as it was pasted or sent, with what was chosen beside it."""

    text: str
    name: str
    asked: PastAsked
    headings: tuple[str, ...]


@pages.get("/past")
def form() -> str:
    """The form for a list."""
    return render_template(
        "past.html",
        sent=None,
        past=None,
        trouble="",
        imports=fields.bench().past.imports(),
    )


@pages.post("/past")
def look() -> str:
    """What a list would bring, with every problem by line; with `take` its good lines are saved."""
    taking, sent, past, trouble = bool(fields.in_form("take")), None, None, ""
    try:
        sent = _sent()
        past = fields.bench().past.read(
            sent.text.encode(), sent.asked, sent.name, dry=not taking
        )
    except ColumnsMissing:
        trouble = "columns"
    except Refusal as refusal:
        trouble = told_here(str(refusal))
    jobs = past.jobs[:SHOWN] if past else ()
    return render_template(
        "past.html",
        sent=sent,
        past=past,
        trouble=trouble,
        taken=taking and past is not None,
        jobs=jobs,
        causes=fields.bench().entries.cause_texts([line.job.cause for line in jobs]),
        proposed={one.line: one.probability for one in past.proposals} if past else {},
        problems=_problems(past),
        columns=_columns(sent, past),
        orders=ORDERS,
        told_here=told_here,
        imports=fields.bench().past.imports(),
    )


@pages.post("/past/back")
def take_back() -> Response:
    """Take all jobs of one import back."""
    desk = fields.bench().past
    imported = desk.find_import(fields.in_form("import"))
    if imported is None:
        raise Refusal("no import has that id; it may be taken back already")
    desk.take_back(
        imported,
        fields.in_form("why") or "the whole list was taken back",
        fields.in_form("by"),
    )
    return redirect("/retracted", 303)


def told_here(sentence: str) -> str:
    """A sentence in the words of the page, where it names an option of the command line.

    >>> told_here("write Tern 13, or add --new-models if it is another")
    'write Tern 13, or tick that new models are meant as written'
    """
    for option, field in _ON_THE_PAGE.items():
        sentence = sentence.replace(option, field)
    return sentence


def _sent() -> SentList:
    """The list of the form: a file that was sent wins over what was pasted; Refusal for what is no text."""
    file = request.files.get("file")
    if file and file.filename:
        text, name = decoded(file.read())[0], file.filename
    else:
        text, name = request.form.get("text", ""), fields.in_form("name") or "the list"
    if not text.strip():
        raise Refusal(
            "nothing was pasted or chosen; paste the list with its headings, or choose its file"
        )
    headings = {field: fields.in_form(f"column-{field}") for field in FIELDS}
    chosen = {field: heading for field, heading in headings.items() if heading}
    sure = _percent("sure")
    asked = PastAsked(
        columns=chosen,
        days=fields.in_form("days") if fields.in_form("days") in ORDERS else "",
        sure=sure,
        new_models=bool(fields.in_form("new_models")),
    )
    return SentList(text=text, name=name, asked=asked, headings=headings_of(text))


def _percent(name: str) -> float:
    """A probability given in percent, no proposals for an empty field; Refusal for what is no such number."""
    with suppress(ValueError):
        given = fields.number(name)
        if not given:
            return NO_PROPOSALS
        if 0 < given <= 100:
            return given / 100
    raise Refusal(
        worded(
            "how sure a proposal must be is a number of percent from 1 to 100, or left empty"
        )
    )


def _columns(sent: SentList | None, past: Past | None) -> Mapping[str, str]:
    """The heading of each field, as it was read or chosen; empty for none."""
    if sent is None or not sent.headings:
        return {}
    known = past.sheet.headings if past and past.sheet else sent.asked.columns
    return {field: known.get(field, "") for field in FIELDS}


def _problems(past: Past | None) -> list[Remark]:
    """The first lines that are refused, with what to write instead."""
    return list(past.report.remarks[:PROBLEMS]) if past else []
