"""What a first step costs until the machine works: its plan followed to the end, the far ends of it estimated."""

from __future__ import annotations

from dataclasses import dataclass
from heapq import heappop, heappush
from math import log
from typing import Literal

from kb.lookahead import WIDE, Act, Lookahead
from kb.outlook import Outlook, Payable, State

Kind = Literal["test", "fix"]

#: First steps followed to their end, and the work for all of them together: at least so much, or so many looks at
#: every cause; and at least this much for each.
FOLLOWED, WORK, LOOKS, AT_LEAST = 3, 6_500, 200, 700

#: Among tests whose minutes differ by less than this share, the cheapest comes first.
ABOUT_EQUAL = 0.001

#: A point of the plan with less to gain than this share of all minutes is not followed, or not even estimated.
_CRUMB, _DUST = 1e-4, 5e-4

#: Values that agree to this share are a tie, and the fix comes before the test.
_TIE = 1e-9

#: Tests tried at a point that the search did not come to.
_TRIED = 3


@dataclass(frozen=True, slots=True)
class Prospect:
    """A first step, the minutes it takes itself, and those expected until the machine works if it is taken now."""

    kind: Kind
    index: int
    minutes: float
    expected_minutes: float


def prospects(outlook: Outlook, more: bool = False) -> list[Prospect]:
    """The step to take first, then the others that came near it; with `more` also the cheapest test and the first fix.

    >>> from kb.outlook import Check
    >>> from kb.repairs import Repairs
    >>> halves = Check(6.0, False, ([1.0, 1.0, 0.0, 0.0], [0.0, 0.0, 1.0, 1.0]))
    >>> prospects(Outlook([0.25] * 4, Repairs([30] * 4, range(4)), [halves]))[0]
    Prospect(kind='test', index=0, minutes=6.0, expected_minutes=51.0)
    """
    search = Lookahead(outlook)
    steps = [act for act, _ in search.first_steps()]
    whole = max(WORK, LOOKS * outlook.unit)
    values: dict[Act, float] = {}
    for number, act in enumerate(steps[:FOLLOWED]):
        share = (whole - outlook.work) // (min(len(steps), FOLLOWED) - number)
        values[act] = _followed(outlook, search, act, max(share, AT_LEAST))
    chosen = _chosen(values)
    if more:
        for act in (*(act for act in steps if isinstance(act, int)), *_cheapest(steps)):
            if act not in values:
                values[act] = max(_followed(outlook, search, act, AT_LEAST), values[chosen])
    others = sorted((act for act in values if act is not chosen), key=lambda act: (values[act], *_order(act)))
    return [_prospect(outlook, act, values[act]) for act in (chosen, *others)]


def _chosen(values: dict[Act, float]) -> Act:
    """The step of fewest minutes; a fix before a test that is no better, the cheapest of tests about equal."""
    least = min(values.values())
    equal = [act for act in values if values[act] <= least * (1.0 + _TIE)]
    fixes = [act for act in equal if isinstance(act, int)]
    if fixes:
        return fixes[0]
    near = [act for act in values if not isinstance(act, int) and values[act] <= least * (1.0 + ABOUT_EQUAL)]
    return min(near, key=_order)


def _order(act: Act) -> tuple[float, int]:
    """Cheaper first, then the lower number; fixes before tests."""
    return (-1.0, act) if isinstance(act, int) else (act.step, act.test)


def _cheapest(steps: list[Act]) -> list[Act]:
    tests = [act for act in steps if not isinstance(act, int)]
    return [min(tests, key=_order), tests[0]] if tests else []


def _prospect(outlook: Outlook, act: Act, value: float) -> Prospect:
    start = outlook.start
    if isinstance(act, int):
        return Prospect("fix", act, outlook.fix_step(start, act) / start.mass, value / start.mass)
    return Prospect("test", act.test, act.step / start.mass, value / start.mass)


def _followed(outlook: Outlook, search: Lookahead, act: Act, work: float) -> float:
    """Minutes of the plan that begins with this step, its weightiest open points followed first while work lasts."""
    start, limit, depth = outlook.start, outlook.work + work, search.depth
    spent, reached = _taken(outlook, search, start, act)
    waiting: list[tuple[float, int, int, State]] = []
    while True:
        for point in reached:
            heappush(waiting, (point.floor - point.repair, point.key, depth - 1, point))
        if not waiting or outlook.work >= limit or -waiting[0][0] <= _CRUMB * start.repair:
            return spent + sum(_estimated(outlook, state) for *_, state in waiting)
        *_, depth, state = heappop(waiting)
        following = _next(outlook, search, state, depth)
        step, reached = (state.repair, []) if following is None else _taken(outlook, search, state, following)
        spent += step


def _taken(outlook: Outlook, search: Lookahead, state: State, act: Act) -> tuple[float, list[State]]:
    """Minutes of the step itself, and the points it can lead to."""
    ranked = search.branches(state, WIDE)[0] if state is outlook.start else state.tests
    if isinstance(act, int):
        return outlook.fix_step(state, act), [outlook.after_fix(state, act, ranked)]
    return act.step, outlook.after_test(state, act, ranked)


def _next(outlook: Outlook, search: Lookahead, state: State, depth: int) -> Act | None:
    """The next step of the plan: what the search found, else the test with most saved a minute if it pays, else a fix.

    None means that repairing without another test is the plan from here.
    """
    planned = search.planned(state, depth)
    if planned is not None:
        return planned[0]
    payable = outlook.payable(state)
    for one in sorted(payable, key=lambda one: _promise(outlook, state, one))[:_TRIED]:
        branch = outlook.branch(state, one)
        if branch.one_step < state.repair:
            return branch
    return outlook.repairs.first(state.weights, state.opened) if payable else None


def _promise(outlook: Outlook, state: State, one: Payable) -> tuple[bool, float]:
    """Sorts tests: those that seem to pay before the others, by minutes for the same share of doubt."""
    saved = outlook.saving(state, one.test)
    gain = saved * (state.repair - one.floor) - one.step
    return (False, _minutes_per_share(one.step, saved)) if gain > 0.0 else (True, -gain)


def _minutes_per_share(minutes: float, saved: float) -> float:
    """Minutes to bring the doubt down to a fixed part, with tests that each take the same share off it."""
    return minutes / -log(1.0 - saved)


def _estimated(outlook: Outlook, state: State) -> float:
    """About the minutes of the best plan from here: each test left that pays takes its share off the doubt, once."""
    doubt = state.repair - state.floor
    if doubt <= _DUST * outlook.start.repair:
        return state.repair
    rated = []
    for one in outlook.payable(state):
        saved = outlook.saving(state, one.test)
        if saved > 0.0:
            rated.append((_minutes_per_share(one.step, saved), one.step, saved))
    spent = state.floor
    for _, step, saved in sorted(rated):
        if saved * doubt > step:
            spent += step
            doubt *= 1.0 - saved
    return spent + doubt
