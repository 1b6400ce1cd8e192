"""Replies as short as may be: texts compressed, to a script an address alone, 304 with hardly a word; and files."""

from __future__ import annotations

import gzip

from flask import Flask, Response, request

#: What such a script asks for (RFC 7240, section 4.2); the reply is 204 with the address in Content-Location.
MINIMAL = "return=minimal"
#: What is sent smaller, and from how many bytes on it is worth it.
TEXTS, WORTH = (
    frozenset(
        ("text/html", "text/css", "text/javascript", "image/svg+xml", "text/csv")
    ),
    500,
)
#: What a 304 says beside its date: how to keep what the browser has already (RFC 9110, 15.4.5).
OF_THE_SAME = frozenset(
    ("cache-control", "content-location", "etag", "expires", "set-cookie", "vary")
)

#: What holds for a page or for what a cache keeps of it, and says nothing of text that a script takes and nobody keeps.
OF_PAGES = (
    "Content-Language",
    "Content-Security-Policy",
    "Cross-Origin-Opener-Policy",
    "Cross-Origin-Resource-Policy",
    "Referrer-Policy",
    "Vary",
)


def as_file(content: str, mimetype: str, name: str) -> Response:
    """A reply that the browser keeps as a file of that name."""
    told = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(content, mimetype=mimetype, headers=told)


def shorten(app: Flask) -> None:
    """Reply to a form with `Prefer: return=minimal` by an address alone where any other would be led on to it."""

    @app.after_request
    def _shortened(response: Response) -> Response:
        if response.status_code == 303 and request.headers.get("Prefer") == MINIMAL:
            response.status_code = 204
            response.headers["Content-Location"] = response.headers.pop("Location")
            response.headers["Preference-Applied"] = MINIMAL
            response.set_data(b"")
        return response


def spare_what_is_known(app: Flask) -> None:
    """Leave out of a 304 what the browser has with the content it keeps, the rules of its safety among it.

    A script that asks with `Prefer: return=minimal` for what no cache may keep is not told what holds for pages: a
    fifth of an answer while typing. No link, form or other site can ask so (Fetch standard: `Prefer` is no safelisted
    header). It speaks after everything else has added to the reply, so it is the first one to be told of the
    application.
    """

    @app.after_request
    def _spared(response: Response) -> Response:
        if response.status_code == 304:
            for name in {
                name
                for name, _ in response.headers
                if name.casefold() not in OF_THE_SAME
            }:
                del response.headers[name]
        by_script = request.method == "GET" and request.headers.get("Prefer") == MINIMAL
        if by_script and response.cache_control.no_store:
            for name in OF_PAGES:
                response.headers.pop(name, None)
        return response


def compress(app: Flask) -> None:
    """Send texts as gzip to whoever takes it: an answer is a quarter of its length or less then.

    A secret beside text that a stranger chooses could be guessed from the length of what is sent (BREACH, 2013). The
    only secret on these pages is the form token, which is another one every time, and other sites are not answered.
    """

    @app.after_request
    def _compressed(response: Response) -> Response:
        if response.mimetype not in TEXTS:
            return response
        response.vary.add("Accept-Encoding")
        whole = (
            response.status_code == 200 and "Content-Encoding" not in response.headers
        )
        if whole and request.accept_encodings["gzip"] > 0:
            response.direct_passthrough = False
            text = response.get_data()
            if len(text) >= WORTH:
                response.set_data(gzip.compress(text, 6, mtime=0))
                response.headers["Content-Encoding"] = "gzip"
        return response
