"""A shop with one entry whose tests need tools, and a clock that is set by hand."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

from helpers.clocks import Clock
from helpers.places import CORPUS
from kb.bench.front import Bench

PLUG, PACK, BOARD = "no-battery/plug", "no-battery/pack", "no-battery/light-board"
NOON = datetime(2026, 6, 30, 12, tzinfo=UTC)

HUMS = """---
title: It hums in the left corner
area: power
---

## Symptom

- hums in the left corner

## Likely causes

- **coil** (often): a coil sings
- **socket** (often): the socket sings

## Cheapest test first

1. Measure the ripple (3 min; needs multimeter)
    - much: coil
    - little: socket
2. Weigh the charger (25 min; needs scale)
    - light: coil
    - heavy: socket
3. Warm the board (2 min; needs heat mat, thermal camera)
    - one spot: coil
    - none: socket

## Fix

- **coil** (60 min; cover off; needs soldering iron): fix the coil with varnish
- **socket** (60 min; cover off; part charging socket): fit another socket

## Safety

- Pull the charger first.

## Also heard as

- humming from the left corner
"""
WORDS = "hums in the left corner"
TOOLS = "multimeter", "scale", "heat mat", "thermal camera"


@contextmanager
def hums(folder: Path, clock: Clock) -> Iterator[Bench]:
    """The small corpus and one entry whose tests need tools."""
    (folder / "entries").mkdir(parents=True)
    (folder / "entries" / "hums.md").write_text(HUMS)
    made = Bench(folder, stock=CORPUS, clock=clock)
    yield made
    made.close()


def write(bench: Bench, text: str) -> None:
    bench.shop.kept_settings.path.write_text(text, encoding="utf-8")


def text_of(bench: Bench) -> str:
    return bench.shop.kept_settings.path.read_text("utf-8")
