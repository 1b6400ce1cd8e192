"""The way on through a check-out: what is left, in the order with least expected minutes, each line with its reason."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.base.worded import listed, worded
from kb.library.checklist import CheckLine
from kb.machines.checkout.figures import ListFigures
from kb.machines.checkout.shares import Looks, failing
from kb.machines.checkout.standing import LineStanding, LineState

#: Minutes below which a late find costs nothing worth telling.
WORTH_TELLING = 1.0
#: A line that no machine was looked at on.
UNSEEN = Looks()


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What check-outs showed of a line: on machines of this model and of others, and the share expected of it."""

    here: Looks = UNSEEN
    elsewhere: Looks = UNSEEN
    fails: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class LineToDo:
    """A line that is left, with why it comes at its place; `late_minutes` is what finding it after closing up costs."""

    standing: LineStanding
    counted: Counted
    late_minutes: float
    why: str

    @property
    def line(self) -> CheckLine:
        """The line itself."""
        return self.standing.line


@dataclass(frozen=True, slots=True)
class WayOn:
    """What is left of a check-out in the order to do it, and what it takes on the mean.

    `expected_minutes` are hands-on minutes by this order, `listed_minutes` those by the list's own. `held` are lines
    that cannot be done before a failed one is mended, with the names of what they wait for.
    """

    todo: tuple[LineToDo, ...] = ()
    held: tuple[tuple[LineStanding, tuple[str, ...]], ...] = ()
    expected_minutes: float = 0.0
    listed_minutes: float = 0.0


def counted_lines(
    lines: Iterable[CheckLine],
    here: Mapping[str, Looks],
    elsewhere: Mapping[str, Looks],
    leanings: Mapping[str, float],
) -> dict[str, Counted]:
    """What was counted of each line, by its name; steps of work never fail."""
    counted = {}
    for line in lines:
        own, others = here.get(line.name, UNSEEN), elsewhere.get(line.name, UNSEEN)
        share = (
            0.0
            if line.work
            else failing(line.weight, others, own, leanings.get(line.name, 1.0))
        )
        counted[line.name] = Counted(here=own, elsewhere=others, fails=share)
    return counted


def way_on(standing: Sequence[LineStanding], counted: Mapping[str, Counted]) -> WayOn:
    """The way on over what is open or stale; what failed is mended first, and what comes after that waits."""
    figures = ListFigures(
        tuple(one.line for one in standing),
        {name: one.fails for name, one in counted.items()},
    )
    done = [number for number, one in enumerate(standing) if one.is_settled]
    waits = _waiting(standing)
    left_out = [number for number, one in enumerate(standing) if one.line.name in waits]
    way = figures.best_order(done, left_out)
    listed = figures.listed_order(done, left_out)
    reasons = _Reasons(figures, standing, counted, way, done)
    held = [
        standing[number]
        for number in left_out
        if standing[number].state is not LineState.FAILED
    ]
    return WayOn(
        todo=tuple(reasons.todo(number) for number in way),
        held=tuple((one, waits[one.line.name]) for one in held),
        expected_minutes=figures.minutes_of(way, done),
        listed_minutes=figures.minutes_of(listed, done),
    )


def _waiting(standing: Sequence[LineStanding]) -> dict[str, tuple[str, ...]]:
    """The failed lines, and those that come after one of them or after a held one, with what each waits for.

    While a pinned line failed, everything else waits for it: a swollen pack or a lock is no matter of order.
    """
    failed, unsettled = [], []
    for one in standing:
        if one.state is LineState.FAILED:
            failed.append(one.line)
        elif not one.is_settled:
            unsettled.append(one.line)
    waits: dict[str, tuple[str, ...]] = {line.name: () for line in failed}
    pinned = tuple(line.name for line in failed if line.first)
    if pinned:
        return waits | {line.name: pinned for line in unsettled}
    while found := _behind(unsettled, waits):
        waits |= found
    return waits


def _behind(
    lines: Iterable[CheckLine], waits: Mapping[str, tuple[str, ...]]
) -> dict[str, tuple[str, ...]]:
    """The lines that do not wait yet but come right after some that do, with the names of those."""
    found = {}
    for line in lines:
        before = tuple(name for name in line.after if name in waits)
        if before and line.name not in waits:
            found[line.name] = before
    return found


