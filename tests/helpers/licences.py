"""The licences of what the program needs to run, as the installed packages tell; run it to write LICENCES.md anew."""

from __future__ import annotations

import importlib.metadata
import re
from collections.abc import Iterator
from pathlib import Path

from packaging.requirements import Requirement

from helpers.places import ROOT

CHAPTER = ROOT / "kb" / "LICENCES.md"
HEAD = """\
# Licences

Benchlore is under the MIT licence, in [LICENSE](LICENSE): its code, sheets, lists, words, translations and pictures
are its own. What it ships of others has its licence beside it:

{shipped}

These packages are installed with it, each under its own licence, as its publisher tells it:

| package | licence |
| --- | --- |
"""
#: How the text of a licence beside a shipped file is called.
BESIDE = ".licence.txt"
TAIL = "\n(Made by `python tests/helpers/licences.py`; a test compares.)\n"
#: How a publisher that has no expression of SPDX names a licence.
BY_CLASSIFIER = "License :: OSI Approved :: "


def needed(
    name: str = "benchlore", seen: set[str] | None = None
) -> Iterator[importlib.metadata.Distribution]:
    """Every package that one needs to run, here, with what those need, each once."""
    seen = set() if seen is None else seen
    for text in importlib.metadata.requires(name) or ():
        requirement = Requirement(text)
        key = re.sub(r"[-_.]+", "-", requirement.name).lower()
        if key in seen or (
            requirement.marker and not requirement.marker.evaluate({"extra": ""})
        ):
            continue
        seen.add(key)
        yield importlib.metadata.distribution(key)
        yield from needed(key, seen)


def licence(package: importlib.metadata.Distribution) -> str:
    """The licence of a package as its publisher tells it."""
    told = package.metadata
    classified = (
        one for one in told.get_all("Classifier") or () if one.startswith("License")
    )
    named = ", ".join(
        one.removeprefix(BY_CLASSIFIER).removeprefix("License :: ")
        for one in classified
    )
    if "License-Expression" in told:
        return told["License-Expression"]
    return named or told["License"]


def shipped() -> list[str]:
    """The files of others that are shipped, each a line with the text of its licence."""
    texts = [
        file
        for room in ("kb", "webui", "entries")
        for file in sorted((ROOT / room).rglob(f"*{BESIDE}"))
    ]
    return [_line(text.relative_to(ROOT)) for text in texts]


def _line(text: Path) -> str:
    script = text.with_name(text.name.removesuffix(BESIDE) + ".js")
    return f"- `{script}`: [{text.name}](../{text})"


def rows() -> dict[str, str]:
    """The licence of each package by its name."""
    return {package.metadata["Name"].lower(): licence(package) for package in needed()}


def listed() -> dict[str, str]:
    """The licences as the file lists them."""
    found = re.findall(
        r"^\| ([^|]+) \| ([^|]+) \|$", CHAPTER.read_text("utf-8"), re.MULTILINE
    )
    return {name: told for name, told in found if name not in ("package", "---")}


if __name__ == "__main__":
    table = "".join(f"| {name} | {told} |\n" for name, told in sorted(rows().items()))
    CHAPTER.write_text(
        HEAD.format(shipped="\n".join(shipped())) + table + TAIL, encoding="utf-8"
    )
