"""A person at the web pages, without a browser: reads pages, follows links, fills in forms, presses buttons."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

from flask import Flask
from werkzeug.test import TestResponse

HOME = "http://localhost"


@dataclass
class Form:
    """A form as a page shows it: where it goes, what is filled in, and its buttons as (name, value, text)."""

    method: str
    action: str
    fields: dict[str, str] = field(default_factory=dict)
    buttons: list[tuple[str, str, str]] = field(default_factory=list)


def _counts(field: dict[str, str]) -> bool:
    """Whether a form sends the field as it stands: a box or a dot does if it is ticked."""
    return field.get("type") not in ("radio", "checkbox") or "checked" in field


class Page(HTMLParser):
    """What a person sees of an answer."""

    def __init__(self, answer: TestResponse) -> None:
        super().__init__(convert_charrefs=True)
        self.status = answer.status_code
        self.html = answer.text
        self.forms: list[Form] = []
        self.links: list[tuple[str, str]] = []
        self.words: list[str] = []
        self._open: list[str] = []
        self._link = self._button = self._area = ""
        self.feed(self.html)

    @property
    def text(self) -> str:
        """The visible text, blanks evened out."""
        return " ".join(" ".join(self.words).split())

    def link(self, text: str) -> str:
        """Where the first link with that text leads."""
        return next(to for to, shown in self.links if text in shown)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        self._open.append(tag)
        if tag == "form":
            self.forms.append(Form(given.get("method", "get"), given.get("action", "")))
        elif tag == "a":
            self._link = given.get("href", "")
            self.links.append((self._link, ""))
        elif tag == "button" and given.get("type") != "button":
            self.forms[-1].buttons.append(
                (given.get("name", ""), given.get("value", ""), "")
            )
        elif tag == "input" and "name" in given and _counts(given):
            self.forms[-1].fields[given["name"]] = given.get("value", "")
        elif tag == "textarea":
            self._area = given["name"]
            self.forms[-1].fields[self._area] = ""
        elif tag == "option" and "selected" in given:
            self.forms[-1].fields["model"] = given.get("value", "")

    def handle_endtag(self, tag: str) -> None:
        while self._open and self._open.pop() != tag:
            pass

    def handle_data(self, data: str) -> None:
        if "textarea" in self._open:
            self.forms[-1].fields[self._area] += data
        if {"script", "style", "title", "head"} & set(self._open):
            return
        self.words.append(data)
        if "a" in self._open:
            to, shown = self.links[-1]
            self.links[-1] = (to, shown + data)
        if "button" in self._open and self.forms and self.forms[-1].buttons:
            name, value, shown = self.forms[-1].buttons[-1]
            self.forms[-1].buttons[-1] = (name, value, shown + data)


class Visitor:
    """One browser on the pages of an application, with its own cookies."""

    def __init__(self, app: Flask) -> None:
        self.client = app.test_client()
        self.page = self.go("/")

    def go(self, address: str) -> Page:
        """Open an address."""
        self.page = Page(self.client.get(address, base_url=HOME))
        return self.page

    def follow(self, text: str) -> Page:
        """Click the first link with that text."""
        return self.go(self.page.link(text))

    def press(self, text: str, page: Page | None = None, /, **filled: str) -> Page:
        """Fill in and send the first form that has a button with that text."""
        for form in (page or self.page).forms:
            for name, value, shown in form.buttons:
                if text in shown:
                    return self._send(
                        form,
                        {**form.fields, **filled, **({name: value} if name else {})},
                    )
        raise AssertionError(
            f"no button {text!r} on the page: {(page or self.page).text[:500]}"
        )

    def _send(self, form: Form, fields: dict[str, str]) -> Page:
        if form.method == "get":
            answer = self.client.get(form.action, query_string=fields, base_url=HOME)
        else:
            headers = {"Origin": HOME}
            answer = self.client.post(
                form.action,
                data=fields,
                base_url=HOME,
                headers=headers,
                follow_redirects=True,
            )
        self.page = Page(answer)
        return self.page
