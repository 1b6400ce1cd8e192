"""Worded: a sentence in English that remembers what it was made of, so that a page can say it in another language."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import Any


class Worded(str):
    """An English sentence that knows its template and the values in it; in all else it is that sentence.

    Terminal, JSON and tests see plain text. Whoever speaks another language looks the template up in a catalogue and
    fills it with the same values, those first that are told themselves.
    """

    __slots__ = ("template", "values")
    template: str
    values: dict[str, object]

    def __reduce__(self) -> tuple[object, ...]:
        """For copies: the sentence is made anew."""
        return _anew, (self.template, self.values)


def worded(template: str, /, **values: object) -> Worded:
    """The sentence of a template with its values put in; with `n`, the form before the bar is for one.

    The template is written out where this is called, since the catalogues are made from what stands there.

    >>> worded("about {minutes:g} min", minutes=7.5), worded("{n} job|{n} jobs", n=3)
    ('about 7.5 min', '3 jobs')
    >>> worded("{n} job|{n} jobs", n=3).template
    '{n} job|{n} jobs'
    """
    one, many = forms(template)
    made = Worded((many if many and values.get("n") != 1 else one).format_map(values))
    made.template, made.values = template, values
    return made


def as_told(text: str) -> str:
    """A sentence that a library's own file says, so that a page can look it up as it looks up those of the code.

    >>> as_told("lead, plug").template, as_told("")
    ('lead, plug', '')
    """
    if not text:
        return text
    made = Worded(text)
    made.template, made.values = text.replace("{", "{{").replace("}", "}}"), {}
    return made


def listed(parts: Sequence[str], between: str = "; ") -> str:
    """Sentences in a row, told if there are any: what stands between them is the same in every language.

    >>> listed([worded("worn {share}", share="20 %"), "as read"])
    'worn 20 %; as read'
    """
    if not parts:
        return ""
    *before, last = parts
    if not before:
        return last
    return worded(
        "{before}{between}{last}",
        before=listed(before, between),
        between=between,
        last=last,
    )


@lru_cache(maxsize=1024)
def forms(template: str) -> tuple[str, str]:
    """The forms for one and for many; the latter empty where there is only one.

    >>> forms("{n} job|{n} jobs"), forms("a bar | is only one beside a number")
    (('{n} job', '{n} jobs'), ('a bar | is only one beside a number', ''))
    """
    one, bar, many = template.partition("|")
    return (one, many) if bar and "{n}" in many else (template, "")


def _anew(template: str, values: dict[str, object]) -> Worded:
    return worded(template, **values)


def kept(text: str) -> str | list[object]:
    """A sentence as JSON can keep it: the plain text, or its template and the values in it.

    >>> kept("plain"), kept(worded("{n} line|{n} lines", n=2))
    ('plain', ['{n} line|{n} lines', {'n': 2}])
    """
    if not isinstance(text, Worded):
        return text
    values = {
        name: kept(one) if isinstance(one, str) else one
        for name, one in text.values.items()
    }
    return [
        text.template,
        {name: one if _is_plain(one) else str(one) for name, one in values.items()},
    ]


def again(given: Any) -> str:
    """The sentence that `kept` was given.

    >>> again(kept(worded("{n} line|{n} lines", n=2)))
    '2 lines'
    """
    if isinstance(given, str):
        return given
    template, values = given
    return worded(
        template,
        **{
            name: again(one) if isinstance(one, list) else one
            for name, one in values.items()
        },
    )


def _is_plain(value: object) -> bool:
    return isinstance(value, str | int | float | list)
