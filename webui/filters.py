"""Filters of the templates: how strings, shares, minutes and moments are shown."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime, tzinfo
from functools import lru_cache
from pathlib import Path
from string import Formatter
from typing import Any

from flask import Flask
from markupsafe import Markup, escape

from kb.base.rates import whole_percent
from kb.bench.front import Bench
from webui.rendering import to_html, to_inline_html


def prepare(app: Flask, text: Mapping[str, str]) -> None:
    """Give the templates their words: `say`, and filters for shares, minutes, moments and Markdown."""
    folder = Path(app.static_folder or "")

    def say(key: str, **values: Any) -> Markup:
        return said(text, key, **values)

    def asset(name: str) -> str:
        return f"/static/{name}?v={marks[name]}"

    bench: Bench = app.extensions["bench"]

    def zone() -> tzinfo | None:
        return bench.shop.settings.zone

    marks = {path.name: hashlib.sha256(path.read_bytes()).hexdigest()[:12] for path in sorted(folder.iterdir())}
    app.jinja_env.globals.update(say=say, asset=asset)
    app.jinja_env.filters.update(
        percent=percent,
        rate=rate,
        minutes=minutes,
        bdi=bdi,
        isolated=isolated,
        day=lambda given: day(given, zone()),
        moment=lambda given: moment(given, zone()),
        line=lambda given: Markup(to_inline_html(given)),
        markdown=lambda given: Markup(to_html(given)),
    )


def said(text: Mapping[str, str], key: str, **values: Any) -> Markup:
    """A string with its values put in and escaped; with `n`, the form before the bar is for one.

    >>> str(said({"jobs": "{n} job|{n} jobs"}, "jobs", n=1)), str(said({"jobs": "{n} job|{n} jobs"}, "jobs", n=3))
    ('1 job', '3 jobs')
    """
    given = text[key]
    if "n" in values and "|" in given:
        one, many = given.split("|", 1)
        given = one if values["n"] == 1 else many
    return Markup("".join(f"{plain}{escape(values[name])}" if name else plain for plain, name in _pieces(given)))


@lru_cache(maxsize=1024)
def _pieces(given: str) -> tuple[tuple[str, str], ...]:
    """A string cut before and after each {name}: what stands there, escaped, and the name that follows, if any."""
    cut = Formatter().parse(given)
    return tuple((str(escape(plain)).replace("&#39;", "'"), name or "") for plain, name, _, _ in cut)


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
    return f"{share * 100:.{1 if 0 < share < 0.0995 else 0}f}{sign}"


def minutes(given: float | None) -> str:
    r"""Minutes without needless decimals.

    >>> minutes(12.0), minutes(7.5), minutes(None)
    ('12\xa0min', '7.5\xa0min', '')
    """
    return "" if given is None else f"{round(given, 1):g}\u00a0min"


def day(given: str, zone: tzinfo | None = None) -> str:
    """The day of an ISO time in the shop's zone, None for this computer's.

    >>> from zoneinfo import ZoneInfo
    >>> day("2026-06-30T23:30:00Z", ZoneInfo("Europe/Oslo"))
    '2026-07-01'
    """
    return moment(given, zone)[:10]


def moment(given: str, zone: tzinfo | None = None) -> str:
    """An ISO time to the minute in the shop's zone, None for this computer's; what is no time stays as it is.

    >>> from zoneinfo import ZoneInfo
    >>> moment("2026-06-30T23:30:00Z", ZoneInfo("Europe/Oslo"))
    '2026-07-01 01:30'
    """
    try:
        return datetime.fromisoformat(given).astimezone(zone).strftime("%Y-%m-%d %H:%M")
    except (ValueError, OverflowError):
        return given


def bdi(given: str) -> Markup:
    """Text that somebody typed, kept from turning the direction of what stands beside it."""
    return Markup("<bdi>{}</bdi>").format(balanced(given))


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
