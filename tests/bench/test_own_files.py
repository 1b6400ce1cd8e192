"""What in a shop's words and settings cannot be read, or does nothing, is named by line; wishes are no errors."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import Result
from helpers.trade_words import english_words, foreign_words

from kb.bench import own_files
from kb.bench.settings import Settings, SettingsFile

Run = Callable[..., Result]


@pytest.mark.parametrize("path", [*english_words(), *foreign_words()])
def test_the_words_that_ship_have_nothing_to_mend(path: Path) -> None:
    assert own_files.of_words(path, ()) == []


@pytest.mark.parametrize(
    ("text", "line", "told", "wish"),
    [
        ('[same]\ncharger = ["juicer"\n', 2, "this cannot be read", False),
        (
            '[same]\n\ncharger = "juicer"\n',
            3,
            "`charger` is not a list; write it in brackets",
            False,
        ),
        (
            '[smae]\ncharger = ["juicer"]\n',
            1,
            "no table is called [smae]; write same",
            False,
        ),
        (
            '[same]\nchargr = ["juicer"]\n',
            2,
            "the nearest that it uses is `charger`; write charger = [...]",
            True,
        ),
        ('[short]\nwifi = ["wireless"]\n', 2, "`wifi` is not one text", False),
    ],
)
def test_words_that_do_nothing_are_named(
    tmp_path: Path, text: str, line: int, told: str, wish: bool
) -> None:
    (tmp_path / "words.toml").write_text(text, encoding="utf-8")
    (remark,) = own_files.of_words(tmp_path / "words.toml", english_words())

    assert told in str(remark)
    assert (remark.line, remark.wish) == (line, wish)


def test_good_words_and_a_shop_without_any_are_passed(tmp_path: Path) -> None:
    assert own_files.of_words(tmp_path / "words.toml", english_words()) == []
    (tmp_path / "words.toml").write_text(
        '[same]\ncharger = ["juicer"]\nquux = ["foo"]\n', encoding="utf-8"
    )

    assert own_files.of_words(tmp_path / "words.toml", english_words()) == []
    assert own_files.of_settings(tmp_path / "shop.toml", Settings()) == []


def test_settings_that_nothing_reads_are_named(tmp_path: Path) -> None:
    path = tmp_path / "shop.toml"
    path.write_text('zone = "Europe/Oslo"\nlack = ["multimeter"]\n', encoding="utf-8")
    told = own_files.of_settings(path, SettingsFile(tmp_path).now())

    assert [str(remark) for remark in told] == [
        "shop.toml:2: nothing reads `lack`; write lacks"
    ]


@pytest.mark.slow
def test_check_reads_both_marks_wishes_and_ends_well_on_wishes_alone(
    run: Run, tmp_path: Path
) -> None:
    shop = tmp_path / "shop"
    shop.mkdir()
    (shop / "words.toml").write_text('[same]\nchargr = ["juicer"]\n', encoding="utf-8")
    wishes = run("check")

    assert wishes.stdout.startswith(
        "wish: words.toml:2: the search itself uses no word `chargr`"
    )
    assert "nothing to mend" in wishes.stderr
    assert [one["wish"] for one in json.loads(run("check", "--json").stdout)] == [True]
    (shop / "shop.toml").write_text("lack = []\n", encoding="utf-8")
    assert "shop.toml:1: nothing reads `lack`" in run("check", status=1).stdout
    assert "nothing reads" in run("check", str(shop / "shop.toml"), status=1).stdout


def test_why_so_many_wordings_is_said(run: Run, tmp_path: Path) -> None:
    run("new", "hinge creaks when opened")
    own = tmp_path / "shop" / "entries" / "hinge-creaks-when-opened.md"

    assert (
        "write 24 or more: with 3, other people's words find a sheet in 33 of 100"
        in run("check", str(own)).stdout
    )
