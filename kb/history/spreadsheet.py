"""A spreadsheet of old jobs, read from the bytes of a CSV file: encoding, separator, columns, days, minutes."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, time, tzinfo

from kb.base.clock import stamp
from kb.base.trouble import Refusal
from kb.history.trouble import NotAccepted
from kb.model import Remark

#: The fields of an old job, each with what its column may be called, folded; the first is the name that is told.
FIELDS: Mapping[str, tuple[str, ...]] = {
    "model": ("model", "machine", "product", "type"),
    "tag": ("tag", "unit", "label", "asset", "asset tag", "machine no"),
    "words": ("words", "complaint", "symptom", "fault", "problem", "issue"),
    "cause": ("cause", "diagnosis", "found", "reason", "repair", "fix", "solution"),
    "day": ("day", "date", "closed", "closed at", "closed on", "finished", "done"),
    "minutes": ("minutes", "min", "time", "bench minutes"),
    "part": ("part", "parts", "part used"),
    "donor": ("donor", "from machine"),
    "note": ("note", "notes", "remark", "remarks", "comment"),
    "by": ("by", "who", "initials", "technician"),
}
_OF_HEADING = {name: field for field, names in FIELDS.items() for name in names}
#: Without these a line is no job.
NEEDED = ("model", "day")
#: In which order a day such as 3/4/2024 is written.
ORDERS = ("dmy", "mdy")
_SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_DAY = re.compile(
    r"(\d{1,4})([-./])(\d{1,2})\2(\d{1,4})\.?(?:[ T]+\d{1,2}:\d{2}(?::\d{2})?)?"
)
_MINUTES = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(?:(h|hrs?|hours?|std)|m|min|mins|minutes?)?\.?",
    re.IGNORECASE,
)
#: A year of two digits from here on is of the century before.
_LAST_CENTURY = 70
_STEERING = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
#: Most lines in one file.
MOST = 50_000


class ColumnsMissing(Refusal):
    """No column of the file gives what a job needs; somebody is to say which does."""


@dataclass(frozen=True, slots=True)
class OldRow:
    """One line of a spreadsheet: its number in the file, and its values by field, blanks made single."""

    line: int
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Spreadsheet:
    """A spreadsheet that was read: how, which heading gives which field, the rows, and the lines that are no rows.

    `left_out` are the headings that give nothing.
    """

    encoding: str
    separator: str
    headings: Mapping[str, str]
    left_out: tuple[str, ...]
    rows: tuple[OldRow, ...]
    remarks: tuple[Remark, ...]


def decoded(data: bytes, encoding: str = "") -> tuple[str, str]:
    r"""The text of a file and the name of its encoding; raises Refusal for what cannot be read cleanly.

    Without an encoding it is UTF-8 or UTF-16 by its first bytes, else UTF-8, else what Windows programs of the west
    write (cp1252).

    >>> decoded("Größe".encode()), decoded("Größe".encode("cp1252"))
    (('Größe', 'UTF-8'), ('Größe', 'cp1252'))
    """
    tried = [encoding] if encoding else _likely(data)
    for name in tried:
        try:
            text = data.decode(name)
        except LookupError:
            raise Refusal(
                f"there is no encoding `{name[:40]}`; give one such as utf-8, cp1252 or cp1250"
            ) from None
        except UnicodeError:
            continue
        if not _STEERING.search(text) and "\ufffd" not in text:
            return text, {"utf-8-sig": "UTF-8"}.get(name, name)
    raise Refusal(
        f"this cannot be read cleanly as text{f' in {encoding}' if encoding else ''}; nothing was taken in. "
        "Save it as CSV in UTF-8, or name its encoding, such as --encoding cp1250"
    )


def headings_of(text: str) -> tuple[str, ...]:
    r"""The headings of the columns of a spreadsheet, none for JSON Lines or an empty text.

    >>> headings_of("Model;Closed on\nTern 13;2024-11-24"), headings_of('{"job": "x"}')
    (('Model', 'Closed on'), ())
    """
    head = _head(text)
    if not head or head.lstrip().startswith("{"):
        return ()
    _, values = next(_records(text, _separator(head), "the list"))
    headings = (" ".join(value.split()) for value in values)
    return tuple(filter(None, headings))


def _head(text: str) -> str:
    """The first line that is not blank, empty if there is none."""
    return next((line for line in text.splitlines() if line.strip()), "")


def _separator(head: str) -> str:
    return max(_SEPARATORS, key=head.count)


def _likely(data: bytes) -> list[str]:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return ["utf-16"]
    return ["utf-8-sig", "cp1252"]


def read(
    data: bytes, columns: Mapping[str, str], file: str, encoding: str = ""
) -> Spreadsheet:
    """The rows of a CSV file with headings; `columns` says which heading gives which field, where they do not say so.

    Raises Refusal for a file that cannot be read cleanly, and where a needed column is not there.
    """
    text, named = decoded(data, encoding)
    head = _head(text)
    if not head:
        raise Refusal(
            "there is nothing in it; give a CSV file with headings, or what benchlore export has written"
        )
    separator = _separator(head)
    records = _records(text, separator, file)
    headings = [" ".join(value.split()) for value in next(records)[1]]
    fields = _fields(headings, columns)
    rows, remarks = _rows(records, fields, file)
    given = list(zip(fields, headings, strict=True))
    return Spreadsheet(
        encoding=named,
        separator=_SEPARATORS[separator],
        headings={field: heading for field, heading in given if field},
        left_out=tuple(heading for field, heading in given if heading and not field),
        rows=rows,
        remarks=remarks,
    )


def _rows(
    records: Iterable[tuple[int, list[str]]], fields: Sequence[str], file: str
) -> tuple[tuple[OldRow, ...], tuple[Remark, ...]]:
    """The rows, and the remarks on those that are none; raises Refusal where there are too many."""
    rows, remarks = list[OldRow](), list[Remark]()
    for line, values in records:
        found = _row(line, values, fields, file)
        if isinstance(found, OldRow):
            rows.append(found)
        else:
            remarks.append(found)
    if len(rows) + len(remarks) > MOST:
        raise Refusal(f"{file} has more than {MOST} lines; split it")
    return tuple(rows), tuple(remarks)


def _records(text: str, separator: str, file: str) -> Iterator[tuple[int, list[str]]]:
    """Each record that is not blank, with the number of its first line; raises Refusal where quotes do not match."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    while True:
        line = reader.line_num + 1
        try:
            values = next(reader)
        except StopIteration:
            return
        except csv.Error:
            problem = "a quote is not closed as it was opened, so that the lines after it cannot be told apart"
            raise Refusal(
                f'{file}, line {line}: {problem}; write "" for a quote inside a field'
            ) from None
        if any(value.strip() for value in values):
            yield line, values


