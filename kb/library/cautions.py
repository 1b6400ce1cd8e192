"""The house cautions: what may hurt in a deed, whatever the sheet, and which steps do that deed."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import chain, zip_longest

from kb.library.brackets import names
from kb.model import Entry, Fix, Remark, Test

#: A caution as it is written.
LIKE = "- Take off rings and watches."
#: A sheet with no more notes than this shows all of them at each of its steps.
FEW_NOTES = 3
_MARK = re.compile(r"(?P<mark>implied by|said|source):\s*(?P<rest>.*)")
#: Words of a deed's name that tell nothing.
_SMALL = frozenset(("a", "an", "and", "of", "off", "the", "with"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """A deed that can hurt: its cautions, and by what it is known.

    `implied_by` are attributes of a step (`cover off`, `needs soldering iron`, `part mainboard`), `said` phrases of a
    step's own text that mean it.
    """

    name: str
    cautions: tuple[str, ...] = ()
    implied_by: frozenset[str] = frozenset()
    said: tuple[str, ...] = ()
    line: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class HouseCautions:
    """The deeds in the order in which their cautions are told, and what is wrong in their file."""

    deeds: tuple[Deed, ...] = ()
    remarks: tuple[Remark, ...] = ()

    @property
    def names(self) -> frozenset[str]:
        """The names of all deeds."""
        return frozenset(deed.name for deed in self.deeds)

    def done_by(self, step: Test | Fix) -> tuple[Deed, ...]:
        """The deeds of a step: those it names, those its attributes imply, and those its text speaks of."""
        attributes, text = _attributes(step), _text(step)
        done = []
        for deed in self.deeds:
            is_said = any(phrase in text for phrase in deed.said)
            if is_said or deed.name in step.does or deed.implied_by & attributes:
                done.append(deed)
        return tuple(done)

    def of_step(self, entry: Entry, step: Test | Fix) -> tuple[str, ...]:
        """The cautions of a step: those of its deeds, then the sheet's own notes that speak of them, each once.

        The first of each deed stands before the second of any, since few people read a long list to its end. Where
        the sheet has few notes, or the step does nothing that the house cautions of, it is all of them.
        """
        deeds = self.done_by(step)
        in_turn = zip_longest(*(deed.cautions for deed in deeds))
        told = list(filter(None, chain.from_iterable(in_turn)))
        notes = entry.safety
        if deeds and len(notes) > FEW_NOTES:
            spoken = _spoken_of(deeds)
            notes = tuple(note for note in notes if spoken & _words(note))
        return tuple(dict.fromkeys([*told, *notes]))


def parse(text: str, file: str = "house/cautions.md") -> HouseCautions:
    r"""The deeds that a file holds, each a second-level heading with its list, problems named by line.

    >>> found = parse("## Live measuring\n- said: with power on\n- Take off rings.")
    >>> found.deeds[0].name, found.deeds[0].said, found.deeds[0].cautions
    ('live measuring', ('with power on',), ('Take off rings.',))
    """
    remarks: list[Remark] = []
    begun: list[_Begun] = []
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("## "):
            begun.append(_Begun(_folded(line[3:]), number))
        elif line.startswith("- ") and begun:
            begun[-1].take(line[2:].strip())
        elif line.startswith("- "):
            remarks.append(
                Remark(
                    file,
                    number,
                    "this line stands under no deed",
                    "put a heading `## deed` above it",
                )
            )
        elif line.strip() and begun:
            remarks.append(
                Remark(
                    file,
                    number,
                    "this is not part of a list",
                    f"write it as in `{LIKE}`",
                )
            )
    remarks += _mistakes(begun, file)
    unique = {deed.name: deed for deed in reversed(begun)}
    deeds = tuple(deed.done() for deed in begun if unique[deed.name] is deed)
    return HouseCautions(deeds, tuple(sorted(remarks, key=lambda remark: remark.line)))


class _Begun:
    """A deed while its list is being read."""

    def __init__(self, name: str, line: int) -> None:
        self.name, self.line = name, line
        self.lists: dict[str, list[str]] = {
            "implied by": [],
            "said": [],
            "source": [],
            "": [],
        }

    def take(self, item: str) -> None:
        """Take in one item of the list: a caution, or what a mark at its beginning says."""
        match = _MARK.fullmatch(item)
        if match is None:
            self.lists[""].append(item)
        else:
            self.lists[match["mark"]] += names(match["rest"].rstrip("."))

    def done(self) -> Deed:
        """The deed as it was read."""
        return Deed(
            name=self.name,
            cautions=tuple(self.lists[""]),
            implied_by=frozenset(map(_folded, self.lists["implied by"])),
            said=tuple(map(_folded, self.lists["said"])),
            line=self.line,
        )


def _mistakes(begun: Sequence[_Begun], file: str) -> Iterable[Remark]:
    """Deeds without a caution, and names that stand twice."""
    known: set[str] = set()
    for deed in begun:
        if deed.name in known:
            yield Remark(file, deed.line, f"`{deed.name}` stands twice", "join the two")
        elif not deed.lists[""]:
            yield Remark(
                file,
                deed.line,
                f"`{deed.name}` has no caution",
                f"write one as in `{LIKE}`",
            )
        known.add(deed.name)


def _attributes(step: Test | Fix) -> frozenset[str]:
    """The attributes of a step as `implied by` names them."""
    found = {"cover off"} if step.cover_off else set()
    found.update(f"needs {need}" for need in step.needs)
    found.update(
        f"part {part}" for part in (step.parts if isinstance(step, Fix) else ())
    )
    return frozenset(map(_folded, found))


def _text(step: Test | Fix) -> str:
    return _folded(
        f"{step.title} {step.detail}" if isinstance(step, Test) else step.text
    )


def _spoken_of(deeds: Sequence[Deed]) -> frozenset[str]:
    """The words by which a note of a sheet is known to speak of one of these deeds."""
    return frozenset(word for deed in deeds for word in _words(deed.name) - _SMALL)


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z]+", text.lower()))


def _folded(text: str) -> str:
    return " ".join(text.split()).casefold()
