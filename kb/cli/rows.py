"""Rows for a spreadsheet: what a command found as CSV, with the keys of its JSON as headings."""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain
from typing import Any

import click

from kb.base.csvtext import Cell, to_csv
from kb.cli.options import say, tell

csv_option = click.option(
    "--csv", "as_csv", is_flag=True, help="Print a table for a spreadsheet (CSV)."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """In which shape a command prints what it found: lines for people, one JSON document, or CSV."""

    as_json: bool = False
    as_csv: bool = False

    def __post_init__(self) -> None:
        if self.as_json and self.as_csv:
            raise click.UsageError("say --json or --csv, not both")

    def tell(
        self,
        content: Any,
        lines: Iterable[str],
        rows: Sequence[Mapping[str, Any]] | None = None,
    ) -> None:
        """Print the document, or these lines, or these rows (those of the document where it is a list)."""
        if not self.as_csv:
            tell(content, lines, self.as_json)
            return
        if rows is None:
            rows = content if isinstance(content, list) else [content]
        say(as_csv(rows).replace("\r\n", "\n").rstrip("\n"))


def as_csv(rows: Sequence[Mapping[str, Any]]) -> str:
    r"""The rows as CSV under the names of their keys; a list stands in one cell, its members with commas.

    >>> as_csv([{"part": "panel", "machines": ["P7-03", "P7-18"], "price": None}])
    'part,machines,price\r\npanel,"P7-03, P7-18",\r\n'
    """
    headings = list(dict.fromkeys(chain.from_iterable(rows)))
    if not headings:
        return ""
    cells = [[_cell(row.get(name)) for name in headings] for row in rows]
    return to_csv([headings, *cells])


def _cell(value: Any) -> Cell:
    if value is None or isinstance(value, str | int | float):
        return value
    return (
        ", ".join(map(str, value))
        if isinstance(value, list)
        else json.dumps(value, ensure_ascii=False)
    )
