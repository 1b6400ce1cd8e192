"""Tools that entries ask for, counted by the tests and fixes that need them."""

from __future__ import annotations

from helpers.humming import HUMS

from kb.library.customs import shipped_customs
from kb.library.markdown import parse
from kb.library.tools import tools

TRADE = shipped_customs().trade()


def test_tools_are_counted_with_what_is_lacking_most_tests_first() -> None:
    entry = parse(HUMS, "hums").entry
    assert entry

    found = [
        (one.name, one.tests, one.fixes, one.lacking)
        for one in tools([entry, entry], {"scale", "stand"}, TRADE)
    ]

    assert found[0] == ("heat mat", 2, 0, False)
    assert ("soldering iron", 0, 2, False) in found
    assert ("scale", 2, 0, True) in found
    assert found[-1] == ("stand", 0, 0, True)


def test_a_name_without_its_one_spelling_is_left_to_the_check() -> None:
    entry = parse(HUMS.replace("needs multimeter", "needs multimetre"), "hums").entry
    assert entry

    assert not {"multimeter", "multimetre"} & {
        one.name for one in tools([entry], (), TRADE)
    }
