"""A sheet as fields and back: every shipped sheet opens and comes back, and nothing typed is lost on the way."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.long import LONG
from helpers.places import CASES
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.library.customs import shipped_customs
from kb.library.markdown import parse, read_through
from kb.library.sheet_fields import (
    CauseFields,
    FixFields,
    OutcomeFields,
    SheetFields,
    SheetUnfinished,
    TestFields,
    fields_of,
    text_of,
)
from kb.library.shelf import stock_folder
from kb.library.unwritten import remarks
from kb.model import Entry

CUSTOMS = shipped_customs()
GOOD = (CASES / "nothing-wrong.md").read_text().partition("<!-- remarks -->")[0]


def opened(text: str) -> SheetFields:
    fields = fields_of(text, "a-case", CUSTOMS)
    assert fields
    return fields


def entry_of(text: str) -> Entry:
    entry = parse(text, "a-case", customs=CUSTOMS).entry
    assert entry
    return entry


def test_every_shipped_sheet_opens_as_fields_and_comes_back_as_it_is() -> None:
    """Each tenth of them; all in the long version."""
    sheets = sorted(
        path for path in stock_folder().glob("*.md") if path.stem != "README"
    )
    seen = sheets if LONG else sheets[::10]
    to_the_letter = 0
    for path in seen:
        text = path.read_text("utf-8")
        fields = fields_of(text, path.stem, CUSTOMS)
        assert fields, path.stem
        back = text_of(fields, path.stem, CUSTOMS)
        assert (
            read_through(back, path.stem, CUSTOMS)[0]
            == read_through(text, path.stem, CUSTOMS)[0]
        )
        to_the_letter += back == text

    assert to_the_letter > len(seen) * 0.9


def test_an_empty_sheet_is_empty_fields_and_comes_back_to_the_letter_to_look_at() -> (
    None
):
    empty = CUSTOMS.empty_sheet()
    fields = opened(empty)

    assert (fields.title, fields.symptoms, fields.wordings) == ("", "", "")
    assert [cause.text for cause in fields.causes] == ["", ""]
    assert [test.title for test in fields.tests] == [""]
    assert text_of(fields, "a-case", CUSTOMS, to_look_at=True) == empty
    assert "first-cause" not in text_of(fields, "a-case", CUSTOMS)


def filled() -> SheetFields:
    """A sheet as somebody types it on a phone, one cause more than there was room for at first."""
    fields = opened(CUSTOMS.empty_sheet()).with_more("cause").with_more("outcome-1")
    causes = [
        replace(cause, text=text)
        for cause, text in zip(
            fields.causes,
            ("fan is loose", "bearing is worn", "Fan is loose"),
            strict=True,
        )
    ]
    outcomes = (
        OutcomeFields(text="hum stops: at once", to=(1,), against=(2, 3)),
        OutcomeFields(text="hum stays", to=(2, 3)),
        OutcomeFields(),
    )
    test = replace(
        fields.tests[0],
        title="Hold the fan (gently)",
        minutes="2,5",
        outcomes=outcomes,
        needs="multimeter",
    )
    fixes = (
        FixFields(causes=(1, 3), text="screw it down", minutes="3", was=1),
        FixFields(
            causes=(2,),
            text="fit a fan",
            minutes="",
            parts="fan, paste",
            cover_off=True,
        ),
    )
    return replace(
        fields,
        title="It hums",
        symptoms="a hum\nfrom the left corner",
        causes=tuple(causes),
        tests=(test,),
        fixes=fixes,
        wordings="hums",
    )


def test_fields_become_a_whole_sheet_whose_new_causes_are_named_after_what_they_say() -> (
    None
):
    text = text_of(filled(), "a-case", CUSTOMS)
    entry, told = (
        parse(text, "a-case", customs=CUSTOMS).entry,
        parse(text, "a-case", customs=CUSTOMS).remarks,
    )

    assert entry
    assert told == ()
    assert remarks(entry, CUSTOMS) == []
    assert [cause.slug for cause in entry.causes] == [
        "fan-is-loose",
        "bearing-is-worn",
        "fan-is-loose-2",
    ]
    assert entry.tests[0].minutes == 2.5
    shown = [(one.text, one.points_to, one.clears) for one in entry.tests[0].outcomes]
    assert shown == [
        (
            "hum stops: at once",
            ("fan-is-loose",),
            ("bearing-is-worn", "fan-is-loose-2"),
        ),
        ("hum stays", ("bearing-is-worn", "fan-is-loose-2"), ()),
    ]
    assert entry.fixes[1].parts == ("fan", "paste")
    assert entry.fixes[0].causes == ("fan-is-loose", "fan-is-loose-2")
    assert text_of(opened(text), "a-case", CUSTOMS) == text


def test_what_the_fields_do_not_know_stays_as_it_stands() -> None:
    text = GOOD + "\n## Pictures\n\n![board](board.png)\n"
    text = text.replace("- no life\n", "- no life\n<!-- more to come -->\n")
    marked = (stock_folder() / "battery-not-detected.md").read_text("utf-8")

    changed = text_of(
        replace(opened(text), title="Another title", symptoms="no life\ndark"),
        "a-case",
        CUSTOMS,
    )
    fields = opened(marked)
    renamed = tuple(replace(test, title=f"{test.title} anew") for test in fields.tests)
    before, after = (
        entry_of(marked),
        entry_of(text_of(replace(fields, tests=renamed), "a-case", CUSTOMS)),
    )

    assert all(
        kept in changed
        for kept in (
            "![board](board.png)",
            "<!-- more to come -->",
            "title: Another title",
        )
    )
    for old, new in zip(before.tests, after.tests, strict=True):
        assert (old.needs, old.act, old.wait, old.untold, old.machine) == (
            new.needs,
            new.act,
            new.wait,
            new.untold,
            new.machine,
        )
        assert before.comes_after(old) == after.comes_after(new)
    assert (before.neighbours, before.at_once, before.fixes) == (
        after.neighbours,
        after.at_once,
        after.fixes,
    )


def test_a_cause_told_otherwise_keeps_its_name_and_one_taken_out_is_named_nowhere() -> (
    None
):
    fields = opened(GOOD)
    first, *others = fields.causes
    told = entry_of(
        text_of(
            replace(fields, causes=(replace(first, text="otherwise"), *others)),
            "a-case",
            CUSTOMS,
        )
    )
    fewer = replace(
        fields, causes=(replace(first, text=""), *others), fixes=fields.fixes[1:]
    )
    gone = entry_of(text_of(fewer, "a-case", CUSTOMS))
    name = entry_of(GOOD).causes[0].slug

    assert (told.causes[0].slug, told.causes[0].text) == (name, "otherwise")
    assert name not in [cause.slug for cause in gone.causes]
    assert all(
        name not in (*one.points_to, *one.clears)
        for test in gone.tests
        for one in test.outcomes
    )


@pytest.mark.parametrize(
    "broken",
    [
        "- **plug** (often) no colon but text",
        "- a cause without a form",
        "just text in a list of causes",
    ],
)
def test_a_text_of_which_fields_would_lose_something_stays_text(broken: str) -> None:
    text = GOOD.replace("## Likely causes\n\n", f"## Likely causes\n\n{broken}\n")

    assert text != GOOD
    fields = fields_of(text, "a-case", CUSTOMS)
    assert fields is None or broken in text_of(fields, "a-case", CUSTOMS)


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"tests": (TestFields(detail="hold it"),)}, "test 1 has no name"),
        (
            {
                "tests": (
                    TestFields(title="Hold it", outcomes=(OutcomeFields(to=(1,)),)),
                )
            },
            "does not say what is seen",
        ),
        (
            {"tests": (TestFields(title="Hold it", minutes="soon"),)},
            "minutes of test 1",
        ),
        ({"fixes": (FixFields(text="screw it down"),)}, "fix 1 cures nothing"),
        (
            {"fixes": (FixFields(text="screw it down", causes=(1,), minutes="-1"),)},
            "minutes of fix 1",
        ),
        ({"title": "- **x**\n## Fix", "symptoms": "<!-- gone"}, "look at it as text"),
    ],
)
def test_what_is_no_sheet_yet_is_told_in_a_sentence(
    changed: dict[str, object], told: str
) -> None:
    with pytest.raises(SheetUnfinished, match=told):
        text_of(replace(filled(), **changed), "a-case", CUSTOMS)  # type: ignore[arg-type]


_typed = st.text(
    st.characters(codec="utf-8", categories=("L", "N", "P", "S", "Zs")), max_size=25
)
_numbers = st.lists(st.integers(1, 4), max_size=3, unique=True).map(tuple)
_outcomes = st.lists(
    st.builds(OutcomeFields, text=_typed, to=_numbers, against=_numbers), max_size=3
).map(tuple)
_tests = st.lists(
    st.builds(TestFields, title=_typed, detail=_typed, outcomes=_outcomes), max_size=3
).map(tuple)
_fixes = st.lists(st.builds(FixFields, text=_typed, causes=_numbers), max_size=3).map(
    tuple
)
_causes = st.lists(st.builds(CauseFields, text=_typed), min_size=1, max_size=4).map(
    tuple
)


@settings(max_examples=25)
@given(causes=_causes, tests=_tests, fixes=_fixes, symptoms=_typed)
def test_whatever_is_typed_is_in_the_sheet_or_refused(
    causes: tuple[CauseFields, ...],
    tests: tuple[TestFields, ...],
    fixes: tuple[FixFields, ...],
    symptoms: str,
) -> None:
    fields = replace(
        filled(), causes=causes, tests=tests, fixes=fixes, symptoms=symptoms
    )
    try:
        text = text_of(fields, "a-case", CUSTOMS)
    except SheetUnfinished:
        return
    read, _ = read_through(text, "a-case", CUSTOMS)

    def said(*rows: str) -> list[str]:
        return [line for row in rows if (line := " ".join(row.split()))]

    assert [cause.text for cause in read.causes] == said(
        *(cause.text for cause in causes)
    )
    assert [test.title for test in read.tests] == said(*(test.title for test in tests))
    assert [fix.text for fix in read.fixes] == [
        fix.text.strip() for fix in fixes if fix.text.strip()
    ]
    assert list(read.symptoms) == said(symptoms)
