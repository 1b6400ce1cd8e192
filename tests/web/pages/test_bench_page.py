"""The first page: words in, answers out."""

from __future__ import annotations

import re

import pytest
from flask import Flask
from helpers import letters
from helpers.places import ROOT
from helpers.pressing import PLUG, TITLE, WORDS, jobs, plain, search
from helpers.visiting import HOME, Visitor
from werkzeug.test import TestResponse

from kb.bench.front import Bench
from kb.model import Confirmation, Job

pytestmark = pytest.mark.shop("stocked")

#: The heaviest of those complaints when each of their letters is asked for (tests/benchmarks/weight.py).
HEAVIEST = (
    "usb stick sits firmly but does not work",
    "letter does not appear although its key is pressed",
    "black page with white text asking to insert a startup disk",
    "figerprint sensr never regonises me",
)


# Searching


def test_the_first_page_has_one_search_field_in_a_plain_form(visitor: Visitor) -> None:
    page = visitor.go("/")

    assert page.html.count('type="search"') == 1
    assert [form.action for form in page.forms if "q" in form.fields] == ["/"]
    assert len(page.html) < 100_000


def test_a_search_shows_safety_then_the_next_step_then_the_pictures(
    bench: Bench, visitor: Visitor
) -> None:
    page = search(visitor)

    places = [
        page.html.index(mark)
        for mark in (
            'type="search"',
            'class="safety"',
            'class="step"',
            'class="pictures"',
        )
    ]
    assert places == sorted(places)
    entry = bench.entries.entry("battery-not-detected")
    assert entry
    assert plain(entry.safety[0]) in page.text
    assert TITLE in page.text


def test_the_fragment_holds_what_the_whole_page_holds(visitor: Visitor) -> None:
    whole = search(visitor)

    part = visitor.go(f"/answer?q={WORDS}&done=1")

    assert "<html" not in part.html
    assert [to for to, _ in part.links if "confirm" in to] == [
        to for to, _ in whole.links if "confirm" in to
    ]


def test_an_answer_that_says_the_same_while_typing_is_told_by_its_tag_alone(
    visitor: Visitor,
) -> None:
    """RFC 9110, 13.1.2: a weak tag in If-None-Match, 304 without content; 15.4.5: and without what tells of content."""

    def asked(words: str, tag: str = "", **more: str) -> TestResponse:
        headers = {"If-None-Match": tag} if tag else {}
        return visitor.client.get(
            "/answer", query_string={"q": words, **more}, headers=headers, base_url=HOME
        )

    first = asked(WORDS[:-1])
    tag = first.headers["ETag"]
    same, other, finished = (
        asked(WORDS, tag),
        asked("no sound at all", tag),
        asked(WORDS, tag, done="1"),
    )

    assert tag.startswith('W/"')
    assert (same.status_code, same.data, same.headers["ETag"]) == (304, b"", tag)
    assert set(same.headers.keys()) == {"ETag", "Vary", "Cache-Control"}
    assert dict(same.headers).items() <= dict(first.headers).items()
    assert (other.status_code, other.headers["ETag"] != tag) == (200, True)
    assert (finished.status_code, "ETag" in finished.headers) == (200, False)
    assert asked(WORDS, tag, model="Tern 13").status_code == 200
    assert asked("", tag).status_code == 200


@pytest.mark.parametrize(
    ("before", "after"),
    [
        # fewer fault pictures below the first
        ("shows no battery alth", "shows no battery altho"),
        # the words with what was typed in quotes
        ("battrey not shown i", "battrey not shown in"),
    ],
)
def test_neither_words_nor_what_stands_below_the_first_make_it_another_answer_while_typing(
    visitor: Visitor, before: str, after: str
) -> None:
    one, other = (
        visitor.client.get("/answer", query_string={"q": words}, base_url=HOME)
        for words in (before, after)
    )

    assert one.data != other.data
    assert one.headers["ETag"] == other.headers["ETag"]


def test_of_several_answers_that_a_page_has_the_one_that_is_meant_is_named(
    visitor: Visitor,
) -> None:
    """RFC 9110, 13.1.2: any of the tags listed in If-None-Match; the reply's ETag says which."""
    tags = [
        visitor.client.get("/answer", query_string={"q": words}, base_url=HOME).headers[
            "ETag"
        ]
        for words in (WORDS[:-1], "no sound at all")
    ]

    known = visitor.client.get(
        "/answer",
        query_string={"q": WORDS},
        headers={"If-None-Match": ", ".join(tags)},
        base_url=HOME,
    )

    assert tags[0] != tags[1]
    assert (known.status_code, known.headers["ETag"]) == (304, tags[0])


def test_letters_are_asked_for_as_the_script_does() -> None:
    script = (ROOT / "webui" / "static" / "bench.js").read_text("utf-8")

    assert f"const most = {letters.KEPT};" in script
    assert script.count('Prefer: "return=minimal"') == 2


@pytest.mark.slow
@pytest.mark.parametrize("words", HEAVIEST)
def test_a_slowly_typed_complaint_is_at_most_forty_kilobytes(
    visitor: Visitor, words: str
) -> None:
    assert words in letters.long_complaints()

    assert letters.typed(visitor.client, words).weight <= 40_000


