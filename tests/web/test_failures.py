"""Failures of every kind, told in a sentence that keeps what was typed."""

from __future__ import annotations

import re

import pytest
from flask.testing import FlaskClient
from helpers.pressing import PLUG, jobs
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.history.trouble import HistoryBusy

pytestmark = pytest.mark.shop("stocked")


# Failures


def test_a_busy_history_keeps_what_was_typed(
    bench: Bench, visitor: Visitor, monkeypatch: pytest.MonkeyPatch
) -> None:
    visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    def busy(*_: object, **__: object) -> None:
        raise HistoryBusy("history busy, nothing saved; try again")

    with monkeypatch.context() as held:
        held.setattr(bench.jobs, "confirm", busy)
        page = visitor.press("Save", note="pin 3 bent")
    assert page.status == 503
    assert page.forms[0].fields["note"] == "pin 3 bent"

    visitor.press("Send it again")
    assert [job.note for job in jobs(bench)] == ["pin 3 bent"]


@pytest.mark.parametrize(
    "address",
    [
        "/entry/nothing-such",
        "/job/0123456789ab",
        "/confirm?cause=battery-not-detected/x",
        "/nope",
    ],
)
def test_what_is_not_there_is_said_in_a_sentence(
    visitor: Visitor, address: str
) -> None:
    page = visitor.go(address)

    assert page.status == 404
    assert "To the bench" in page.text


def test_a_machine_that_is_not_read_yet_is_never_said_to_be_unknown_and_its_page_comes_by_itself(
    bench: Bench, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(bench.shop.files, "being_read", lambda: True)

    page = client.get("/u/P9-404")

    assert page.status_code == 503
    assert (page.headers["Retry-After"], page.headers["Refresh"]) == ("3", "3")
    assert "still being read" in page.text
    monkeypatch.undo()
    assert client.get("/u/P9-404").status_code == 404


def test_an_error_nobody_thought_of_shows_a_number_and_no_trace(
    bench: Bench,
    visitor: Visitor,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    def broken(*_: object, **__: object) -> None:
        raise KeyError("secret customer")

    monkeypatch.setattr(bench.asking, "look", broken)
    page = visitor.go("/?q=dark")

    assert page.status == 500
    assert "secret" not in page.html
    number = re.search(r"\b[0-9a-f]{8}\b", page.text)
    assert number
    assert number[0] in caplog.text
