"""Phrases of which a command's lines are made: what is said only where there is something to say, and short lists."""

from __future__ import annotations

from collections.abc import Sequence


def if_any(phrase: str, said: object) -> str:
    """The phrase with what is said in its place; nothing for an empty text or 0.

    >>> f"fan{if_any(' for {}', 'Tern 13')}{if_any(', {} more', 0)}"
    'fan for Tern 13'
    """
    return phrase.format(said) if said else ""


def if_known(phrase: str, figure: float | None) -> str:
    """The phrase with a figure in its place, be it 0; nothing for one that is not known.

    >>> if_known(", {:g} min", 0.0), if_known(", {:g} min", None)
    (', 0 min', '')
    """
    return "" if figure is None else phrase.format(figure)


def first_of(names: Sequence[str], most: int) -> str:
    """The first names, and how many more there are.

    >>> first_of(["fan", "pad"], 2), first_of(["fan", "pad", "lid"], 2)
    ('fan, pad', 'fan, pad and 1 more')
    """
    return ", ".join(names[:most]) + if_any(" and {} more", max(len(names) - most, 0))
