"""An entry read from Markdown, with every problem named by line."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Any, get_args

from kb.base.worded import worded
from kb.library import frontmatter, gates
from kb.library.brackets import ANY_STEP, OF_FIXES, OF_TESTS, Attributes, names
from kb.library.comments import without_comments
from kb.library.customs import Customs, shipped_customs
from kb.model import (
    Cause,
    Entry,
    Fix,
    Neighbour,
    Outcome,
    Remark,
    Section,
    Test,
    Undivided,
    Urgent,
    Weight,
)

# Markdown's parser is loaded by the first sheet or page that needs it: a search needs none
if TYPE_CHECKING:
    from markdown_it import MarkdownIt
    from markdown_it.tree import SyntaxTreeNode

#: The sections the program reads, in the order a sheet carries them, and the field each fills.
SECTIONS: dict[str, str] = {
    "Symptom": "symptoms",
    "At once": "at_once",
    "Not this if": "not_this_if",
    "Likely causes": "causes",
    "Cheapest test first": "tests",
    "Fix": "fixes",
    "Not told apart": "undivided",
    "Safety": "safety",
    "Also heard as": "wordings",
    "See also": "neighbours",
}
OPTIONAL = ("At once", "Not this if", "Not told apart", "See also")
REQUIRED = tuple(heading for heading in SECTIONS if heading not in OPTIONAL)
#: The keys of the front matter; the first two must be there.
KEYS = ("title", "area", "machine")
#: An entry above this size is not read: the worst Markdown costs about 10 s a megabyte.
MAX_BYTES = 64 * 1024

_SLUG = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*")
_BRACKET = re.compile(r"^(?P<title>.*?)\s*\((?P<inside>[^()]*)\)\s*$", re.DOTALL)
_NAMED = re.compile(
    r"^\*\*(?P<names>[^*]+)\*\*\s*(?:\((?P<inside>[^()]*)\))?\s*:?\s*(?P<text>.*)$",
    re.DOTALL,
)
#: A mark at the beginning of a line under "At once": a deed begins with a capital letter.
_MARK = re.compile(r"^(?P<mark>[a-z][a-z ]*):\s*(?P<words>.*)$", re.DOTALL)
#: The sections that are lists of plain texts.
_PLAIN_SECTIONS = frozenset(("symptoms", "not_this_if", "safety", "wordings"))
#: A list item on one line that is nothing but plain text to Markdown.
_PLAIN_ITEM = re.compile(
    r"- (?!\d{1,9}[.)](?:\s|$))(?!.*<!--)(?:[^\W_]|[\"'(%€&/])[^\t\0]*"
)
#: A line that may swallow those below it: a code fence, raw HTML, a quote, a link definition.
_MAY_SWALLOW = re.compile(r"[ \t]*(?:```|~~~|<|>|\[)")


@dataclass(frozen=True, slots=True)
class Parsed:
    """What a file gave: the entry if enough of one is there, and every remark about it."""

    entry: Entry | None
    remarks: tuple[Remark, ...]


def parse(
    text: str, slug: str, file: str = "", customs: Customs | None = None
) -> Parsed:
    """The entry that `text` holds, and all its problems at once, by these customs of a house, else those that ship.

    The entry is None only when there is nothing to serve: no title, no symptom or no cause.
    """
    return _Reader(
        text, slug, file or f"{slug}.md", customs or shipped_customs()
    ).read()


def read_through(
    text: str, slug: str, customs: Customs
) -> tuple[Entry, tuple[Remark, ...]]:
    """All that a text holds, even if that is too little to be served: for whoever is still writing it."""
    reader = _Reader(text, slug, f"{slug}.md", customs)
    return reader.read_through(), tuple(reader.remarks)


def to_slug(text: str, limit: int = 60) -> str:
    """A stable name for a title.

    >>> to_slug("Fit a battery known to be good!")
    'fit-a-battery-known-to-be-good'
    """
    slug = "-".join(re.findall(r"[a-z0-9]+", text.lower()))
    return slug if len(slug) <= limit else slug[:limit].rpartition("-")[0]


def is_slug(text: str) -> bool:
    """Whether text may name an entry, cause or file: lower case, digits and single hyphens."""
    return len(text) <= 80 and _SLUG.fullmatch(text) is not None


def _is_sheet_or_cause(name: str) -> bool:
    """Whether text may name an entry, or a cause of one with a stroke between."""
    entry, stroke, cause = name.partition("/")
    return is_slug(entry) and (is_slug(cause) or not stroke)


@cache
def _blocks() -> MarkdownIt:
    """A parser of blocks only: inline text is kept as it stands in the file."""
    from markdown_it import MarkdownIt

    blocks = MarkdownIt("commonmark")
    blocks.core.ruler.disable(["inline", "text_join"])
    return blocks


class _Reader:
    """Reads one file; a class because every step adds to the same list of remarks."""

    def __init__(self, text: str, slug: str, file: str, customs: Customs) -> None:
        self.slug = slug
        self.file = file
        self.acts, self.trade = customs.acts(), customs.trade()
        self.lines = (
            text.removeprefix("\ufeff")
            .replace("\r\n", "\n")
            .replace("\r", "\n")
            .split("\n")
        )
        self.remarks: list[Remark] = []
        self.numbered: dict[str, str] = {}

    def read(self) -> Parsed:
        entry = self.read_through()
        usable = entry.title and entry.symptoms and entry.causes
        ordered = sorted(self.remarks, key=lambda remark: remark.line)
        return Parsed(entry if usable else None, tuple(ordered))

    def read_through(self) -> Entry:
        matter, remarks = frontmatter.split(self.lines, self.file)
        self.remarks += remarks
        plain = _plain_lists(self.lines, matter.body_starts)
        sections = list(self._sections(matter.body_starts, plain))
        fields = self._fields(sections, plain)
        title, area = self._matter(matter)
        machine = self._states(
            matter.pairs.get("machine", ""), matter.lines.get("machine", 1)
        )
        stand = tuple(section for section, _ in sections)
        self._missing(fields, {section.heading: section.line for section in stand})
        extra = _unknown_sections(stand)
        entry = Entry(
            self.slug,
            title,
            area,
            machine=machine,
            extra=extra,
            sections=stand,
            **fields,
        )
        return self._with_gates(self._known_causes_only(entry))

    def _fields(
        self,
        sections: Iterable[tuple[Section, list[SyntaxTreeNode]]],
        plain: Mapping[int, tuple[str, ...]],
    ) -> dict[str, Any]:
        """What the sections hold, by the name of the field that each fills; empty for one that is not there."""
        fields: dict[str, Any] = dict.fromkeys(SECTIONS.values(), ())
        for section, nodes in sections:
            name = SECTIONS.get(section.heading, "")
            if name and fields[name]:
                told = worded(
                    "section `{heading}` stands twice", heading=section.heading
                )
                self.remark(section.line, told, worded("join the two"))
            elif name:
                fields[name] = plain.get(section.line) or self._items(name, nodes)
        return fields

    def remark(self, line: int, problem: str, instead: str) -> None:
        self.remarks.append(Remark(self.file, line, problem, instead))

    def _matter(self, matter: frontmatter.FrontMatter) -> tuple[str, str]:
        if not is_slug(self.slug):
            self.remark(
                1,
                worded("`{slug}` cannot name an entry", slug=self.slug[:60]),
                worded("rename the file to lower-case words joined by hyphens"),
            )
        for key, value in matter.pairs.items():
            if key not in KEYS:
                instead = worded(
                    "keep title, area and machine, or move it to a section"
                )
                self.remark(
                    matter.lines[key],
                    worded("`{key}` is not known here", key=key),
                    instead,
                )
            elif not value:
                self.remark(
                    matter.lines[key],
                    worded("`{key}` is empty", key=key),
                    worded("write `{key}: ...`", key=key),
                )
        for key in ("title", "area"):
            if key not in matter.pairs and matter.body_starts:
                self.remark(
                    1,
                    worded("the front matter has no {key}", key=key),
                    worded("add a line `{key}: ...`", key=key),
                )
        title, area = matter.pairs.get("title", ""), matter.pairs.get("area", "")
        areas = self.trade.areas
        if area and areas and area not in areas:
            self.remark(
                matter.lines["area"],
                worded("`{area}` is not an area", area=area),
                worded("use one of {names}", names=", ".join(areas)),
            )
        return title, area

    def _states(self, text: str, line: int) -> tuple[str, ...]:
        """The states of a machine that a text names, in their order."""
        given, states = names(text), self.trade.states
        for state in given:
            if state not in states:
                self.remark(
                    line,
                    worded("`{state}` is no state of a machine", state=state[:60]),
                    worded("use some of {names}", names=", ".join(states)),
                )
        return tuple(state for state in states if state in given)

    def _sections(
        self, start: int, plain: Mapping[int, Sequence[str]]
    ) -> Iterator[tuple[Section, list[SyntaxTreeNode]]]:
        """The second-level headings with the nodes and the raw text under each; plain lists are no nodes."""
        from markdown_it.tree import SyntaxTreeNode

        body = [""] * start + self.lines[start:]
        for line in plain:
            stop = _next_heading(self.lines, line)
            body[line:stop] = [""] * (stop - line)
        tree = SyntaxTreeNode(_blocks().parse("\n".join(body)))
        groups: list[tuple[str, int, int, list[SyntaxTreeNode]]] = [
            ("", start, start, [])
        ]
        for node in tree.children:
            first, last = node.map or (start, start)
            if node.type == "heading" and node.tag == "h2":
                groups.append((node.children[0].content.strip(), first, last, []))
            else:
                groups[-1][3].append(node)
        for (heading, first, last, nodes), following in zip(
            groups, [*groups[1:], None], strict=True
        ):
            stop = following[1] if following else len(self.lines)
            yield Section(heading, "\n".join(self.lines[last:stop]), first + 1), nodes

    def _missing(self, fields: dict[str, Any], present: dict[str, int]) -> None:
        for heading in REQUIRED:
            if heading not in present:
                self.remark(
                    1,
                    worded("section `{heading}` is missing", heading=heading),
                    worded(
                        "add a heading `## {heading}` with a list under it",
                        heading=heading,
                    ),
                )
            elif not fields[SECTIONS[heading]]:
                self.remark(
                    present[heading],
                    worded("section `{heading}` holds nothing", heading=heading),
                    worded("add a list, one item a line"),
                )

    def _items(self, name: str, nodes: list[SyntaxTreeNode]) -> tuple[Any, ...]:
        readers: dict[str, Callable[[SyntaxTreeNode], Any]] = {
            "causes": self._cause, "tests": self._test, "fixes": self._fix,
            "undivided": self._undivided, "neighbours": self._neighbour, "at_once": self._urgent,
        }  # fmt: skip
        reader = readers.get(name, self._plain)
        found = []
        for node in nodes:
            if node.type in ("bullet_list", "ordered_list"):
                found += [reader(item) for item in node.children]
            elif node.type != "html_block":
                line = (node.map or (0, 0))[0] + 1
                self.remark(
                    line,
                    worded("this is not part of a list"),
                    worded("begin the line with `- `, or `1. ` for a test"),
                )
        if name == "tests":
            return self._tests(found)
        return tuple(item for item in found if item is not None)

    def _tests(self, found: Sequence[Test | None]) -> tuple[Test, ...]:
        """The tests that can be read, each with a name of its own, and their numbers in the list noted."""
        numbered = {
            str(number): test
            for number, test in enumerate(found, 1)
            if test is not None
        }
        tests = _unique_tests(tuple(numbered.values()))
        self.numbered = {
            number: test.slug for number, test in zip(numbered, tests, strict=True)
        }
        return tests

    def _plain(self, item: SyntaxTreeNode) -> str | None:
        text = " ".join(self._paragraphs(item)).replace("\n", " ").strip()
        if not text:
            self.remark(
                _line(item),
                worded("an empty item"),
                worded("write something or delete the line"),
            )
        return text or None

    def _urgent(self, item: SyntaxTreeNode) -> Urgent | None:
        text = self._plain(item)
        if text is None:
            return None
        match = _MARK.match(text)
        if match is None:
            return Urgent(text, line=_line(item))
        words = [
            " ".join(word.split()) for word in match["words"].rstrip(".").split(",")
        ]
        said = tuple(filter(None, words))
        if match["mark"] == "said" and said:
            return Urgent(said=said, line=_line(item))
        problem = worded("`said` names no words")
        if match["mark"] != "said":
            problem = worded("`{match}` is not known here", match=match["mark"][:60])
        instead = worded(
            "begin a deed with a capital letter, or write `- said: smoke, it hisses`"
        )
        self.remark(_line(item), problem, instead)
        return None

    def _cause(self, item: SyntaxTreeNode) -> Cause | None:
        match = _NAMED.match("\n\n".join(self._paragraphs(item)))
        if match is None or not match["text"]:
            self.remark(
                _line(item),
                worded("a cause is not in its form"),
                worded("write `- **slug** (often): what is wrong`"),
            )
            return None
        slug = match["names"].strip()
        weight, _, rest = (match["inside"] or "").partition(";")
        if not is_slug(slug):
            self.remark(
                _line(item),
                worded("`{slug}` cannot name a cause", slug=slug),
                worded("use lower-case words joined by hyphens"),
            )
            return None
        first = self._weight(weight.strip(), item) or "sometimes"
        return Cause(
            slug,
            first,
            match["text"].replace("\n", " "),
            self._on_pallets(rest.strip(), item),
            _line(item),
        )

    def _weight(self, word: str, item: SyntaxTreeNode) -> Weight | None:
        found: dict[str, Weight] = {weight: weight for weight in get_args(Weight)}
        if word not in found:
            self.remark(
                _line(item),
                worded("`{word}` is not a weight", word=word),
                worded("write (often), (sometimes) or (rare)"),
            )
        return found.get(word)

    def _on_pallets(self, piece: str, item: SyntaxTreeNode) -> Weight | None:
        """The second weight of a cause, None if it has none."""
        if not piece:
            return None
        word, _, weight = piece.partition(" ")
        if word != "pallet":
            self.remark(
                _line(item),
                worded("`{piece}` is not understood", piece=piece[:60]),
                worded("write `(often; pallet rare)`"),
            )
            return None
        return self._weight(weight.strip(), item)

    def _test(self, item: SyntaxTreeNode) -> Test | None:
        paragraphs = self._paragraphs(item)
        head, detail = _split_head(paragraphs[0] if paragraphs else "")
        match = _BRACKET.match(head)
        if match is None or not match["title"]:
            self.remark(
                _line(item),
                worded("a test has no minutes"),
                worded("write `1. What to do (3 min)`"),
            )
            return None
        given = self._attributes(match["inside"], _line(item), of_fix=False)
        outcomes = self._outcomes(item)
        if len(outcomes) < 2:
            self.remark(
                _line(item),
                worded("a test needs two outcomes or more"),
                worded("add `- what it shows: cause` lines under it"),
            )
        title = match["title"].replace("\n", " ")
        return Test(
            slug=to_slug(title),
            title=title,
            minutes=given.minutes,
            outcomes=outcomes,
            detail="\n\n".join(filter(None, [detail, *paragraphs[1:]])),
            needs=given.needs,
            cover_off=given.cover_off,
            reliability=given.reliability,
            first=given.first,
            after=given.after,
            wait=given.wait,
            act=given.act,
            does=given.does,
            machine=given.machine,
            untold=given.untold,
            states=self.trade.states_for(given.machine, given.needs),
            measures=not self.trade.measuring.isdisjoint(given.needs),
            line=_line(item),
        )

    def _outcomes(self, test: SyntaxTreeNode) -> tuple[Outcome, ...]:
        """What stands in the lists under a test, as far as it can be read."""
        items: list[SyntaxTreeNode] = []
        for child in test.children:
            if child.type == "bullet_list":
                items += child.children
        return tuple(filter(None, map(self._outcome, items)))

    def _outcome(self, item: SyntaxTreeNode) -> Outcome | None:
        text, colon, told = (
            " ".join(self._paragraphs(item)).replace("\n", " ").rpartition(":")
        )
        if not colon:
            self.remark(
                _line(item),
                worded("an outcome names no cause"),
                worded("write `- what it shows: cause` or `: not cause`"),
            )
            return None
        outcome = Outcome(text.strip(), line=_line(item))
        for piece in told.split(";"):
            outcome = self._told(outcome, piece.strip(), item)
        return outcome

    def _told(self, outcome: Outcome, piece: str, item: SyntaxTreeNode) -> Outcome:
        """The outcome with one more piece of what it says: causes, `not` causes, `see` sheets, or `machine` a state."""
        word, _, rest = piece.partition(" ")
        if piece in ("", "nothing"):
            return outcome
        if word == "machine":
            return replace(
                outcome, machine=outcome.machine + self._states(rest, _line(item))
            )
        if word == "see":
            return replace(outcome, see=outcome.see + self._sheets(rest, item))
        if word == "not":
            return replace(outcome, clears=outcome.clears + self._slugs(rest, item))
        return replace(outcome, points_to=outcome.points_to + self._slugs(piece, item))

    def _slugs(self, text: str, item: SyntaxTreeNode) -> tuple[str, ...]:
        given = names(text)
        for name in given:
            if not is_slug(name):
                instead = worded("after the last colon write cause slugs, or `nothing`")
                self.remark(
                    _line(item),
                    worded("`{name}` cannot name a cause", name=name),
                    instead,
                )
        return tuple(filter(is_slug, given))

    def _sheets(self, text: str, item: SyntaxTreeNode) -> tuple[str, ...]:
        """The sheets, or causes of sheets, that an outcome points to."""
        given = names(text)
        for name in given:
            if not _is_sheet_or_cause(name):
                self.remark(
                    _line(item),
                    worded("`{name}` cannot name a sheet", name=name),
                    worded("write `see entry` or `see entry/cause`"),
                )
        return tuple(filter(_is_sheet_or_cause, given))

    def _fix(self, item: SyntaxTreeNode) -> Fix | None:
        match = _NAMED.match("\n\n".join(self._paragraphs(item)))
        if match is None or match["inside"] is None or not match["text"]:
            self.remark(
                _line(item),
                worded("a fix is not in its form"),
                worded("write `- **cause** (10 min; part battery): what to do`"),
            )
            return None
        given = self._attributes(match["inside"], _line(item), of_fix=True)
        causes = tuple(name.strip() for name in match["names"].split(","))
        return Fix(
            causes=causes,
            minutes=given.minutes,
            text=match["text"],
            parts=given.parts,
            needs=given.needs,
            cover_off=given.cover_off,
            after=given.after,
            wait=given.wait,
            act=given.act,
            does=given.does,
            machine=given.machine,
            states=self.trade.states_for(given.machine, given.needs),
            line=_line(item),
        )

    def _undivided(self, item: SyntaxTreeNode) -> Undivided | None:
        names, colon, why = (
            " ".join(self._paragraphs(item)).replace("\n", " ").partition(":")
        )
        if not colon:
            self.remark(
                _line(item),
                worded("no reason is given"),
                worded("write `- cause, cause: why no test tells them apart`"),
            )
            return None
        return Undivided(
            tuple(name.strip(" *") for name in names.split(",")),
            why.strip(),
            _line(item),
        )

    def _neighbour(self, item: SyntaxTreeNode) -> Neighbour | None:
        match = _NAMED.match(" ".join(self._paragraphs(item)).replace("\n", " "))
        if match is None or not is_slug(match["names"]) or not match["text"]:
            self.remark(
                _line(item),
                worded("a neighbour is not in its form"),
                worded("write `- **entry-slug**: what tells it apart`"),
            )
            return None
        return Neighbour(match["names"], match["text"], _line(item))

    def _attributes(self, inside: str, line: int, of_fix: bool) -> Attributes:
        """What the brackets say, filled in from the table of standard acts where they name one."""
        given = Attributes()
        for piece in map(str.strip, inside.replace("\n", " ").split(";")):
            changed = given.with_piece(piece, of_fix)
            if changed is not None and self.trade.asks.keys() >= set(changed.machine):
                given = changed
                continue
            known = (
                ANY_STEP
                + "|".join(self.trade.asks)
                + (OF_FIXES if of_fix else OF_TESTS)
            )
            told = worded("`{piece}` is not understood", piece=piece)
            self.remark(
                line, told, worded("in the brackets write `{known}`", known=known)
            )
        act = self.acts.by_name.get(given.act)
        if given.act and act is None:
            self._remark_on_act(given.act, line)
        given = given.filled_in(act)
        if given.minutes < 0:
            self.remark(
                line,
                worded("no minutes are given"),
                worded("start the brackets with `N min`"),
            )
        return replace(given, minutes=max(given.minutes, 0.0) or 5.0)

    def _remark_on_act(self, act: str, line: int) -> None:
        """Remark on a standard act that the house does not have."""
        from difflib import get_close_matches  # a search need not wait for it

        near = ", ".join(get_close_matches(act, list(self.acts.by_name), 3, 0.4))
        instead = worded(
            "in entries/house/acts.md stands: {near}",
            near=near or worded("one of its names"),
        )
        self.remark(line, worded("there is no standard act `{act}`", act=act), instead)

    def _known_causes_only(self, entry: Entry) -> Entry:
        """The entry with every name of an unlisted cause remarked on and left out."""
        slugs = [cause.slug for cause in entry.causes]
        self._remark_on_doubles(entry.causes)

        def known(names: tuple[str, ...], line: int) -> tuple[str, ...]:
            return self._listed(names, slugs, line)

        tests = tuple(_with_causes(known, test) for test in entry.tests)
        fixes = tuple(
            replace(fix, causes=known(fix.causes, fix.line)) for fix in entry.fixes
        )
        undivided = tuple(
            replace(group, causes=known(group.causes, group.line))
            for group in entry.undivided
        )
        if entry.fixes:
            self._remark_on_fixes_of(entry.causes, fixes)
        # of two the first is kept
        causes = {cause.slug: cause for cause in reversed(entry.causes)}
        return replace(
            entry,
            causes=tuple(causes[slug] for slug in dict.fromkeys(slugs)),
            tests=tests,
            fixes=tuple(fix for fix in fixes if fix.causes),
            undivided=undivided,
        )

    def _listed(
        self, names: tuple[str, ...], slugs: Sequence[str], line: int
    ) -> tuple[str, ...]:
        """Those of the names that are causes of the sheet; each other one is remarked on."""
        for name in names:
            if name not in slugs:
                told = worded("`{name}` is not among the likely causes", name=name)
                instead = worded("use one of {names}", names=", ".join(slugs))
                self.remark(line, told, instead)
        return tuple(name for name in names if name in slugs)

    def _remark_on_doubles(self, causes: Sequence[Cause]) -> None:
        """Remark on each cause whose name another one has."""
        times = Counter(cause.slug for cause in causes)
        for cause in causes:
            if times[cause.slug] > 1:
                self.remark(
                    cause.line,
                    worded("cause `{slug}` stands twice", slug=cause.slug),
                    worded("give each cause its own name"),
                )

    def _remark_on_fixes_of(
        self, causes: Iterable[Cause], fixes: Iterable[Fix]
    ) -> None:
        """Remark on each cause that has no fix, or several."""
        listed = Counter(slug for fix in fixes for slug in set(fix.causes))
        for cause in causes:
            count = listed[cause.slug]
            if count != 1:
                what = (
                    worded("has no fix")
                    if count == 0
                    else worded("has {count} fixes", count=count)
                )
                self.remark(
                    cause.line,
                    worded("cause `{slug}` {what}", slug=cause.slug, what=what),
                    worded("list it under Fix exactly once"),
                )

    def _with_gates(self, entry: Entry) -> Entry:
        """The entry with the tests that others come after by name; a mark that cannot be obeyed is remarked on."""
        self.remarks += gates.mistakes(
            entry.tests, entry.fixes, self.numbered, self.file
        )
        tests, fixes = gates.by_name(entry.tests, entry.fixes, self.numbered)
        return replace(entry, tests=tests, fixes=fixes)

    def _paragraphs(self, item: SyntaxTreeNode) -> list[str]:
        """The texts of its own paragraphs, without comments."""
        own = [child for child in item.children if child.type == "paragraph"]
        texts = [
            without_comments(paragraph.children[0].content).strip() for paragraph in own
        ]
        return list(filter(None, texts))


def _unknown_sections(sections: Iterable[Section]) -> tuple[tuple[str, str], ...]:
    """The headings that the program does not read, each with its text; what stands before them all if there is any."""
    texts = [
        (one.heading, one.text.strip("\n"))
        for one in sections
        if one.heading not in SECTIONS
    ]
    return tuple(pair for pair in texts if pair != ("", ""))


def _plain_lists(lines: Sequence[str], start: int) -> dict[int, tuple[str, ...]]:
    """The lists of one-line plain texts by the number of their heading's line: most of a sheet, read in no time.

    Empty where anything in the sheet may reach over several lines: then Markdown's own parser reads it all.

    >>> _plain_lists(["## Symptom", "", "- no light", "- 3 beeps", "", "## Fix"], 0)
    {1: ('no light', '3 beeps')}
    """
    if any(_MAY_SWALLOW.match(line) for line in lines[start:]):
        return {}
    found = {}
    for number, line in enumerate(lines[start:], start + 1):
        if line.startswith("## ") and SECTIONS.get(line[3:]) in _PLAIN_SECTIONS:
            items = list(filter(None, lines[number : _next_heading(lines, number)]))
            if items and all(map(_PLAIN_ITEM.fullmatch, items)):
                found[number] = tuple(item[2:].strip() for item in items)
    return found


def _next_heading(lines: Sequence[str], start: int) -> int:
    return next(
        (i for i in range(start, len(lines)) if lines[i].startswith("## ")), len(lines)
    )


def _with_causes(
    known: Callable[[tuple[str, ...], int], tuple[str, ...]], test: Test
) -> Test:
    """The test with those of its causes alone that `known` gives back, in its outcomes too."""
    outcomes = []
    for one in test.outcomes:
        points_to = known(one.points_to, one.line)
        clears = known(one.clears, one.line)
        outcomes.append(replace(one, points_to=points_to, clears=clears))
    untold = known(test.untold, test.line)
    return replace(test, untold=untold, outcomes=tuple(outcomes))


def _split_head(paragraph: str) -> tuple[str, str]:
    """The lines of a test's first paragraph up to the closing bracket, and what follows them."""
    lines = paragraph.split("\n")
    for count in range(1, len(lines) + 1):
        if lines[count - 1].rstrip().endswith(")"):
            return "\n".join(lines[:count]), "\n".join(lines[count:])
    return paragraph, ""


def _unique_tests(tests: tuple[Test, ...]) -> tuple[Test, ...]:
    """The tests with a number added to a slug that an earlier test already has."""
    seen: dict[str, int] = {}
    result = []
    for test in tests:
        seen[test.slug] = seen.get(test.slug, 0) + 1
        number = seen[test.slug]
        result.append(
            test if number == 1 else replace(test, slug=f"{test.slug}-{number}")
        )
    return tuple(result)


def _line(node: SyntaxTreeNode) -> int:
    return (node.map or (0, 0))[0] + 1
