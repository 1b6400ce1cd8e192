"""Front matter (frontmatter): the few `key: value` lines between two `---` fences, as plain text, nothing cleverer."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

from kb.base.worded import worded
from kb.model import Remark

FENCE = "---"
_PAIR = re.compile(r"^([A-Za-z][A-Za-z0-9_-]*)\s*:(?:\s+(.*))?$")


@dataclass(frozen=True, slots=True)
class FrontMatter:
    """The pairs in file order, their lines, and the line (0-based) on which the body starts."""

    pairs: dict[str, str]
    lines: dict[str, int]
    body_starts: int


def split(lines: list[str], file: str) -> tuple[FrontMatter, list[Remark]]:
    """Front matter of a file given as lines, with a remark for everything that is not `key: value`.

    Values stay text: `no`, `1.10` and `0755` mean what they say. A repeated key is refused.

    >>> matter, remarks = split(["---", "title: 1.10", "---", "body"], "a.md")
    >>> matter.pairs, matter.body_starts, remarks
    ({'title': '1.10'}, 3, [])
    """
    if not lines or lines[0].rstrip() != FENCE:
        told = worded("the file does not start with front matter")
        instead = worded(
            "begin with a line `{fence}`, then title and area", fence=FENCE
        )
        return FrontMatter({}, {}, 0), [Remark(file, 1, told, instead)]
    remarks: list[Remark] = []
    end = _first(lines, lambda line: line.rstrip() == FENCE)
    if end == len(lines):
        end = _first(lines, lambda line: not _PAIR.match(line.strip()))
        told = worded("the front matter is never closed")
        instead = worded(
            "put a line `{fence}` after the last `key: value`", fence=FENCE
        )
        remarks.append(Remark(file, 1, told, instead))
    matter = FrontMatter({}, {}, min(end + 1, len(lines)))
    for number in range(1, end):
        line = lines[number].strip()
        if not line or line.startswith("#"):
            continue
        wrong = _take_in(line, number + 1, matter, file)
        if wrong:
            remarks.append(wrong)
    return matter, remarks


def _take_in(line: str, number: int, matter: FrontMatter, file: str) -> Remark | None:
    """Add the pair of a line to the front matter; gives a remark where it cannot be."""
    match = _PAIR.match(line)
    if match is None:
        told = worded("`{line}` is not a pair", line=line[:60])
        return Remark(file, number, told, worded("write `key: value`"))
    if match[1] in matter.pairs:
        told = worded("`{match}` stands twice", match=match[1])
        return Remark(file, number, told, worded("keep one of the two lines"))
    matter.pairs[match[1]] = (match[2] or "").strip()
    matter.lines[match[1]] = number
    return None


def _first(lines: list[str], is_it: Callable[[str], bool]) -> int:
    """The place of the first such line after the opening fence; the number of lines if there is none."""
    for place in range(1, len(lines)):
        if is_it(lines[place]):
            return place
    return len(lines)
