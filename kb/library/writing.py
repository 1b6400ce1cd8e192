"""Writing an entry back as Markdown: untouched sections as they stood, changed ones in the usual form."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

from kb.library.comments import comments_in
from kb.library.markdown import SECTIONS, parse
from kb.model import (
    USUAL_RELIABILITY,
    Cause,
    Entry,
    Fix,
    Neighbour,
    Outcome,
    Section,
    Test,
    Undivided,
    Urgent,
)

#: What Markdown takes for a list, rule, heading, quote, HTML or code fence at the start of a line.
_MARKER = re.compile(r"[-+*](?:\s|$)|(?:[-*_=]\s*){2,}$|#{1,6}(?:\s|$)|>|<|~{3}|`{3}")
_NUMBER = re.compile(r"(\d{1,9})([.)])(?=\s|$)")


def write(entry: Entry) -> str:
    """The entry's file text, so that parsing it gives the same entry.

    A section whose content is unchanged keeps its own text, comments and all; unknown sections
    always do. A changed section is written anew and its comments are put behind it.
    """
    head = _head(entry)
    before = parse(
        head + "".join(_raw(section) for section in entry.sections), entry.slug
    ).entry
    kept = {section.heading: section.text for section in entry.sections}
    extra = dict(entry.extra)
    pieces = [head + kept.get("", "").strip("\n")]
    for heading in _order(entry):
        name = SECTIONS.get(heading)
        if name is None:
            pieces.append(f"## {heading}\n\n" + extra.get(heading, "").strip("\n"))
        elif (
            heading in kept
            and before is not None
            and _says_the_same(before, entry, name)
        ):
            pieces.append(f"## {heading}\n" + kept[heading])
        elif getattr(entry, name):
            pieces.append(_anew(entry, heading, kept.get(heading, "")))
    return "\n\n".join(piece.rstrip("\n") for piece in pieces) + "\n"


def _head(entry: Entry) -> str:
    machine = f"machine: {', '.join(entry.machine)}\n" if entry.machine else ""
    return f"---\ntitle: {entry.title}\narea: {entry.area}\n{machine}---\n"


def _anew(entry: Entry, heading: str, before: str) -> str:
    """A section in the usual form, with the comments behind it that stood in its text before."""
    comments = [f"\n{comment}" for comment in comments_in(before)]
    return "\n".join([f"## {heading}\n", *_body(entry, SECTIONS[heading]), *comments])


def _order(entry: Entry) -> list[str]:
    """The headings as they stand in the file; those to be added where sheets usually have them, unknown ones last."""
    order = [section.heading for section in entry.sections if section.heading]
    behind = 0  # all of the sections that usually stand before
    for heading, name in SECTIONS.items():
        if heading not in order and getattr(entry, name):
            order.insert(behind, heading)
        if heading in order:
            behind = max(behind, order.index(heading) + 1)
    return order + [heading for heading, _ in entry.extra if heading not in order]


def _says_the_same(before: Entry, entry: Entry, name: str) -> bool:
    """Whether a section need not be written anew; a fix names tests by their numbers, which may have changed."""
    return getattr(before, name) == getattr(entry, name) and _body(
        before, name
    ) == _body(entry, name)


def _raw(section: Section) -> str:
    heading = f"\n## {section.heading}\n" if section.heading else ""
    return f"{heading}{section.text}\n"


def _body(entry: Entry, name: str) -> list[str]:
    """The lines of a section by the name of the field that it fills."""
    if name == "tests":
        return [
            line
            for number, test in enumerate(entry.tests, 1)
            for line in _test(number, test, entry)
        ]
    if name == "fixes":
        return [_fix(fix, entry) for fix in entry.fixes]
    line_of = _LINES.get(name, _bullet)
    return [line_of(one) for one in getattr(entry, name)]


def _bullet(text: str) -> str:
    return f"- {_plain(text)}"


def _plain(text: str) -> str:
    """The text as one line that Markdown cannot take for a list, heading or quote."""
    line = " ".join(text.split())
    if _NUMBER.match(line):
        line = _NUMBER.sub(r"\1\\\2", line, count=1)
    return f"\\{line}" if _MARKER.match(line) else line


def _urgent(one: Urgent) -> str:
    return f"- {_plain(one.deed)}" if one.deed else f"- said: {', '.join(one.said)}"


def _after(step: Test | Fix, entry: Entry) -> list[str]:
    """The mark that names the tests a step comes after, by their numbers."""
    numbers = entry.comes_after(step)
    return [f"after {', '.join(map(str, numbers))}"] if numbers else []


def _undivided(group: Undivided) -> str:
    return f"- {', '.join(group.causes)}: {group.why}"


def _neighbour(near: Neighbour) -> str:
    return f"- **{near.slug}**: {near.observation}"


def _cause(cause: Cause) -> str:
    pallet = f"; pallet {cause.pallet}" if cause.pallet else ""
    return f"- **{cause.slug}** ({cause.weight}{pallet}): {cause.text}"


def _wait(step: Test | Fix) -> list[str]:
    """Waiting and the standard act; the act's own waiting is written, since without it another may come."""
    if step.act:
        return [f"wait {_minutes(step.wait)}", f"act {step.act}"]
    return [f"wait {_minutes(step.wait)}"] if step.wait else []


