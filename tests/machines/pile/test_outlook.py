"""The outlook of a pile: who is next, and who wants whose parts."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.piles import doubted

from kb.machines.pile import Piece, Pile, Remedy, Waiting
from kb.machines.pile.outlook import outlooks


def test_outlooks_say_who_is_next_and_who_wants_whose_parts() -> None:
    fan = Remedy(cause="fan stuck", belief=1.0, minutes=20, part="fan")
    waits = Waiting(tag="P7-03", look=0, remedies=(fan,))
    hinge = Waiting(
        tag="P7-18", look=0, remedies=(replace(fan, cause="hinge", part="hinge"),)
    )
    dead = Waiting(
        tag="P7-20", look=0, pieces=(Piece(part="fan", sound=0.9), Piece(part="radio"))
    )
    unseen = Waiting(
        tag="P7-12",
        look=14,
        remedies=(Remedy(cause="setting", belief=0.8, minutes=10),),
    )

    found = {
        one.tag: one
        for one in outlooks(Pile(waiting=(waits, hinge, dead, unseen), minutes=90))
    }

    assert [found[tag].turn for tag in ("P7-03", "P7-18", "P7-20", "P7-12")].count(
        "next"
    ) == 1
    assert found["P7-18"].turn == "part"
    assert found["P7-20"].frees == ("P7-03",)
    assert found["P7-20"].wanted_by == {"fan": ("P7-03",)}
    assert found["P7-12"].chance == pytest.approx(0.8)
    assert found["P7-12"].minutes == pytest.approx(22.0)
    assert found["P7-03"].chance == pytest.approx(0.9)


def test_a_machine_that_waits_for_a_doubtful_part_is_told_with_its_doubt() -> None:
    (told,) = outlooks(
        Pile(waiting=(doubted(),), minutes=90, cents=1400, prices={"fan": 1400})
    )
    (waits,) = outlooks(Pile(waiting=(doubted(),), minutes=90))

    assert (told.turn, told.chance, told.minutes) == ("next", 0.7, 20)
    assert (waits.turn, waits.chance) == ("part", 0.0)
