"""A page in a browser with everything watched, and the screens it is looked at on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from playwright.sync_api import BrowserContext, Page, Route

SCREENS: dict[str, dict[str, Any]] = {
    "phone": {
        "viewport": {"width": 390, "height": 844},
        "is_mobile": True,
        "has_touch": True,
    },
    "desktop": {"viewport": {"width": 1280, "height": 800}},
}


@dataclass
class Watched:
    """A page at the bench, and what went wrong on it: script errors and requests that left this computer."""

    page: Page
    context: BrowserContext
    errors: list[str]
    strays: list[str]


def watched(context: BrowserContext, address: str) -> Watched:
    """A new page in that context, opened on the bench."""
    errors: list[str] = []
    strays: list[str] = []

    def let_through(route: Route) -> None:
        if route.request.url.startswith(address):
            route.continue_()
        else:
            strays.append(route.request.url)
            route.abort()

    context.route("**/*", let_through)
    page = context.new_page()
    page.on("pageerror", lambda error: errors.append(str(error)))
    page.on(
        "console",
        lambda told: errors.append(told.text) if told.type == "error" else None,
    )
    page.goto(address)
    return Watched(page, context, errors, strays)
