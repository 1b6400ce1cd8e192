"""What a complaint has named: the model it speaks of, and the text without it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from kb.language.words import fold


def model_in(text: str, models: Sequence[str]) -> str:
    """The model that a complaint names, the longest name winning; empty if it names none.

    >>> model_in("tern 13, no charge", ["Tern 1", "Tern 13"])
    'Tern 13'
    """
    folded = fold(text)
    named = [
        model
        for model in models
        if re.search(rf"(?<!\w){re.escape(fold(model))}(?!\w)", folded)
    ]
    return max(named, key=len, default="")


def without(text: str, name: str) -> str:
    """The text without a model's name, which tells nothing of the fault.

    >>> without("Tern 13: no charge", "tern 13")
    ': no charge'
    """
    return re.sub(re.escape(name), "", text, flags=re.IGNORECASE) if name else text


def spelt(model: str, known: Iterable[str]) -> str:
    """A model as it is known already, whatever its case, spaces and hyphens; one that is not known as it is given.

    >>> spelt("tern13", ["Tern 13", "Skua 14"]), spelt(" SKUA-14 ", ["Skua 14"]), spelt("Tern 14", ["Tern 13"])
    ('Tern 13', 'Skua 14', 'Tern 14')
    """
    key, as_given = _key(model), model.strip()
    if not key:
        return as_given
    return next((one for one in known if _key(one) == key), as_given)


def alike(names: Iterable[str]) -> list[tuple[str, ...]]:
    """The names that are one name but for case, spaces and hyphens, those of each together, in their order.

    >>> alike(["Tern 13", "Skua 14", "tern-13", "Tern13"])
    [('Tern 13', 'tern-13', 'Tern13')]
    """
    groups: dict[str, list[str]] = {}
    for name in names:
        groups.setdefault(_key(name), []).append(name)
    return [tuple(group) for group in groups.values() if len(group) > 1]


def _key(model: str) -> str:
    """What is left of a model's name without case, spaces and hyphens."""
    return "".join(
        sign for sign in model.casefold() if sign not in " -_\u00a0\u2010\u2011\u2013"
    )
