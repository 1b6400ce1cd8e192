"""A sheet with every mark of acts, states and other sheets, and files of the house."""

from __future__ import annotations

from pathlib import Path

from kb.library import checks
from kb.library.customs import Customs
from kb.library.markdown import parse

MARKED = """---
title: No light at all
area: power
machine: dead
---

## Symptom

- no light
- nothing when pressed
- dead
- dark

## Not this if

- the fan turns
- a light is on
- a picture shows

## Likely causes

- **charger** (often; pallet rare): the charger is dead
- **hang** (often): the controller hangs
- **board** (rare; pallet often): the board is dead

## Cheapest test first

1. Drain it well (act drain the standby power; says nothing of charger, board)
    - it starts: hang; machine starts
    - still nothing: not hang; machine dead
2. Shine a torch (2 min; wait 3 min; machine picture; does live measuring, cover off; 4 in 5)
    - a faint picture: board; see backlight-dead, no-image-machine-runs/panel; machine no picture
    - all dark: see charge-light-but-no-start; machine dead, lights
    - it starts: charger, hang; not board
3. Take another charger (3 min; needs charger, installed system)
    - it starts: charger
    - no change: not charger

## Fix

- **charger** (5 min; wait 30 min; part charger): fit another
- **hang** (5 min): drain it
- **board** (95 min; act board swap; does live measuring; machine lights; part mainboard): swap it

## Safety

- Pull the charger.

## Also heard as

- no life
"""


def house_of(tmp_path: Path, **files: str) -> Customs:
    folder = tmp_path / "house"
    folder.mkdir(exist_ok=True)
    for name, text in files.items():
        (folder / f"{name}.md").write_text(text)
    return Customs(None, tmp_path)


GATED = """---
title: The case tingles
area: power
---

## Symptom

- it tingles

## At once

- Pull the charger at the wall.
- said: it tingles, a shock

## Likely causes

- **charger** (often): leaks
- **filter-current** (often): within the limits

## Cheapest test first

1. Look at the lead (2 min; first)
   - split: charger
   - sound: nothing
2. Plug it in on the tested circuit (3 min; after 3)
   - trips: charger
   - holds: not charger
3. Measure the insulation (6 min; needs earth tester)
   - too low: charger
   - all in limits: not charger

## Fix

- **charger** (3 min; part charger): fit another
- **filter-current** (3 min; after 2, 3): write it down

## Safety

- Mains can kill.

## Also heard as

- it tickles
"""


def wishes(text: str) -> list[str]:
    """What is wished for in a sheet beyond what a sheet as short as this one always brings."""
    usual = {"Symptom", "Likely causes", "Also heard as"}
    entry = parse(text, "tingles").entry
    assert entry is not None
    return [
        f"{one.line}: {one.problem}"
        for one in checks.inspect(entry)
        if one.problem.split("`")[1:2] == [] or one.problem.split("`")[1] not in usual
    ]
