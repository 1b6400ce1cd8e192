"""P(outcome | cause) from what an entry says a test points to and clears."""

from __future__ import annotations

from kb.model import Test

#: A test speaks less surely about a cause that its entry does not list (assumption, stated in DEVELOPERS.md).
FOREIGN_RELIABILITY = 0.8


def expected_outcomes(test: Test, cause: str) -> frozenset[int]:
    """The indexes of the outcomes that the cause, if present, should show.

    Those that point to it; else those that neither clear it nor point to others, here or in another sheet; else those
    that do not clear it. All of them when the test says nothing about the cause.
    """
    everything = frozenset(range(len(test.outcomes)))
    if cause in test.untold:
        return everything
    named, silent, not_cleared = set[int](), set[int](), set[int]()
    for index, outcome in enumerate(test.outcomes):
        if cause in outcome.points_to:
            named.add(index)
        if cause not in outcome.clears:
            not_cleared.add(index)
            if not outcome.points_to and not outcome.see:
                silent.add(index)
    return frozenset(named or silent or not_cleared) or everything


def is_silent(test: Test, cause: str) -> bool:
    """Whether a test says nothing of a cause without saying so: nobody would know what it shows then.

    >>> from kb.model import Outcome
    >>> swap = Test("swap", "Swap", 6, (Outcome("appears", ("pack",)), Outcome("no change", ("board",))))
    >>> is_silent(swap, "ribbon"), is_silent(swap, "pack")
    (True, False)
    """
    return cause not in test.untold and len(expected_outcomes(test, cause)) == len(
        test.outcomes
    )


def outcome_probabilities(
    test: Test, cause: str, listed: bool = True
) -> tuple[float, ...]:
    """P(outcome | cause) for every outcome of the test, summing to one.

    The expected outcomes share the test's reliability, the others the rest. `listed` says whether the cause belongs to
    the test's own entry; of a foreign cause the test is less sure. `cause` is empty for one that the entry does not
    list: it shows what points to nothing, else what the listed ones mostly show.

    >>> from kb.model import Outcome
    >>> swap = Test("swap", "Swap", 6, (Outcome("appears", ("pack",)), Outcome("no change", (), ("pack",))))
    >>> [round(p, 2) for p in outcome_probabilities(swap, "pack")]
    [0.95, 0.05]
    >>> [round(p, 2) for p in outcome_probabilities(swap, "board")]
    [0.05, 0.95]
    >>> swap = Test("swap", "Swap", 6, (Outcome("appears", ("pack",)), Outcome("no change", ("board", "lead", "hang"))))
    >>> [round(p, 2) for p in outcome_probabilities(swap, "")]
    [0.26, 0.74]
    """
    right = test.reliability if listed else min(test.reliability, FOREIGN_RELIABILITY)
    known = cause if listed else ""
    expected = expected_outcomes(test, known)
    if not known and len(expected) == len(test.outcomes):
        return _as_most_causes_show(test, right)
    return _shared(test, expected, right)


def pointing_probabilities(test: Test, entry: str, cause: str) -> tuple[float, ...]:
    """P(outcome | cause) for a cause of another entry to which outcomes point, as surely as the test is trusted.

    Empty if none does, or if only other causes of that entry are named.

    >>> from kb.model import Outcome
    >>> torch = Test("torch", "Torch", 2, (Outcome("faint", see=("dim",)), Outcome("dark")))
    >>> [round(p, 2) for p in pointing_probabilities(torch, "dim", "lamp")], pointing_probabilities(torch, "hot", "fan")
    ([0.95, 0.05], ())
    """
    names = {entry, f"{entry}/{cause}"}
    expected = frozenset(
        i for i, outcome in enumerate(test.outcomes) if names.intersection(outcome.see)
    )
    return _shared(test, expected, test.reliability) if expected else ()


def _as_most_causes_show(test: Test, right: float) -> tuple[float, ...]:
    """P(outcome) for a cause that no outcome leaves room for: what the named causes show, each counted alike.

    After a swap that points to one cause if it cures and to six if it does not, a seventh is not cured either.
    """
    named = [len(outcome.points_to) for outcome in test.outcomes]
    wrong = (1.0 - right) / len(named)
    return tuple(
        wrong + right * (count / sum(named) if any(named) else 1.0 / len(named))
        for count in named
    )


def _shared(test: Test, expected: frozenset[int], right: float) -> tuple[float, ...]:
    """`right` shared by the expected outcomes, the rest by the others; alike where all or none are expected."""
    count = len(test.outcomes)
    if len(expected) in (0, count):
        return (1.0 / count,) * count
    return tuple(
        right / len(expected)
        if i in expected
        else (1.0 - right) / (count - len(expected))
        for i in range(count)
    )
