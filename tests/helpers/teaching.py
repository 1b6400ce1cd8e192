"""Teaching back: a complaint that the search put wrong is confirmed as it was, and the same words are asked again."""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from helpers.asking import questions
from helpers.shops import quick_folder
from kb.bench.front import Bench
from kb.model import Confirmation, Entry

MODEL = "Tern 13"
#: How often each complaint is confirmed.
TIMES = 3


@dataclass(frozen=True, slots=True)
class Lesson:
    """A complaint and its cause (`entry/cause`): the last one that its sheet lists, which is the hardest to teach."""

    words: str
    cause: str

    @property
    def entry(self) -> str:
        """The sheet of the cause."""
        return self.cause.partition("/")[0]


@dataclass(frozen=True, slots=True)
class Learned:
    """After so many confirmations: whether the sheet is first, and whether the taught cause is likeliest in it."""

    lesson: Lesson
    sheet: tuple[bool, ...]
    cause: tuple[bool, ...]


def mistaken(bench: Bench, sets: Sequence[str]) -> list[Lesson]:
    """The complaints of these sets that put a wrong sheet first, each with its right one."""
    lessons = []
    for name in sets:
        for question in questions(name):
            first = bench.asking.rank(question.words, limit=1).entries
            if not first or first[0][0] not in question.entries:
                entry = bench.entries.entry(min(question.entries))
                if entry:
                    lessons.append(_lesson(question.words, entry))
    return lessons


def crossed(bench: Bench, entries: Sequence[Entry]) -> list[Lesson]:
    """For every sheet a wording of its own that turned out to be the fault of the one that came second, or is next."""
    lessons = []
    for entry, after in zip(entries, [*entries[1:], *entries[:1]], strict=True):
        ranked = bench.asking.rank(entry.wordings[0], limit=2).entries
        second = bench.entries.entry(ranked[1][0]) if len(ranked) > 1 else after
        lessons.append(_lesson(entry.wordings[0], second or after))
    return lessons


def _lesson(words: str, entry: Entry) -> Lesson:
    return Lesson(words, f"{entry.slug}/{entry.causes[-1].slug}")


def taught(shop: Path, lessons: Sequence[Lesson]) -> Iterator[Learned]:
    """What each lesson leaves, each in a new copy of a shop whose sheets are read."""
    for lesson in lessons:
        with quick_folder() as folder:
            shutil.copytree(shop, folder / "shop")
            bench = Bench(folder / "shop")
            yield _learned(bench, lesson)
            bench.close()


def _learned(bench: Bench, lesson: Lesson) -> Learned:
    sheet, cause = [], []
    for _ in range(TIMES):
        bench.jobs.confirm(
            Confirmation(lesson.cause, model=MODEL, words=lesson.words), untested=True
        )
        answer = bench.asking.search(lesson.words, MODEL)
        best = max(answer.entries, key=lambda entry: entry.probability)
        sheet.append(best.entry == lesson.entry)
        likeliest = [
            entry.causes[0].cause
            for entry in answer.entries
            if entry.entry == lesson.entry
        ]
        cause.append(likeliest == [lesson.cause])
    return Learned(lesson, tuple(sheet), tuple(cause))


def shares(learned: Sequence[Learned], after: int) -> tuple[float, float]:
    """In percent how often the sheet is first after so many confirmations, and the cause within it."""
    number = len(learned)
    sheets = sum(one.sheet[after - 1] for one in learned)
    return 100.0 * sheets / number, 100.0 * sum(
        one.cause[after - 1] for one in learned
    ) / number
