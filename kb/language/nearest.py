"""The nearest of known names to a mistyped one: "did you mean"."""

from __future__ import annotations

from collections.abc import Collection, Mapping

from rapidfuzz import fuzz, process


def nearest(name: str, names: Collection[str]) -> str:
    """The name most like a mistyped one, whatever the case, or empty.

    >>> nearest("Multimetre", ["multimeter", "scale"]), nearest("zzz", ["multimeter", "scale"])
    ('multimeter', '')
    """
    found = process.extractOne(
        name, names, scorer=fuzz.ratio, processor=str.casefold, score_cutoff=70
    )
    return str(found[0]) if found else ""


def alike(words: str, texts: Mapping[str, str]) -> list[str]:
    """The keys of the texts in which most of those words stand, typing errors allowed, best first.

    >>> alike("bad ribbon", {"a": "ribbon: the ribbon of the panel is loose", "b": "battery worn"})
    ['a']
    """
    found = process.extract(
        words,
        texts,
        scorer=fuzz.token_set_ratio,
        processor=str.casefold,
        score_cutoff=70,
        limit=None,
    )
    return [str(key) for _, _, key in found]
