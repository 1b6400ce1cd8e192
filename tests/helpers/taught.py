"""Beliefs of a small shop that learns from its jobs."""

from __future__ import annotations

from collections.abc import Mapping

from kb.bench.front import Bench
from kb.model import Finding

WORDS, PLUG, PACK = (
    "shows no battery although one is fitted",
    "no-battery/plug",
    "no-battery/pack",
)
RESEAT = "no-battery/reseat-the-battery-plug"
APPEARS, UNCHANGED = Finding(RESEAT, "battery appears"), Finding(RESEAT, "no change")


def believed(
    bench: Bench, *findings: Finding, words: str = WORDS, model: str = ""
) -> dict[str, float]:
    """The belief in every cause of every entry in the answer."""
    answer = bench.asking.search(words, model, findings=findings, limit=9)
    return {
        cause.cause: cause.probability
        for entry in answer.entries
        for cause in entry.causes
    }


def odds(beliefs: Mapping[str, float], one: str, other: str) -> float:
    return beliefs[one] / beliefs[other]
