"""Replies to forms that a script sent: where to go on, without the page, which the browser then asks for once."""

from __future__ import annotations

from flask import Flask, Response, request

#: What such a script asks for (RFC 7240, section 4.2); the reply is 204 with the address in Content-Location.
MINIMAL = "return=minimal"


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
