"""Telling people of fits and piles: evidence before the figure, and one sentence a machine."""

from __future__ import annotations

import pytest

from kb.machines.fits import PartTry, fitting
from kb.machines.pile import PileStep
from kb.machines.pile.outlook import Outlook
from kb.machines.telling import fit_told, in_ten, outlook_told


def tried(giver: str, receiver: str, shown: str, **told: str) -> PartTry:
    at = "2026-01-01T00:00:00Z"
    return PartTry(giver=giver, receiver=receiver, shown=shown, at=at, **told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("tries", "told"),
    [
        ([], "nobody tried, fits 2 in 10"),
        ([tried("Tern 13", "Skua 14", "worked")], "fits"),
        (
            [tried("Tern 13", "Skua 14", "failed", reason="ribbon too short")],
            "did not fit: ribbon too short",
        ),
        (
            [tried("Tern 13", "Skua 14", "claimed", source="a seller")],
            "claimed by a seller, 2 in 10",
        ),
        (
            [
                tried("Tern 13", "Auk 15", "worked"),
                tried("Auk 15", "Skua 14", "worked"),
            ],
            "may fit, 2 in 10 (by Tern 13 - Auk 15 - Skua 14)",
        ),
    ],
)
def test_a_fit_is_told_by_its_evidence(tries: list[PartTry], told: str) -> None:
    assert fit_told(fitting(tries, "Tern 13", "Skua 14"), 0.2) == told


def test_the_same_model_needs_no_try() -> None:
    assert fit_told(fitting([], "Tern 13", "Tern 13"), 0.9) == "fits: the same model"


@pytest.mark.parametrize(
    ("chance", "told"), [(0.0, "hardly ever"), (0.06, "1 in 10"), (1.0, "10 in 10")]
)
def test_chances_are_told_in_ten(chance: float, told: str) -> None:
    assert in_ten(chance) == told


def step(kind: str, **told: str) -> PileStep:
    return PileStep(kind=kind, tag="T-1", minutes=20.0, chance=0.8, **told)  # type: ignore[arg-type]


def outlook(
    turn: str, doing: PileStep | None = None, against_next: float = 1.0
) -> Outlook:
    given = {
        "tag": "T-1",
        "turn": turn,
        "chance": 0.8,
        "minutes": 20.0,
        "step": doing,
        "wanted_by": {},
    }
    given["against_next"] = against_next
    return Outlook(**given)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("doing", "told"),
    [
        (None, "go on with it"),
        (step("look"), "find the fault"),
        (step("fit", part="battery, Tern 13", donor="D-1"), "fit the battery of D-1"),
        (step("buy", part="fan"), "buy a fan and fit it"),
    ],
)
def test_the_next_machine_is_told_with_what_to_do(
    doing: PileStep | None, told: str
) -> None:
    said = outlook_told(
        outlook("next", doing), {"battery, Tern 13": ("battery", "Tern 13")}
    )

    assert said == f"T-1: 8 in 10, about 20 min: {told}"


def test_a_machine_for_later_says_what_a_minute_on_it_brings_beside_the_next_one() -> (
    None
):
    assert outlook_told(outlook("later", against_next=0.5), {}).endswith(
        ": later; a minute here brings 50% of what it brings on the next one"
    )
    assert outlook_told(outlook("later"), {}).endswith(": later")
