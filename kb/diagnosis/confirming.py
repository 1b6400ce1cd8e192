"""Confirming a cause: whether it is listed, which tests its fix comes after, and what the confirmation changed."""

from __future__ import annotations

from collections.abc import Sequence

from kb.base.trouble import NotThere
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
        instead = f"did you mean `{near}`?" if near else "see `benchlore search`"
        raise NotThere(f"there is no entry `{slug[:60]}`; {instead}")
    if entry.cause(name) is None:
        listed = ", ".join(f"{slug}/{one.slug}" for one in entry.causes)
        raise NotThere(f"`{slug}` does not list the cause `{name[:60]}`; use one of {listed}")


def missing_tests(cause: str, shown: Sequence[Finding], knowledge: ShopKnowledge) -> tuple[Test, ...]:
    """The tests that the fix of a cause comes after and that are not among those that showed something."""
    slug, _, own = cause.partition("/")
    entry = knowledge.entry(slug)
    if entry is None:
        return ()
    names = [name for of, _, name in (one.test.partition("/") for one in shown) if of == slug]
    return gates.untested(entry, own, names)


def effect(cause: str, knowledge: ShopKnowledge) -> str:
    """In one sentence what a confirmation on the model at hand changed."""
    slug, _, name = cause.partition("/")
    entry = knowledge.entry(slug)
    if entry is None or entry.cause(name) is None:  # renamed or removed since, or taken in from another shop
        return f"no entry here lists {cause}; the job counts under that name"
    shares = knowledge.shares(entry)
    order = sorted((one.slug for one in entry.causes), key=lambda one: (-shares[one], one))
    place = order.index(name) + 1
    here = knowledge.counts_of(slug).told.here
    where = "first" if place == 1 else f"number {place} of {len(order)}"
    return f"this cause is now {where} on {knowledge.model}: {int(here.get(name, 0))} of {int(sum(here.values()))} here"
