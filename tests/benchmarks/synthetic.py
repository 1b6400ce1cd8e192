"""A library grown by entries that nobody wrote: halves of real wordings joined anew; for speed and size alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random

from kb.model import Cause, Entry

#: Wordings of a made entry: ten thousand entries hold about 300,000.
WORDINGS = 30


def grown(entries: Sequence[Entry], count: int, seed: int = 1) -> Iterator[Entry]:
    """The real entries, and behind them made ones up to that number."""
    yield from entries
    rng = Random(seed)
    pool = [
        text.split() for entry in entries for text in (*entry.wordings, *entry.symptoms)
    ]
    causes = [cause for entry in entries for cause in entry.causes]
    for number in range(len(entries), count):
        texts = [
            _joined(rng.choice(pool), rng.choice(pool)) for _ in range(WORDINGS + 3)
        ]
        known = {cause.slug: cause for cause in rng.sample(causes, 5)}
        yield _made(f"made-{number:05d}", texts, tuple(known.values()))


def _joined(one: Sequence[str], other: Sequence[str]) -> str:
    return " ".join([*one[: (len(one) + 1) // 2], *other[len(other) // 2 :]])


def _made(slug: str, texts: Sequence[str], causes: tuple[Cause, ...]) -> Entry:
    return Entry(
        slug,
        texts[0],
        "case",
        symptoms=tuple(texts[1:3]),
        causes=causes,
        tests=(),
        fixes=(),
        safety=("none",),
        wordings=tuple(texts[3:]),
    )
