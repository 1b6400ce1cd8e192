"""Writing and editing entries in the web pages: checked, saved as the shop's copy, never over somebody else's text."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from flask import Flask
from helpers.visiting import Page, Visitor
from hypothesis import given
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.library import editing, unwritten
from kb.library.markdown import MAX_BYTES, parse
from kb.library.shelf import stock_folder
from kb.model import Confirmation, Finding

SLUG = "battery-not-detected"
STOCK = (stock_folder() / f"{SLUG}.md").read_text("utf-8")
MISSPELT = STOCK.replace("(often)", "(offten)", 1)
MISSPELT_AT = MISSPELT[: MISSPELT.index("(offten)")].count("\n") + 1
WORDS = "shows no battery although one is fitted"


@pytest.fixture
def bench(stock_bench: Bench, tmp_path: Path) -> Iterator[Bench]:
    """A shop of its own over the shipped entries, on a day that is known."""
    stock_bench.asking.models()
    of_another_day = shutil.ignore_patterns("history*")
    folder = Path(shutil.copytree(stock_bench.folder, tmp_path / "shop", ignore=of_another_day))
    made = Bench(folder, clock=lambda: datetime(2031, 3, 9, 10, 0, tzinfo=UTC))
    yield made
    made.close()


def own_file(bench: Bench) -> Path:
    return bench.folder / "entries" / f"{SLUG}.md"


def edited(visitor: Visitor, text: str, button: str = "Save") -> Page:
    visitor.go(f"/entry/{SLUG}/edit")
    return visitor.press(button, text=text)


# The sheet


def test_causes_stand_in_the_order_of_this_shops_belief_with_their_interval(bench: Bench, visitor: Visitor) -> None:
    for _ in range(3):
        bench.jobs.confirm(Confirmation(f"{SLUG}/cable", model="Tern 13"))

    page = visitor.go(f"/entry/{SLUG}?model=Tern+13")

    causes = [to for to, shown in page.links if "It was this" in shown]
    assert f"{SLUG}%2Fcable" in causes[0]
    assert re.search(r"3 of 3 on this model; fix 12.min; likely between \d+.% and \d+.%", page.text)


def test_outcomes_are_told_in_words_and_not_in_short_names(bench: Bench, visitor: Visitor) -> None:
    page = visitor.go(f"/entry/{SLUG}")

    entry = bench.entries.entry(SLUG)
    assert entry
    outcome = entry.tests[0].outcomes[0]
    cause = entry.cause(outcome.points_to[0])
    assert cause
    assert f"{outcome.text} → {cause.text}" in page.text


def test_the_sheet_takes_words_machine_and_job_along(bench: Bench, visitor: Visitor) -> None:
    job = bench.jobs.begin(WORDS, "Tern 13", "T-07")
    visitor.go(f"/job/{job}")

    title = next(to for to, shown in visitor.page.links if to.startswith(f"/entry/{SLUG}?") and "The system" in shown)
    visitor.go(title)
    visitor.follow("It was this")
    visitor.press("Save")

    (closed,) = bench.history().closed_jobs()
    assert (closed.job, closed.words, closed.model, closed.unit) == (job, WORDS, "Tern 13", "T-07")


# Editing


def test_editing_a_stock_entry_makes_the_shops_copy(bench: Bench, visitor: Visitor) -> None:
    page = edited(visitor, STOCK.replace("title: The system", "title: Here the system"))

    assert "Here the system shows no battery" in page.text
    assert "this shop's own text" in page.text
    assert own_file(bench).read_text() == STOCK.replace("title: The system", "title: Here the system")
    assert (stock_folder() / f"{SLUG}.md").read_text("utf-8") == STOCK


def test_an_edit_that_changes_nothing_changes_no_character(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/entry/{SLUG}/edit")

    visitor.press("Save")

    assert own_file(bench).read_text() == STOCK


def test_a_check_names_the_line_and_saves_nothing(bench: Bench, visitor: Visitor) -> None:
    page = edited(visitor, MISSPELT, "Check")

    assert f"Line {MISSPELT_AT}" in page.text
    assert "`offten` is not a weight" in page.text
    assert next(form for form in page.forms if "text" in form.fields).fields["text"] == MISSPELT
    assert not own_file(bench).exists()


def test_the_check_while_typing_gives_the_remarks_and_the_look_alone(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    form = next(form for form in visitor.page.forms if "text" in form.fields)

    answer = visitor.client.post(
        "/check",
        data={**form.fields, "text": MISSPELT},
        base_url="http://localhost",
        headers={"Origin": "http://localhost"},
    )

    assert "<html" not in answer.text
    assert f'data-line="{MISSPELT_AT}"' in answer.text
    assert "How it will look" in answer.text
    assert not own_file(bench).exists()


def test_a_text_with_remarks_is_saved_and_they_are_said(bench: Bench, visitor: Visitor) -> None:
    page = edited(visitor, MISSPELT)

    assert page.status == 200
    assert f"line {MISSPELT_AT}: `offten` is not a weight" in page.text
    assert page.link("Mend it") == f"/entry/{SLUG}/edit"
    assert own_file(bench).read_text() == MISSPELT


@pytest.mark.parametrize(
    "text", ["", "title: x", STOCK.replace("## Symptom", "## Other")], ids=["empty", "head", "bare"]
)
def test_a_text_that_is_no_entry_is_not_saved_but_kept_in_the_form(bench: Bench, visitor: Visitor, text: str) -> None:
    page = edited(visitor, text)

    assert page.status == 400
    assert "Not saved. This is no entry yet" in page.text
    assert next(form for form in page.forms if "text" in form.fields).fields["text"].strip() == text.strip()
    assert not own_file(bench).exists()


def test_an_entry_over_the_limit_is_refused_and_offered_again(bench: Bench, visitor: Visitor) -> None:
    page = edited(visitor, STOCK + "\n## Notes\n\n" + "x" * MAX_BYTES)

    assert page.status == 400
    assert "64 KiB" in page.text
    assert not own_file(bench).exists()


def test_a_file_that_holds_no_entry_opens_for_mending(bench: Bench, visitor: Visitor) -> None:
    """One of the shop's alone: for a copy of a stock entry the stock entry stands in."""
    (bench.folder / "entries").mkdir(exist_ok=True)
    (bench.folder / "entries" / "harbour-damp.md").write_text("nothing of an entry\n")

    answer = visitor.client.get("/entry/harbour-damp", base_url="http://localhost", follow_redirects=True)

    assert answer.request.path == "/entry/harbour-damp/edit"
    assert "begin with a line `---`" in Page(answer).text


