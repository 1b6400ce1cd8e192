"""Words that are read once for the many small shops of these tests."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from kb.language import words
from kb.language.words import Lexicon


@pytest.fixture(scope="module", autouse=True)
def _words_read_once() -> Iterator[None]:
    """The stock words take longer to read than all the rest of a small shop; here the same files are read once."""
    read: dict[tuple[object, ...], Lexicon] = {}

    def read_once(*files: Path) -> Lexicon:
        key = tuple(file.read_bytes() if file.exists() else b"" for file in files)
        return read[key] if key in read else read.setdefault(key, whole(*files))

    whole = words.read_lexicon
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(words, "read_lexicon", read_once)
        yield
