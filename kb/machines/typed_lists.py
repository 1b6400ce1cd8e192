"""Typed lists as rows: CSV with headings, as a person or a spreadsheet wrote it, every problem named by its line."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from kb.base.worded import worded
from kb.model import Remark

_SEPARATORS = (",", ";", "\t", "|")


@dataclass(frozen=True, slots=True)
class ListForm:
    """What a list may hold: what each column may be called, folded (the first name is told), and the one it needs."""

    headings: Mapping[str, tuple[str, ...]]
    needed: str
    example: str

    def column(self, heading: str) -> str:
        """The column that a heading names, empty for none.

        >>> ListForm({"tag": ("tag", "asset no")}, "tag", "tag").column(" Asset_No ")
        'tag'
        """
        plain = " ".join(heading.replace("_", " ").split()).casefold()
        return next(
            (column for column, names in self.headings.items() if plain in names), ""
        )


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a list as it was read: its number, and its values by column."""

    line: int
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Table:
    """The rows of a list that could be read, and what is wrong with the others."""

    rows: tuple[Row, ...]
    remarks: tuple[Remark, ...]


def decoded(data: bytes) -> str:
    r"""A file as text: UTF-8 or UTF-16 by its first bytes, else as Windows programs of the west write it (cp1252).

    >>> decoded("\ufefftag,model".encode()), decoded("Größe".encode("cp1252"))
    ('tag,model', 'Größe')
    """
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def read_table(text: str, file: str, form: ListForm) -> Table:
    """The rows of a list with headings; a separator is whichever is most frequent in the first line."""
    lines = text.removeprefix("\ufeff").splitlines(keepends=True)
    first = next((number for number, line in enumerate(lines) if line.strip()), None)
    if first is None:
        told = worded("there is nothing in it")
        instead = worded("give headings such as {example}", example=form.example)
        return Table((), (Remark(file, 1, told, instead),))
    separator = max(_SEPARATORS, key=lambda sign: lines[first].count(sign))
    records = _records(lines, first, separator, file)
    head = next(records)
    if isinstance(head, Remark):
        return Table((), (head,))
    columns, remarks = _columns(head[1], first + 1, file, form)
    if form.needed not in columns:
        told = worded("no column is headed {needed}", needed=form.needed)
        instead = worded(
            "begin with a line of headings such as {example}; only the {needed} is needed",
            example=form.example,
            needed=form.needed,
        )
        return Table((), (*remarks, Remark(file, first + 1, told, instead)))
    rows = []
    for record in records:
        row = record if isinstance(record, Remark) else _row(*record, columns, file)
        if isinstance(row, Remark):
            remarks.append(row)
        elif row is not None:
            rows.append(row)
    return Table(tuple(rows), tuple(remarks))


def _records(
    lines: Sequence[str], first: int, separator: str, file: str
) -> Iterator[tuple[int, list[str]] | Remark]:
    """Each record with the number of its line; one that cannot be read is told, and the next line read for itself."""
    at = first
    while at < len(lines):
        reader = csv.reader(
            itertools.islice(lines, at, None), delimiter=separator, strict=True
        )
        try:
            values = next(reader)
        except csv.Error:
            yield Remark(
                file,
                at + 1,
                worded("a quote on this line is not closed as it was opened"),
                worded('write "" for a quote'),
            )
            at += 1
            continue
        yield at + 1, values
        at += max(reader.line_num, 1)


def _columns(
    head: Sequence[str], line: int, file: str, form: ListForm
) -> tuple[list[str], list[Remark]]:
    """What each column is; one that is not known, or there twice, is empty and told."""
    columns: list[str] = []
    remarks = []
    for heading in head:
        column = form.column(heading)
        if heading.strip() and not column:
            problem = worded(
                "nothing is known of a column `{heading}`, it is left out",
                heading=heading.strip()[:40],
            )
            instead = worded(
                "head it as one of {named}, or leave it so",
                named=", ".join(form.headings),
            )
            remarks.append(Remark(file, line, problem, instead))
        elif column and column in columns:
            problem = worded(
                "two columns are headed {column}, the second is left out", column=column
            )
            remarks.append(Remark(file, line, problem, worded("keep one")))
            column = ""
        columns.append(column)
    return columns, remarks


def _row(
    line: int, values: Sequence[str], columns: Sequence[str], file: str
) -> Row | Remark | None:
    """The row of a record, None if it is blank, or what is wrong with it."""
    if not "".join(values).strip():
        return None
    beyond = values[len(columns) :]
    if "".join(beyond).strip():
        problem = worded(
            "there are {values} fields under {columns} headings",
            values=len(values),
            columns=len(columns),
        )
        return Remark(
            file,
            line,
            problem,
            worded("put a field that holds the separator in quotes"),
        )
    pairs = zip(columns, values, strict=False)
    return Row(
        line, {column: " ".join(value.split()) for column, value in pairs if column}
    )
