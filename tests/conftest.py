"""Real small objects for the tests: a shop in a temporary folder, the command line, the shipped entries."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from helpers.clocks import Clock
from helpers.donating import floor_in
from helpers.gated import gated_bench
from helpers.humming import NOON, hums
from helpers.long import LONG
from helpers.misdated import NOW, fortnightly
from helpers.places import CORPUS
from helpers.ready_made import compiled_once, copied_indexes
from helpers.shops import quick_folder, shop_of
from hypothesis import settings

from kb.bench.front import Bench
from kb.demo.jobs import SEED
from kb.library.shelf import Shelf, stock_folder
from kb.model import Entry
from webui.tongue import SOURCE, speak, tongue_of

#: A busy machine is no failure, and a gate gives the same answer twice; fewer examples of a law where many runs ask it.
EXAMPLES = int(os.environ.get("BENCHLORE_EXAMPLES", "100"))
settings.register_profile(
    "gate", deadline=None, derandomize=True, max_examples=EXAMPLES
)
settings.load_profile("gate")


#: Folders whose tests play piles, work pages and commands through, start browsers and servers, or kill them.
SLOW = (
    "browser",
    "cli",
    "pile",
    "quality",
    "reliability",
    "second_trade",
    "security",
    "web",
)
#: Files that take five seconds of processor time and more; single tests of half a second are marked where they stand.
SLOW_FILES = (
    "bench/test_checkout.py",
    "demo/test_habits.py",
    "diagnosis/test_lookahead.py",
    "index/test_refresh.py",
    "library/test_gated_sheets.py",
    "machines/cost/test_bids.py",
    "machines/fits/test_fitting.py",
    "review/test_reach.py",
    "test_package.py",
    "test_promise.py",
    "test_readme.py",
    "test_recipes.py",
)


def pytest_configure(config: pytest.Config) -> None:
    """Let tests that somebody waits for work in memory, if there is such a place: half of their time a disk flushes."""
    asked = os.environ.get("BENCHLORE_TESTS_IN_MEMORY") and "TMPDIR" not in os.environ
    if asked and os.path.isdir("/dev/shm"):
        folder = os.environ["TMPDIR"] = tempfile.mkdtemp(dir="/dev/shm")
        tempfile.tempdir = folder
        config.add_cleanup(lambda: shutil.rmtree(folder, ignore_errors=True))


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what takes minutes, and let the long versions (BENCHLORE_LONG=1) run for as long as they need."""
    for item in items:
        if any(
            part in SLOW for part in item.path.parts
        ) or item.path.as_posix().endswith(SLOW_FILES):
            item.add_marker(pytest.mark.slow)
        if LONG:
            item.add_marker(pytest.mark.timeout(0))


@pytest.fixture(scope="session", autouse=True)
def indexes(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """New shops over known entries begin with a copied index, except in tests of files and of the index."""
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        folder = folder.parent  # that of all processes
    with copied_indexes(folder / "ready-made"):
        yield


@pytest.fixture(scope="session", autouse=True)
def templates() -> Iterator[None]:
    """A template that an application of the tests has compiled is not compiled again by the next one."""
    with compiled_once():
        yield


@pytest.fixture(autouse=True)
def english_afterwards() -> Iterator[None]:
    """The language in which a test has asked for a page is not that of whatever is tested next."""
    yield
    speak(tongue_of(SOURCE))


@pytest.fixture
def bench(request: pytest.FixtureRequest) -> Bench:
    """The shop whose fixture the file is marked with, else a fresh one over the small hand-countable corpus."""
    return shop_of(request, "small")


@pytest.fixture
def small(tmp_path: Path) -> Iterator[Bench]:
    """A fresh shop over the small corpus."""
    made = Bench(tmp_path / "shop", stock=CORPUS)
    yield made
    made.close()


@pytest.fixture
def in_memory() -> Iterator[Bench]:
    """A fresh shop over the small corpus, in memory where there is such a place."""
    with quick_folder() as folder:
        made = Bench(folder / "shop", stock=CORPUS)
        yield made
        made.close()


@pytest.fixture
def stocked_folder(stock_bench: Bench, tmp_path: Path) -> Path:
    """The folder of a new shop over the shipped entries without a job, with an index that is built already."""
    stock_bench.asking.models()
    return Path(shutil.copytree(stock_bench.folder, tmp_path / "shop"))


@pytest.fixture
def stocked(stocked_folder: Path) -> Iterator[Bench]:
    """A shop of its own over the shipped entries."""
    made = Bench(stocked_folder)
    yield made
    made.close()


@pytest.fixture
def clock() -> Clock:
    """The clock of the shops below, set by hand."""
    return Clock()


@pytest.fixture
def humming(tmp_path: Path, clock: Clock) -> Iterator[Bench]:
    """A shop over the small corpus and one sheet whose tests need tools, at noon."""
    clock.now = NOON
    with hums(tmp_path / "shop", clock) as made:
        yield made


@pytest.fixture
def over_three_years(clock: Clock) -> Iterator[Bench]:
    """A shop that fitted a battery every fortnight for three years."""
    clock.now = NOW
    with fortnightly(clock) as made:
        yield made


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """The demo's shop; for reading only."""
    from webui.serving_commands import fill_with_invented_jobs

    made = Bench(tmp_path_factory.mktemp("demo"))
    fill_with_invented_jobs(made, SEED)
    yield made
    made.close()


@pytest.fixture
def gated(tmp_path: Path) -> Iterator[Bench]:
    """A fresh shop over the same corpus and two more sheets, the tests of one of which wait for each other."""
    made = gated_bench(tmp_path)
    yield made
    made.close()


@pytest.fixture
def floor(tmp_path: Path) -> Iterator[Bench]:
    """A fresh shop with donors and a wanted part on its floor."""
    made = floor_in(tmp_path / "shop")
    yield made
    made.close()


@pytest.fixture(scope="session")
def library() -> tuple[Entry, ...]:
    """Every shipped entry."""
    return tuple(
        sheet.entry for sheet in Shelf(stock_folder(), None).sheets() if sheet.entry
    )


@pytest.fixture(scope="session")
def stock_bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """A shop without history over the shipped entries; for reading only."""
    made = Bench(tmp_path_factory.mktemp("stock"))
    yield made
    made.close()


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """The command line in a shop of its own; fails loudly unless another exit status is expected."""
    from webui.commands import main

    monkeypatch.setenv("BENCHLORE_SHOP", str(tmp_path / "shop"))
    monkeypatch.chdir(tmp_path)

    def invoke(
        *arguments: str, status: int = 0, given: str | bytes | None = None
    ) -> Result:
        result = CliRunner().invoke(main, arguments, input=given, prog_name="benchlore")
        shown = f"{result.stdout}\n{result.stderr}\n{result.exception!r}"
        assert result.exit_code == status, shown
        assert result.exception is None or isinstance(result.exception, SystemExit), (
            shown
        )
        return result

    return invoke
