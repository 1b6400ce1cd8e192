"""The page for a new entry: it begins with what is known."""

from __future__ import annotations

import pytest
from helpers.editing import SLUG, WORDS
from helpers.visiting import Visitor
from hypothesis import given
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.library import editing
from kb.library.customs import shipped_customs
from kb.library.markdown import parse
from kb.model import Confirmation, Finding

pytestmark = pytest.mark.shop("on_a_known_day")


def test_a_new_entry_says_what_nobody_has_written_yet(visitor: Visitor) -> None:
    page = visitor.go("/new?q=hums+in+the+left+corner&as=text")

    assert "Nothing to mend" not in page.text
    assert page.text.count("is what an empty sheet says") == 5
    written = (
        page.forms[-1].fields["text"].replace("what may be wrong", "the fan is loose")
    )
    assert (
        visitor.press("Check", page, text=written).text.count(
            "is what an empty sheet says"
        )
        == 4
    )


# A new entry


def test_a_new_entry_begins_with_words_machine_and_findings(
    bench: Bench, visitor: Visitor
) -> None:
    entry = bench.entries.entry(SLUG)
    assert entry
    test = entry.tests[0]
    job = bench.jobs.begin("zxqv lamp odd", "Tern 13")
    bench.jobs.found(job, Finding(f"{SLUG}/{test.slug}", test.outcomes[1].text))

    page = visitor.go(f"/new?job={job}&as=text")

    form = next(form for form in page.forms if "text" in form.fields)
    made = parse(form.fields["text"], form.fields["slug"])
    assert form.fields["slug"] == "zxqv-lamp-odd"
    assert made.entry
    assert made.remarks == ()
    assert made.entry.title == "zxqv lamp odd"
    assert [one.title for one in made.entry.tests] == [test.title]
    assert made.entry.tests[0].outcomes[0].points_to == ("first-cause",)
    assert (
        dict(made.entry.extra)["Seen on Tern 13"]
        == f"- {test.title}: {test.outcomes[1].text}"
    )


def test_a_name_that_is_taken_keeps_the_text_and_leads_to_the_entry(
    visitor: Visitor,
) -> None:
    visitor.go("/new?q=zxqv&as=text")

    page = visitor.press("Save", slug=SLUG)

    assert page.status == 409
    assert page.link(SLUG) == f"/entry/{SLUG}"
    assert (
        "zxqv"
        in next(form for form in page.forms if "text" in form.fields).fields["text"]
    )


def test_a_name_that_leads_elsewhere_is_refused_and_the_text_kept(
    bench: Bench, visitor: Visitor
) -> None:
    visitor.go("/new?q=zxqv&as=text")

    page = visitor.press("Save", slug="../x")

    assert page.status == 400
    assert "lower-case words joined by hyphens" in page.text
    assert not (bench.folder / "x.md").exists()


@given(
    st.text(
        st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=80
    )
)
def test_any_words_begin_an_entry_that_can_be_read(words: str) -> None:
    text = editing.first_sheet(shipped_customs().empty_sheet(), words, "", [], "")

    made = parse(text, "new-entry").entry

    assert made
    assert made.title == (" ".join(words.split()) or "...")
    assert made.causes


# The model that the words name


def test_the_model_named_in_the_words_counts_and_the_page_says_so(
    bench: Bench, visitor: Visitor
) -> None:
    for model in ("Tern 13", "Skua 14"):
        bench.jobs.confirm(Confirmation(f"{SLUG}/contact", model=model))

    page = visitor.go(f"/?q=tern 13 {WORDS}&model=Skua 14")

    assert (
        "Counted on Tern 13 , which your words name, and not on Skua 14 ." in page.text
    )
    assert "1 job on this model, 1 on others" in page.text
    assert "model=Tern+13" in page.link("It was this")
    assert 'name="model" value="Skua 14"' in page.html
