"""Visits to the web pages as a person makes them, over the shipped entries."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.pressing import PLUG, TITLE, plain, search
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.model import Confirmation
from webui import strings

pytestmark = pytest.mark.shop("stocked")


# The other pages


def test_an_entry_shows_safety_before_its_first_step(
    bench: Bench, visitor: Visitor
) -> None:
    page = visitor.go("/entry/battery-not-detected?model=Tern+13")

    entry = bench.entries.entry("battery-not-detected")
    assert entry
    assert page.text.index(plain(entry.safety[0])) < page.text.index(
        plain(entry.tests[0].title)
    )
    assert plain(entry.wordings[-1]) in page.text
    assert "not confirmed here yet; listed as often" in page.text


def test_the_library_lists_every_entry_with_its_jobs(
    bench: Bench, visitor: Visitor
) -> None:
    bench.jobs.confirm(Confirmation(PLUG, model="Tern 13"))

    page = visitor.go("/library")

    assert f"{len(bench.entries.served())} fault pictures" in page.text
    assert f"{TITLE} 1 job" in page.text


def test_the_review_shows_counts_and_an_interval_with_words_beside_the_picture(
    bench: Bench, visitor: Visitor
) -> None:
    bench.jobs.confirm(Confirmation(PLUG, model="Tern 13", unit="T-01", minutes=12))
    bench.jobs.confirm(
        Confirmation("row-of-keys-dead/ribbon-contact", model="Tern 13", unit="T-02")
    )

    page = visitor.go("/review?model=Tern+13")

    assert "2 jobs on 2 machines." in page.text
    # 1 of 2 machines: Wilson 1927 gives 0.0945 to 0.9055 (R, binom.confint(1, 2, methods="wilson"))
    assert "50 % of machines, likely between 9.5 % and 91 %" in page.text
    assert page.html.count('class="rate"') == page.html.count('class="trend"') == 2
    assert page.html.count('role="img"') == page.html.count("<desc>") == 5


def test_a_review_without_jobs_says_how_to_get_some(visitor: Visitor) -> None:
    assert "Each fix confirmed at the bench is counted" in visitor.go("/review").text


def test_a_new_entry_is_served_at_once(visitor: Visitor) -> None:
    visitor.go("/new?q=zxqv wvutz&as=text")
    (text,) = (
        form.fields["text"] for form in visitor.page.forms if "text" in form.fields
    )

    page = visitor.press(
        "Save", slug="zxqv-wvutz", text=text.replace("hat ", "hat, in short, ")
    )

    assert page.status == 200
    assert "this shop's own text" in page.text
    assert "zxqv wvutz" in search(visitor, "zxqv wvutz").text


# Strings


def used_keys() -> Iterator[str]:
    folder = Path(strings.__file__).parent
    for path in [*folder.rglob("*.py"), *folder.glob("templates/*.html")]:
        if path.name != "strings.py":
            yield from re.findall(
                r"""['"]([a-z0-9_]+(?:\.[a-z0-9_]+)+)['"]""", path.read_text("utf-8")
            )
            yield from re.findall(
                r"""say\(['"]([a-z0-9_.]+)['"]""", path.read_text("utf-8")
            )
            for beginning in re.findall(
                r"""say\(['"]([a-z0-9_.]+\.)['"] ~""", path.read_text("utf-8")
            ):
                yield from (key for key in strings.ENGLISH if key.startswith(beginning))


def test_every_string_is_shown_somewhere() -> None:
    made = {
        f"failure.{status}{end}"
        for status in (400, 403, 404, 405, 413, 431, 500)
        for end in ("", ".do")
    }

    assert set(strings.ENGLISH) - set(used_keys()) - made == set()


def test_every_string_that_is_asked_for_exists() -> None:
    groups = {known.partition(".")[0] for known in strings.ENGLISH}
    asked = {key for key in used_keys() if key.partition(".")[0] in groups}

    files = (".html", ".css", ".js", ".py", ".csv", ".")

    assert {key for key in asked if not key.endswith(files)} - set(
        strings.ENGLISH
    ) == set()
