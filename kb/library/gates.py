"""The gates of a sheet: which of its tests come first, and which steps wait for the answers of others."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import replace

from kb.base.worded import worded
from kb.model import Entry, Fix, Remark, Test


def waits_for(
    entry: Entry, step: Test | Fix, answered: Collection[str]
) -> tuple[Test, ...]:
    """The tests whose answers a step of the entry still waits for, in the order in which they are to be done.

    `answered` are the slugs of the entry's tests that showed something. Every step waits for the entry's `first`
    tests, these for each other in their order, and whatever says so for the tests it names.

    >>> from kb.model import Outcome
    >>> seen = (Outcome("sound"), Outcome("split"))
    >>> look = Test("look", "Look at it", 2, seen, first=True)
    >>> feed = Test("feed", "Plug it in", 3, seen, after=("measure",))
    >>> sheet = Entry("s", "s", "power", (), (), (look, feed, Test("measure", "Measure", 6, seen)), (), (), ())
    >>> [test.slug for test in waits_for(sheet, feed, ())]
    ['look', 'measure']
    """
    waiting: dict[str, Test] = {}
    for test in _before(entry, step):
        if test.slug not in answered and test.slug not in waiting:
            for one in (*waits_for(entry, test, answered), test):
                waiting.setdefault(one.slug, one)
    return tuple(waiting.values())


def next_first(entry: Entry, answered: Collection[str]) -> Test | None:
    """The test of the entry that comes before everything else, None once all its `first` tests are answered."""
    return next(
        (test for test in _first_tests(entry) if test.slug not in answered), None
    )


def untested(entry: Entry, cause: str, answered: Collection[str]) -> tuple[Test, ...]:
    """The tests that the fix of a cause asks for by name and that showed nothing yet."""
    fix = entry.fix_for(cause)
    named = fix.after if fix else ()
    return tuple(
        test for test in entry.tests if test.slug in named and test.slug not in answered
    )


def mistakes(
    tests: Sequence[Test], fixes: Sequence[Fix], written: Mapping[str, str], file: str
) -> Iterator[Remark]:
    """A remark on every mark `after` that cannot be obeyed; `written` maps the numbers in the file to slugs of tests.

    A number without a test, a `first` test that waits, a test that waits for itself, directly or through others.
    """
    steps: list[Test | Fix] = [*tests, *fixes]
    for step in steps:
        for number in step.after:
            if number not in written:
                problem = worded(
                    "there is no test {number} to come after", number=number
                )
                instead = worded(
                    "name one of 1 to {written}, or none", written=len(written)
                )
                yield Remark(file, step.line, problem, instead)
    numbers = {slug: number for number, slug in written.items()}
    circle = _in_circles(tests, written)
    for test in tests:
        number = numbers[test.slug]
        if test.first and test.after:
            problem = worded("a `first` test comes after no other")
            instead = worded("take its `after` out; `first` tests keep their order")
        elif number in test.after:
            problem = worded("a test cannot come after itself")
            instead = worded("take {number} out of its `after`", number=number)
        elif test.slug in circle:
            problem = worded(
                "test {number} comes after one that comes after it", number=number
            )
            instead = worded("take one of the two `after` out")
        else:
            continue
        yield Remark(file, test.line, problem, instead)


def by_name(
    tests: Sequence[Test], fixes: Sequence[Fix], written: Mapping[str, str]
) -> tuple[tuple[Test, ...], tuple[Fix, ...]]:
    """The tests and fixes with slugs in place of the numbers after `after`; what cannot be obeyed is left out."""
    barred = _in_circles(tests, written) | {test.slug for test in tests if test.first}
    free = []
    for test in tests:
        after = frozenset[str]() if test.slug in barred else _named(test, written)
        free.append(replace(test, after=tuple(sorted(after))))
    named = [replace(fix, after=tuple(sorted(_named(fix, written)))) for fix in fixes]
    return tuple(free), tuple(named)


def _named(step: Test | Fix, written: Mapping[str, str]) -> frozenset[str]:
    """The tests that a step comes after, by slug."""
    return frozenset(written[number] for number in step.after if number in written)


def _in_circles(tests: Sequence[Test], written: Mapping[str, str]) -> frozenset[str]:
    """The slugs of the tests that wait for themselves, directly or through others."""
    named = {test.slug: _named(test, written) for test in tests}
    return frozenset(slug for slug in named if slug in all_before(slug, named))


def all_before(name: str, after: Mapping[str, Collection[str]]) -> set[str]:
    """Whatever one waits for, directly or through others: `after` has for each the names of those right before it.

    >>> sorted(all_before("c", {"a": (), "b": ("a",), "c": ("b",)})), all_before("a", {"a": ()})
    (['a', 'b'], set())
    """
    found: set[str] = set()
    ahead = list(after[name])
    while ahead:
        one = ahead.pop()
        if one not in found:
            found.add(one)
            ahead += after[one]
    return found


def _before(entry: Entry, step: Test | Fix) -> tuple[Test, ...]:
    """The tests that come before a step, answered or not; one without outcomes cannot be answered and holds nothing."""
    first = _first_tests(entry)
    if isinstance(step, Test) and step.first:
        slugs = [test.slug for test in first]
        first = first[: slugs.index(step.slug)] if step.outcomes else ()
    named = [test for test in entry.tests if test.slug in step.after and test.outcomes]
    return (*first, *named)


def _first_tests(entry: Entry) -> tuple[Test, ...]:
    return tuple(test for test in entry.tests if test.first and test.outcomes)
