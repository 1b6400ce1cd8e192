"""Visits to the web pages as a person makes them, over the shipped entries."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from helpers.visiting import Page, Visitor

from kb.bench.front import Bench
from kb.history.trouble import HistoryBusy
from kb.library.shelf import digest
from kb.model import Confirmation, Job
from webui import strings

WORDS = "shows no battery although one is fitted"
TITLE = "The system shows no battery although one is fitted"
PLUG = "battery-not-detected/contact"


@pytest.fixture
def bench(stocked: Bench) -> Bench:
    """A shop of its own over the shipped entries, with an index that is built already."""
    return stocked


def search(visitor: Visitor, words: str = WORDS, **more: str) -> Page:
    visitor.go("/")
    return visitor.press("Look up", None, q=words, **more)


def plain(text: str) -> str:
    """Text as it is shown, without the marks of Markdown."""
    return " ".join(re.sub("[*`]", "", text).split())


def press_outcome(visitor: Visitor) -> str:
    """Press the first outcome on the page, whichever test it belongs to; gives its text as shown."""
    buttons = (button for form in visitor.page.forms for button in form.buttons)
    shown = next(shown for name, _, shown in buttons if name == "outcome")
    visitor.press(shown)
    return shown


def jobs(bench: Bench) -> list[Any]:
    return list(bench.history().closed_jobs())


# Searching


def test_the_first_page_has_one_search_field_in_a_plain_form(visitor: Visitor) -> None:
    page = visitor.go("/")

    assert page.html.count('type="search"') == 1
    assert [form.action for form in page.forms if "q" in form.fields] == ["/"]
    assert len(page.html) < 100_000


def test_a_search_shows_safety_then_the_next_step_then_the_pictures(bench: Bench, visitor: Visitor) -> None:
    page = search(visitor)

    places = [page.html.index(mark) for mark in ('type="search"', 'class="safety"', 'class="step"', 'class="pictures"')]
    assert places == sorted(places)
    entry = bench.entries.entry("battery-not-detected")
    assert entry
    assert plain(entry.safety[0]) in page.text
    assert TITLE in page.text


def test_the_fragment_holds_what_the_whole_page_holds(visitor: Visitor) -> None:
    whole = search(visitor)

    part = visitor.go(f"/answer?q={WORDS}&done=1")

    assert "<html" not in part.html
    assert [to for to, _ in part.links if "confirm" in to] == [to for to, _ in whole.links if "confirm" in to]


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


def test_words_that_fit_nothing_lead_to_a_new_entry_that_begins_with_them(visitor: Visitor) -> None:
    page = search(visitor, "zxqv wvutz")

    assert "Nothing here fits these words well" in page.text
    assert "zxqv wvutz" in visitor.press("write it down as a new entry").html


def test_the_model_is_remembered_and_can_be_cleared(visitor: Visitor) -> None:
    search(visitor, model="Plover 15")
    assert 'value="Plover 15"' in visitor.go("/").html

    search(visitor, model="")
    assert 'value="Plover 15"' not in visitor.go("/").html


# A job


def test_pressing_an_outcome_opens_a_job_that_any_browser_sees(app: Flask, bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13", unit="T-07")

    outcome = press_outcome(visitor)

    (job,) = bench.jobs.open_jobs()
    assert (job.words, job.model, job.unit) == (WORDS, "Tern 13", "T-07")
    assert [plain(finding.outcome) for finding in job.outcomes] == [outcome]
    assert f"→ {outcome}" in visitor.page.text
    other = Visitor(app)
    assert f"→ {outcome}" in other.follow(WORDS).text


def test_an_outcome_without_a_model_is_noted_all_the_same(bench: Bench, visitor: Visitor) -> None:
    search(visitor)

    press_outcome(visitor)

    assert visitor.page.status == 200
    assert "model not said" in visitor.page.text
    assert bench.jobs.open_jobs()[0].model == ""


def test_a_finding_can_be_taken_back(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13")
    outcome = press_outcome(visitor)

    page = visitor.press("Take back")

    assert f"→ {outcome}" not in page.text
    assert bench.jobs.open_jobs()[0].outcomes == ()


def test_a_test_that_could_not_be_done_gives_way_to_another_and_can_come_back(visitor: Visitor) -> None:
    first = re.search('name="step" value="([^"]+)"', search(visitor, model="Tern 13").html)
    assert first

    page = visitor.press("Could not do it")
    assert "could not be done" in page.text
    assert f'name="step" value="{first[1]}"' not in page.html

    page = visitor.press("Back on the list")
    assert "could not be done" not in page.text


def test_a_fix_that_changed_nothing_is_marked_on_its_cause(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    bench.jobs.did_not_help(job, PLUG)

    page = visitor.go(f"/job/{job}")

    assert "Fix changed nothing: battery plug not fully seated" in page.text
    assert "tried, did not help" in page.text


def test_the_clock_of_a_job_counts_its_first_test_too(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13")
    press_outcome(visitor)
    (job,) = bench.jobs.open_jobs()
    slug, _, name = job.outcomes[0].test.partition("/")
    entry = bench.entries.entry(slug)
    test = entry.test(name) if entry else None

    assert test
    assert f"{test.minutes:g} min on the clock" in visitor.page.text


def test_the_same_outcome_from_two_tabs_is_noted_once(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    first, second = visitor.go(f"/job/{job}"), visitor.go(f"/job/{job}")
    outcome = next(shown for form in first.forms for name, _, shown in form.buttons if name == "outcome")

    visitor.press(outcome, first)
    visitor.press(outcome, second)

    assert len(bench.jobs.job(job).findings) == 1


def test_a_tap_on_a_job_that_is_closed_meanwhile_leads_to_what_was_saved(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    page = visitor.go(f"/job/{job}")
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", job=job))

    outcome = next(shown for form in page.forms for name, _, shown in form.buttons if name == "outcome")

    assert visitor.press(outcome, page).status == 409
    assert "Saved" in visitor.follow("See what was saved").text


def test_words_that_nothing_fits_bring_no_step_and_the_verdict_only_once_they_are_done(visitor: Visitor) -> None:
    typing = visitor.go("/answer?q=purple+glow+from+hinge")
    done = visitor.go("/answer?q=purple+glow+from+hinge&done=1")

    assert "Nothing fits well yet: type on" in typing.text
    assert "Nothing here fits" not in typing.text.replace("Nothing here fits: write it down", "")
    assert "Nothing here fits these words well" in done.text
    for page in (typing, done):
        assert "Could not do it" not in page.text


def test_a_wrong_fix_is_found_again_later_and_retracted_with_a_reason(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause={PLUG}&q=no+battery&model=Tern+13")
    job = visitor.press("Save").text.split("Job ")[1].split()[0]
    visitor.go("/")

    visitor.follow("no battery")
    page = visitor.press("Count it no longer", why="it was the cable")

    assert bench.jobs.job(job).retracted == "it was the cable"
    assert "This no longer counts: it was the cable" in page.text
    assert "Saved here last" not in visitor.go("/").text


def test_jobs_that_came_from_elsewhere_are_not_told_as_saved_here(bench: Bench, visitor: Visitor) -> None:
    bench.history().adopt(Job("x1", "Skua 14", PLUG, "2026-11-24T12:00:00Z", shop="elsewhere", words="no battery"))
    assert "Saved here last" not in visitor.go("/").text

    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", words="no light"))

    page = visitor.go("/")
    assert [text for to, text in page.links if to.startswith("/job/")] == ["no light"]


def test_everybody_sees_the_jobs_saved_last_and_their_own_first(bench: Bench, app: Flask, visitor: Visitor) -> None:
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
    assert re.search(rf"second by this browser · {re.escape(cause)} · Tern 13 · 2\d{{3}}-\S+ \S+ · mk", page.text)
    assert [text for to, text in others.links if to.startswith("/job/")] == [
        cause,
        "fifth",
        "fourth",
        "third",
        "second",
    ]
    assert "by this browser" not in others.text


def test_a_wrong_fix_that_somebody_else_saved_is_found_and_retracted(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.confirm(Confirmation(PLUG, "Skua 14", words="no battery")).job
    visitor.go("/")

    visitor.follow("no battery")
    visitor.press("Count it no longer", why="it was the cable")

    assert bench.jobs.job(job).retracted == "it was the cable"
    assert "Saved here last" not in visitor.go("/").text


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


def test_a_job_can_be_put_away_without_a_cause(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13")
    visitor.go(f"/job/{job}")

    page = visitor.press("Put away")

    assert "put away without a cause" in page.text
    assert bench.jobs.open_jobs() == ()


# Confirming


def test_two_presses_after_the_words_save_a_confirmed_fix(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13", unit="T-07")

    visitor.follow("It was this")
    page = visitor.press("Save")

    (job,) = jobs(bench)
    assert (job.model, job.unit, job.words) == ("Tern 13", "T-07", WORDS)
    assert "is now first on Tern 13: 1 of 1 here" in page.text


def test_the_confirmed_cause_comes_first_in_the_next_search(visitor: Visitor) -> None:
    for _ in range(3):
        visitor.go(f"/confirm?cause=battery-not-detected/light-board&q={WORDS}&model=Tern 13")
        visitor.press("Save")

    page = search(visitor, model="Tern 13")

    causes = [to for to, shown in page.links if "It was this" in shown]
    assert "battery-not-detected%2Flight-board" in causes[0]


def test_a_job_hands_its_words_machine_findings_and_minutes_to_the_form(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13", unit="T-07")
    outcome = press_outcome(visitor)

    page = visitor.follow("It was this")
    assert 'name="minutes"' in page.html
    assert page.forms[0].fields["minutes"] != ""
    visitor.press("Save")

    (job,) = jobs(bench)
    assert (job.unit, [plain(finding.outcome) for finding in job.outcomes]) == ("T-07", [outcome])
    assert bench.jobs.open_jobs() == ()


def test_the_part_of_the_fix_is_offered_and_kept(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause=battery-not-detected/pack&q={WORDS}&model=Tern+13")
    assert visitor.page.forms[0].fields["part"] == "battery"

    visitor.press("Save", minutes="7,5", donor="T-02", by="AW", note="clips were gone")

    (job,) = jobs(bench)
    assert (job.part, job.minutes, job.donor, job.by, job.note) == ("battery", 7.5, "T-02", "AW", "clips were gone")


def test_the_same_form_sent_twice_saves_one_job(bench: Bench, visitor: Visitor) -> None:
    form = visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    first = visitor.press("Save", form)
    again = visitor.press("Save", form)

    assert len(jobs(bench)) == 1
    assert first.text == again.text


def test_without_a_model_nothing_is_saved_and_what_was_typed_is_kept(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause={PLUG}")

    page = visitor.press("Save", note="pin 3 bent")
    assert page.status == 400
    assert "model is missing" in page.text
    assert page.forms[0].fields["note"] == "pin 3 bent"

    page = visitor.press("Send it again", model="Tern 13")
    assert page.status == 200
    assert [job.note for job in jobs(bench)] == ["pin 3 bent"]


def test_undo_retracts_the_confirmation_at_once(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause={PLUG}&model=Tern+13&q={WORDS}")
    visitor.press("Save")

    page = visitor.press("Undo")

    assert "This no longer counts: undone at once" in page.text
    assert jobs(bench) == []
    assert bench.asking.models() == []


def test_an_undone_job_can_be_taken_up_again_with_its_findings(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13")
    outcome = press_outcome(visitor)
    visitor.follow("It was this")
    visitor.press("Save")
    visitor.press("Undo")

    page = visitor.press("Take it up again")

    assert f"→ {outcome}" in page.text
    (job,) = bench.jobs.open_jobs()
    assert (job.words, job.model) == (WORDS, "Tern 13")


def test_a_tag_scanned_into_the_minutes_is_refused_with_the_text_kept(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause={PLUG}&q=no+battery&model=Tern+13")

    page = visitor.press("Save", minutes="4006381333931")

    assert page.status == 400
    assert "minutes cannot be 4006381333931" in page.text.replace(".0", "")
    assert list(bench.history().closed_jobs()) == []


def test_minutes_that_are_no_number_are_refused_with_the_text_kept(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    page = visitor.press("Save", minutes="twelve")

    assert (page.status, page.forms[0].fields["minutes"]) == (400, "twelve")
    assert "such as 12" in page.text
    assert jobs(bench) == []


# A cause that its entry does not list, or no longer


def rename_the_cause(text: str) -> str:
    for before, after in (("**", "**"), (": ", "\n"), ("not ", "\n")):
        text = text.replace(f"{before}contact{after}", f"{before}loose-plug{after}")
    return text


def remove_the_cause(text: str) -> str:
    return "".join(line for line in text.splitlines(keepends=True) if not line.startswith("- **contact**"))


def edit(bench: Bench, change: Callable[[str], str]) -> None:
    """Save the shop's text of the entry of `PLUG`, changed."""
    slug = PLUG.partition("/")[0]
    kept = bench.entries.on_file(slug)
    assert kept
    bench.entries.save(slug, change(kept.text), digest(kept.text))


