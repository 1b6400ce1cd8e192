"""The guards of the web pages: found by walking the routes, so that a new one cannot be forgotten."""

from __future__ import annotations

import json
import re
import stat
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from helpers.clients import PLUG, POSTS, kept, routes, token
from helpers.histories import import_jobs
from helpers.long import LONG
from helpers.places import ROOT
from helpers.visiting import HOME, Visitor
from werkzeug.test import TestResponse

from kb.bench.front import Bench
from kb.model import Confirmation
from webui.app import LARGEST_FORM, create_app
from webui.fields import job_address

# Who may write


def test_every_writing_route_refuses_a_form_without_a_token(
    app: Flask, bench: Bench, client: FlaskClient
) -> None:
    writing = [
        (method, address) for method, address in routes(app, bench) if method != "GET"
    ]
    before = kept(bench)

    assert len(writing) >= 5
    for method, address in writing:
        answer = client.open(
            address,
            method=method,
            base_url=HOME,
            headers=POSTS,
            data={"why": "x", "cause": PLUG},
        )
        assert answer.status_code == 403, address
    assert kept(bench) == before


def test_every_writing_route_refuses_a_foreign_origin(
    app: Flask, bench: Bench, client: FlaskClient
) -> None:
    good = token(client)
    writing = [
        (method, address) for method, address in routes(app, bench) if method != "GET"
    ]
    before = kept(bench)
    foreign = [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": "http://localhost:8378"},
        {},
        {"Origin": HOME, "Sec-Fetch-Site": "cross-site"},
        {"Origin": HOME, "Sec-Fetch-Site": "same-site"},
    ]

    for method, address in writing:
        for headers in foreign:
            answer = client.open(
                address,
                method=method,
                base_url=HOME,
                headers=headers,
                data={"token": good, "cause": PLUG, "why": "x"},
            )
            assert answer.status_code == 403, (address, headers)
    assert kept(bench) == before


@pytest.mark.parametrize(
    "headers",
    [POSTS, {"Sec-Fetch-Site": "same-origin"}, {**POSTS, "Sec-Fetch-Site": "none"}],
)
def test_an_own_form_is_taken_with_and_without_the_newer_header(
    bench: Bench, client: FlaskClient, headers: dict[str, str]
) -> None:
    form = {"token": token(client), "cause": PLUG, "model": "Tern 13"}

    answer = client.post("/confirm", base_url=HOME, headers=headers, data=form)

    assert answer.status_code == 303
    assert len(list(bench.history().closed_jobs())) == 1


@pytest.mark.parametrize("wrong", ["", "x", "x.y", "é.é", "." + "0" * 32, "a" * 10_000])
def test_a_wrong_token_is_refused(
    bench: Bench, client: FlaskClient, wrong: str
) -> None:
    form = {"token": wrong, "cause": PLUG, "model": "Tern 13"}

    answer = client.post("/confirm", base_url=HOME, headers=POSTS, data=form)

    assert answer.status_code == 403
    assert list(bench.history().closed_jobs()) == []


def test_a_token_of_another_visitor_is_refused_but_the_text_is_offered_again(
    app: Flask, bench: Bench, client: FlaskClient
) -> None:
    form = {
        "token": token(app.test_client()),
        "cause": PLUG,
        "model": "Tern 13",
        "note": "pin 3 bent",
    }

    answer = client.post("/confirm", base_url=HOME, headers=POSTS, data=form)

    assert answer.status_code == 403
    assert "pin 3 bent" in answer.text
    assert list(bench.history().closed_jobs()) == []


def test_a_foreign_page_gets_nothing_of_its_form_back(client: FlaskClient) -> None:
    answer = client.post(
        "/confirm", base_url=HOME, headers={"Origin": "null"}, data={"note": "planted"}
    )

    assert "planted" not in answer.text


