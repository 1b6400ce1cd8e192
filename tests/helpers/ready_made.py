"""A ready-made index: a new shop over the shipped entries begins with a copy of one that was made once.

What an index holds before a shop's first job depends on the entries and the words alone. The tests of the index itself
and those that break files make their own.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from kb.bench.front import Bench
from kb.index.connections import OpenFiles
from kb.index.index import Index
from kb.library.shelf import stock_folder

#: Folders whose tests are about the making of an index, or about what becomes of a shop's files.
MAKE_THEIR_OWN = ("tests/index/", "tests/reliability/")


@contextmanager
def copied_indexes(folder: Path) -> Iterator[None]:
    """While it lasts, new shops over the shipped entries get a copy of one index, which is made in that folder."""
    made = folder / "shop" / "index.db"
    opened = OpenFiles.index

    def index(files: OpenFiles) -> Index:
        own = files.shop / "index.db"
        if files._shelf.stock == stock_folder() and own != made and not own.exists() and not _makes_its_own():
            if not made.exists():
                _make(made.parent)
            own.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(made, own)
        return opened(files)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(OpenFiles, "index", index)
        yield


def _makes_its_own() -> bool:
    """Whether the test that runs now is one of those that make an index themselves."""
    return os.environ.get("PYTEST_CURRENT_TEST", "").startswith(MAKE_THEIR_OWN)


def _make(shop: Path) -> None:
    """An index of the shipped entries, as a shop without a job has it."""
    bench = Bench(shop)
    bench.asking.models()
    bench.close()
