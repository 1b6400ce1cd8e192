"""What the index notes of how much models have in common: learned at steps, the same whichever way jobs came in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.base import pooling
from kb.base.pooling import Pooling, from_json, told
from kb.bench.front import Bench
from kb.index import taught
from kb.index.taught import step_before, told_elsewhere
from kb.model import Confirmation

PACK, PLUG, RIBBON = "no-battery/pack", "no-battery/plug", "keys-dead/ribbon"
#: Twelve jobs: the pack is a habit of one model, the plug of another, the third has both.
JOBS = [
    (PACK, "Tern 13"),
    (PLUG, "Skua 14"),
    (PACK, "Rail 15"),
    (PLUG, "Rail 15"),
    (RIBBON, "Tern 13"),
] * 3


@pytest.fixture(autouse=True)
def _early(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pooling, "FEWEST_GROUPS", 3)
    monkeypatch.setattr(taught, "FIRST_STEP", 4)


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Bench]:
    made = Bench(tmp_path / "shop", stock=CORPUS)
    yield made
    made.close()


def confirm(shop: Bench, jobs: list[tuple[str, str]] = JOBS) -> list[str]:
    return [shop.jobs.confirm(Confirmation(cause, model)).job for cause, model in jobs]


def noted(shop: Bench) -> str:
    """What the index holds of it after a search."""
    shop.asking.look("batt missing")
    with sqlite3.connect(shop.folder / "index.db") as index:
        return str(dict(index.execute("SELECT key, value FROM about"))[taught.POOLING])


def made_anew(shop: Bench) -> str:
    """The same of an index that is made anew."""
    shop.close()
    (shop.folder / "index.db").unlink()
    again = Bench(shop.folder, stock=CORPUS)
    found = noted(again)
    again.close()
    return found


def test_it_is_learned_when_the_history_has_grown_by_a_quarter(shop: Bench) -> None:
    seen = []
    for job in JOBS:
        confirm(shop, [job])
        seen.append(noted(shop))

    assert seen[:6] == [""] * 6  # no three models have two jobs of a sheet
    changes = [
        number + 1 for number in range(1, len(JOBS)) if seen[number] != seen[number - 1]
    ]
    assert changes == [
        number for number in range(7, 16) if step_before(number) == number
    ]
    assert made_anew(shop) == seen[-1]


def test_jobs_put_away_teach_nothing_more(shop: Bench) -> None:
    first, *_ = confirm(shop)
    before = noted(shop)

    shop.jobs.retract(first, "a typing error")

    assert noted(shop) != before
    assert made_anew(shop) == noted(shop)


def test_models_that_are_one_teach_as_one(shop: Bench) -> None:
    confirm(shop)
    before = noted(shop)

    shop.models.merge("Rail 15", "Tern 13")

    assert noted(shop) != before
    assert made_anew(shop) == noted(shop)


def test_other_weights_on_a_sheet_teach_anew(shop: Bench) -> None:
    confirm(shop)
    before = noted(shop)
    sheet = (CORPUS / "no-battery.md").read_text("utf-8")
    assert "(often)" in sheet

    (shop.folder / "entries").mkdir(exist_ok=True)
    (shop.folder / "entries" / "no-battery.md").write_text(
        sheet.replace("(often)", "(rare)"), "utf-8"
    )

    assert noted(shop) != before
    assert made_anew(shop) == noted(shop)


def test_a_habit_is_believed_sooner_where_the_history_has_taught_that_there_are_some(
    shop: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    confirm(shop, JOBS * 3)

    def share() -> float:
        (found,) = (
            one
            for one in shop.asking.look("batt missing", "Tern 13").answer.entries
            if one.entry == "no-battery"
        )
        (pack,) = (one for one in found.causes if one.cause == PACK)
        assert pack.low < pack.within < pack.high
        return pack.within

    learned = share()
    monkeypatch.setattr(pooling, "FEWEST_GROUPS", 10_000)
    made_anew(shop)
    shop = Bench(shop.folder, stock=CORPUS)

    assert share() < learned - 0.03
    shop.close()


def test_what_other_models_tell_leaves_the_one_asked_about_out() -> None:
    models = {
        "tern 13": {"pack": 9},
        "skua 14": {"pack": 2, "plug": 1},
        "rail 15": {"pack": 1},
    }

    assert told_elsewhere(models, "tern 13") == {
        "pack": told(2) + told(1),
        "plug": told(1),
    }
    assert told_elsewhere(models, "") == {
        "pack": told(9) + told(2) + told(1),
        "plug": told(1),
    }


def test_it_is_read_as_it_was_noted(shop: Bench) -> None:
    confirm(shop)

    assert isinstance(from_json(noted(shop)), Pooling)


def test_what_the_others_tell_is_summed_once_for_all_models_of_a_sheet(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With 300 models it is asked a few times a model, not 300 times."""
    models = {
        f"model {number}": {"pack": number % 3 + 1, "plug": number % 2}
        for number in range(300)
    }
    asked = 0

    def counted(jobs: int) -> float:
        nonlocal asked
        asked += 1
        return told(jobs)

    monkeypatch.setattr(pooling, "told", counted)
    groups = list(taught.groups_of(models, {"pack": 3.0, "plug": 1.0}))

    assert asked <= 4 * len(models)
    for model, group in zip(sorted(models), groups, strict=True):
        assert group.elsewhere == pytest.approx(told_elsewhere(models, model))