def _row(
    line: int, values: Sequence[str], fields: Sequence[str], file: str
) -> OldRow | Remark:
    if any(value.strip() for value in values[len(fields) :]):
        problem = f"there are {len(values)} fields under {len(fields)} headings"
        return Remark(
            file, line, problem, "put a field that holds the separator in quotes"
        )
    pairs = zip(fields, values, strict=False)
    return OldRow(
        line, {field: " ".join(value.split()) for field, value in pairs if field}
    )


def _fields(headings: Sequence[str], columns: Mapping[str, str]) -> list[str]:
    """Which field each column gives, empty for none; raises Refusal where a heading or a needed field is missing."""
    fields = _as_was_said(headings, columns)
    for number, heading in enumerate(headings):
        field = _OF_HEADING.get(
            " ".join(heading.casefold().replace("_", " ").split()), ""
        )
        if (
            field
            and not fields[number]
            and field not in fields
            and field not in columns
        ):
            fields[number] = field
    _refuse_where_one_is_missing(fields, headings)
    return fields


def _as_was_said(headings: Sequence[str], columns: Mapping[str, str]) -> list[str]:
    """Which field each column gives by what was said of it, empty where nothing was; raises Refusal."""
    folded = [heading.casefold() for heading in headings]
    fields = [""] * len(headings)
    for field, heading in columns.items():
        if field not in FIELDS:
            raise Refusal(
                f"there is no field `{field[:40]}`; the fields are {', '.join(FIELDS)}"
            )
        if heading.casefold() not in folded:
            raise Refusal(
                f"no column is headed `{heading[:40]}`; the headings are {', '.join(headings)[:300]}"
            )
        fields[folded.index(heading.casefold())] = field
    return fields


