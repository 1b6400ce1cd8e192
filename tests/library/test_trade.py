"""The trade of a library as its file tells of it."""

from __future__ import annotations

import pytest

from kb.library import trade
from kb.library.customs import shipped_customs
from kb.library.shelf import stock_folder
from kb.library.trade import Trade, own_names
from kb.model import Entry


def test_the_trade_that_ships_has_nothing_to_mend_and_all_its_areas_are_used(
    library: tuple[Entry, ...],
) -> None:
    shipped = shipped_customs().trade()

    assert shipped.remarks == ()
    assert {entry.area for entry in library} == set(shipped.areas)
    assert shipped.measuring <= shipped.tools
    assert (stock_folder() / "house" / trade.FILE).is_file()


@pytest.mark.parametrize(
    ("text", "line", "problem"),
    [
        ('parts = "rim"', 1, "`parts` is no list of names"),
        ("areas = [\n", 1, "this cannot be read"),
        ("\nstates = 3", 2, "`states` is no table"),
        ('[asks]\nroll = ["rolls"]', 2, "there is no state `rolls`"),
        ('[implied]\npump = "roll"', 2, "nothing is called `roll` under [asks]"),
        ('[reads]\nwear = "one"', 2, "`wear` under [reads] is not in its form"),
        ('\nwheels = ["rim"]', 2, "nothing reads `wheels`"),
    ],
)
def test_what_is_wrong_is_named_by_line(text: str, line: int, problem: str) -> None:
    found = [
        remark for remark in trade.parse(text).remarks if problem in remark.problem
    ]

    assert len(found) == 1, trade.parse(text).remarks
    assert (
        found[0].line >= line if "cannot be read" in problem else found[0].line == line
    )


def test_any_area_will_do_where_none_is_listed() -> None:
    assert trade.parse("").areas == ()
    assert trade.parse("").remarks == ()


def test_own_names_that_the_trade_has_or_nearly_has_are_wishes_by_line() -> None:
    trade = Trade(parts=frozenset({"battery", "panel"}), tools=frozenset({"torch"}))

    read = own_names(
        'parts = [\n  "drive sled",\n  "batery",\n  "Panel",\n]\ntools = ["heat gun"]\n',
        trade,
    )

    assert sorted(read.names) == ["Panel", "batery", "drive sled", "heat gun"]
    assert [(one.line, one.wish, one.problem) for one in read.remarks] == [
        (3, True, "`batery` is nearly `battery`, which any sheet may name"),
        (4, True, "`Panel` is known anyway, as `panel`"),
    ]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('parts = "drive sled"', "`parts` is no list of names"),
        ("parts = [", "this cannot be read"),
        ('states = {runs = "it runs"}', "nothing reads `states` here"),
        ('part = ["drive sled"]', "nothing reads `part`"),
    ],
)
def test_a_file_of_own_names_that_is_wrong_is_told_and_names_nothing(
    text: str, problem: str
) -> None:
    read = own_names(text, Trade())

    assert any(one.problem.startswith(problem) and not one.wish for one in read.remarks)
    assert read.names == frozenset()
