"""The board of an answer on a page: the safety notes and entries that its next step and its top entry need."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from urllib.parse import quote_plus

from kb.history.jobs import OpenJob
from kb.model import Answer, CauseBelief, Entry, EntryBelief, Step
from webui.fields import TypedComplaint
from webui.guard.entering import may_write

#: An entry with at least this share of belief is shown with its causes, not only by its title.
WORTH_CAUSES = 0.2
#: Causes shown of an entry before "more".
CAUSES_SHOWN = 4


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

    def first_causes(self, entry: EntryBelief) -> tuple[CauseBelief, ...]:
        """The likeliest causes of an entry."""
        return entry.causes[:CAUSES_SHOWN]

    def more_causes(self, entry: EntryBelief) -> tuple[CauseBelief, ...]:
        """The causes after those."""
        return entry.causes[CAUSES_SHOWN:]


def _cautions(step: Step | None, top: Entry | None) -> tuple[str, ...]:
    """The cautions of the step, then those of the likeliest sheet, each once."""
    return tuple(dict.fromkeys((*(step.cautions if step else ()), *(top.safety if top else ()))))


def board(
    entry_of: Callable[[str], Entry | None],
    complaint: TypedComplaint,
    answer: Answer,
    literal: tuple[tuple[str, str, str], ...] = (),
    job: OpenJob | None = None,
) -> Board:
    """The answer with what a page shows beside it."""
    step = answer.next_step
    step_entry = entry_of(step.entry) if step and step.entry else None
    top = entry_of(answer.entries[0].entry) if answer.entries else None
    tried = frozenset(failed.fix for failed in job.failed_fixes) if job else frozenset()
    return Board(complaint, answer, _cautions(step, top), step, step_entry, literal, tried, writes=may_write())
