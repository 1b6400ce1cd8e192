"""The words that ship: those of any workshop with those of the library's trade, and those of other languages."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any

from kb.language.words import Lexicon, common_words, read_lexicon
from kb.library.customs import shipped_customs


def english_words() -> tuple[Path, Path]:
    """The files of English words."""
    return common_words()[0], shipped_customs().words()[0]


def foreign_words() -> tuple[Path, Path]:
    """The files of words of other languages."""
    return common_words()[1], shipped_customs().words()[1]


def shipped_lexicon(*own: Path) -> Lexicon:
    """The lexicon of the English words that ship, with a shop's own added."""
    return read_lexicon(*english_words(), *own)


def headwords(table: str) -> dict[str, Any]:
    """The lines of a table in all files that ship, those of any workshop first."""
    found: dict[str, Any] = {}
    for file in (*english_words(), *foreign_words()):
        for word, said in tomllib.loads(file.read_text("utf-8")).get(table, {}).items():
            found[word] = (
                [*found[word], *said] if isinstance(found.get(word), list) else said
            )
    return found
