"""A tongue: one language in which the pages speak, with its strings, its plurals, its decimal marks and its days."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Mapping
from contextvars import ContextVar
from datetime import date
from functools import lru_cache
from gettext import GNUTranslations, NullTranslations
from pathlib import Path
from string import Formatter
from typing import Any

from babel import Locale
from babel.dates import format_date
from babel.messages.mofile import write_mo
from babel.messages.pofile import read_po
from babel.numbers import format_decimal, get_decimal_symbol
from markupsafe import Markup, escape

from kb.base.worded import Worded, forms
from webui.strings import ENGLISH

#: The language in which everything is written that has no translation.
SOURCE = "en"
TRANSLATIONS = Path(__file__).parent / "translations"
#: Where a catalogue lies below the folder of its language, as gettext has it.
CATALOGUE = Path("LC_MESSAGES", "benchlore.po")


#: Values in sentences that somebody typed, which stay as they are whatever they say.
TYPED = frozenset(
    ("typed", "words", "model", "near", "tag", "lot", "by", "text", "given")
)


class Tongue:
    """What the pages say in one language; what its catalogue does not hold is said in English."""

    def __init__(self, language: str, catalogue: NullTranslations) -> None:
        self.language = language
        self.is_source = language == SOURCE
        self._catalogue = catalogue
        self._locale = Locale.parse(language)
        self._point = str(get_decimal_symbol(self._locale))

    @property
    def name(self) -> str:
        """The language by its own name, such as Deutsch."""
        return str(self._locale.get_display_name(self._locale)).capitalize()

    def say(self, key: str, **values: Any) -> Markup:
        """The string of that key with its values put in and escaped; with `n`, in the form for that number."""
        given = self._looked_up(ENGLISH[key], values.get("n"), key)
        said = []
        for plain, name in _pieces(given):
            said.append(plain)
            if name:
                said.append(escape(self.shown(name, values[name])))
        return Markup("".join(said))

    def tell(self, sentence: Worded) -> str:
        """A sentence of the core in this language."""
        if self.is_source:
            return str(sentence)
        given = self._looked_up(sentence.template, sentence.values.get("n"))
        return "".join(self._filled(given, sentence.values))

    def word(self, text: str) -> str:
        """A word out of a fixed list of the core, such as a state of a machine."""
        return text if self.is_source or not text else self._catalogue.gettext(text)

    def figure(self, text: str) -> str:
        """A figure as English writes it, with the decimal mark of this language."""
        return text if self.is_source else text.replace(".", self._point)

    def day(self, day: date) -> str:
        """A day, in English as ISO 8601 has it, elsewhere as people write it there."""
        return (
            day.isoformat()
            if self.is_source
            else str(format_date(day, "medium", locale=self._locale))
        )

    def shown(self, name: str, value: object) -> object:
        """A value as it is put into a sentence."""
        if isinstance(value, Worded):
            return self.tell(value)
        if self.is_source or isinstance(value, bool):
            return value
        if name == "what" and isinstance(value, str):
            return self.word(value)
        if type(value) is str and name not in TYPED:
            return of_a_sheet(value)
        if name == "n" and isinstance(value, int):
            return format_decimal(value, locale=self._locale)
        return self.figure(str(value)) if isinstance(value, float) else value

    def _looked_up(self, given: str, number: object, key: str = "") -> str:
        """The string in this language, in the form for the number where there is one."""
        one, many = forms(given)
        if not many:
            return (
                self._catalogue.pgettext(key, one)
                if key
                else self._catalogue.gettext(one)
            )
        if number is None:
            return given
        count = number if isinstance(number, int) else 2
        if key:
            return self._catalogue.npgettext(key, one, many, count)
        return self._catalogue.ngettext(one, many, count)

    def _filled(self, given: str, values: dict[str, object]) -> Iterator[str]:
        for plain, name, spec, _ in Formatter().parse(given):
            yield plain
            if name and spec:
                yield self.figure(format(values[name], spec))
            elif name:
                yield str(self.shown(name, values[name]))


@lru_cache(maxsize=4096)
def _pieces(given: str) -> tuple[tuple[str, str], ...]:
    """A string cut before and after each {name}: what stands there, escaped, and the name that follows, if any."""
    cut = Formatter().parse(given)
    return tuple(
        (str(escape(plain)).replace("&#39;", "'"), name or "")
        for plain, name, _, _ in cut
    )


def catalogue(path: Path) -> NullTranslations:
    """The catalogue in a file of gettext's source form (.po), read whole."""
    with path.open("rb") as file:
        read = read_po(file, locale=path.parent.parent.name)
    compiled = io.BytesIO()
    write_mo(compiled, read)
    compiled.seek(0)
    return GNUTranslations(compiled)


ENGLISH_TONGUE = Tongue(SOURCE, NullTranslations())


def catalogue_file(language: str) -> Path:
    """Where the catalogue of a language lies."""
    return TRANSLATIONS / language / CATALOGUE


def languages() -> tuple[str, ...]:
    """The languages that the pages can speak, English first."""
    found = sorted(
        path.name
        for path in TRANSLATIONS.iterdir()
        if catalogue_file(path.name).is_file()
    )
    return (SOURCE, *found)


@lru_cache
def tongue_of(language: str) -> Tongue:
    """The tongue of one of those languages; its catalogue is read when it is first asked for, and once."""
    if language == SOURCE:
        return ENGLISH_TONGUE
    return Tongue(language, catalogue(catalogue_file(language)))


class InTongue(str):
    """Text of a sheet that is in the language of the page already."""


def _as_it_is(text: str) -> str:
    return text


_spoken: ContextVar[Tongue] = ContextVar("spoken", default=ENGLISH_TONGUE)
#: Gives the text of a sheet in the language of the page, or as it is where nobody has translated it.
_sheets: ContextVar[Callable[[str], str]] = ContextVar("sheets", default=_as_it_is)


def spoken() -> Tongue:
    """The tongue in which this request is answered."""
    return _spoken.get()


def speak(tongue: Tongue, sheets: Callable[[], Mapping[str, str]] = dict) -> None:
    """Answer in that tongue from here on, in this thread; `sheets` gives the translated texts of sheets when asked."""
    _spoken.set(tongue)
    _sheets.set(
        _as_it_is if tongue.is_source else lambda text: sheets().get(text, text)
    )


def of_a_sheet(text: str) -> str:
    """The text of a sheet, or a part, tool or area, in the language of the page: an `InTongue` if it is in that."""
    if isinstance(text, InTongue):
        return text
    said = _sheets.get()(text)
    if said is text:
        said = spoken().word(text)
    return text if said == text else InTongue(said)
