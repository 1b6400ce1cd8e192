"""Which wordings lie closest to a complaint, and which model it names."""

from __future__ import annotations

import re
from collections.abc import Sequence

from rapidfuzz import fuzz, process

from kb.reading import Correction
from kb.words import fold

#: A wording less alike than this (0 to 100) is no reason to show.
LEAST_ALIKE = 45.0
MOST_SHOWN = 3


def closest(text: str, wordings: Sequence[str], spoken: Sequence[str] = ()) -> tuple[str, ...]:
    """The wordings that share most with the text, best first; those of this shop's jobs count the same.

    The likeness is that of the sorted common words (rapidfuzz token ratio).
    """
    known = list(dict.fromkeys([*wordings, *spoken]))
    found = process.extract(
        fold(text), known, scorer=fuzz.token_ratio, processor=fold, limit=MOST_SHOWN, score_cutoff=LEAST_ALIKE
    )
    return tuple(wording for wording, _, _ in found)


def nearest(name: str, names: Sequence[str]) -> str:
    """The name most like a mistyped one, or empty."""
    found = process.extractOne(name, names, scorer=fuzz.ratio, score_cutoff=70)
    return str(found[0]) if found else ""


def model_in(text: str, models: Sequence[str]) -> str:
    """The model that a complaint names, the longest name winning; empty if it names none.

    >>> model_in("tern 13, no charge", ["Tern 1", "Tern 13"])
    'Tern 13'
    """
    folded = fold(text)
    named = [model for model in models if re.search(rf"(?<!\w){re.escape(fold(model))}(?!\w)", folded)]
    return max(named, key=len, default="")


def without(text: str, name: str) -> str:
    """The text without a model's name, which tells nothing of the fault.

    >>> without("Tern 13: no charge", "tern 13")
    ': no charge'
    """
    return re.sub(re.escape(name), "", text, flags=re.IGNORECASE) if name else text


def read_text(text: str, corrections: Sequence[Correction]) -> str:
    """The text with its corrected words in place."""
    for correction in corrections:
        text = re.sub(rf"\b{re.escape(correction.typed)}\b", correction.read_as, text, flags=re.IGNORECASE)
    return text