def test_an_open_page_outlives_a_restart(bench: Bench, client: FlaskClient) -> None:
    form = {"token": token(client), "cause": PLUG, "model": "Tern 13"}
    cookie = client.get_cookie("benchlore")
    assert cookie

    later = create_app(bench).test_client()
    later.set_cookie("benchlore", cookie.value)

    assert (
        later.post("/confirm", base_url=HOME, headers=POSTS, data=form).status_code
        == 303
    )


def test_the_secret_is_for_its_owner_alone(app: Flask, bench: Bench) -> None:
    assert app.extensions["bench"] is bench
    assert stat.S_IMODE((bench.folder / "web.secret").stat().st_mode) == 0o600


def test_no_reading_changes_anything(app: Flask, bench: Bench) -> None:
    bench.jobs.confirm(Confirmation(PLUG, model="Tern 13"))
    addresses = [address for method, address in routes(app, bench) if method == "GET"]
    before = kept(bench)
    visitor = Visitor(app)

    seen = set()
    for address in [*addresses, "/?q=no+battery&model=Tern+13"]:
        for leads_to, _ in visitor.go(address).links:
            if leads_to.startswith("/") and leads_to not in seen:
                seen.add(leads_to)
                visitor.go(leads_to)

    assert len(seen) > 5
    assert kept(bench) == before


# Headers


def answers(client: FlaskClient) -> Iterator[tuple[str, TestResponse]]:
    """One answer of every kind, by its name."""
    yield "page", client.get("/?q=no+battery", base_url=HOME)
    yield "fragment", client.get("/answer?q=no+battery", base_url=HOME)
    yield "static", client.get("/static/bench.css", base_url=HOME)
    yield "not there", client.get("/nope", base_url=HOME)
    yield "no such entry", client.get("/entry/nope", base_url=HOME)
    yield "wrong method", client.open("/library", method="DELETE", base_url=HOME)
    yield "no token", client.post("/confirm", base_url=HOME, headers=POSTS)
    yield (
        "too large",
        client.post(
            "/new",
            base_url=HOME,
            headers=POSTS,
            data={"text": "x" * (LARGEST_FORM + 1)},
        ),
    )
    yield "wrong host", client.get("/", base_url="http://evil.example")


def test_every_answer_carries_the_headers(client: FlaskClient) -> None:
    statuses = []
    for name, answer in answers(client):
        statuses.append(answer.status_code)
        policy = answer.headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; "), name
        assert "unsafe" not in policy
        for rule in (
            "frame-ancestors 'none'",
            "base-uri 'none'",
            "form-action 'self'",
            "script-src 'self'",
        ):
            assert rule in policy, name
        assert answer.headers["X-Content-Type-Options"] == "nosniff", name
        assert answer.headers["Referrer-Policy"] == "same-origin", name
        assert (answer.headers["Cache-Control"] == "no-store") == (name != "static"), (
            name
        )
    assert statuses == [200, 200, 200, 404, 404, 405, 403, 413, 400]


def test_an_unforeseen_error_carries_the_headers_too(
    bench: Bench, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench.entries, "sheet", None)

    answer = client.get("/entry/no-battery", base_url=HOME)

    assert answer.status_code == 500
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    assert "Traceback" not in answer.text


LINKED = {
    "Sec-Fetch-Site": "cross-site",
    "Sec-Fetch-Mode": "navigate",
    "Sec-Fetch-Dest": "document",
}
EMBEDDED = (
    {
        "Sec-Fetch-Site": "cross-site",
        "Sec-Fetch-Mode": "no-cors",
        "Sec-Fetch-Dest": "image",
    },
    {
        "Sec-Fetch-Site": "same-site",
        "Sec-Fetch-Mode": "cors",
        "Sec-Fetch-Dest": "empty",
    },
    {
        "Sec-Fetch-Site": "cross-site",
        "Sec-Fetch-Mode": "navigate",
        "Sec-Fetch-Dest": "iframe",
    },
)


