"""Machines that came in, and where a page leads."""

from __future__ import annotations

from helpers.visiting import HOME, Visitor
from kb.bench.arrivals import Arrived
from kb.bench.front import Bench

PLUG = "no-battery/plug"


def came_in(
    bench: Bench,
    tag: str = "P7-001",
    model: str = "Tern 13",
    words: str = "no battery",
    place: str = "",
) -> None:
    bench.arrivals.arrive(
        Arrived(tag=tag, lot="P7", model=model, words=words, place=place)
    )


def address(visitor: Visitor, path: str) -> str:
    """Where a path leads in the end."""
    answer = visitor.client.get(path, base_url=HOME, follow_redirects=True)
    return str(answer.request.path)
