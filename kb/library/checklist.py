"""The check-out list read from Markdown: the lines that a machine must pass before it is handed over, in order."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any, cast

from kb.base.worded import worded
from kb.library.brackets import names
from kb.library.gates import all_before
from kb.library.items import Item, number_of, read_items, share_of
from kb.model import Remark, Weight

#: The share of machines that fail a line, by its word, before any was counted (common practice, no source).
WORD_SHARES: Mapping[Weight, float] = {"often": 0.12, "sometimes": 0.05, "rare": 0.015}

#: A line as it is written.
LIKE = "- **every-key** (2 min; often; part keyboard; sits 2): press every key once"


@dataclass(frozen=True, slots=True, kw_only=True)
class CheckLine:
    """One line: what to do, how long it takes, how often it fails, and what a failure takes.

    `minutes` are hands-on, `wait` minutes can be spent on another machine. `depth` is how deep the part behind it
    sits (0 nothing to open, 1 under the cover, 2 under board or palm rest, 3 in the lid): a repair that goes as
    deep makes the line unproven again. `ends` is P(the machine's way ends here | it fails). A line that is `first`
    stands before all others as listed; `after` names lines that come before it; `work` is a step of work that
    cannot fail, such as closing up; a repair behind a line that `undoes` such a step makes it necessary again.
    A line marked `arrival` is looked at as soon as a machine comes in.
    A line that `stays` is made unproven by a change of its part alone, whatever is opened. What it `reads` is
    written down with it, such as the wear of a part or the grade of its look, of which `grades` has each
    letter with its words. Where it fails, `at_once` says what to do before anything else, and `apart` under which
    heading, and with which words, the machine is kept apart.
    """

    name: str
    text: str
    minutes: float = 0.0
    wait: float = 0.0
    weight: Weight = "sometimes"
    parts: tuple[str, ...] = ()
    needs: tuple[str, ...] = ()
    depth: int = 0
    ends: float = 0.0
    first: bool = False
    after: tuple[str, ...] = ()
    undoes: tuple[str, ...] = ()
    work: bool = False
    arrival: bool = False
    stays: bool = False
    reads: str = ""
    grades: tuple[tuple[str, str], ...] = ()
    sheets: tuple[str, ...] = ()
    at_once: tuple[str, ...] = ()
    apart: tuple[str, ...] = ()
    heading: str = field(default="", compare=False)
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class CheckList:
    """The lines in the list's order, and what is wrong in the file."""

    lines: tuple[CheckLine, ...]
    remarks: tuple[Remark, ...] = ()

    def line(self, name: str) -> CheckLine | None:
        """The line of that name, or None."""
        return next((line for line in self.lines if line.name == name), None)

    @property
    def checks(self) -> tuple[CheckLine, ...]:
        """The lines that can fail."""
        return tuple(line for line in self.lines if not line.work)

    @property
    def on_arrival(self) -> tuple[CheckLine, ...]:
        """The lines that are looked at as soon as a machine comes in."""
        return tuple(line for line in self.lines if line.arrival)


def parse(text: str, file: str = "checkout.md") -> CheckList:
    r"""The list that a file holds, with every problem named by line; a line with a problem is left out.

    >>> found = parse("- **keys** (2 min; often; part keyboard; sits 2): press all\n    - fails: see a, b")
    >>> found.lines[0].name, found.lines[0].depth, found.lines[0].sheets
    ('keys', 2, ('a', 'b'))
    """
    read = read_items(text, file, LIKE)
    remarks = list(read.remarks)
    lines = []
    for item in read.items:
        line = _line(item, file)
        if isinstance(line, Remark):
            remarks.append(line)
        else:
            lines.append(line)
    remarks += _strangers(lines, file)
    kept = [_after_known(line, lines) for line in lines]
    remarks += _misplaced(kept, file)
    kept = _placed(kept)
    return CheckList(
        tuple(kept), tuple(sorted(remarks, key=lambda remark: remark.line))
    )


def _after_known(line: CheckLine, lines: Iterable[CheckLine]) -> CheckLine:
    """The line without those that it is said to come after and that the list does not have."""
    known = {one.name for one in lines}
    return replace(line, after=tuple(name for name in line.after if name in known))


def _line(item: Item, file: str) -> CheckLine | Remark:
    """The line of an item, or what is wrong with it."""
    line = CheckLine(
        name=item.name, text=item.text, heading=item.heading, line=item.line
    )
    if not item.text:
        told = worded("`{name}` does not say what to do", name=item.name)
        return Remark(
            file, item.line, told, worded("write it as in `{like}`", like=LIKE)
        )
    for piece in item.pieces:
        read = _with_piece(line, piece)
        if read is None:
            told = worded("`{piece}` is not understood", piece=piece)
            return Remark(
                file, item.line, told, worded("write it as in `{like}`", like=LIKE)
            )
        line = read
    return _with_nested(line, item.nested)


def _with_nested(line: CheckLine, nested: Sequence[str]) -> CheckLine:
    """The line with what is nested under it: sheets, grades, and what to do where it fails."""
    grades = []
    for told in _after("grade ", nested):
        letter, _, text = told.partition(": ")
        if text.strip():
            grades.append((letter.strip(), text.strip()))
    apart = next(iter(_after("apart: ", nested)), "")
    heading, _, words = apart.rpartition(": ")
    return replace(
        line,
        sheets=names(", ".join(_after("fails: see ", nested))),
        grades=tuple(grades),
        at_once=tuple(_after("at once: ", nested)),
        apart=(heading, words) if heading else (),
    )


def _after(mark: str, nested: Sequence[str]) -> list[str]:
    """What stands after a mark, wherever it begins a line."""
    return [told.removeprefix(mark) for told in nested if told.startswith(mark)]


def _with_piece(line: CheckLine, piece: str) -> CheckLine | None:
    """The line with one more piece of its bracket, None if that is not understood."""
    if piece in _MARKS:
        mark: dict[str, Any] = {piece: True}
        return replace(line, **mark)
    if piece in WORD_SHARES:
        return replace(line, weight=cast(Weight, piece))
    minutes = number_of(piece, "min")
    if minutes is not None:
        return replace(line, minutes=minutes)
    word, _, rest = piece.partition(" ")
    return _with_word(line, word, rest) if rest else None


def _with_word(line: CheckLine, word: str, rest: str) -> CheckLine | None:
    """The line with a piece that is a word and what follows it, None if that is not understood."""
    if word in _LISTS:
        field_name = _LISTS[word]
        return replace(line, **{field_name: getattr(line, field_name) + names(rest)})
    if word == "reads":
        return replace(line, reads=rest)
    numbers = {
        "sits": ("depth", DEPTHS.get(rest)),
        "wait": ("wait", number_of(rest, "min")),
        "ends": ("ends", share_of(rest)),
    }
    field_name, number = numbers.get(word, ("", None))
    if number is None:
        return None
    told: dict[str, Any] = {field_name: number}
    return replace(line, **told)


#: Words of a bracket that stand alone, each the name of what it makes true.
_MARKS = ("first", "work", "arrival", "stays")
#: How deep the part behind a line may sit.
DEPTHS = {"0": 0, "1": 1, "2": 2, "3": 3}
#: The words of a bracket that begin a list of names, and the field each fills.
_LISTS = {
    "part": "parts",
    "parts": "parts",
    "needs": "needs",
    "after": "after",
    "undoes": "undoes",
}


def _strangers(lines: Iterable[CheckLine], file: str) -> Iterator[Remark]:
    """What names a line that is not there, or a name that stands twice."""
    known: set[str] = set()
    for line in lines:
        if line.name in known:
            told = worded("`{name}` stands twice", name=line.name)
            yield Remark(
                file, line.line, told, worded("give one of the two another name")
            )
        known.add(line.name)
    for line in lines:
        for name in (*line.after, *line.undoes):
            if name not in known:
                told = worded("there is no line `{name}`", name=name)
                yield Remark(file, line.line, told, worded("name a line of this list"))


def _placed(lines: Iterable[CheckLine]) -> list[CheckLine]:
    """The lines, each name once; one that would come after itself, or first and after another, comes after none."""
    once: dict[str, CheckLine] = {}
    for line in lines:
        once.setdefault(line.name, line)
    wrong = [line for line in once.values() if _is_misplaced(line, once)]
    freed = {line.name: replace(line, after=()) for line in wrong}
    return list((once | freed).values())


def _misplaced(lines: Iterable[CheckLine], file: str) -> Iterator[Remark]:
    """What can stand nowhere: a line that comes after itself, or first and after one that does not."""
    named = {line.name: line for line in lines}
    for line in named.values():
        if _is_misplaced(line, named):
            told = worded(
                "`{name}` would come after itself, or before all others and after one of them",
                name=line.name,
            )
            yield Remark(
                file,
                line.line,
                told,
                worded("take out one of its `after` or its `first`"),
            )


def _is_misplaced(line: CheckLine, named: Mapping[str, CheckLine]) -> bool:
    """Whether a line would come after itself, or is marked `first` and would come after one that is not."""
    before = all_before(line.name, {name: one.after for name, one in named.items()})
    later = [name for name in before if not named[name].first]
    return line.name in before or (line.first and bool(later))
