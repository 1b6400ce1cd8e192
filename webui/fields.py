"""What a request asks: the bench it is for, and its fields within their limits."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import cast
from urllib.parse import quote, urlencode

from flask import current_app, g, request

from kb.bench.front import Bench

#: Longest fields taken from an address, in characters (the history has limits of its own and says so).
WORDS_LIMIT, NAME_LIMIT = 500, 200
MODEL_COOKIE = "model"
INITIALS_COOKIE = "initials"
#: The job that was confirmed last in this browser, so that a wrong one is found again.
LAST_COOKIE = "last"


@dataclass(frozen=True, slots=True)
class TypedComplaint:
    """The words typed, the machine they are about, and the job if one is open."""

    words: str = ""
    model: str = ""
    unit: str = ""
    job: str = ""

    def address(self, path: str, **more: str) -> str:
        """The address of a page with this complaint in it."""
        given = {"q": self.words, "model": self.model, "unit": self.unit, "job": self.job} | more
        kept = {name: value for name, value in given.items() if value}
        return f"{path}?{urlencode(kept, errors='replace')}" if kept else path

    def saying(self, words: str) -> TypedComplaint:
        """The same machine with other words."""
        return replace(self, words=words)


def bench() -> Bench:
    """The bench of this application."""
    return cast(Bench, current_app.extensions["bench"])


def complaint() -> TypedComplaint:
    """The complaint in the address; a model not named there is the one this browser had last."""
    model = request.args.get("model")
    if model is None:
        model = request.cookies.get(MODEL_COOKIE, "")
    return TypedComplaint(
        in_address("q", WORDS_LIMIT), model.strip()[:NAME_LIMIT], in_address("unit"), in_address("job")
    )


def job_address(job: str) -> str:
    """The page of a job, whatever its id holds: one that came from elsewhere need not be one of ours.

    >>> job_address("7kq2m9xw4tdc"), job_address("a/b?c")
    ('/job/7kq2m9xw4tdc', '/job/a%2Fb%3Fc')
    """
    return f"/job/{quote(job, safe='', errors='replace')}"


def in_address(name: str, limit: int = NAME_LIMIT) -> str:
    """A field of the address without blanks around it, cut to its limit."""
    return request.args.get(name, "").strip()[:limit]


def in_form(name: str) -> str:
    """A field of the form without blanks around it; empty if it is not there."""
    return request.form.get(name, "").strip()


def form_fields() -> list[tuple[str, str]]:
    """Every field of the form as it was sent; none if the form could not be read."""
    if g.get("form_unread") or request.method == "GET":
        return []
    try:
        return list(request.form.items(multi=True))
    except Exception:  # a form too large or torn: there is nothing to give back
        return []


def number(name: str) -> float | None:
    """A number of the form, None if it is empty; a comma may stand for the point. ValueError if it is none."""
    given = in_form(name).replace(",", ".")
    return float(given) if given else None
