"""Every key of the JSON that commands print, found by running them in one small shop; run it to write KEYS.md anew."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from click.testing import CliRunner

ROOT = Path(__file__).resolve().parents[2]
#: The made chapter, which is the frozen state as well.
CHAPTER = ROOT / "kb" / "cli" / "KEYS.md"
HEAD = """\
# The keys of `--json`

One document a command, or one a line with `search --stdin`. A document with keys says the `version` of this contract;
keys may be added, and one that goes or means something else makes the version one higher. A list has no place for one
and is of the same contract. `[]` stands for each of a list, a sort after the colon for what was seen; `null` says
that it may be empty. Where `--json` was asked and nothing was done, the document is `{"error": SENTENCE, "status":
EXIT STATUS, "version": 1}`. `export` writes JSON Lines by itself; `serve` is for people and has no `--json`. With it
`guide` asks nothing and `demo` wants `--no-serve`.

(Made by `python tests/helpers/keys.py`; a test compares.)
"""

_OLD = "day,model,words,cause\n2024-11-24,Tern 13,battery not detected,battery-not-detected/pack\n2024-13-01,x,y,z\n"
_PALLET = "tag,model,complaint\nP7-001,Tern 13,no light when plugged in\nP7-002,,dead\n"
_JOB = {
    "kind": "job",
    "shop": "1" * 12,
    "day": "2026-11-24",
    "format": 1,
    "model": "Tern 13",
}
_SHARED = "\n".join(
    json.dumps({**_JOB, "entry": "a", "cause": "b", **told})
    for told in (
        {"job": 1, "machine": 1, "listed": False, "minutes": 12, "part": "fan"},
        {"job": 2, "machine": 2, "listed": True, "minutes": 20},
        {"job": 3, "machine": 3, "listed": True, "model": "Skua 14"},
        {"job": 1, "kind": "test", "test": "a/t", "shown": "right"},
        {"kind": "fit", "from_model": "Skua 14", "part": "fan", "shown": "worked"},
        {"format": 2},
    )
)
_ORDERS = "part,count,total,purchase\nbattery,2,40.00,4711\nbatery,1,20.00,\n"
_COUNTS = '{"format": "benchlore-counts-1", "made": "2026-11-30", "shops": 3, "jobs": 9, "entries": {}}'
#: What is run, in that order; {import} stands for the id that the first import gives.
SCENE = (
    ("intake", "pallet.csv", "--lot", "P7"),
    ("import", "old.csv"),
    ("import", "old.csv", "--dry-run", "--propose", "1"),
    (
        "confirm",
        "battery-not-detected/pack",
        "--model",
        "Tern 13",
        "--unit",
        "P7-001",
        "--minutes",
        "12",
    ),
    ("search", "wont chrge, led orange, charger plug firm", "--model", "Tern 13"),
    ("review",),
    ("review", "--model", "Tern 13"),
    ("guide", "no light when plugged in", "--model", "Tern 13", "--unit", "P7-001"),
    ("help",),
    ("help", "search"),
    ("passphrase", "--end-sessions"),
    ("demo", "--no-serve"),
    ("show", "battery-not-detected"),
    ("list", "battery"),
    ("jobs",),
    ("new", "hinge creaks when opened"),
    ("check",),
    ("unit", "P7-001"),
    ("lot", "P7"),
    ("labels", "--lot", "P7", "--out", "labels.html"),
    ("checkout", "P7-001"),
    ("same", "Tern-13", "Tern 13"),
    ("same",),
    ("same", "Tern-13", "--two"),
    ("parts", "battery", "--model", "Skua 14"),
    ("parts", "--bought", "orders.csv"),
    ("parts", "--coming"),
    ("parts", "--came", "4711"),
    ("pile", "--lot", "P7", "--hours", "16", "--money", "15000"),
    ("cost", "--lot", "P7"),
    ("tools", "--lack", "multimeter"),
    ("settings",),
    ("learn", "counts.json"),
    ("new-library", "lamps"),
    ("backup", "friday.zip"),
    ("verify",),
    ("restore", "friday.zip", "--shop", "second"),
    ("office", "shared"),
    ("undo", "--yes"),
    ("retract", "{import}", "--why", "the wrong file"),
)

#: Commands that belong to no shop.
WITHOUT_SHOP = ("help", "new-library", "office")


def paths(content: Any, at: str = "") -> Iterator[tuple[str, str]]:
    """Each key with where it stands, and the sort of its value."""
    if (
        isinstance(content, dict)
        and content
        and all(str(key).isidentifier() for key in content)
    ):
        for key, value in content.items():
            yield from paths(value, f"{at}.{key}" if at else key)
    elif isinstance(content, list) and content:
        for one in content:
            yield from paths(one, f"{at}[]")
    else:
        yield at or "the document", _sort(content)


def _sort(value: Any) -> str:
    names = {
        type(None): "null",
        bool: "truth",
        int: "number",
        float: "number",
        str: "text",
        list: "list",
        dict: "map",
    }
    return names[type(value)]


def written() -> str:
    """The chapter as the program is now."""
    from webui.commands import main

    found: dict[str, dict[str, set[str]]] = {}
    before, imported = Path.cwd(), ""
    with tempfile.TemporaryDirectory() as folder:
        os.chdir(folder)
        try:
            Path("old.csv").write_text(_OLD, encoding="utf-8")
            Path("pallet.csv").write_text(_PALLET, encoding="utf-8")
            Path("orders.csv").write_text(_ORDERS, encoding="utf-8")
            Path("counts.json").write_text(_COUNTS, encoding="utf-8")
            Path("shared").mkdir()
            Path("shared/shared-111111111111.jsonl").write_text(
                _SHARED, encoding="utf-8"
            )
            for arguments in SCENE:
                shop = (
                    ()
                    if "--shop" in arguments or arguments[0] in WITHOUT_SHOP
                    else ("--shop", "shop")
                )
                given = [imported if one == "{import}" else one for one in arguments]
                result = CliRunner().invoke(
                    main, [*given, "--json", *shop], prog_name="benchlore"
                )
                keys, told = (
                    found.setdefault(arguments[0], {}),
                    json.loads(result.stdout),
                )
                imported = (
                    told.get("import") if isinstance(told, dict) else ""
                ) or imported
                for path, sort in paths(told):
                    keys.setdefault(path, set()).add(sort)
        finally:
            os.chdir(before)
    return HEAD + "".join(_section(name, keys) for name, keys in sorted(found.items()))


def _section(name: str, keys: dict[str, set[str]]) -> str:
    lines = [
        f"- `{path}`: {' or '.join(sorted(sorts))}" for path, sorts in keys.items()
    ]
    return f"\n## {name}\n\n" + "\n".join(lines) + "\n"


if __name__ == "__main__":
    CHAPTER.write_text(written(), encoding="utf-8")