def _refuse_where_one_is_missing(
    fields: Sequence[str], headings: Sequence[str]
) -> None:
    missing = [field for field in NEEDED if field not in fields]
    if missing:
        wanted = " or the ".join(missing)
        listed = ", ".join(headings)[:300]
        columns = ",".join(f"{field}=HEADING" for field in missing)
        raise ColumnsMissing(
            f"no column gives the {wanted}; the headings are {listed}. Say which, as in --columns {columns}"
        )
    if "words" not in fields and "cause" not in fields:
        raise ColumnsMissing(
            "no column gives the words or the cause; say which, as in --columns words=HEADING"
        )


def order_of(days: Collection[str]) -> str:
    """In which order days with strokes or dots are written: "dmy" or "mdy", empty where none of them tells.

    Days with dots are written day first.

    >>> order_of(["3/4/2024", "13/4/2024"]), order_of(["3/4/2024", "4/13/2024"]), order_of(["3/4/2024"])
    ('dmy', 'mdy', '')
    >>> order_of(["3/4/2024", "3.4.2024"])
    'dmy'
    """
    for given in days:
        found = _DAY.fullmatch(given)
        if not found or len(found[1]) == 4:
            continue
        if found[2] == "." or int(found[1]) > 12:
            return "dmy"
        if int(found[3]) > 12:
            return "mdy"
    return ""


def _full_year(written: int) -> int:
    """The year that is meant by one written with two digits or with four."""
    if written >= 100:
        return written
    return written + (1900 if written >= _LAST_CENTURY else 2000)


def moment_of(given: str, order: str, zone: tzinfo | None) -> str:
    """The time (UTC) at which a job of that day was closed: noon in that zone, None for that of the computer.

    Raises NotAccepted for what is no day, or may be two.

    >>> from zoneinfo import ZoneInfo
    >>> moment_of("24.11.2024", "dmy", ZoneInfo("Europe/Oslo")), moment_of("2024-07-01", "", ZoneInfo("Europe/Oslo"))
    ('2024-11-24T11:00:00Z', '2024-07-01T10:00:00Z')
    >>> moment_of("24.11.24", "dmy", ZoneInfo("Europe/Oslo"))
    '2024-11-24T11:00:00Z'
    """
    found = _DAY.fullmatch(given.strip().removesuffix("Z"))
    wrong = NotAccepted(f"`{given[:40]}` is no day", "write it as in 2024-11-24")
    if not given.strip():
        raise NotAccepted(
            "the day is missing", "write it as in 2024-11-24; a rough one will do"
        )
    if not found:
        raise wrong
    first, second, third = int(found[1]), int(found[3]), int(found[4])
    if len(found[1]) == 4:
        year, month, day = first, second, third
    elif not _is_year(found[4], found[2]):
        raise wrong
    elif not order:
        raise NotAccepted(
            f"`{given[:40]}` may be two days",
            "say whether the day comes first: --days dmy, or --days mdy",
        )
    else:
        year = _full_year(third)
        day, month = (first, second) if order == "dmy" else (second, first)
    try:
        noon = datetime.combine(datetime(year, month, day), time(12), zone)
        return stamp(noon if zone else noon.astimezone())
    except (ValueError, OverflowError):
        raise wrong from None


def _is_year(digits: str, between: str) -> bool:
    """Whether the last number of a day is a year: one of two digits is, but behind hyphens it may be the day."""
    return len(digits) == 4 or (len(digits) == 2 and between != "-")


def minutes_of(given: str) -> float | None:
    """Minutes as people write them, None for none; raises NotAccepted.

    >>> minutes_of("12,5"), minutes_of("20 min"), minutes_of("0,5 h"), minutes_of("")
    (12.5, 20.0, 30.0, None)
    """
    if not given.strip():
        return None
    found = _MINUTES.fullmatch(given.strip())
    if not found:
        raise NotAccepted(
            f"minutes cannot be {given[:20]}", "write a number, such as 12 or 12.5"
        )
    return float(found[1].replace(",", ".")) * (60 if found[2] else 1)
