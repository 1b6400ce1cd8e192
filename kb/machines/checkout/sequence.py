"""The sequence of a check-out that costs least: what each line takes, how often it fails, what its repair undoes.

A machine that is repaired goes through a list of lines (every key, screen, charging, closing up). A line that fails
late is dear: its repair makes good lines stale, which are gone through again. Told for every line are its minutes t,
the chance q that it fails, the chance g that this ends the machine's way here, and for every pair the minutes w_ij of
line j that a repair of line i makes necessary again. Lines fail independently. Work steps (install, close up) are
lines that never fail. Nothing is safe or lawful because arithmetic says so: what must come first is pinned by `first`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from kb.machines.checkout.exact import EXACT_LINES, exact_order
from kb.machines.checkout.lines import Pairs, checked, read
from kb.machines.checkout.moves import moved_order, ties_by_number


def order(  # noqa: PLR0917 - the signature is a contract
    minutes: Sequence[float],
    fails: Sequence[float],
    ends: Sequence[float],
    redo: Sequence[Sequence[float]],
    first: Iterable[int] = (),
    after: Pairs = (),
) -> tuple[int, ...]:
    """The order of the lines with least expected minutes, as numbers of lines.

    `first` are the lines that stand first, as given; `after` holds pairs (i, j) of which j may not stand before i.
    Exact for up to 13 lines that are not pinned; for more the best of several beginnings after moves, never worse
    than the lines in the order of their numbers. Ties by number. ValueError for figures that cannot be.

    Three lines, each repair disturbing everything done (computed; as listed they take 9.14 minutes):

    >>> everything = [[2, 5, 1]] * 3
    >>> order([2, 5, 1], [.1, .5, .02], [0, 0, 0], everything)
    (1, 0, 2)
    >>> round(expected_minutes([2, 5, 1], [.1, .5, .02], [0, 0, 0], everything, (1, 0, 2)), 6)
    8.64

    Where the first failure ends it, the same order takes 6.45:

    >>> order([2, 5, 1], [.1, .5, .02], [1, 1, 1], everything)
    (1, 0, 2)
    """
    pairs = tuple(after)
    lines = read(minutes, fails, ends, redo, pairs)
    pinned = checked(first, len(minutes), "first")
    _refuse_a_contradiction(pinned, pairs)
    left = [line for line in range(len(minutes)) if line not in pinned]
    rest = lines.part(left, pinned)
    found = (
        exact_order(rest)
        if len(left) <= EXACT_LINES
        else ties_by_number(rest, moved_order(rest))
    )
    return (*pinned, *(left[number] for number in found))


def _refuse_a_contradiction(pinned: Sequence[int], after: Pairs) -> None:
    """Raise ValueError where a line is pinned before one that it may not stand before."""
    for earlier, later in after:
        if later in pinned and earlier not in pinned[: pinned.index(later)]:
            raise ValueError(
                f"first has line {later} before line {earlier}, after the other way round; change one"
            )


def expected_minutes(
    minutes: Sequence[float],
    fails: Sequence[float],
    ends: Sequence[float],
    redo: Sequence[Sequence[float]],
    order: Iterable[int],
) -> float:
    """The minutes that a machine takes on the mean when its lines are gone through in that order.

    The sum over the lines of P(still going on) · (t_i + q_i·(1 - g_i) · the w_ij of the lines j done), where a line
    ends the machine's way with q_i·g_i. ValueError unless the order names every line once.

    >>> expected_minutes([3, 10], [.5, .1], [0, 1], [[0, 4], [0, 0]], (1, 0))  # 10 + .9 · (3 + .5 · 4)
    14.5
    """
    lines = read(minutes, fails, ends, redo)
    told = checked(order, len(minutes), "order")
    if len(told) < len(minutes):
        raise ValueError(
            f"order names {len(told)} of {len(minutes)} lines; name every line once"
        )
    return lines.expected(told)
