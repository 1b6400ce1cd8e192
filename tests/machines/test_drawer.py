"""The drawer: what was laid in, and what jobs have used since."""

from __future__ import annotations

from kb.machines.drawer import (
    DrawerPiece,
    PieceFetched,
    PieceFitted,
    left_in_drawer,
    of_models,
)


def piece(origin: str, model: str, at: str, count: int = 1) -> DrawerPiece:
    return DrawerPiece(
        record=origin,
        part="fan",
        model=model,
        origin=origin,
        at=at,
        count=count,
        is_bought=True,
    )


def left(
    pieces: list[DrawerPiece],
    *fitted: PieceFitted,
    fetched: tuple[PieceFetched, ...] = (),
) -> dict[str, int]:
    return {one.origin: one.count for one in left_in_drawer(pieces, fitted, fetched)}


def test_a_job_uses_a_piece_of_its_own_model_and_of_these_the_oldest() -> None:
    pieces = [
        piece("B3", "Tern 13", "2026-03-03"),
        piece("B1", "Skua 14", "2026-03-01"),
        piece("B2", "Tern 13", "2026-03-02", 2),
    ]

    assert left(pieces, PieceFitted("fan", "p1", "Tern 13", "2026-03-09")) == {
        "B1": 1,
        "B2": 1,
        "B3": 1,
    }
    assert left(pieces, PieceFitted("fan", "p1", "Auk 15", "2026-03-09")) == {
        "B2": 2,
        "B3": 1,
    }


def test_a_job_closed_before_a_piece_came_or_with_another_part_used_none_of_it() -> (
    None
):
    pieces = [piece("B1", "Tern 13", "2026-03-05")]

    assert left(pieces, PieceFitted("fan", "p1", "Tern 13", "2026-03-04")) == {"B1": 1}
    assert left(pieces, PieceFitted("panel", "p1", "Tern 13", "2026-03-09")) == {
        "B1": 1
    }


def test_what_came_for_a_machine_spares_the_drawer_once() -> None:
    pieces, job = (
        [piece("B1", "Tern 13", "2026-03-01", 2)],
        PieceFitted("fan", "p1", "Tern 13", "2026-03-09"),
    )
    came = (PieceFetched("fan", "p1"),)

    assert left(pieces, job, fetched=came) == {"B1": 2}
    assert left(pieces, job, job, fetched=came) == {"B1": 1}
    assert left(pieces, job, job, job) == {}


def test_a_piece_from_a_donor_is_of_the_donors_model_and_a_bought_one_of_its_own() -> (
    None
):
    loose = DrawerPiece(record="r", part="fan", origin="P7-20", at="2026-03-01")

    found = of_models(
        [loose, piece("P7-20", "Skua 14", "2026-03-01")], {"p7-20": "Tern 13"}
    )

    assert [one.model for one in found] == ["Tern 13", "Skua 14"]
