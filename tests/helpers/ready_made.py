"""Ready-made indexes and templates: what new shops and applications over known entries begin with was made once.

What an index holds before a shop's first job depends on the entries and the words alone. The tests of the index itself
and those that break files make their own. What Jinja makes of a template depends on its text alone.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import CodeType

import pytest
from filelock import FileLock
from jinja2 import Environment

from helpers.places import CORPUS
from kb.bench.front import Bench
from kb.index.connections import OpenFiles
from kb.index.index import Index
from kb.library.shelf import stock_folder

#: Folders whose tests are about the making of an index, or about what becomes of a shop's files.
MAKE_THEIR_OWN = ("tests/index/", "tests/reliability/")


@contextmanager
def copied_indexes(folder: Path) -> Iterator[None]:
    """While it lasts, new shops over the shipped entries and the small corpus get a copy of an index made in there."""
    made = {
        stock_folder(): folder / "shipped" / "index.db",
        CORPUS: folder / "small" / "index.db",
    }
    opened = OpenFiles.index

    def index(files: OpenFiles) -> Index:
        own, ready = (
            files.shop / "index.db",
            made.get(files._shelf.stock or CORPUS.parent),
        )
        if (
            ready is not None
            and own not in made.values()
            and not own.exists()
            and not _makes_its_own()
        ):
            _make_once(ready, files._shelf.stock)
            own.parent.mkdir(parents=True, exist_ok=True)
            shutil.copy(ready, own)
        return opened(files)

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(OpenFiles, "index", index)
        yield


@contextmanager
def compiled_once() -> Iterator[None]:
    """While it lasts, a template that one application compiled is not compiled again by the next."""
    compiled: dict[tuple[str | None, ...], CodeType] = {}
    compiling = Environment.compile

    def compile(
        environment: Environment,
        source: str,
        name: str | None = None,
        filename: str | None = None,
    ) -> CodeType:
        key = (source, name, filename)
        if key not in compiled:
            compiled[key] = compiling(environment, source, name, filename)
        return compiled[key]

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(Environment, "compile", compile)
        yield


def _makes_its_own() -> bool:
    """Whether the test that runs now is one of those that make an index themselves."""
    return os.environ.get("PYTEST_CURRENT_TEST", "").startswith(MAKE_THEIR_OWN)


def _make_once(ready: Path, stock: Path | None) -> None:
    """Make that index unless it is there: the process that comes first makes it, and the others wait for it."""
    ready.parent.mkdir(parents=True, exist_ok=True)
    with FileLock(ready.parent / "being-made"):
        if not ready.exists():
            _make(ready.parent, stock)


def _make(shop: Path, stock: Path | None) -> None:
    """An index of those entries, as a shop without a job has it."""
    bench = Bench(shop, stock)
    bench.asking.models()
    bench.close()