def test_a_new_entry_says_what_nobody_has_written_yet(visitor: Visitor) -> None:
    page = visitor.go("/new?q=hums+in+the+left+corner")

    assert "Nothing to mend" not in page.text
    assert page.text.count("is what an empty sheet says") == 5
    written = page.forms[-1].fields["text"].replace("what may be wrong", "the fan is loose")
    assert visitor.press("Check", page, text=written).text.count("is what an empty sheet says") == 4


# What differs from the stock text


def test_what_the_shop_changed_is_drawn_with_signs(visitor: Visitor) -> None:
    edited(visitor, MISSPELT)

    page = visitor.follow("What this shop changed")

    assert re.search(r"<del><span class=\"sign\">−</span>[^<]*\(often\)", page.html)
    assert re.search(r"<ins><span class=\"sign\">\+</span>[^<]*\(offten\)", page.html)
    assert page.html.count("<del>") == page.html.count("<ins>") == 1


def test_taking_the_stock_text_again_keeps_the_shops_copy_aside(bench: Bench, visitor: Visitor) -> None:
    for number, text in enumerate((MISSPELT, MISSPELT.replace("offten", "oftten")), 1):
        edited(visitor, text)
        visitor.go(f"/entry/{SLUG}/changes")
        page = visitor.press("Move this shop's text aside")
        kept = bench.folder / "entries" / ".kept" / (f"{SLUG}-2031-03-09" + ("" if number == 1 else "-2") + ".md")
        assert kept.read_text() == text
        assert not own_file(bench).exists()
        assert f"entries/.kept/{kept.name}" in page.text
        assert "this shop's own text" not in visitor.follow("The stock text").text


def test_a_copy_changed_meanwhile_is_not_moved_aside(bench: Bench, visitor: Visitor) -> None:
    edited(visitor, MISSPELT)
    visitor.go(f"/entry/{SLUG}/changes")
    own_file(bench).write_text(STOCK + "\n<!-- by hand -->\n")

    page = visitor.press("Move this shop's text aside")

    assert "by hand" in page.text
    assert own_file(bench).exists()


def test_an_entry_of_the_shops_own_has_no_stock_text_to_take(bench: Bench, visitor: Visitor) -> None:
    bench.entries.save("ours-alone", STOCK, "")

    assert visitor.go("/entry/ours-alone/changes").status == 404
    assert "What this shop changed" not in visitor.go("/entry/ours-alone").text


def test_an_entry_of_the_shops_own_is_put_away_and_the_page_says_how_to_get_it_back(
    bench: Bench, visitor: Visitor
) -> None:
    bench.entries.save("ours-alone", STOCK, "")
    visitor.go("/entry/ours-alone")

    page = visitor.press("Move this entry aside")

    kept = bench.folder / "entries" / ".kept" / "ours-alone-2031-03-09.md"
    assert kept.read_text() == STOCK
    assert "kept in this shop's folder as entries/.kept/ours-alone-2031-03-09.md" in page.text
    assert "name it ours-alone.md" in page.text
    assert visitor.go("/entry/ours-alone").status == 404
    kept.rename(bench.folder / "entries" / "ours-alone.md")
    assert visitor.go("/entry/ours-alone").status == 200


def test_an_entry_changed_meanwhile_is_not_put_away(bench: Bench, visitor: Visitor) -> None:
    bench.entries.save("ours-alone", STOCK, "")
    visitor.go("/entry/ours-alone")
    (bench.folder / "entries" / "ours-alone.md").write_text(STOCK + "\n<!-- by hand -->\n")

    assert visitor.press("Move this entry aside").status == 200
    assert (bench.folder / "entries" / "ours-alone.md").exists()