@dataclass(frozen=True, slots=True)
class _Reasons:
    """Says of each line on the way why it comes where it does."""

    figures: ListFigures
    standing: Sequence[LineStanding]
    counted: Mapping[str, Counted]
    way: tuple[int, ...]
    done: Sequence[int]

    def todo(self, number: int) -> LineToDo:
        """The line of that number with its reason."""
        standing = self.standing[number]
        before = [*self.done, *self.way[: self.way.index(number)]]
        late = self.figures.found_late(number, self.way, before)
        counted = self.counted[standing.line.name]
        why = self._why(number, standing, late)
        return LineToDo(standing=standing, counted=counted, late_minutes=late, why=why)

    def _why(self, number: int, standing: LineStanding, late: float) -> str:
        line = standing.line
        if line.work:
            said = self._of_work(number)
        elif line.first:
            said = worded("before everything else, whatever the figures say")
        else:
            said = listed(
                [
                    in_words(self.counted[line.name], line),
                    self._of_lateness(number, late),
                ]
            )
        if standing.undone is not None and standing.undone.was_away:
            said = worded("again, since the machine was away: {said}", said=said)
        elif standing.undone is not None:
            said = worded(
                "again, since work on {what} went that deep: {said}",
                what=standing.undone.what,
                said=said,
            )
        return said

    def _of_work(self, number: int) -> str:
        """How often the work has to be done again when it is done here."""
        later = self.way[self.way.index(number) + 1 :]
        spared = 1.0
        for other in later:
            if self.figures.redo[other][number]:
                spared *= 1.0 - self.figures.fails[other] * (
                    1.0 - self.figures.ends[other]
                )
        if spared > 0.995:
            return worded("nothing that comes later is likely to undo it")
        return worded(
            "done here, about {share} has to be done again; earlier, more",
            share=one_in(1.0 - spared),
        )

    def _of_lateness(self, number: int, late: float) -> str:
        """What finding it after closing up costs, or what it costs that it comes so late."""
        if late >= WORTH_TELLING:
            return worded(
                "found after closing up it costs {late:.0f} min more", late=late
            )
        line = self.standing[number].line
        waited = [name for name in line.after if self.figures.numbers[name] in self.way]
        if waited:
            return worded("it comes after {waited}", waited=" and ".join(waited))
        earlier = self.way[: self.way.index(number)]
        again = sum(self.figures.redo[number][other] for other in earlier)
        lost = self.figures.fails[number] * (1.0 - self.figures.ends[number]) * again
        if lost >= 0.05:
            return worded("coming late costs {lost:.1f} min a machine", lost=lost)
        return worded("it can wait")


def in_words(counted: Counted, line: CheckLine) -> str:
    """How often a line fails, by what was counted.

    >>> keys = CheckLine(name="keys", text="", weight="often")
    >>> in_words(Counted(here=Looks(7, 88)), keys), in_words(Counted(elsewhere=Looks(3, 40)), keys)
    ('fails on 7 of 88 here', 'fails on 3 of 40 of other models')
    >>> in_words(Counted(here=Looks(0, 2), elsewhere=Looks(3, 40)), keys), in_words(Counted(here=Looks(0, 2)), keys)
    ('fails on 0 of 2 here, 3 of 40 elsewhere', 'fails often, by the list (0 of 2 here)')
    """
    here, others = counted.here, counted.elsewhere
    if here.seen >= FEW:
        return worded("fails on {bad} of {seen} here", bad=here.bad, seen=here.seen)
    if here.seen and others.seen >= FEW:
        return worded(
            "fails on {bad} of {seen} here, {others_bad} of {others_seen} elsewhere",
            bad=here.bad,
            seen=here.seen,
            others_bad=others.bad,
            others_seen=others.seen,
        )
    if others.seen >= FEW:
        return worded(
            "fails on {bad} of {seen} of other models", bad=others.bad, seen=others.seen
        )
    few = (
        worded(" ({bad} of {seen} here)", bad=here.bad, seen=here.seen)
        if here.seen
        else ""
    )
    return worded("fails {words}, by the list{few}", words=_WORDS[line.weight], few=few)


#: Machines from which on their count is told in place of the list's word, those of the model alone.
FEW = 12

_WORDS = {
    "often": worded("often"),
    "sometimes": worded("sometimes"),
    "rare": worded("rarely"),
}


def one_in(share: float) -> str:
    """A share as one in so many.

    >>> one_in(.05), one_in(.34), one_in(.8)
    ('1 in 20', '1 in 3', '1 in 1')
    """
    return worded("1 in {value}", value=round(1.0 / share))
