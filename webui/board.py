"""The board of an answer on a page: the safety notes and entries that its next step and its top entry need."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from urllib.parse import quote_plus

from kb.bench.at_hand import PartAtHand, at_hand
from kb.bench.front import Bench
from kb.diagnosis.answer import Answer, CauseBelief, EntryBelief, Step
from kb.history.jobs import OpenJob
from kb.library import editing
from kb.library.album import Picture
from kb.model import Entry, Fix
from webui.fields import TypedComplaint
from webui.guard.entering import may_write
from webui.tongue import InTongue, of_a_sheet

#: An entry with at least this share of belief is shown with its causes, not only by its title.
WORTH_CAUSES = 0.2
#: A cause below this is a line on a phone, to be unfolded; once something was found, each but the first.
WORTH_A_ROW = 0.05
#: Causes shown of an entry before "more".
CAUSES_SHOWN = 4
#: The same once something was found: then the next step counts, and what was found so far.
CAUSES_SHOWN_LATER = 2


@dataclass(frozen=True, slots=True)
class Doing:
    """How a step is done: what stands in sight, and what is unfolded."""

    first: str = ""
    rest: str = ""


def doing(step: Step) -> Doing:
    """The first sentence of how a step is done and the rest; a fix whose headline says it in full has no first one.

    >>> step = Step(kind="test", title="Feel it", minutes=1, expected_minutes=1, why="", detail="Cover off. Press.")
    >>> doing(step)
    Doing(first='Cover off.', rest='Press.')
    """
    detail = of_a_sheet(step.detail)
    kind = InTongue if isinstance(detail, InTongue) else str
    first, rest = map(kind, _cut_behind_a_sentence(detail.strip()))
    if (
        step.kind == "fix"
        and first.rstrip(" .;:").casefold() == of_a_sheet(step.title).casefold()
    ):
        return Doing("", rest)
    return Doing(first, rest)


def _cut_behind_a_sentence(text: str) -> tuple[str, str]:
    """The first sentence, line or list of a text, and what follows."""
    ends = re.search(r"(?<=[.!?])\s+(?=[A-ZÄÖÜÁÉÍÓÚÑ¿¡`*\d])|\n\s*\n|\n(?=[-*])", text)
    return (text[: ends.start()], text[ends.end() :]) if ends else (text, "")


@dataclass(frozen=True)
class Board:
    """All that stands on the page for one answer."""

    asked: TypedComplaint
    answer: Answer
    cautions: tuple[str, ...]
    step: Step | None
    step_entry: Entry | None
    literal: tuple[tuple[str, str, str], ...] = ()
    tried: frozenset[str] = frozenset()
    named: str = ""
    field: str = ""
    writes: bool = True
    begun: bool = False
    near_model: str = ""
    hand: tuple[PartAtHand, ...] = ()
    pictures: tuple[Picture, ...] = ()
    other_pictures: tuple[Picture, ...] = ()

    @property
    def proposes(self) -> bool:
        """Whether a step is shown: not where nothing fits the words and nothing was noted yet."""
        return self.answer.fits or self.begun

    @property
    def fix(self) -> Fix | None:
        """The fix that is the next step, None where that is a test."""
        if self.step is None or self.step.kind != "fix" or self.step_entry is None:
            return None
        return self.step_entry.fix_for(self.step.name)

    @property
    def doing(self) -> Doing:
        """How the next step is done."""
        return doing(self.step) if self.step else Doing()

    @property
    def other(self) -> Doing:
        """How the test is done that may come before the next step."""
        return doing(self.answer.next_test) if self.answer.next_test else Doing()

    def telling(self, said: Iterable[str]) -> tuple[tuple[str, str], ...]:
        """What would tell where nothing fits: each of these sentences with the address that adds it to the words."""
        words = self.asked.words
        fresh = (one for one in said if one.casefold() not in words.casefold())
        return tuple(
            (one, self.asked.saying(f"{words}, {one}").address("/")) for one in fresh
        )

    def confirm_address(self, cause: str) -> str:
        """Where "it was this" leads for a cause (`entry/cause`)."""
        return f"{self._confirm}{quote_plus(cause)}"

    @cached_property
    def _confirm(self) -> str:
        """The address of the confirmation up to its cause."""
        return self.asked.address("/confirm", cause="*").removesuffix("%2A")

    def wide(self, entry: EntryBelief) -> bool:
        """Whether an entry is shown with its causes at once."""
        return entry == self.answer.entries[0] or entry.probability >= WORTH_CAUSES

    def is_brief(self, entry: EntryBelief, cause: CauseBelief) -> bool:
        """Whether a cause is shown on one line where there is little room."""
        return cause != entry.causes[0] and (
            self.begun or cause.probability < WORTH_A_ROW
        )

    def first_causes(self, entry: EntryBelief) -> tuple[CauseBelief, ...]:
        """The likeliest causes of an entry."""
        return entry.causes[: self._in_sight]

    def more_causes(self, entry: EntryBelief) -> tuple[CauseBelief, ...]:
        """The causes after those."""
        return entry.causes[self._in_sight :]

    @property
    def _in_sight(self) -> int:
        return CAUSES_SHOWN_LATER if self.begun else CAUSES_SHOWN


def with_parts(bench: Bench, laid_out: Board) -> Board:
    """The board with what can be had of the parts that its next step asks for."""
    fix = laid_out.fix
    if fix is None or not fix.parts or not laid_out.proposes:
        return laid_out
    model = laid_out.answer.model or laid_out.asked.model
    return replace(laid_out, hand=at_hand(bench, fix.parts, model, laid_out.asked.unit))


def with_pictures(bench: Bench, laid_out: Board) -> Board:
    """The board with the shop's pictures of its next step, and of the test that may come before a fix."""
    if not laid_out.proposes:
        return laid_out
    step, other, entry = laid_out.step, laid_out.answer.next_test, laid_out.step_entry
    laid_out = replace(laid_out, pictures=_pictures(bench, entry, step))
    if step is None or step.kind == "test" or other is None:
        return laid_out
    entry = entry if step.entry == other.entry else bench.entries.entry(other.entry)
    return replace(laid_out, other_pictures=_pictures(bench, entry, other))


def _pictures(
    bench: Bench, entry: Entry | None, step: Step | None
) -> tuple[Picture, ...]:
    """The shop's pictures of a step of that entry."""
    if entry is None or step is None:
        return ()
    place = editing.place_in(entry, f"{step.kind} {step.name}")
    return bench.entries.album().at(entry, place) if place else ()


def _cautions(step: Step | None, top: Entry | None) -> tuple[str, ...]:
    """The cautions of the step, then those of the likeliest sheet, each once."""
    of_step = step.cautions if step else ()
    of_top = top.safety if top else ()
    return tuple(dict.fromkeys((*of_step, *of_top)))


def board(
    entry_of: Callable[[str], Entry | None],
    complaint: TypedComplaint,
    answer: Answer,
    literal: tuple[tuple[str, str, str], ...] = (),
    job: OpenJob | None = None,
) -> Board:
    """The answer with what a page shows beside it."""
    step = answer.next_step
    top = entry_of(answer.entries[0].entry) if answer.entries else None
    laid_out = Board(
        asked=complaint,
        answer=answer,
        cautions=_cautions(step, top),
        step=step,
        step_entry=entry_of(step.entry) if step and step.entry else None,
        literal=literal,
        writes=may_write(),
    )
    if job is None:
        return laid_out
    return replace(
        laid_out,
        tried=frozenset(failed.fix for failed in job.failed_fixes),
        begun=job.is_begun,
    )
