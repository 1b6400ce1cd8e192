"""Cures that leave their part in doubt: said of those alone, with the figures that are the reason."""

from __future__ import annotations

from helpers.believing import pointing

from kb.diagnosis import cures
from kb.library.customs import shipped_customs
from kb.model import Entry


def test_every_cure_that_leaves_its_part_in_doubt_says_why_and_no_other_does(
    library: tuple[Entry, ...],
) -> None:
    parts = shipped_customs().trade().parts
    for entry in library:
        told = cures.doubts(entry, parts)
        weak = {
            (one.test.slug, one.outcome.text): sum(
                one.belief[cause] for cause in one.swapped
            )
            for one in pointing(entry)
            if one.swapped == set(one.outcome.points_to) != set()
        }
        assert set(told) == {
            place for place, share in weak.items() if share < cures.CURED
        }, entry.slug
        for place, sentence in told.items():
            assert f"leaves it at {weak[place]:.0%}" in str(sentence)


def test_on_machines_from_pallets_the_same_cure_may_say_more(
    library: tuple[Entry, ...],
) -> None:
    parts = shipped_customs().trade().parts
    differing = [
        entry.slug
        for entry in library
        if cures.doubts(entry, parts) != cures.doubts(entry, parts, True)
    ]

    assert differing
