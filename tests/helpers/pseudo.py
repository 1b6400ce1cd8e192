"""A made-up language for tests: every letter of a string becomes a wide one, so that text from elsewhere stands out."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable
from gettext import NullTranslations
from html.parser import HTMLParser

from helpers.catalogues import in_code, messages
from kb.model import Entry
from webui.tongue import Tongue

#: Letters of English to their wide forms (Unicode, halfwidth and fullwidth forms).
WIDE = {
    ord(sign): ord(sign) + 0xFEE0
    for sign in "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
}
#: Elements whose text is the shop's or a person's own, a command, or a key.
OWN = frozenset(
    ("bdi", "q", "code", "kbd", "textarea", "script", "style", "pre", "title")
)
#: Attributes that a person sees or hears.
SEEN = frozenset(
    (
        "alt",
        "aria-label",
        "placeholder",
        "title",
        "data-status",
        "data-unsent",
        "data-none",
        "data-refused",
    )
)
VOID = frozenset(("input", "img", "meta", "link", "br", "path", "rect"))


class WideTranslations(NullTranslations):
    """Says whatever the catalogues hold in wide letters, and all else as it is."""

    def __init__(self) -> None:
        super().__init__()
        known = messages(in_code())
        self._known = {
            form
            for one in known.values()
            for form in ([one.id] if isinstance(one.id, str) else one.id)
        }

    def gettext(self, message: str) -> str:
        """The message in wide letters, its values left as they are."""
        return widened(message) if message in self._known else message

    def ngettext(self, msgid1: str, msgid2: str, n: int) -> str:
        """The form for the number, in wide letters."""
        return self.gettext(msgid1 if n == 1 else msgid2)

    def pgettext(self, context: str, message: str) -> str:
        """The message in wide letters, whatever its context."""
        return self.gettext(message)

    def npgettext(self, context: str, msgid1: str, msgid2: str, n: int) -> str:
        """The form for the number, in wide letters."""
        return self.ngettext(msgid1, msgid2, n)


def widened(message: str) -> str:
    """The message with wide letters outside braces and quoted code.

    >>> widened("Line {line}: `x` is off")
    'Ｌｉｎｅ {line}: `x` ｉｓ ｏｆｆ'
    """
    pieces = re.split(r"(\{[^}]*\}|`[^`]*`)", message)
    return "".join(
        piece if at % 2 else piece.translate(WIDE) for at, piece in enumerate(pieces)
    )


def wide_tongue() -> Tongue:
    """The made-up language, with the figures of German."""
    return Tongue("de", WideTranslations())


class Strays(HTMLParser):
    """The words of a page that are neither of the catalogues nor marked as English or as somebody's own.

    `own` are texts of sheets and names that stand in an attribute, where no mark can.
    """

    def __init__(self, html: str, own: Collection[str]) -> None:
        super().__init__(convert_charrefs=True)
        # so that none is cut by a part of it
        self._own = sorted(own, key=len, reverse=True)
        self._open: list[tuple[str, bool]] = []
        self.found: list[str] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        own = tag in OWN or (tag != "html" and "lang" in given)
        if not self._is_own():
            for name in SEEN & set(given):
                self._look(given[name])
        if tag not in VOID:
            self._open.append((tag, own))

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop()[0] != tag:
            pass

    def handle_data(self, data: str) -> None:
        if not self._is_own():
            self._look(data)

    def _is_own(self) -> bool:
        return any(own for _, own in self._open)

    def _look(self, text: str) -> None:
        if not is_stray(text):
            return
        rest = text
        for one in self._own:
            rest = rest.replace(one, " ")
        if is_stray(rest):
            self.found.append(" ".join(text.split())[:120])


def names_of(entries: Iterable[Entry]) -> list[str]:
    """What attributes of pages say of these entries."""
    found: set[str] = set()
    for entry in entries:
        found |= {
            entry.title,
            entry.slug,
            *entry.deeds,
            *(near.slug for near in entry.neighbours),
        }
        found |= {told for cause in entry.causes for told in (cause.text, cause.slug)}
    return list(found)


def is_stray(text: str) -> bool:
    """Whether a text holds an English word of three letters or more; units, figures, tags and paths are none."""
    plain = re.sub(
        r"`[^`]*`|\S*[/_]\S*|\b[A-Z]\d+\S*|\b[A-Z]{2,}\d*\b|Benchlore|\bmin\b",
        " ",
        text,
    )
    return re.search(r"[A-Za-z]{3,}", plain) is not None
