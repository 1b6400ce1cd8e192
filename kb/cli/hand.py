"""The parts at hand for a step, as the terminal tells them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.bench.front import Bench
    from kb.diagnosis.answer import Step


def step_lines(bench: Bench, step: Step, model: str, tag: str = "") -> Iterator[str]:
    """Where the parts of a fix can be had, a line each; nothing for a test, nor where there is nothing to be had."""
    if step.kind != "fix" or not step.entry or not model:
        return
    fix = bench.entries.fix(f"{step.entry}/{step.name}")
    if fix and fix.parts and bench.asking.has_parts():
        from kb.bench.at_hand import at_hand, told_at_hand

        for one in at_hand(bench, fix.parts, model, tag):
            yield f"{one.part}: {told_at_hand(one, bench.shop.settings.currency)}"
