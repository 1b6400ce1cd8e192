"""Filters of the templates: how strings, shares, minutes and moments are shown."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from datetime import date, datetime, tzinfo
from pathlib import Path

from flask import Flask
from markupsafe import Markup, escape

from kb.base.intervals import whole_percent
from kb.base.worded import Worded
from kb.bench.at_hand import PartAtHand, told_at_hand
from kb.bench.front import Bench
from kb.machines.telling import fit_told, in_ten
from webui.rendering import to_html, to_inline_html
from webui.tongue import SOURCE, InTongue, of_a_sheet, spoken


def prepare(app: Flask) -> None:
    """Give the templates their words: `say`, and filters for shares, minutes, moments and Markdown."""
    folder = Path(app.static_folder or "")

    def asset(name: str) -> str:
        return f"/static/{name}?v={marks[name]}"

    bench: Bench = app.extensions["bench"]

    def zone() -> tzinfo | None:
        return bench.shop.settings.zone

    def at_hand(one: PartAtHand) -> str:
        return told_at_hand(one, bench.shop.settings.currency)

    marks = {
        path.name: hashlib.sha256(path.read_bytes()).hexdigest()[:12]
        for path in sorted(folder.iterdir())
    }
    app.jinja_env.globals.update(
        say=lambda key, /, **values: spoken().say(key, **values), asset=asset
    )
    app.jinja_env.globals.update(told_at_hand=at_hand, fit_told=fit_told, in_ten=in_ten)
    app.jinja_env.filters.update(
        percent=percent,
        rate=rate,
        minutes=minutes,
        bdi=bdi,
        isolated=isolated,
        day=lambda given: day(given, zone()),
        moment=lambda given: moment(given, zone()),
        line=line,
        in_english=in_english,
        markdown=lambda given: _marked("div", given, to_html),
        sheet=lambda given: _marked("span", given, escape),
        thing=of_a_sheet,
        word=lambda given: spoken().word(given),
        figure=figure,
        date=date_only,
    )


def finished(value: object) -> object:
    """What a template puts out, a sentence of the core in the language of the page."""
    return spoken().tell(value) if isinstance(value, Worded) else value


def line(given: str) -> Markup:
    """One line of a sheet's Markdown, or a sentence of the core in the language of the page."""
    if isinstance(given, Worded):
        return Markup(to_inline_html(spoken().tell(given)))
    return _marked("span", given, to_inline_html)


def _marked(element: str, given: str, to_html: Callable[[str], str]) -> Markup:
    """Text of a sheet in the language of the page, or marked as English where nobody has translated it."""
    said = of_a_sheet(given)
    html = Markup(to_html(said))
    if spoken().is_source or isinstance(said, InTongue) or not html:
        return html
    return Markup("<{0} lang='{1}'>{2}</{0}>").format(element, SOURCE, html)


def in_english(given: str) -> Markup:
    """The attribute by which an element without elements in it marks a sheet's text that nobody has translated."""
    if spoken().is_source or isinstance(of_a_sheet(given), InTongue):
        return Markup()
    return Markup(" lang='{}'").format(SOURCE)


def figure(value: float, layout: str) -> str:
    """A figure laid out as `format` lays it out, with the decimal mark of the language.

    >>> figure(1.25, ".1f"), figure(3, "g")
    ('1.2', '3')
    """
    return spoken().figure(format(value, layout))


def percent(share: float) -> str:
    r"""A share of belief for a person: whole percents, and neither 0 nor 100 for what is not certain.

    >>> percent(0.384), percent(0.002), percent(0.9991)
    ('38\xa0%', '<\xa01\xa0%', '>\xa099\xa0%')
    """
    sign, whole = whole_percent(share)
    return "\u00a0".join(filter(None, (sign, str(whole), "%")))


def rate(share: float, sign: str = "\u00a0%") -> str:
    r"""A share of machines: one decimal below a tenth, where whole percents would hide the difference.

    >>> rate(0.5), rate(0.0199), rate(0.0), rate(0.014, "")
    ('50\xa0%', '2.0\xa0%', '0\xa0%', '1.4')
    """
    return spoken().figure(f"{share * 100:.{1 if 0 < share < 0.0995 else 0}f}") + sign


def minutes(given: float | None) -> str:
    r"""Minutes without needless decimals.

    >>> minutes(12.0), minutes(7.5), minutes(None)
    ('12\xa0min', '7.5\xa0min', '')
    """
    return (
        "" if given is None else spoken().figure(f"{round(given, 1):g}") + "\u00a0min"
    )


def day(given: str, zone: tzinfo | None = None) -> str:
    """The day of an ISO time in the shop's zone, None for this computer's.

    >>> from zoneinfo import ZoneInfo
    >>> day("2026-06-30T23:30:00Z", ZoneInfo("Europe/Oslo"))
    '2026-07-01'
    """
    try:
        return spoken().day(datetime.fromisoformat(given).astimezone(zone).date())
    except (ValueError, OverflowError):
        return given[:10]


def date_only(given: str) -> str:
    """A day written as ISO 8601 has it, in the language of the page; what is no day stays as it is."""
    try:
        return spoken().day(date.fromisoformat(given))
    except ValueError:
        return given


def moment(given: str, zone: tzinfo | None = None) -> str:
    """An ISO time to the minute in the shop's zone, None for this computer's; what is no time stays as it is.

    >>> from zoneinfo import ZoneInfo
    >>> moment("2026-06-30T23:30:00Z", ZoneInfo("Europe/Oslo"))
    '2026-07-01 01:30'
    """
    try:
        when = datetime.fromisoformat(given).astimezone(zone)
        return f"{spoken().day(when.date())} {when:%H:%M}"
    except (ValueError, OverflowError):
        return given


def bdi(given: str) -> Markup:
    """Text that somebody typed, kept from turning the direction of what stands beside it."""
    return Markup("<bdi>{}</bdi>").format(
        balanced(spoken().tell(given) if isinstance(given, Worded) else given)
    )


def isolated(given: str) -> str:
    """The same for places that take no marks, such as a window's title: between isolating signs (Unicode, UAX 9)."""
    return given if given.isascii() else f"\u2068{balanced(given)}\u2069"


def balanced(given: str) -> str:
    r"""The text with U+FFFD for every closing isolate that closes nothing in it, so that none of it breaks out.

    >>> balanced("a\u2069\u202eb") == "a\ufffd\u202eb", balanced("\u2067a\u2069") == "\u2067a\u2069"
    (True, True)
    """
    if "\u2069" not in given:
        return given
    depth, kept = 0, []
    for sign in given:
        if sign == "\u2069" and depth == 0:
            sign = "\ufffd"
        depth += (sign in "\u2066\u2067\u2068") - (sign == "\u2069")
        kept.append(sign)
    return "".join(kept)