def test_beliefs_are_shown_in_counts_too(bench: Bench, visitor: Visitor) -> None:
    for model in ("Tern 13", "Skua 14", "Skua 14"):
        bench.jobs.confirm(Confirmation(PLUG, model=model))

    page = search(visitor, model="Tern 13")

    assert "1 of 1 on this model, 2 of 2 on other models" in page.text
    assert "1 job on this model, 2 on others" in page.text


def test_a_corrected_word_can_be_kept_as_typed(visitor: Visitor) -> None:
    page = search(visitor, "battrey not seen")

    assert "Read “ battrey ” as “battery”." in page.text
    assert "%22battrey%22" in page.link("Keep")


def test_words_that_fit_nothing_lead_to_a_new_entry_that_begins_with_them(
    visitor: Visitor,
) -> None:
    page = search(visitor, "zxqv wvutz")

    assert "Nothing here fits these words well" in page.text
    assert "zxqv wvutz" in visitor.press("write it down as a new entry").html


def test_the_model_is_remembered_and_can_be_cleared(visitor: Visitor) -> None:
    search(visitor, model="Plover 15")
    assert 'value="Plover 15"' in visitor.go("/").html

    search(visitor, model="")
    assert 'value="Plover 15"' not in visitor.go("/").html


def test_words_that_nothing_fits_bring_no_step_and_the_verdict_only_once_they_are_done(
    visitor: Visitor,
) -> None:
    typing = visitor.go("/answer?q=purple+glow+from+hinge")
    done = visitor.go("/answer?q=purple+glow+from+hinge&done=1")

    assert "Nothing fits well yet: type on" in typing.text
    assert "Nothing here fits" not in typing.text.replace(
        "Nothing here fits: write it down", ""
    )
    assert "Nothing here fits these words well" in done.text
    for page in (typing, done):
        assert "Could not do it" not in page.text


def test_jobs_that_came_from_elsewhere_are_not_told_as_saved_here(
    bench: Bench, visitor: Visitor
) -> None:
    bench.history().adopt(
        Job(
            "x1",
            "Skua 14",
            PLUG,
            "2026-11-24T12:00:00Z",
            shop="elsewhere",
            words="no battery",
        )
    )
    assert "Saved here last" not in visitor.go("/").text

    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", words="no light"))

    page = visitor.go("/")
    assert [text for to, text in page.links if to.startswith("/job/")] == ["no light"]


def test_everybody_sees_the_jobs_saved_last_and_their_own_first(
    bench: Bench, app: Flask, visitor: Visitor
) -> None:
    for name in ("first", "second", "third", "fourth", "fifth"):
        if name == "second":
            visitor.go(f"/confirm?cause={PLUG}&q=second&model=Tern+13")
            visitor.press("Save", by="mk")
        else:
            bench.jobs.confirm(Confirmation(PLUG, "Skua 14", words=name))
    bench.jobs.confirm(Confirmation(PLUG, "Plover 15"))

    page, others = visitor.go("/"), Visitor(app).go("/")

    cause = plain(bench.entries.cause_texts([PLUG])[PLUG])
    told = [text for to, text in page.links if to.startswith("/job/")]
    assert told == ["second", cause, "fifth", "fourth", "third"]
    assert re.search(
        rf"second by this browser · {re.escape(cause)} · Tern 13 · 2\d{{3}}-\S+ \S+ · mk",
        page.text,
    )
    assert [text for to, text in others.links if to.startswith("/job/")] == [
        cause,
        "fifth",
        "fourth",
        "third",
        "second",
    ]
    assert "by this browser" not in others.text


def test_the_first_page_searches_on_without_the_history_in_which_a_job_was_saved(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go(f"/confirm?cause={PLUG}&q=no+battery&model=Tern+13")
    visitor.press("Save")
    bench.close()
    (bench.folder / "history.db").write_bytes(b"no history" * 500)

    page = visitor.go("/?q=no+battery")

    assert page.status == 200
    assert "What fits" in page.text
    assert "Saved here last" not in page.text


@pytest.mark.parametrize("kept", ["nosuchjob123", "", "\u00e9/..?", "0"])
def test_a_kept_job_that_is_none_is_passed_over(visitor: Visitor, kept: str) -> None:
    visitor.client.set_cookie("last", kept)

    assert visitor.go("/").status == 200


# Confirming


def test_two_presses_after_the_words_save_a_confirmed_fix(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13", unit="T-07")

    visitor.follow("It was this")
    page = visitor.press("Save")

    (job,) = jobs(bench)
    assert (job.model, job.unit, job.words) == ("Tern 13", "T-07", WORDS)
    assert "is now first on Tern 13: 1 of 1 here" in page.text


def test_the_confirmed_cause_comes_first_in_the_next_search(visitor: Visitor) -> None:
    for _ in range(3):
        visitor.go(
            f"/confirm?cause=battery-not-detected/light-board&q={WORDS}&model=Tern 13"
        )
        visitor.press("Save")

    page = search(visitor, model="Tern 13")

    causes = [to for to, shown in page.links if "It was this" in shown]
    assert "battery-not-detected%2Flight-board" in causes[0]