@pytest.mark.parametrize("name", ["", "../battery-not-detected.md", "ours-alone-2031-03-10.md", "other-2031-03-09.md"])
def test_a_file_that_is_not_kept_has_no_page(bench: Bench, visitor: Visitor, name: str) -> None:
    bench.entries.save("ours-alone", STOCK, "")
    visitor.go("/entry/ours-alone")
    visitor.press("Move this entry aside")

    assert visitor.go(f"/entry/ours-alone/away?kept={name}").status == 404


# Two people at one entry


def test_a_second_editor_sees_both_texts_and_what_differs(app: Flask, bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    edited(Visitor(app), STOCK.replace("title: The system", "title: First says the system"))

    page = visitor.press("Save", text=STOCK.replace("title: The system", "title: Second says the system"))

    assert page.status == 409
    assert "− title: First says the system" in page.text.replace("−title", "− title")
    assert "title: Second says the system" in next(form for form in page.forms if "text" in form.fields).fields["text"]
    assert "First says" in own_file(bench).read_text()
    visitor.press("Save mine in its place")
    assert "Second says" in own_file(bench).read_text()


def test_a_file_changed_by_hand_meanwhile_is_not_overwritten(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    own_file(bench).parent.mkdir(exist_ok=True)
    own_file(bench).write_text(STOCK + "\n<!-- by hand -->\n")

    page = visitor.press("Save", text=MISSPELT)

    assert page.status == 409
    assert "by hand" in page.text
    assert "by hand" in own_file(bench).read_text()


def test_a_third_text_after_a_conflict_is_noticed_too(bench: Bench, visitor: Visitor) -> None:
    visitor.go(f"/entry/{SLUG}/edit")
    own_file(bench).parent.mkdir(exist_ok=True)
    own_file(bench).write_text(STOCK + "\n<!-- once -->\n")
    visitor.press("Save", text=MISSPELT)
    own_file(bench).write_text(STOCK + "\n<!-- twice -->\n")

    page = visitor.press("Save mine in its place")

    assert page.status == 409
    assert "twice" in page.text


def test_the_same_text_sent_twice_is_no_conflict(bench: Bench, visitor: Visitor) -> None:
    form = visitor.go(f"/entry/{SLUG}/edit")

    visitor.press("Save", form, text=MISSPELT)
    page = visitor.press("Save", form, text=MISSPELT)

    assert page.status == 200
    assert own_file(bench).read_text() == MISSPELT


# A new entry


def test_a_new_entry_begins_with_words_machine_and_findings(bench: Bench, visitor: Visitor) -> None:
    entry = bench.entries.entry(SLUG)
    assert entry
    test = entry.tests[0]
    job = bench.jobs.begin("zxqv lamp odd", "Tern 13")
    bench.jobs.found(job, Finding(f"{SLUG}/{test.slug}", test.outcomes[1].text))

    page = visitor.go(f"/new?job={job}")

    form = next(form for form in page.forms if "text" in form.fields)
    made = parse(form.fields["text"], form.fields["slug"])
    assert form.fields["slug"] == "zxqv-lamp-odd"
    assert made.entry
    assert made.remarks == ()
    assert made.entry.title == "zxqv lamp odd"
    assert [one.title for one in made.entry.tests] == [test.title]
    assert made.entry.tests[0].outcomes[0].points_to == ("first-cause",)
    assert dict(made.entry.extra)["Seen on Tern 13"] == f"- {test.title}: {test.outcomes[1].text}"


def test_a_name_that_is_taken_keeps_the_text_and_leads_to_the_entry(visitor: Visitor) -> None:
    visitor.go("/new?q=zxqv")

    page = visitor.press("Save", slug=SLUG)

    assert page.status == 409
    assert page.link(SLUG) == f"/entry/{SLUG}"
    assert "zxqv" in next(form for form in page.forms if "text" in form.fields).fields["text"]


def test_a_name_that_leads_elsewhere_is_refused_and_the_text_kept(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/new?q=zxqv")

    page = visitor.press("Save", slug="../x")

    assert page.status == 400
    assert "lower-case words joined by hyphens" in page.text
    assert not (bench.folder / "x.md").exists()


@given(st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=80))
def test_any_words_begin_an_entry_that_can_be_read(words: str) -> None:
    text = editing.first_sheet(unwritten.empty_sheet(), words, "", [], "")

    made = parse(text, "new-entry").entry

    assert made
    assert made.title == (" ".join(words.split()) or "...")
    assert made.causes


# The model that the words name


def test_the_model_named_in_the_words_counts_and_the_page_says_so(bench: Bench, visitor: Visitor) -> None:
    for model in ("Tern 13", "Skua 14"):
        bench.jobs.confirm(Confirmation(f"{SLUG}/contact", model=model))

    page = visitor.go(f"/?q=tern 13 {WORDS}&model=Skua 14")

    assert "Counted on Tern 13 , which your words name, and not on Skua 14 ." in page.text
    assert "1 job on this model, 1 on others" in page.text
    assert "model=Tern+13" in page.link("It was this")
    assert 'name="model" value="Skua 14"' in page.html