@pytest.mark.parametrize("change", [rename_the_cause, remove_the_cause])
def test_a_saved_job_whose_cause_is_gone_is_shown_by_its_old_name_and_undone(
    bench: Bench, visitor: Visitor, change: Callable[[str], str]
) -> None:
    job = bench.jobs.confirm(Confirmation(PLUG, "Tern 13", words="no battery")).job
    edit(bench, change)
    assert bench.entries.cause_texts([PLUG])[PLUG] == PLUG

    page = visitor.go(f"/job/{job}")

    assert page.status == 200
    assert PLUG in page.text
    assert f"no entry here lists {PLUG}" in page.text
    page = visitor.press("Undo")
    assert (page.status, bench.jobs.job(job).retracted) == (200, "undone at once")
    assert "This no longer counts" in page.text


def test_a_job_from_elsewhere_under_a_cause_that_no_entry_lists_is_shown_and_undone(
    bench: Bench, visitor: Visitor
) -> None:
    for job, cause in (("x1", "battery-not-detected/goblins"), ("x2", "no-such-entry/goblins")):
        bench.history().adopt(Job(job, "Skua 14", cause, "2026-11-24T12:00:00Z", shop="elsewhere"))

        page = visitor.go(f"/job/{job}")

        assert (page.status, cause in page.text) == (200, True)
        assert visitor.press("Count it no longer", why="no such cause").status == 200
        assert bench.jobs.job(job).retracted == "no such cause"


