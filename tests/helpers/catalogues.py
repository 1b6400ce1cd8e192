"""The catalogues of other languages beside the strings of the code; run it to bring them in step."""

from __future__ import annotations

import ast
import io
from collections.abc import Iterator

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

from helpers.places import ROOT
from kb.base.worded import forms
from kb.library.customs import shipped_customs
from kb.machines.lots import LEFT_AT
from kb.machines.units import FloorState, NextStep
from kb.model import WEIGHT_ODDS
from kb.review.tables import TABLES
from webui.pages.review_page import PICTURES
from webui.strings import ENGLISH
from webui.tongue import SOURCE, catalogue_file, languages

#: Words of fixed lists of the core that a page shows.
WORDS: tuple[str, ...] = (
    *FloorState,
    *NextStep,
    *LEFT_AT,
    *TABLES,
    *PICTURES,
    *WEIGHT_ODDS,
)
#: What names a field of a record in the code: by these functions, or as this argument.
NAMERS, NAMED = ("_name", "_needed"), "what"
HEAD = "# Strings of the pages; `poe words` keeps them in step with the code."
#: Lines of a head that would change with the day and the tool.
UNKEPT = (
    b'"Project-Id',
    b'"Report-',
    b'"POT-',
    b'"PO-',
    b'"Last-Tr',
    b'"Language-Team',
    b'"Generated-By',
)
#: What is called with a template of a sentence, written out.
TELLER = "worded"


def in_code() -> Catalog:
    """Every string of the pages under its key, every template of a sentence and every word of the core."""
    found = Catalog(charset="utf-8", fuzzy=False, header_comment=HEAD)
    for key, given in ENGLISH.items():
        _add(found, given, key)
    for template in templates():
        _add(found, template)
    for word in (*WORDS, *field_names()):
        found.add(str(word))
    for sentence in of_the_trade():
        found.add(sentence)
    return found


def of_the_trade() -> Iterator[str]:
    """What the library that ships says on pages in its trade's words."""
    customs = shipped_customs()
    trade = customs.trade()
    yield from (*trade.areas, *trade.asks, *sorted(trade.names))
    yield from (
        *trade.tells,
        *trade.states.values(),
        *(told for pair in trade.reads.values() for told in pair),
    )
    yield from (
        trade.says[name]
        for name in ("complaint", "first_look", "first_looks", "bad_look")
    )
    for line in customs.check_list().lines:
        yield from (*line.at_once, *line.apart)


def field_names() -> Iterator[str]:
    """What the fields of records are called where one is refused."""
    for node in calls("kb/history"):
        given = [argument.value for argument in node.keywords if argument.arg == NAMED]
        given += node.args[:1] if ast.unparse(node.func) in NAMERS else []
        yield from (str(one.value) for one in given if isinstance(one, ast.Constant))


def templates() -> Iterator[str]:
    """Every template that is worded in the code."""
    for node in (*calls("kb"), *calls("webui")):
        if ast.unparse(node.func) == TELLER:
            given = node.args[0] if node.args else None
            assert isinstance(given, ast.Constant), (
                f"the template is to be written out: {ast.unparse(node)}"
            )
            yield str(given.value)


def calls(room: str) -> Iterator[ast.Call]:
    """Every call in the modules of a room, but for the one that makes sentences."""
    for path in sorted((ROOT / room).rglob("*.py")):
        if path.name != "worded.py":
            yield from (
                node
                for node in ast.walk(ast.parse(path.read_text("utf-8")))
                if isinstance(node, ast.Call)
            )


def _add(found: Catalog, given: str, key: str | None = None) -> None:
    one, many = forms(given)
    found.add((one, many) if many else one, context=key)


def kept(language: str) -> Catalog:
    """The catalogue of a language as it stands in its file."""
    with catalogue_file(language).open("rb") as file:
        return read_po(file, locale=language)


def messages(catalogue: Catalog) -> dict[tuple[str, str], Message]:
    """Its messages by context and English, the head left out."""
    return {(one.context or "", _english(one)): one for one in catalogue if one.id}


def _english(one: Message) -> str:
    return one.id if isinstance(one.id, str) else one.id[0]


def bring_in_step(language: str) -> None:
    """Put in what is new, empty, and take out what is gone; translations that still have their English stay."""
    old, fresh = messages(kept(language)), in_code()
    fresh.locale = language
    for name, one in messages(fresh).items():
        was = old.get(name)
        if was is not None and was.pluralizable == one.pluralizable:
            one.string = was.string
    catalogue_file(language).write_bytes(written(fresh))


def written(catalogue: Catalog) -> bytes:
    """The catalogue as a file, without what would change with the day and the tool."""
    out = io.BytesIO()
    write_po(out, catalogue, width=0, no_location=True)
    return b"".join(
        line for line in out.getvalue().splitlines(True) if not line.startswith(UNKEPT)
    )


if __name__ == "__main__":
    for code in languages():
        if code != SOURCE:
            bring_in_step(code)
