"""Whole cents out of shares: a sum parted by weights, a piece at the moving mean, minutes at the shop's rate.

Money is whole numbers of the currency's smallest unit; nothing is ever rounded twice. What a code of ISO 4217 calls
that unit, and how many of it make one, is for those who show it.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction

#: What may weigh or last: whole numbers, decimals, fractions, and floats meant as the decimals they are written as.
Amount = int | float | Decimal | Fraction


def shared(cents: int, weights: Sequence[Amount]) -> tuple[int, ...]:
    """The cents parted by weights into whole cents that add up to them: largest remainder, ties by position.

    Everyone gets the whole part of cents · weight / all weights; the cents left go one each to the largest
    remainders (Hamilton's method, 1792, from memory). Weights that are all zero share equally; a weight of zero
    beside others gets nothing; a negative sum (money back) is parted as the positive one. Exact for numbers of any
    size. ValueError for cents that are no whole number, a weight below 0 or endless, and cents without any weight.

    >>> shared(10000, [3, 3, 3]), shared(86401, [3, 1, 7, 2])
    ((3334, 3333, 3333), (19939, 6646, 46524, 13292))
    >>> shared(100, [0.1, 0.2, 0]), shared(5, [0, 0]), shared(-100, [2, 1])
    ((33, 67, 0), (3, 2), (-67, -33))
    """
    whole_cents(cents, "a sum to share")
    exact_weights = [exact(weight, "a weight") for weight in weights]
    if not exact_weights:
        if cents:
            raise ValueError(
                f"{cents} cents and nobody to share them; give at least one weight"
            )
        return ()
    total = sum(exact_weights)
    if not total:
        exact_weights, total = [Fraction(1)] * len(weights), Fraction(len(weights))
    quotas = [abs(cents) * weight / total for weight in exact_weights]
    parts = [int(quota) for quota in quotas]
    by_remainder = sorted(
        range(len(parts)), key=lambda place: (parts[place] - quotas[place], place)
    )
    for place in by_remainder[: abs(cents) - sum(parts)]:
        parts[place] += 1
    return tuple(parts) if cents >= 0 else tuple(-part for part in parts)


def piece(cents: int, count: int) -> int:
    """What the next of `count` pieces costs when they cost `cents` together: their mean, the last one all the rest.

    The moving weighted average (IAS 2 par. 25 and 27, from memory), in whole cents. Three for 1.00:

    >>> piece(100, 3), piece(67, 2), piece(34, 1)
    (33, 33, 34)
    """
    if count < 1:
        raise ValueError(f"{count} pieces hold no next one; there must be one at least")
    return cents // count


def worked_cents(minutes: Amount, hourly_cents: int) -> int:
    """What minutes cost at the shop's rate an hour, rounded once, halves to the even cent.

    Ten minutes at 36.00 an hour; half a minute and one and a half at 3.00 an hour, 2.5 and 7.5 cents:

    >>> worked_cents(10, 3600), worked_cents(0.5, 300), worked_cents(1.5, 300)
    (600, 2, 8)
    """
    return round(exact(minutes, "a time in minutes") * hourly_cents / 60)


def exact(amount: Amount, said: str) -> Fraction:
    """The amount as a fraction, a float as the decimal it is written as; ValueError unless it is 0 or more."""
    try:
        value = (
            Fraction(str(float(amount)))
            if isinstance(amount, float)
            else Fraction(amount)
        )
    except (ValueError, OverflowError):  # not a number, or endless
        raise ValueError(
            f"{amount} is not {said}; give a number of 0 or more"
        ) from None
    if value < 0:
        raise ValueError(f"{amount} is not {said}; give a number of 0 or more")
    return value


def whole_cents(cents: int, said: str) -> int:
    """The cents themselves; ValueError unless they are a whole number."""
    if not isinstance(cents, int):
        raise ValueError(f"{cents!r} is not {said}; give whole cents, 12.50 as 1250")
    return cents
