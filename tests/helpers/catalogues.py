"""The catalogues of other languages beside the strings of the code; run it to bring them in step."""

from __future__ import annotations

import ast
import io
from collections.abc import Iterator
from enum import StrEnum
from pathlib import Path

from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po, write_po

from helpers.places import ROOT
from kb.base.worded import forms
from kb.machines.units import FloorState, NextStep
from webui.strings import ENGLISH
from webui.tongue import SOURCE, catalogue_file, languages

#: Fixed lists of the core whose words a page shows.
WORDS: tuple[type[StrEnum], ...] = (FloorState, NextStep)
HEAD = "# Strings of the pages; `poe words` keeps them in step with the code."
#: Lines of a head that would change with the day and the tool.
UNKEPT = (b'"Project-Id', b'"Report-', b'"POT-', b'"PO-', b'"Last-Tr', b'"Language-Team', b'"Generated-By')
#: What is called with a template of a sentence, written out.
TELLERS = ("worded",)


def in_code() -> Catalog:
    """Every string of the pages under its key, every template of a sentence and every word of the core."""
    found = Catalog(charset="utf-8", fuzzy=False, header_comment=HEAD)
    for key, given in ENGLISH.items():
        _add(found, given, key)
    for template in templates():
        _add(found, template)
    for words in WORDS:
        for word in words:
            found.add(word.value)
    return found


def templates() -> Iterator[str]:
    """Every template that is worded in the code."""
    for room in ("kb", "webui"):
        for path in sorted((ROOT / room).rglob("*.py")):
            if path.name == "worded.py":
                continue
            for node in ast.walk(ast.parse(path.read_text("utf-8"))):
                if isinstance(node, ast.Call) and ast.unparse(node.func) in TELLERS:
                    yield _literal(node, path)


def _literal(call: ast.Call, path: Path) -> str:
    given = call.args[0] if call.args else None
    assert isinstance(given, ast.Constant), f"{path}:{call.lineno}: the template is to be written out"
    return str(given.value)


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
    return b"".join(line for line in out.getvalue().splitlines(True) if not line.startswith(UNKEPT))


if __name__ == "__main__":
    for code in languages():
        if code != SOURCE:
            bring_in_step(code)
