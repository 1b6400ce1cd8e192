"""The language of an answer: the one this browser chose here, else the shop's, else what the browser asks for."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache

from flask import Flask, Response, request

from webui import fields
from webui.tongue import SOURCE, Tongue, languages, speak, spoken, tongue_of

#: Where a browser keeps the language that was chosen on the tools page.
LANGUAGE_COOKIE = "language"


def answer_in_languages(app: Flask, given: Mapping[str, Tongue] | None = None) -> None:
    """Answer every request in its language; `given` are the tongues by their code, all there are unless told."""
    known = tuple(given) if given else languages()

    @app.before_request
    def _choose() -> None:
        code = chosen(known)
        bench = fields.bench()
        speak(
            given[code] if given else tongue_of(code),
            cache(lambda: bench.entries.in_language(code)),
        )

    @app.after_request
    def _told(response: Response) -> Response:
        if response.mimetype == "text/html":
            response.headers["Content-Language"] = spoken().language
            response.vary.update(("Accept-Language", "Cookie"))
        return response

    app.jinja_env.globals["tongues"] = lambda: [
        given[code] if given else tongue_of(code) for code in known
    ]


def chosen(known: tuple[str, ...]) -> str:
    """The code of the language for this request, English where nothing else is known."""
    wanted = kept_language()
    if wanted in known:
        return wanted
    return request.accept_languages.best_match(known, SOURCE) or SOURCE


def kept_language() -> str:
    """The language that this browser or else the shop has set, empty if neither has."""
    return (
        request.cookies.get(LANGUAGE_COOKIE, "")
        or fields.bench().shop.settings.language
    )
