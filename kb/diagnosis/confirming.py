"""Confirming a cause: whether it is listed, which tests its fix comes after, and what the confirmation changed."""

from __future__ import annotations

from collections.abc import Sequence

from kb.base.ranked import most_first
from kb.base.trouble import NotThere
from kb.base.worded import worded
from kb.diagnosis.knowledge import ShopKnowledge
from kb.history import intake
from kb.language.nearest import nearest
from kb.library import gates
from kb.model import Finding, Test


def check_cause(cause: str, knowledge: ShopKnowledge) -> None:
    """Raise NotThere, with what there is, unless an entry lists the cause (`entry/cause`)."""
    slug, _, name = intake.clean(cause).partition("/")
    entry = knowledge.entry(slug)
    if entry is None:
        near = nearest(slug, list(knowledge.index.slugs().values()))
        instead = (
            worded("did you mean `{near}`?", near=near)
            if near
            else worded("see `benchlore search`")
        )
        raise NotThere(
            worded(
                "there is no entry `{slug}`; {instead}", slug=slug[:60], instead=instead
            )
        )
    if entry.cause(name) is None:
        listed = ", ".join(f"{slug}/{one.slug}" for one in entry.causes)
        raise NotThere(
            worded(
                "`{slug}` does not list the cause `{name}`; use one of {listed}",
                slug=slug,
                name=name[:60],
                listed=listed,
            )
        )


def missing_tests(
    cause: str, shown: Sequence[Finding], knowledge: ShopKnowledge
) -> tuple[Test, ...]:
    """The tests that the fix of a cause comes after and that are not among those that showed something."""
    slug, _, own = cause.partition("/")
    entry = knowledge.entry(slug)
    if entry is None:
        return ()
    done = {one.test for one in shown}
    answered = [test.slug for test in entry.tests if f"{slug}/{test.slug}" in done]
    return gates.untested(entry, own, answered)


def effect(cause: str, knowledge: ShopKnowledge) -> str:
    """In one sentence what a confirmation on the model at hand changed."""
    slug, _, name = cause.partition("/")
    entry = knowledge.entry(slug)
    # renamed or removed since, or taken in from another shop
    if entry is None or entry.cause(name) is None:
        return worded(
            "no entry here lists {cause}; the job counts under that name", cause=cause
        )
    shares = knowledge.shares(entry)
    order = most_first({one.slug: shares[one.slug] for one in entry.causes})
    place = order.index(name) + 1
    here = knowledge.counts_of(slug).told.here
    where = (
        worded("first")
        if place == 1
        else worded("number {place} of {order}", place=place, order=len(order))
    )
    return worded(
        "this cause is now {where} on {model}: {k} of {whole} here",
        where=where,
        model=knowledge.model,
        k=int(here.get(name, 0)),
        whole=int(sum(here.values())),
    )
