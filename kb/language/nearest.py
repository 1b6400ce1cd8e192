"""The nearest of known names to a mistyped one: "did you mean"."""

from __future__ import annotations

from collections.abc import Collection

from rapidfuzz import fuzz, process


def nearest(name: str, names: Collection[str]) -> str:
    """The name most like a mistyped one, whatever the case, or empty.

    >>> nearest("Multimetre", ["multimeter", "scale"]), nearest("zzz", ["multimeter", "scale"])
    ('multimeter', '')
    """
    found = process.extractOne(name, names, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=70)
    return str(found[0]) if found else ""
