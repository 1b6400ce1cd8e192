"""The exact order of few lines: the best way on from every set of lines done, by dynamic programming."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from kb.machines.checkout.lines import TIE, CheckLines

#: Up to so many lines the exact order is reckoned: 8,192 sets, about 7 ms on a desk machine, twice that for one more.
EXACT_LINES = 13


def exact_order(lines: CheckLines) -> list[int]:
    """The order with least expected minutes, of equal ones the one that begins with the lowest numbers.

    The set S of the lines done is all that matters for the way on: V(S) = min t_i + q_i·(1 - g_i)·sum of w_ij over S
    + (1 - q_i·g_i)·V(S + i), over the lines i not in S (Held & Karp 1962 for sequences, from memory).
    """
    least = _least_minutes(lines)
    order: list[int] = []
    done = 0
    while done < len(least) - 1:
        following = next(
            line
            for line in _open_lines(lines, done)
            if _is_best(lines, line, order, least, done)
        )
        order.append(following)
        done |= 1 << following
    return order


def _open_lines(lines: CheckLines, done: int) -> Iterator[int]:
    """The lines not done whose predecessors are."""
    for line, before in enumerate(lines.before):
        is_done = done >> line & 1
        if not is_done and before & done == before:
            yield line


def _is_best(
    lines: CheckLines,
    line: int,
    order: Sequence[int],
    least: Sequence[float],
    done: int,
) -> bool:
    cost = lines.alone[line] + sum(lines.again[line][other] for other in order)
    return cost + lines.goes_on[line] * least[done | 1 << line] <= least[done] * (
        1.0 + TIE
    )


def _least_minutes(lines: CheckLines) -> list[float]:
    """V of every set of lines done, a number whose bits are the lines, from the full set down.

    What a line costs after a set is the sum of what it costs for the low bits and for the high bits of the set: two
    short lists in place of one long one for each line, which stay near the processor.
    """
    count = len(lines.minutes)
    half = count // 2
    low = [_costs(lines, line, 0, half, lines.alone[line]) for line in range(count)]
    high = [_costs(lines, line, half, count, 0.0) for line in range(count)]
    least = [0.0] * (1 << count)
    for above in range((1 << count) - (1 << half), -1, -(1 << half)):
        choices = [
            (
                1 << line,
                [cost + high[line][above >> half] for cost in low[line]],
                goes_on,
            )
            for line, goes_on in enumerate(lines.goes_on)
            if not above >> line & 1
        ]
        for below in range((1 << half) - 1, -1, -1):
            done, best = above | below, float("inf")
            for bit, costs, goes_on in choices:
                if not done & bit:
                    value = costs[below] + goes_on * least[done | bit]
                    if value < best:
                        best = value
            least[done] = best if done < len(least) - 1 else 0.0
    return least


def _costs(
    lines: CheckLines, line: int, begin: int, end: int, alone: float
) -> list[float]:
    """What the line costs after each set of those lines, infinitely much where one is missing that it has to follow."""
    costs = [alone]
    for other in range(begin, end):
        more = lines.again[line][other]
        without = (
            [float("inf")] * len(costs) if lines.before[line] >> other & 1 else costs
        )
        costs = without + [cost + more for cost in costs]
    return costs
