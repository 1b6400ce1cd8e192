"""A small library whose sheets say what the machine still does and point to each other."""

from __future__ import annotations

from pathlib import Path

from kb.bench.front import Bench

_SHEET = """---
title: {title}
area: power
machine: {machine}
---

## Symptom

- {title}

## Likely causes

{causes}

## Cheapest test first

{tests}

## Fix

{fixes}

## Safety

- Mind the pack.

## Also heard as

{heard}
"""
_SHEETS = {
    "stone-dead": {
        "title": "Stone dead, no light at all",
        "machine": "dead",
        "causes": "- **charger** (often; pallet rare): the charger is dead\n- **hang** (often): the controller hangs\n"
        "- **board** (rare; pallet often): the board is dead",
        "tests": """1. Look into the log (1 min; needs installed system)
    - says charger: charger
    - says nothing: not charger
2. Drain it (2 min; wait 10 min; says nothing of charger)
    - it starts: hang; machine starts
    - still nothing: not hang; machine dead
3. Try another charger (3 min)
    - it starts: charger; machine starts
    - still nothing: not charger; machine dead
4. Shine a torch on the panel (4 min; 4 in 5)
    - faint picture: see dark-panel
    - all black: nothing""",
        "fixes": "- **charger** (5 min; part charger): Fit another\n- **hang** (5 min): Drain it\n"
        "- **board** (95 min; cover off): Swap it",
        "heard": "- no light comes on\n- completely dead",
    },
    "dark-panel": {
        "title": "The panel stays dark",
        "machine": "no picture",
        "causes": "- **lamp** (often): the lamp is broken\n- **cable** (sometimes): its cable is loose",
        "tests": """1. Try an outside screen (3 min)
    - picture there: lamp, cable
    - none: not lamp, cable
2. Move the lid (2 min)
    - flickers: cable
    - stays: not cable""",
        "fixes": "- **lamp** (35 min; cover off): Swap it\n- **cable** (10 min; cover off): Seat it",
        "heard": "- panel dark\n- screen black with sound",
    },
    "no-network": {
        "title": "No link light at the network socket",
        "machine": "runs",
        "causes": "- **driver** (often): the driver is missing\n- **socket** (rare): the socket is worn",
        "tests": """1. Read the device list (1 min; machine runs)
    - missing: driver
    - listed: not driver
2. Try another port of the switch (2 min)
    - link: nothing
    - none: driver, socket""",
        "fixes": "- **driver** (2 min; needs installed system): Install it\n- **socket** (30 min): Swap it",
        "heard": "- no light at the network\n- network light off",
    },
}
DRAIN, CHARGER, TORCH = (
    "stone-dead/drain-it",
    "stone-dead/try-another-charger",
    "stone-dead/shine-a-torch-on-the-panel",
)


def stated_bench(folder: Path) -> Bench:
    """A fresh shop over these three sheets alone."""
    stock = folder / "stock"
    stock.mkdir(parents=True)
    for slug, told in _SHEETS.items():
        (stock / f"{slug}.md").write_text(_SHEET.format(**told))
    return Bench(folder / "shop", stock=stock)
