"""What records tell of parts: tries, parts that left donors, and what pieces cost and how long they took."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kb.history import History, kinds
from kb.machines.fits import PartTry
from kb.machines.parts_told import Donated, PartsTold, PricePaid, Purchase, parts_told
from kb.model import Confirmation


@pytest.fixture
def history(tmp_path: Path) -> Iterator[History]:
    """A history of which every record is a day later than the one before."""
    days = iter(range(1_000))
    with History.open(
        tmp_path / "history.db",
        lambda: datetime(2026, 1, 1, 12, tzinfo=UTC) + timedelta(days=next(days)),
    ) as opened:
        opened.note(kinds.UNIT_IN, "", {"tag": "D-1", "model": "Skua 14"})
        yield opened


def test_a_confirmation_with_a_donor_is_a_try_that_worked_and_a_part_that_is_gone(
    history: History,
) -> None:
    ended = Donated(
        part="keyboard",
        donor="d1",
        giver="Skua 14",
        receiver="Tern 13",
        at="2026-01-02T12:00:00Z",
    )

    told = parts_told(history.records_since(), [ended])

    (one,) = told.tries["keyboard"]
    assert (one.giver, one.receiver, one.shown) == ("Skua 14", "Tern 13", "worked")
    assert list(told.gone.values()) == [1]


def test_what_a_shop_tried_across_models_moves_what_is_said_of_two_that_nobody_tried(
    history: History,
) -> None:
    for number in range(12):
        shown = {
            "from_model": f"Alder {number}",
            "to_model": f"Birch {number}",
            "shown": "worked",
        }
        history.note(kinds.FIT, "", {"part": "charger", **shown})
    history.note(
        kinds.FIT,
        "",
        {
            "part": "panel",
            "from_model": "Alder 1",
            "to_model": "Birch 2",
            "shown": "worked",
        },
    )

    told = parts_told(history.records_since())

    assert told.strengths["charger"].alpha < 0.5
    untried = told.fitting("charger", "Alder 1", "Birch 2")
    assert untried.verdict == "unknown"
    assert untried.chance == pytest.approx(0.88, abs=0.03)
    assert told.chance("charger", "Alder 1", "Birch 2") > 0.8
    assert told.fitting("panel", "Skua 14", "Tern 13").chance == pytest.approx(0.25)


def test_a_retracted_confirmation_tells_nothing(history: History) -> None:
    closed = history.close_job(
        Confirmation("keys-dead/ribbon", "Tern 13", part="keyboard", donor="d-1")
    )
    history.retract(closed.job, "wrong machine")

    told = parts_told(history.records_since())

    assert (told.tries, told.gone) == ({}, {})


def test_a_piece_costs_its_share_and_takes_the_days_until_it_came(
    history: History,
) -> None:
    bought = {
        "purchase": "B1",
        "part": "battery",
        "model": "Tern 13",
        "count": 2,
        "cents": 5000,
    }
    history.note(kinds.PART_BOUGHT, "", bought)
    assert [one.purchase for one in parts_told(history.records_since()).on_the_way] == [
        "B1"
    ]
    history.note(kinds.PART_IN, "", {"purchase": "B1", "count": 2})

    told = parts_told(history.records_since())

    assert told.price("battery", "tern 13") == PricePaid(2500)
    assert (told.price("battery", "Auk 15"), told.price("fan")) == (
        PricePaid(2500, "Tern 13"),
        None,
    )
    assert told.days("battery") == 1
    assert told.on_the_way == ()


def test_a_price_is_that_of_the_model_or_of_none_before_that_of_another_and_never_of_a_misfit() -> (
    None
):
    def bought(model: str, cents: int) -> Purchase:
        return Purchase(
            purchase=model,
            part="panel",
            model=model,
            count=1,
            cents=cents,
            tag="",
            at="2026-03-02",
        )

    own, plain, other, misfit = (
        bought("Tern 13", 1),
        bought("", 2),
        bought("Auk 15", 3),
        bought("Skua 14", 4),
    )
    tries = {"panel": [PartTry(giver="TERN 13", receiver="Skua 14", shown="failed")]}

    def price(*purchases: Purchase) -> PricePaid | None:
        return PartsTold(tries=tries, purchases=purchases).price("panel", "Tern 13")

    assert price(own, plain, other, misfit) == PricePaid(1)
    assert price(plain, other, misfit) == PricePaid(2)
    assert price(other, misfit) == PricePaid(3, "Auk 15")
    assert price(misfit) is None
    assert PartsTold(purchases=(other, misfit)).price("panel", "Tern 13") == PricePaid(
        4, "Skua 14"
    )


def test_a_piece_on_the_way_is_first_for_the_model_that_it_was_bought_for() -> None:
    bought = Purchase(
        purchase="B1",
        part="battery",
        model="Skua 14",
        count=1,
        cents=0,
        tag="",
        at="2026-03-01",
    )
    tries = [
        PartTry(giver="Skua 14", receiver="Tern 13", shown="worked") for _ in range(2)
    ]
    told = PartsTold(tries={"battery": tries}, purchases=(bought,))

    assert told.coming("battery", {"Tern 13": 1, "Skua 14": 1}) == {
        "Tern 13": 0,
        "Skua 14": 1,
    }
    assert told.coming("battery", {"Tern 13": 1}) == {"Tern 13": 1}