def test_an_open_job_whose_test_and_fix_are_no_longer_listed_is_shown_by_their_names(
    bench: Bench, visitor: Visitor
) -> None:
    search(visitor, model="Tern 13")
    press_outcome(visitor)
    (job,) = bench.jobs.open_jobs()
    bench.jobs.did_not_help(job.job, PLUG)
    bench.jobs.could_not_do(job.job, "battery-not-detected/some-test")
    edit(bench, remove_the_cause)

    for address in (f"/job/{job.job}", "/", "/review"):
        assert visitor.go(address).status == 200
    assert f"Fix changed nothing: {PLUG}" in visitor.go(f"/job/{job.job}").text


# Failures


def test_a_busy_history_keeps_what_was_typed(bench: Bench, visitor: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
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
    "address", ["/entry/nothing-such", "/job/0123456789ab", "/confirm?cause=battery-not-detected/x", "/nope"]
)
def test_what_is_not_there_is_said_in_a_sentence(visitor: Visitor, address: str) -> None:
    page = visitor.go(address)

    assert page.status == 404
    assert "To the bench" in page.text


def test_a_closed_job_takes_no_more_findings(bench: Bench, visitor: Visitor) -> None:
    search(visitor, model="Tern 13")
    press_outcome(visitor)
    page = visitor.page
    (job,) = bench.jobs.open_jobs()
    bench.jobs.confirm(Confirmation(PLUG, job=job.job))

    page = visitor.press("Take back", page)

    assert page.status == 409
    assert "is closed already as battery-not-detected/contact" in page.text


