"""The shop under all desks: what its files say now, and one clock for all."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

from helpers.places import CORPUS

from kb.bench.shop import Shop
from kb.diagnosis.counts import ALIKE
from kb.history.trouble import HistoryLost


def made(tmp_path: Path, year: int = 2026) -> Shop:
    return Shop(
        tmp_path / "shop", CORPUS, clock=lambda: datetime(year, 6, 30, 12, tzinfo=UTC)
    )


def test_a_half_life_written_by_hand_counts_from_the_next_question(
    tmp_path: Path,
) -> None:
    shop = made(tmp_path)
    assert shop.ageing == ALIKE

    shop.folder.mkdir()
    (shop.folder / "shop.toml").write_text("half_life_days = 365\n")

    assert (shop.ageing.half_life_days, shop.ageing.today) == (365, date(2026, 6, 30))


def test_an_answer_is_given_while_the_history_cannot_be_used(tmp_path: Path) -> None:
    shop = made(tmp_path)
    assert shop.if_usable(lambda history: history.tip().count, -1) in (0, -1)

    def lost(_: object) -> int:
        raise HistoryLost("gone")

    shop.history()
    assert shop.if_usable(lost, -1) == -1
    shop.files.close()


def test_a_clock_of_another_century_is_doubted(tmp_path: Path) -> None:
    assert made(tmp_path, year=1999).clock_doubt()
    assert not made(tmp_path).clock_doubt()
