"""Telling people of fits and piles: evidence before the figure, and one sentence a machine."""

from __future__ import annotations

import pytest

from kb.machines.fits import PartTry, fitting
from kb.machines.telling import fit_told, in_ten


def tried(giver: str, receiver: str, shown: str, **told: str) -> PartTry:
    return PartTry(giver=giver, receiver=receiver, shown=shown, at="2026-01-01T00:00:00Z", **told)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("tries", "told"),
    [
        ([], "nobody tried, fits 2 in 10"),
        ([tried("Tern 13", "Skua 14", "worked")], "fits"),
        ([tried("Tern 13", "Skua 14", "failed", reason="ribbon too short")], "did not fit: ribbon too short"),
        ([tried("Tern 13", "Skua 14", "claimed", source="a seller")], "claimed by a seller, 2 in 10"),
        (
            [tried("Tern 13", "Auk 15", "worked"), tried("Auk 15", "Skua 14", "worked")],
            "may fit, 2 in 10 (by Tern 13 - Auk 15 - Skua 14)",
        ),
    ],
)
def test_a_fit_is_told_by_its_evidence(tries: list[PartTry], told: str) -> None:
    assert fit_told(fitting(tries, "Tern 13", "Skua 14"), 0.2) == told


def test_the_same_model_needs_no_try() -> None:
    assert fit_told(fitting([], "Tern 13", "Tern 13"), 0.9) == "fits: the same model"


@pytest.mark.parametrize(("chance", "told"), [(0.0, "hardly ever"), (0.06, "1 in 10"), (1.0, "10 in 10")])
def test_chances_are_told_in_ten(chance: float, told: str) -> None:
    assert in_ten(chance) == told