@pytest.mark.parametrize(
    "headers", EMBEDDED, ids=["a picture", "a script of another port", "a frame"]
)
@pytest.mark.parametrize(
    "address", ["/", "/review", "/answer?q=no+battery", "/review/stock.csv"]
)
def test_other_sites_can_neither_embed_a_page_nor_ask_for_it_by_script(
    client: FlaskClient, address: str, headers: dict[str, str]
) -> None:
    assert client.get(address, base_url=HOME, headers=headers).status_code == 403
    assert (
        client.get(
            address, base_url=HOME, headers={"Sec-Fetch-Site": "same-origin"}
        ).status_code
        == 200
    )


def test_a_link_from_elsewhere_leads_to_a_page_and_leaves_nothing_in_the_browser(
    app: Flask,
) -> None:
    """A link with a model in it would otherwise fill in every later confirmation for a year."""
    client = app.test_client()
    answer = client.get("/?q=no+battery&model=EVIL", base_url=HOME, headers=LINKED)

    assert answer.status_code == 200
    assert answer.headers.getlist("Set-Cookie") == []
    assert (
        client.get("/answer?q=no+battery", base_url=HOME, headers=LINKED).status_code
        == 403
    )
    assert (
        client.get("/?q=no+battery&model=Tern+13", base_url=HOME).headers.getlist(
            "Set-Cookie"
        )
        != []
    )


def test_after_a_link_from_elsewhere_a_form_is_taken_at_the_second_press(
    bench: Bench, app: Flask
) -> None:
    """The first one is told as stale, and what was typed is offered again."""
    client = app.test_client()
    address = "/confirm?cause=no-battery/plug&model=Tern+13"
    page = client.get(address, base_url=HOME, headers=LINKED)
    given = {
        "cause": "no-battery/plug",
        "model": "Tern 13",
        "token": _token_in(page.text),
    }

    first = client.post("/confirm", data=given, headers=POSTS, base_url=HOME)
    second = client.post(
        "/confirm",
        data=given | {"token": _token_in(first.text)},
        headers=POSTS,
        base_url=HOME,
    )

    assert (first.status_code, second.status_code) == (403, 303)
    assert bench.history().tip().count == 1


def test_a_job_from_elsewhere_has_a_page_whatever_its_id_holds(
    bench: Bench, client: FlaskClient
) -> None:
    line = {
        "job": "a/b?c",
        "model": "Tern 13",
        "cause": "no-battery/plug",
        "closed_at": "2026-11-24T10:15:00Z",
    }
    import_jobs(bench.history(), [json.dumps(line)])

    page = client.get(job_address("a/b?c"), base_url=HOME)

    assert page.status_code == 200
    assert 'action="/job/a/b%3Fc/undo"' in page.text
    undone = client.post(
        "/job/a/b%3Fc/undo",
        data={"token": _token_in(page.text), "why": "x"},
        headers=POSTS,
        base_url=HOME,
    )
    assert undone.status_code == 303
    assert bench.jobs.job("a/b?c").retracted == "x"


def _token_in(text: str) -> str:
    found = re.search('name="token" value="([^"]+)"', text)
    assert found
    return found[1]


def test_no_page_holds_inline_script_or_style(
    app: Flask, bench: Bench, client: FlaskClient
) -> None:
    bench.jobs.confirm(Confirmation(PLUG, model="Tern 13"))
    for method, address in routes(app, bench):
        if method == "GET" and not address.startswith("/static"):
            assert (
                active(client.get(f"{address}?q=no+battery", base_url=HOME).text) == []
            ), address


