"""One value of a TOML text (tomltext) read, or changed with every other line and comment kept as it stands."""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator, Sequence
from pathlib import Path

Value = bool | float | str | Sequence[str]

#: A string on one line, or (in the group) a comment.
_STRING_OR_COMMENT = re.compile(r""""(?:\\.|[^"\\\n])*"|'[^'\n]*'|(#[^\r\n]*)""")


def with_value(text: str, key: str, value: Value) -> str:
    r"""The text with a top-level key set to a number, a text or a list of names; a key it does not have yet is added.

    Raises ValueError for a text that is no TOML, or whose key is no plain line to be replaced.

    >>> print(with_value('zone = "UTC"  # ours\nlacks = ["scale"]  # lent out\n', "lacks", ["ruler", "scale"]), end="")
    zone = "UTC"  # ours
    lacks = ["ruler", "scale"]  # lent out
    """
    before = tomllib.loads(text)
    lines = re.findall(r"[^\n]*\n|[^\n]+", text)
    end_of_line = "\r\n" if lines and lines[0].endswith("\r\n") else "\n"
    first, last = _place(lines, key)
    said = _with_comments(
        f"{key} = {_written(value)}", "".join(lines[first:last]), end_of_line
    )
    above = "".join(lines[:first])
    gap = end_of_line if above and not above.endswith("\n") else ""
    fresh = above + gap + said + end_of_line + "".join(lines[last:])
    plain = value if isinstance(value, float | int | str) else list(value)
    if tomllib.loads(fresh) != before | {key: plain}:
        raise ValueError(
            f"`{key}` stands there in a form that cannot be changed line by line"
        )
    return fresh


def value_in(path: Path, key: str) -> object:
    """What a TOML file says under a top-level key; None where it says nothing, is not there or cannot be read."""
    try:
        return tomllib.loads(path.read_bytes().decode("utf-8")).get(key)
    except (OSError, ValueError, RecursionError):
        return None


def is_names(given: object) -> bool:
    """Whether a value of a TOML file is a list of texts."""
    return isinstance(given, list) and all(isinstance(one, str) for one in given)


def _place(lines: Sequence[str], key: str) -> tuple[int, int]:
    """The lines that a key's statement takes, or twice the line before which a new one may stand."""
    after = 0
    for first, last in _statements(lines):
        if key in tomllib.loads("".join(lines[:last])):
            return first, last
        if (
            not lines[first].lstrip().startswith(("#", "\r", "\n"))
            and lines[first].strip()
        ):
            after = last
    if not any(line.lstrip().startswith("[") for line in lines):
        after = len(lines)
    return after, after


def _statements(lines: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Where each statement above the first table begins and ends: lines that can be read together and no sooner."""
    first = 0
    while first < len(lines) and not lines[first].lstrip().startswith("["):
        last = next(
            n
            for n in range(first + 1, len(lines) + 1)
            if _can_be_read("".join(lines[:n]))
        )
        yield first, last
        first = last


def _can_be_read(text: str) -> bool:
    try:
        tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return False
    return True


def _with_comments(said: str, old: str, end_of_line: str) -> str:
    """The new statement with the comments of the old one: behind it if it was one line, else above it."""
    comments = [match[1] for match in _STRING_OR_COMMENT.finditer(old) if match[1]]
    if old.count("\n") <= 1:
        return "  ".join([said, *comments])
    return end_of_line.join([*comments, said])


def _written(value: Value) -> str:
    if isinstance(value, str | bool):
        return json.dumps(value, ensure_ascii=False)
    if isinstance(value, Sequence):
        return f"[{', '.join(json.dumps(name, ensure_ascii=False) for name in value)}]"
    return (
        f"{value:g}" if value == int(value) and abs(value) < 1e6 else repr(float(value))
    )
