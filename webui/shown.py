"""How things are shown: the strings, shares, minutes and moments that the templates ask for."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from flask import Flask
from markupsafe import Markup, escape

from kb.markdown import to_html, to_inline_html


def prepare(app: Flask, text: Mapping[str, str]) -> None:
    """Give the templates their words: `say`, and filters for shares, minutes, moments and Markdown."""
    folder = Path(app.static_folder or "")

    def say(key: str, **values: Any) -> Markup:
        return said(text, key, **values)

    def asset(name: str) -> str:
        return f"/static/{name}?v={marks[name]}"

    marks = {path.name: hashlib.sha256(path.read_bytes()).hexdigest()[:12] for path in sorted(folder.iterdir())}
    app.jinja_env.globals.update(say=say, asset=asset)
    app.jinja_env.filters.update(
        percent=percent, minutes=minutes, day=day, moment=moment, bdi=bdi,
        line=lambda given: Markup(to_inline_html(given)), markdown=lambda given: Markup(to_html(given)),
    )  # fmt: skip


def said(text: Mapping[str, str], key: str, **values: Any) -> Markup:
    """A string with its values put in and escaped; with `n`, the form before the bar is for one.

    >>> str(said({"jobs": "{n} job|{n} jobs"}, "jobs", n=1)), str(said({"jobs": "{n} job|{n} jobs"}, "jobs", n=3))
    ('1 job', '3 jobs')
    """
    given = text[key]
    if "n" in values and "|" in given:
        one, many = given.split("|", 1)
        given = one if values["n"] == 1 else many
    return Markup(str(escape(given)).replace("&#39;", "'")).format(**values)


def percent(share: float) -> str:
    r"""A share of belief for a person: whole percents, and neither 0 nor 100 for what is not certain.

    >>> percent(0.384), percent(0.002), percent(0.9991)
    ('38\xa0%', '<\xa01\xa0%', '>\xa099\xa0%')
    """
    if 0 < share < 0.005:
        return "<\u00a01\u00a0%"
    if 0.995 <= share < 1:
        return ">\u00a099\u00a0%"
    return f"{share * 100:.0f}\u00a0%"


def minutes(given: float | None) -> str:
    r"""Minutes without needless decimals.

    >>> minutes(12.0), minutes(7.5), minutes(None)
    ('12\xa0min', '7.5\xa0min', '')
    """
    return "" if given is None else f"{round(given, 1):g}\u00a0min"


def day(given: str) -> str:
    """The day of an ISO time."""
    return given[:10]


def moment(given: str) -> str:
    """An ISO time in UTC to the minute, on the clock of the computer that serves the pages."""
    try:
        return datetime.fromisoformat(given).astimezone().strftime("%Y-%m-%d %H:%M")
    except ValueError:
        return given


def bdi(given: str) -> Markup:
    """Text that somebody typed, kept from turning the direction of what stands beside it."""
    return Markup("<bdi>{}</bdi>").format(given)
