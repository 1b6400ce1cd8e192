"""Editing an entry's text: what is wrong by line, what differs between two texts, which pictures it names."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher
from typing import Literal

from kb.library import checks, markdown, unwritten, writing
from kb.library.customs import Customs
from kb.model import Entry, Finding, Outcome, Remark, Test

#: What is done to the text of an entry.
Change = Callable[[str], str]
#: Lines shown around a difference, so that its place can be found.
AROUND = 3
_HEADING = re.compile(r"^## Pictures[ \t]*$", re.MULTILINE)
#: Behind the file of a picture may stand where it belongs, as the title that Markdown has for it.
_PLACE = r'(?:[ \t]+"(?P<place>[^"\n]*)")?'
_PICTURE = re.compile(
    rf"!\[(?P<caption>[^\]\n]*)\]\(pictures/(?P<file>[a-z0-9-]+-[1-9][0-9]*\.jpg){_PLACE}\)"
)
_ONE_PICTURE = rf"!\[[^\]\n]*\]\(pictures/{{file}}{_PLACE}\)"
#: The place of a picture that shows what is noticed; the others are `test` and `fix` with the name of one.
SYMPTOM = "symptom"


@dataclass(frozen=True, slots=True)
class RemarkAtLine:
    """A remark with the text of the line it is about."""

    remark: Remark
    line: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What a text gives: the entry or None, what has to be mended, and what would make it better."""

    entry: Entry | None
    problems: tuple[RemarkAtLine, ...]
    wishes: tuple[RemarkAtLine, ...]


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a difference: kept in both texts, only in the old one, or only in the new one."""

    sign: Literal["kept", "old", "new"]
    text: str


@dataclass(frozen=True, slots=True)
class ChangedPlace:
    """Neighbouring differences with some lines around them; `first` is the line of the new text it begins at."""

    first: int
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Reference:
    """A picture that a text names: its file, what is to be seen on it, and where it belongs, if it says so."""

    file: str
    caption: str
    place: str = ""


def check(text: str, slug: str, customs: Customs | None = None) -> Checked:
    """What the text would be as an entry, with all remarks by line, those on what nobody has written yet among them.

    It is read by the given customs of a house, or by those that ship.
    """
    parsed = markdown.parse(text, slug or "new-entry", customs=customs)
    wishes = checks.inspect(parsed.entry, customs) if parsed.entry else []
    lines = text.replace("\r\n", "\n").split("\n")

    def told(remarks: Sequence[Remark]) -> tuple[RemarkAtLine, ...]:
        ordered = sorted(remarks, key=lambda remark: (remark.line, remark.problem))
        return tuple(
            RemarkAtLine(
                one, lines[one.line - 1].strip() if one.line <= len(lines) else ""
            )
            for one in ordered
        )

    left = unwritten.remarks(parsed.entry, customs) if parsed.entry else []
    return Checked(parsed.entry, told([*parsed.remarks, *left]), told(wishes))


def differences(old: str, new: str) -> tuple[ChangedPlace, ...]:
    r"""The places where two texts differ, line by line; kinds of line end do not count.

    >>> differences("a\nb\n", "a\nc\n")[0].lines
    (Line(sign='kept', text='a'), Line(sign='old', text='b'), Line(sign='new', text='c'))
    """
    before, after = old.splitlines(), new.splitlines()
    places = []
    for group in SequenceMatcher(
        None, before, after, autojunk=len(before) + len(after) > 4000
    ).get_grouped_opcodes(AROUND):
        lines: list[Line] = []
        for kind, i, j, k, m in group:
            if kind == "equal":
                lines += [Line("kept", line) for line in before[i:j]]
            else:
                lines += [Line("old", line) for line in before[i:j]] + [
                    Line("new", line) for line in after[k:m]
                ]
        places.append(ChangedPlace(group[0][3] + 1, tuple(lines)))
    return tuple(places)


def pictures_in(text: str) -> tuple[Reference, ...]:
    """The pictures that a text names, in its order, each once.

    >>> pictures_in('![the plug](pictures/no-battery-1.jpg "test reseat-the-plug")')
    (Reference(file='no-battery-1.jpg', caption='the plug', place='test reseat-the-plug'),)
    """
    found = {}
    for match in _PICTURE.finditer(text):
        place = " ".join((match["place"] or "").split())
        found[match["file"]] = Reference(match["file"], match["caption"].strip(), place)
    return tuple(found.values())


def place_in(entry: Entry, said: str) -> str:
    """Where in an entry that place is: `symptom`, `test NAME` or `fix CAUSE`, a fix by the first cause it cures.

    Empty for the sheet as a whole, and for a test or fix that is not, or no longer, in it.
    """
    kind, _, name = said.partition(" ")
    if said == SYMPTOM or (kind == "test" and entry.test(name)):
        return said
    fix = entry.fix_for(name) if kind == "fix" else None
    return f"fix {fix.causes[0]}" if fix else ""


def reference(file: str, caption: str, place: str = "") -> str:
    """A picture as a text names it.

    >>> reference("no-battery-1.jpg", "the [old] plug", "symptom")
    '![the old plug](pictures/no-battery-1.jpg "symptom")'
    """
    title = f' "{place}"' if place else ""
    return f"![{plain_caption(caption)}](pictures/{file}{title})"


def without_references(text: str) -> str:
    """The text with its pictures left out, for pages that draw them in their own way."""
    return _PICTURE.sub("", text).strip()


def with_picture(text: str, named: Reference) -> str:
    """The text with one more picture at the end of its section `Pictures`, which is added if it is missing."""
    end = "\r\n" if "\r\n" in text else "\n"
    line = reference(named.file, named.caption, named.place) + end
    heading = _HEADING.search(text.replace("\r\n", " \n"))
    if heading is None:
        return f"{text.rstrip()}{end}{end}## Pictures{end}{end}{line}"
    following = re.search(r"^## ", text[heading.end() :], re.MULTILINE)
    stop = heading.end() + following.start() if following else len(text)
    kept, rest = text[:stop].rstrip(), text[stop:]
    return f"{kept}{end}{end}{line}" + (end + rest if rest else "")


def with_other_words(text: str, named: Reference) -> str:
    """The text with the words and the place of a picture that it names already, wherever that stands."""
    said = reference(named.file, named.caption, named.place)
    return re.sub(_ONE_PICTURE.format(file=re.escape(named.file)), lambda _: said, text)


def with_other_file(text: str, old: str, new: str) -> str:
    """The text with another file in place of that picture, its words and place as they were.

    >>> with_other_file('![plug](pictures/a-1.jpg "symptom")', "a-1.jpg", "a-1-mark-1.jpg")
    '![plug](pictures/a-1-mark-1.jpg "symptom")'
    """
    return re.sub(rf"(?<=\]\(pictures/){re.escape(old)}(?=[ \t)])", new, text)


def without_picture(text: str, file: str) -> str:
    """The text without the line of that picture, and without its section if nothing else stands there."""
    end = "\r\n" if "\r\n" in text else "\n"
    plain = text.replace("\r\n", "\n")
    picture = _ONE_PICTURE.format(file=re.escape(file))
    plain = re.sub(rf"^[ \t]*{picture}[ \t]*(?:\n|\Z)", "", plain, flags=re.MULTILINE)
    plain = re.sub(picture, "", plain)
    plain = re.sub(
        r"\n*^## Pictures[ \t]*\n\s*(?=^## |\Z)", "\n\n", plain, flags=re.MULTILINE
    )
    plain = plain.rstrip("\n") + "\n"
    return plain.replace("\n", end)


def first_sheet(
    sample: str,
    words: str,
    area: str,
    seen: Sequence[tuple[Finding, Test | None]],
    where: str,
) -> str:
    """The text of a new entry: a sample sheet with the words, the area and what the tests on the bench have shown.

    `where` heads a section that lists what was seen; empty for none. A finding whose test is known becomes a test.
    Raises ValueError for a sample that is no sheet.
    """
    entry = markdown.parse(sample, "new-entry").entry
    if entry is None:
        raise ValueError("the sample of a new entry holds nothing to serve")
    words = " ".join(words.split())
    given = replace(entry, area=area or entry.area)
    if words:
        given = replace(
            given, title=words, symptoms=(words, *entry.symptoms[1:]), wordings=(words,)
        )
    tests = [
        _as_it_showed(test, finding, entry.causes[0].slug)
        for finding, test in seen
        if test is not None
    ]
    if tests:
        tests.sort(key=lambda test: (not test.first, test.cover_off, test.minutes))
        given = replace(given, tests=tuple(tests))
    if where:
        told = "\n".join(
            f"- {test.title if test else finding.test}: {finding.outcome}"
            for finding, test in seen
        )
        given = replace(given, extra=(*given.extra, (where, told or f"- {words}")))
    return writing.write(given)


def _as_it_showed(test: Test, finding: Finding, cause: str) -> Test:
    """A test of another sheet of which the outcome that was found points to the cause, and every other clears it."""
    others = [
        Outcome(shown.text, (), (cause,))
        for shown in test.outcomes
        if shown.text != finding.outcome
    ]
    return replace(
        test, after=(), outcomes=(Outcome(finding.outcome, (cause,)), *others)
    )


def plain_caption(caption: str) -> str:
    """A caption on one line that Markdown cannot take for anything else."""
    return re.sub(r"\s+", " ", re.sub(r"[\[\]\\`*_<>]", " ", caption)).strip()[:200]