def test_an_error_nobody_thought_of_shows_a_number_and_no_trace(
    bench: Bench, visitor: Visitor, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
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


# The other pages


def test_an_entry_shows_safety_before_its_first_step(bench: Bench, visitor: Visitor) -> None:
    page = visitor.go("/entry/battery-not-detected?model=Tern+13")

    entry = bench.entries.entry("battery-not-detected")
    assert entry
    assert page.text.index(plain(entry.safety[0])) < page.text.index(plain(entry.tests[0].title))
    assert plain(entry.wordings[-1]) in page.text
    assert "not confirmed here yet; listed as often" in page.text


def test_the_library_lists_every_entry_with_its_jobs(bench: Bench, visitor: Visitor) -> None:
    bench.jobs.confirm(Confirmation(PLUG, model="Tern 13"))

    page = visitor.go("/library")

    assert f"{len(bench.entries.served())} fault pictures" in page.text
    assert f"{TITLE} 1 job" in page.text


def test_the_review_shows_counts_and_an_interval_with_words_beside_the_picture(bench: Bench, visitor: Visitor) -> None:
    bench.jobs.confirm(Confirmation(PLUG, model="Tern 13", unit="T-01", minutes=12))
    bench.jobs.confirm(Confirmation("row-of-keys-dead/ribbon-contact", model="Tern 13", unit="T-02"))

    page = visitor.go("/review?model=Tern+13")

    assert "2 jobs on 2 machines." in page.text
    # 1 of 2 machines: Wilson 1927 gives 0.0945 to 0.9055 (R, binom.confint(1, 2, methods="wilson"))
    assert "50 % of machines, likely between 9.5 % and 91 %" in page.text
    assert page.html.count('class="rate"') == page.html.count('class="trend"') == 2
    assert page.html.count('role="img"') == page.html.count("<desc>") == 5


def test_a_review_without_jobs_says_how_to_get_some(visitor: Visitor) -> None:
    assert "Each fix confirmed at the bench is counted" in visitor.go("/review").text


def test_a_new_entry_is_served_at_once(visitor: Visitor) -> None:
    visitor.go("/new?q=zxqv wvutz")
    (text,) = (form.fields["text"] for form in visitor.page.forms if "text" in form.fields)

    page = visitor.press("Save", slug="zxqv-wvutz", text=text.replace("hat ", "hat, in short, "))

    assert page.status == 200
    assert "this shop's own text" in page.text
    assert "zxqv wvutz" in search(visitor, "zxqv wvutz").text


# Strings


def used_keys() -> Iterator[str]:
    folder = Path(strings.__file__).parent
    for path in [*folder.rglob("*.py"), *folder.glob("templates/*.html")]:
        if path.name != "strings.py":
            yield from re.findall(r"""['"]([a-z0-9_]+(?:\.[a-z0-9_]+)+)['"]""", path.read_text("utf-8"))
            yield from re.findall(r"""say\(['"]([a-z0-9_.]+)['"]""", path.read_text("utf-8"))
            for beginning in re.findall(r"""say\(['"]([a-z0-9_.]+\.)['"] ~""", path.read_text("utf-8")):
                yield from (key for key in strings.ENGLISH if key.startswith(beginning))


def test_every_string_is_shown_somewhere() -> None:
    made = {f"failure.{status}{end}" for status in (400, 403, 404, 405, 413, 431, 500) for end in ("", ".do")}

    assert set(strings.ENGLISH) - set(used_keys()) - made == set()


def test_every_string_that_is_asked_for_exists() -> None:
    groups = {known.partition(".")[0] for known in strings.ENGLISH}
    asked = {key for key in used_keys() if key.partition(".")[0] in groups}

    files = (".html", ".css", ".js", ".py", ".csv", ".")

    assert {key for key in asked if not key.endswith(files)} - set(strings.ENGLISH) == set()
