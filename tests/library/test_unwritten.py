"""A sheet that still says anywhere what an empty one says never ranks and gives no step, and is told as to mend."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from kb.bench.front import Bench
from kb.cli.main import main
from kb.library import editing
from kb.library.customs import shipped_customs

WORDS, SLUG = "lid feels sleepy in the morning", "lid-feels-sleepy"
WHOLE = (
    ("what may be wrong", "the magnet sits askew"),
    ("what else may be wrong", "the sensor is dirty"),
    ("What to do (", "Hold a magnet to the rim ("),
    ("(10 min): what to do", "(10 min): seat the magnet"),
    ("mainboard): what to do", "mainboard): clean the sensor"),
)


@pytest.fixture
def bench(stock_bench: Bench, tmp_path: Path) -> Bench:
    stock_bench.asking.models()
    return Bench(Path(shutil.copytree(stock_bench.folder, tmp_path / "shop")))


def written(count: int) -> str:
    """The sheet for the words with so many of its lines written."""
    text = editing.first_sheet(shipped_customs().empty_sheet(), WORDS, "", [], "")
    for sample, own in WHOLE[:count]:
        assert sample in text
        text = text.replace(sample, own, 1)
    return text


@pytest.mark.parametrize("count", range(len(WHOLE)))
def test_an_untouched_or_half_filled_sheet_neither_ranks_nor_gives_a_step(
    bench: Bench, count: int
) -> None:
    bench.entries.save(SLUG, written(count), "")

    for words in (WORDS, "sleepy"):
        answer = bench.asking.search(words)
        assert SLUG not in [one.entry for one in answer.entries]
        assert answer.next_step is None or answer.next_step.entry != SLUG
    assert bench.entries.entry(SLUG) is None
    assert len(editing.check(written(count), SLUG).problems) == len(WHOLE) - count


def test_a_sheet_with_every_line_written_ranks(bench: Bench) -> None:
    bench.entries.save(SLUG, written(len(WHOLE)), "")

    assert bench.asking.search(WORDS).entries[0].entry == SLUG


@pytest.mark.slow
def test_the_check_at_the_terminal_counts_it_as_to_mend(bench: Bench) -> None:
    bench.entries.save(SLUG, written(0), "")

    result = CliRunner().invoke(main, ["check", "--shop", str(bench.folder)])

    assert result.exit_code == 1
    assert result.output.count("is what an empty sheet says") == len(WHOLE)
