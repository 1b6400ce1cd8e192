"""The shares of machines that fail a check-out line: by its word, by what check-outs showed, leaning on complaints."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from kb.library.checklist import WORD_SHARES
from kb.model import Weight

#: Machines of other models that weigh as much as the word; machines of this one as much as what is known of others.
WORD_MACHINES, MODEL_MACHINES = 20.0, 25.0
#: Jobs on a model that weigh as much as those on others in what is expected; how far they may lead away from that.
COMPLAINTS, MOST_LEANING = 600.0, 2.0
#: No line is expected to fail more often before it was looked at.
MOST_EXPECTED = 0.6


@dataclass(frozen=True, slots=True)
class Looks:
    """What machines showed on a line: how many it was bad on, of how many it was looked at on."""

    bad: int = 0
    seen: int = 0


def in_all(counts: Mapping[str, Looks], lines: Iterable[str]) -> Looks:
    """What several lines showed together.

    >>> in_all({"every-key": Looks(1, 8), "pad": Looks(0, 9), "lid": Looks(3, 3)}, ["every-key", "pad", "fan"])
    Looks(bad=1, seen=17)
    """
    found = [counts.get(line, Looks()) for line in lines]
    return Looks(sum(one.bad for one in found), sum(one.seen for one in found))


def failing(
    word: Weight,
    elsewhere: Looks = Looks(),
    here: Looks = Looks(),
    leaning: float = 1.0,
) -> float:
    """The share of machines of this model that fail a line: its word, then other models, then this one.

    θ = (bad elsewhere + 20·word) / (seen elsewhere + 20) and (bad here + 25·r·θ) / (seen here + 25): a Beta prior on
    both levels. `leaning` is the r that complaints about the model give (see `leaning`); it moves the prior alone, so
    that it never weighs more than 25 machines. ValueError for an unknown word or more bad than seen.

    >>> round(failing("often"), 6), round(failing("sometimes", Looks(5, 80)), 6)
    (0.12, 0.06)
    >>> round(failing("sometimes", Looks(5, 80), Looks(3, 25)), 6)  # (3 + 25 · .06) / (25 + 25)
    0.09
    >>> round(failing("sometimes", Looks(5, 80), Looks(3, 25), leaning=1.5), 6)  # (3 + 25 · .09) / (25 + 25)
    0.105
    """
    if word not in WORD_SHARES:
        raise ValueError(
            f"{word} is no word for how often a line fails; write one of {', '.join(WORD_SHARES)}"
        )
    for shown in (elsewhere, here):
        if not 0 <= shown.bad <= shown.seen:
            raise ValueError(
                f"{shown.bad} bad of {shown.seen} is no count; count each machine once"
            )
    general = (elsewhere.bad + WORD_MACHINES * WORD_SHARES[word]) / (
        elsewhere.seen + WORD_MACHINES
    )
    expected = min(general * leaning, MOST_EXPECTED)
    return (here.bad + MODEL_MACHINES * expected) / (here.seen + MODEL_MACHINES)


def leaning(here: Looks, elsewhere: Looks) -> float:
    """How much more often than of others owners complain of this model about what a line shows, as a factor.

    `bad` are the jobs under the line's fault pictures, `seen` all jobs, on this model and on others. The share here,
    with 600 jobs of the others' share added, over that share; from a half to twice, 1 where nothing was counted.
    What owners complain of is not what a check-out finds, so it moves the expectation and is never counted itself.

    >>> leaning(Looks(), Looks()), round(leaning(Looks(80, 400), Looks(100, 1000)), 6)  # (80 + 60) / 1000 / .1
    (1.0, 1.4)
    >>> leaning(Looks(0, 900), Looks(100, 1000)), leaning(Looks(50, 60), Looks(1, 1000))
    (0.5, 2.0)
    """
    if not elsewhere.bad or not elsewhere.seen:
        return 1.0
    usual = elsewhere.bad / elsewhere.seen
    share = (here.bad + COMPLAINTS * usual) / (here.seen + COMPLAINTS)
    return max(1 / MOST_LEANING, min(share / usual, MOST_LEANING))