def _listed(**named: tuple[str, ...]) -> list[str]:
    """A piece for each list of names that holds any, begun with its word."""
    return [
        f"{word.replace('_', ' ')} {', '.join(given)}"
        for word, given in named.items()
        if given
    ]


def marks_of(step: Test | Fix, entry: Entry) -> list[str]:
    """What stands in the brackets of a test or fix behind its minutes, in the usual order."""
    pieces = _wait(step)
    if isinstance(step, Test) and step.first:
        pieces.append("first")
    pieces += _after(step, entry)
    if step.cover_off:
        pieces.append("cover off")
    pieces += _listed(does=step.does, machine=step.machine)
    if isinstance(step, Fix):
        return pieces + _listed(part=step.parts, needs=step.needs)
    pieces += _listed(needs=step.needs, says_nothing_of=step.untold)
    if step.reliability != USUAL_RELIABILITY or step.act:
        right, times = (
            Fraction(step.reliability).limit_denominator(1000).as_integer_ratio()
        )
        pieces.append(f"{right} in {times}")
    return pieces


def _test(number: int, test: Test, entry: Entry) -> list[str]:
    marker = f"{number}. "
    pad = " " * len(marker)
    pieces = [_minutes(test.minutes), *marks_of(test, entry)]
    lines = [f"{marker}{test.title} ({'; '.join(pieces)})"]
    if test.detail:
        lines.append("")
        lines += [pad + line if line else "" for line in test.detail.split("\n")]
    return lines + [f"{pad}- {_outcome(outcome)}" for outcome in test.outcomes]


def _outcome(outcome: Outcome) -> str:
    pieces = [", ".join(outcome.points_to)] if outcome.points_to else []
    if outcome.clears:
        pieces.append("not " + ", ".join(outcome.clears))
    pieces += _listed(see=outcome.see, machine=outcome.machine)
    return f"{outcome.text}: {'; '.join(pieces) or 'nothing'}"


def _fix(fix: Fix, entry: Entry) -> str:
    pieces = [_minutes(fix.minutes), *marks_of(fix, entry)]
    text = fix.text.replace("\n", "\n  ")
    return f"- **{', '.join(fix.causes)}** ({'; '.join(pieces)}): {text}"


def _minutes(minutes: float) -> str:
    return f"{minutes:g} min"


#: How a line of a section is written, where it is more than a text; tests and fixes name each other's numbers.
_LINES: Mapping[str, Callable[[Any], str]] = {
    "causes": _cause,
    "at_once": _urgent,
    "undivided": _undivided,
    "neighbours": _neighbour,
}
