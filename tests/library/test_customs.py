"""The house files of a library by their one reader: the shop's own first, and nothing of another trade."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers.marked import MARKED, house_of

from kb.library.customs import (
    ACTS,
    CHECKOUT,
    Customs,
    is_library,
    shipped_customs,
    stock_folder,
)
from kb.library.shelf import Shelf


def written(folder: Path, name: str, text: str) -> Path:
    file = folder / "house" / name
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    return folder


def test_a_library_has_nothing_of_another_trade(tmp_path: Path) -> None:
    customs = Customs(written(tmp_path, "trade.toml", 'areas = ["wheels"]'), None)

    assert customs.trade().areas == ("wheels",)
    assert customs.acts().by_name == {}
    assert customs.check_list().lines == ()
    assert customs.cautions().deeds == ()
    assert customs.remarks() == []


def test_a_folder_of_sheets_alone_is_of_the_trade_that_ships(tmp_path: Path) -> None:
    assert Customs(tmp_path, None).trade() == shipped_customs().trade()
    assert not is_library(tmp_path)
    assert is_library(stock_folder())


def test_a_file_of_the_shop_wins_and_is_read_again_when_it_changes(
    tmp_path: Path,
) -> None:
    own = written(tmp_path, ACTS, "- **look** (2 min; 9 in 10): look. Common practice.")
    customs = Customs(None, own)
    before = customs.stamp(ACTS)
    assert list(customs.acts().by_name) == ["look"]
    written(
        tmp_path, ACTS, "- **look closely** (2 min; 9 in 10): look. Common practice."
    )

    assert list(customs.acts().by_name) == ["look closely"]
    assert customs.stamp(ACTS) != before
    assert customs.check_list() == shipped_customs().check_list()


def test_a_check_out_list_that_cannot_be_read_is_told_and_never_taken_for_an_empty_one(
    tmp_path: Path,
) -> None:
    (written(tmp_path, "trade.toml", "") / "house" / CHECKOUT).mkdir()

    with pytest.raises(OSError, match="directory"):
        Customs(tmp_path, None).check_list()


def test_a_shop_has_its_own_minutes_for_a_standard_act(tmp_path: Path) -> None:
    own = tmp_path / "entries"
    (own / "house").mkdir(parents=True)
    (own / "no-light.md").write_text(MARKED)
    shelf = Shelf(None, own)
    before = shelf.stamps()

    acts = "- **drain the standby power** (9 min; 1 in 2): slowly.\n- **board swap** (50 min): quickly."
    (own / "house" / "acts.md").write_text(acts)

    sheet = shelf.sheet("no-light")
    assert sheet is not None
    assert sheet.entry is not None
    assert (sheet.entry.tests[0].minutes, sheet.entry.tests[0].reliability) == (9, 0.5)
    assert shelf.stamps() != before


def test_what_is_wrong_in_the_house_files_is_named_by_file_and_line(
    tmp_path: Path,
) -> None:
    house = house_of(
        tmp_path,
        acts="# Acts\n- **look** (2 mins): look\n- **feel** (2 min; 3 in 2): feel\n- **ask** (9 in 10): ask\n- listen",
        cautions="- Strap on.\n## Cover off\nand more\n## Solvents\n- said: alcohol\n## Cover off\n- Strap on.",
    )

    assert [
        f"{remark.file}:{remark.line}: {remark.problem}" for remark in house.remarks()
    ] == [
        "house/acts.md:2: `2 mins` is not understood",
        "house/acts.md:3: `3 in 2` is not understood",
        "house/acts.md:4: no minutes are given",
        "house/acts.md:5: this line is not understood",
        "house/cautions.md:1: this line stands under no deed",
        "house/cautions.md:2: `cover off` has no caution",
        "house/cautions.md:3: this is not part of a list",
        "house/cautions.md:4: `solvents` has no caution",
        "house/cautions.md:6: `cover off` stands twice",
    ]


def test_the_shipped_house_has_nothing_to_mend() -> None:
    house = Customs(stock_folder(), None)

    assert house.remarks() == []
    assert len(house.acts().by_name) >= 25
    assert {
        "cover off",
        "live measuring",
        "loading setup defaults",
        "board swap",
    } <= house.cautions().names


def test_work_that_asks_often_looks_at_a_house_file_once_and_goes_by_what_it_held(
    tmp_path: Path,
) -> None:
    line = "- **{}** (2 min; often; part keyboard; sits 2): press every key once\n"
    one, other = line.format("every-key"), line.format("every-other-key")
    customs = Customs(None, written(tmp_path, CHECKOUT, one))
    with customs.held():
        before = customs.check_list()
        written(tmp_path, CHECKOUT, one + other)
        assert customs.check_list() is before

    assert (len(before.lines), len(customs.check_list().lines)) == (1, 2)