class Active(HTMLParser):
    """Collects whatever in a page could act by itself, as an HTML parser sees it."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        own_script = tag == "script" and re.fullmatch(
            r"/static/\w+\.js\?v=\w+", given.get("src", "")
        )
        if (
            tag in ("script", "img", "iframe", "object", "embed", "base", "style")
            and not own_script
        ):
            self.found.append(tag)
        for name, value in given.items():
            led_away = name in (
                "href",
                "action",
                "src",
                "formaction",
            ) and not value.startswith(("/", "#"))
            if name.startswith("on") or name == "style" or led_away:
                self.found.append(f"{tag} {name}={value}")


def active(html: str) -> list[str]:
    parser = Active()
    parser.feed(html)
    return parser.found


HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "' OR 1=1 --",
    "{{7*7}}",
    "\x00\x1b[31m",
    "\u202edesrever",
    "%s%n%x",
    "a" * 100_000,
    "😀" * 600,
    "\ufffd\ufffd",
    "NEAR(",
    '"',
    "*",
    "javascript:alert(1)",
    "[x](javascript:alert(1))",
    "../../etc/passwd",
    "\r\nSet-Cookie: x=y",
]


@pytest.mark.parametrize("text", HOSTILE if LONG else HOSTILE[::3])
def test_hostile_text_is_text(
    app: Flask, bench: Bench, client: FlaskClient, text: str
) -> None:
    fields = dict.fromkeys(("q", "model", "unit", "since", "cause", "job"), text)
    for method, address in list(routes(app, bench)):
        if method == "GET":
            answer = client.get(address, query_string=fields, base_url=HOME)
            assert answer.status_code < 500, address
            assert active(answer.text) == [], address


@pytest.mark.parametrize("text", [text for text in HOSTILE if len(text) <= 200])
def test_hostile_text_is_kept_and_shown_back(
    bench: Bench, client: FlaskClient, text: str
) -> None:
    form = {
        "token": token(client),
        "cause": PLUG,
        "model": "Tern 13",
        "note": text,
        "q": text,
    }

    answer = client.post(
        "/confirm", base_url=HOME, headers=POSTS, data=form, follow_redirects=True
    )

    assert answer.status_code == 200
    (job,) = bench.history().closed_jobs()
    assert job.note == text.strip().replace("\x00", "\ufffd")


@pytest.mark.parametrize(
    "name",
    [
        "..",
        "%2e%2e%2fsecret",
        "..%5csecret",
        "%252e%252e",
        "CON",
        "%00",
        "/etc/passwd",
        "a" * 5000,
    ],
)
def test_no_path_leads_out_of_the_folders(
    client: FlaskClient, bench: Bench, name: str
) -> None:
    (bench.folder / "secret.md").write_text("the till's code", encoding="utf-8")

    for start in ("/entry/", "/static/", "/job/"):
        answer = client.get(f"{start}{name}", base_url=HOME, follow_redirects=True)
        assert answer.status_code in (200, 400, 404)
        assert "the till's code" not in answer.text


def test_a_log_line_cannot_be_forged(
    bench: Bench,
    client: FlaskClient,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    monkeypatch.setattr(bench.entries, "sheet", None)

    client.get("/entry/no-battery%0d%0aERROR%20forged%1b[31m", base_url=HOME)
    client.get("/confirm?cause=x/y%0aERROR forged", base_url=HOME)

    assert all(
        "\n" not in record.getMessage() and "\x1b" not in record.getMessage()
        for record in caplog.records
    )


def test_too_many_fields_are_refused(client: FlaskClient) -> None:
    answer = client.post(
        "/confirm",
        base_url=HOME,
        headers=POSTS,
        data={f"f{n}": "x" for n in range(5000)},
    )

    assert answer.status_code in (403, 413)


def test_the_secret_of_the_shop_is_never_served(
    bench: Bench, client: FlaskClient
) -> None:
    assert create_app(bench)
    for address in (
        "/web.secret",
        "/static/../web.secret",
        "/static/%2e%2e/web.secret",
    ):
        assert client.get(address, base_url=HOME).status_code == 404


def test_flask_is_imported_only_by_the_commands_that_need_it(tmp_path: Path) -> None:
    import subprocess
    import sys

    told = "import sys, webui.commands; sys.exit('flask' in sys.modules or 'waitress' in sys.modules)"
    assert (
        subprocess.run([sys.executable, "-c", told], cwd=ROOT, check=False).returncode
        == 0
    )
