"""A small library with a sheet whose tests wait for each other, and a neighbour without gates."""

from __future__ import annotations

import shutil
from pathlib import Path

from helpers.places import CORPUS
from kb.bench.front import Bench

#: Looked at first, measured before it is fed; a fix that waits for a measurement, and one that would be quickest.
STINGS = """---
title: The case stings
area: power
---

## Symptom

- the case stings when touched
- metal parts prickle on the charger
- it stings under the palm
- the lid prickles

## At once

- Pull the charger at the wall.
- Do not touch the case.
- said: electrocuted, a smell of ozone, buzzes

## Likely causes

- **charger** (often): the charger leaks
- **filter** (often): the filter current is felt, within the limits
- **socket** (rare): the house socket has no earth

## Cheapest test first

1. Look at lead and charger (4 min; first; needs torch)
    - split: charger
    - sound: not charger
2. Ask where it stings (2 min; first)
    - everywhere: nothing
    - at one socket: socket
3. Feed it on the tested circuit (1 min; after 4)
    - trips: charger
    - holds: not charger
4. Measure the current of the case (6 min; needs earth tester)
    - within the limits: filter
    - above: charger

## Fix

- **charger** (8 min; part charger): fit another
- **filter** (1 min; after 4): write the reading down
- **socket** (5 min): for a licensed electrician

## Safety

- Mains can kill.

## Also heard as

- it zaps me
- touching the lid stings
"""
#: A neighbour without gates, told in other words and in some of the same.
HOT = """---
title: The lid is hot
area: cooling
---

## Symptom

- the lid is hot
- the palm rest is hot
- hot air at the hinge
- the fan is loud

## Likely causes

- **fan** (often): the fan is full of dust
- **paste** (sometimes): the paste is dry
- **load** (rare): a program runs wild

## Cheapest test first

1. Listen to the fan (1 min)
    - loud: fan
    - quiet: not fan
2. Read the load (3 min)
    - high: load
    - low: not load

## Fix

- **fan** (5 min): blow it out
- **paste** (20 min): renew it
- **load** (2 min): end it

## Safety

- Let it cool.

## Also heard as

- heats up
- the fan roars and the lid is warm
"""
LOOK, ASK = "stings/look-at-lead-and-charger", "stings/ask-where-it-stings"
FEED, MEASURE = (
    "stings/feed-it-on-the-tested-circuit",
    "stings/measure-the-current-of-the-case",
)
WORDS = "the case stings when touched"


def gated_bench(folder: Path) -> Bench:
    """A fresh shop over the small corpus with these two sheets beside it."""
    stock = Path(shutil.copytree(CORPUS, folder / "stock"))
    (stock / "stings.md").write_text(STINGS)
    (stock / "hot.md").write_text(HOT)
    return Bench(folder / "shop", stock=stock)


def rewrite(bench: Bench, text: str) -> None:
    """Put the shop's own text in place of the gated sheet."""
    (bench.folder / "entries").mkdir(parents=True, exist_ok=True)
    (bench.folder / "entries" / "stings.md").write_text(text)
