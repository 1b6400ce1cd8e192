"""Recall of the very words: what came of a complaint told again, and a sheet named in so many words, beat likeness."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

#: How many jobs all else that is known counts as, beside the jobs that were confirmed under the same words on the same
#: model. One for the sheet: what was taught comes first at the next asking, and a slip is still a coin's toss away.
#: Three for the cause within it, since the same words may be said of several (chosen, not measured in a shop).
ENTRY_JOBS, CAUSE_JOBS = 1.0, 3.0
#: As how many such jobs it counts that the words are the title or the name of a sheet: it comes first and fits,
#: whatever its neighbours make of them (chosen, not measured in a shop).
NAMED_JOBS = 9.0


@dataclass(frozen=True, slots=True)
class Recalled:
    """Confirmed jobs on the model at hand under the words that are asked: by entry, and by cause within each."""

    entries: Mapping[str, float] = field(default_factory=dict)
    causes: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def naming(self, slug: str) -> Recalled:
        """The same where the words are the name of that sheet, which counts as long as nothing came of them here."""
        return (
            replace(self, entries={slug: NAMED_JOBS})
            if slug and not self.entries
            else self
        )


NOTHING = Recalled()

_WORDS = re.compile(r"[^\W_]+")


def names_of(titles: Mapping[str, str]) -> dict[str, str]:
    """The slug of each sheet by its name and its title (given by slug) as words, without case and signs.

    >>> names_of({"no-sign-of-life": "Pressing it: nothing!"})
    {'no sign of life': 'no-sign-of-life', 'pressing it nothing': 'no-sign-of-life'}
    """
    found: dict[str, str] = {}
    for slug, title in titles.items():
        found[as_words(slug)] = slug
        found.setdefault(as_words(title), slug)
    return found


def as_words(text: str) -> str:
    """A text as its words alone."""
    return " ".join(_WORDS.findall(text.casefold()))


def recalled(rows: Iterable[tuple[str, str, int]]) -> Recalled:
    """What was confirmed, from rows of entry, cause (`entry/cause`) and number of jobs.

    >>> found = recalled([("no-light", "no-light/fuse", 2), ("no-light", "no-light/plug", 1)])
    >>> found.entries, found.causes
    ({'no-light': 3.0}, {'no-light': {'fuse': 2.0, 'plug': 1.0}})
    """
    entries: dict[str, float] = {}
    causes: dict[str, dict[str, float]] = {}
    for entry, cause, jobs in rows:
        entries[entry] = entries.get(entry, 0.0) + jobs
        causes.setdefault(entry, {})[cause.removeprefix(f"{entry}/")] = float(jobs)
    return Recalled(entries, causes)


def leaning(
    shares: Mapping[str, float], counted: Mapping[str, float], known_as: float
) -> Mapping[str, float]:
    """The shares that sum to 1 with jobs counted beside them, the shares themselves counting as `known_as` jobs.

    That is the mean of a Dirichlet distribution (Gelman et al., Bayesian Data Analysis, 3rd edition, section 3.4). What
    was counted but has no share is left out.

    >>> leaning({"a": 0.75, "b": 0.25}, {"b": 1, "gone": 5}, 1.0)
    {'a': 0.375, 'b': 0.625}
    """
    known = {name: jobs for name, jobs in counted.items() if name in shares}
    if not known:
        return shares
    whole = known_as + sum(known.values())
    return {
        name: (known_as * share + known.get(name, 0.0)) / whole
        for name, share in shares.items()
    }
