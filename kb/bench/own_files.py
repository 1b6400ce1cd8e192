"""The shop's own files beside its entries: what in `words.toml` and `shop.toml` cannot be read or does nothing."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from kb.base import tomltext
from kb.bench.settings import KNOWN_KEYS, Settings
from kb.language.nearest import nearest
from kb.language.words import TABLES
from kb.model import Remark

#: Tables whose values are one text and not a list of them.
_TEXTS = ("short", "emoji", "machine")


def of_words(path: Path, under: Sequence[Path]) -> list[Remark]:
    """What is wrong with a shop's words; a headword that the files `under` them do not use either is a wish."""
    text, given, remarks = _read(path)
    if given is None:
        return remarks
    known = _joined(under)
    for name, table in given.items():
        line = _line(text, rf"\[\s*{re.escape(name)}\s*\]")
        if name not in TABLES:
            remarks.append(
                Remark(
                    path.name,
                    line,
                    f"no table is called [{name[:40]}]",
                    _one_of(name, TABLES),
                )
            )
        elif not isinstance(table, dict):
            remarks.append(
                Remark(
                    path.name,
                    _line(text, name),
                    f"`{name}` is no table",
                    f"write [{name}] above it",
                )
            )
        else:
            remarks += _of_table(path.name, text, name, table, known.get(name, set()))
    return remarks


def _of_table(
    file: str, text: str, name: str, table: Mapping[str, Any], known: Collection[str]
) -> Iterator[Remark]:
    for key, value in table.items():
        line = _line(text, rf"[\"']?{re.escape(key)}[\"']?\s*=")
        if name in _TEXTS and not isinstance(value, str):
            yield Remark(
                file, line, f"`{key[:40]}` is not one text", f'write {key} = "..."'
            )
        elif name not in _TEXTS and not tomltext.is_names(value):
            yield Remark(
                file,
                line,
                f"`{key[:40]}` is not a list",
                f'write it in brackets: {key} = ["..."]',
            )
        elif name == "same" and key not in known:
            near = nearest(key, list(known))
            if near:
                problem = f"the search itself uses no word `{key[:40]}`; the nearest that it uses is `{near}`"
                yield Remark(
                    file,
                    line,
                    problem,
                    f"write {near} = [...] if that is meant",
                    wish=True,
                )


def of_settings(path: Path, settings: Settings) -> list[Remark]:
    """What is wrong with a shop's settings, keys that nothing reads among them."""
    text, given, remarks = _read(path)
    if given is None:
        return remarks
    if settings.problem:
        remarks.append(Remark(path.name, 1, settings.problem, "see benchlore settings"))
    for key in given.keys() - KNOWN_KEYS:
        line = _line(text, rf"\[?\s*{re.escape(key)}")
        remarks.append(
            Remark(
                path.name,
                line,
                f"nothing reads `{key[:40]}`",
                _one_of(key, sorted(KNOWN_KEYS)),
            )
        )
    return sorted(remarks, key=lambda remark: remark.line)


def _read(path: Path) -> tuple[str, dict[str, Any] | None, list[Remark]]:
    """The text of a file and what it holds, None if there is none or it cannot be read, with the reason."""
    if not path.exists():
        return "", None, []
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        return "", None, [Remark(path.name, 1, "this is not UTF-8", "save it as UTF-8")]
    try:
        return text, _load(text), []
    except tomllib.TOMLDecodeError as error:
        found = re.search(r"line (\d+)", str(error))
        line = int(found[1]) if found else max(1, len(text.splitlines()))
        instead = 'mend that line, as in charger = ["juicer"]; until then nothing in the file counts'
        return (
            text,
            None,
            [Remark(path.name, line, f"this cannot be read ({error})", instead)],
        )


def _load(text: str) -> dict[str, Any]:
    return tomllib.loads(text)


def _joined(files: Sequence[Path]) -> dict[str, set[str]]:
    """The headwords of each table in these files."""
    found: dict[str, set[str]] = {}
    for file in (file for file in files if file.is_file()):
        for name, table in _load(file.read_text(encoding="utf-8")).items():
            found.setdefault(name, set()).update(table)
    return found


def _one_of(name: str, names: Collection[str]) -> str:
    near = nearest(name, names)
    return f"write {near}" if near else f"use one of {', '.join(names)}"


def _line(text: str, pattern: str) -> int:
    """The first line that begins so, or the first of all."""
    for number, line in enumerate(text.splitlines(), 1):
        if re.match(rf"\s*{pattern}", line):
            return number
    return 1
