"""What is to be done at once: said for likely sheets and for words of danger, above everything else, everywhere."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence

import pytest
from click.testing import Result
from helpers.gated import MEASURE, STINGS, WORDS, rewrite
from helpers.trade_words import shipped_lexicon
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.diagnosis import urgent
from kb.language.words import Lexicon, tokens
from kb.library import shelf
from kb.library.markdown import parse
from kb.model import Entry, Finding, Urgent
from webui.app import create_app

Run = Callable[..., Result]

PULL, HANDS_OFF = "Pull the charger at the wall.", "Do not touch the case."
#: Words that fit no sheet here, one of which names a danger.
DANGER = "buzzes"


@pytest.fixture(scope="module")
def lexicon() -> Lexicon:
    return shipped_lexicon()


@pytest.mark.parametrize(
    "text",
    [
        "smoke",
        "it smoked",
        "SMOKES!",
        "won't start and smokes",
        "wont charge smoke coming out of the side",
        "no power smoke",
        "there is a smell of something burning",
        "burning plastic smell",
        "not hot, smoking",
        "not swollen but it hisses",
        "no picture, no sound, smoke",
        "does not come on since it smoked",
        "dead after smoke came out",
        "not on and smoking",
        "hisses or clicks",
    ],
)
def test_a_danger_is_heard_in_whatever_is_said_beside_it(
    lexicon: Lexicon, text: str
) -> None:
    assert _named(text, lexicon)


@pytest.mark.parametrize(
    "text",
    [
        "no smoke",
        "not smoking",
        "never smoked",
        "it does not hiss",
        "there is no smoke and no burning smell",
        "no sign of any smoke",
        "no hissing or smoke",
        "without a burning smell",
        "it doesn't smoke any more",
        "smells, the burning question is the battery",
        "a hot case",
    ],
)
def test_a_danger_that_is_denied_or_only_half_said_is_not_heard(
    lexicon: Lexicon, text: str
) -> None:
    assert not _named(text, lexicon)


def _named(text: str, lexicon: Lexicon) -> bool:
    words = urgent.phrases(
        [
            "smoke",
            "smoking",
            "burning smell",
            "swells while charging",
            "hisses",
            "swollen",
        ],
        lexicon,
    )
    return bool(urgent.named(tokens(text, lexicon), {"burning": words}))


def _sheets(**deeds: str) -> Callable[[str], Entry | None]:
    bare = parse(STINGS, "stings").entry
    assert bare is not None
    entries = {
        slug: Entry(
            slug,
            slug,
            "power",
            bare.symptoms,
            bare.causes,
            (),
            (),
            (),
            (),
            at_once=(Urgent(deed),) if deed else (),
        )
        for slug, deed in deeds.items()
    }
    return entries.get


@pytest.mark.parametrize(
    ("shares", "speaks_of", "told"),
    [
        ({"a": 0.3, "b": 0.5, "c": 0.1}, (), ("B", "A", "C")),
        ({"a": 0.3, "b": 0.09}, (), ("A",)),
        ({"a": 0.3, "b": 0.01}, ("b",), ("B", "A")),
        ({"a": 0.3, "b": 0.01, "c": 0.05}, ("b", "c"), ("C", "B", "A")),
        ({"a": 0.3, "b": 0.2, "c": 0.15, "d": 0.12}, (), ("A", "B", "C")),
        ({"a": 0.3, "b": 0.2, "c": 0.15, "d": 0.0}, ("d",), ("D", "A", "B")),
        ({"a": 0.3}, ("d",), ("D", "A")),
        ({"a": 0.5, "quiet": 0.4}, ("quiet",), ("A",)),
        ({"a": 0.5, "same": 0.4}, (), ("A",)),
        ({}, (), ()),
    ],
)
def test_a_named_danger_speaks_first_then_the_likeliest_sheet_three_at_most(
    shares: Mapping[str, float], speaks_of: Sequence[str], told: tuple[str, ...]
) -> None:
    entry_of = _sheets(a="A", b="B", c="C", d="D", quiet="", same="A")

    assert urgent.deeds(shares, speaks_of, entry_of) == told


def test_a_likely_sheet_says_at_once_what_to_do(gated: Bench) -> None:
    assert gated.asking.search(WORDS).at_once == (PULL, HANDS_OFF)
    assert gated.asking.search("heats up").at_once == ()


def test_the_words_of_danger_are_enough_however_unlikely_the_sheet(
    gated: Bench,
) -> None:
    answer = gated.asking.search("the fan roars and the lid is warm, buzzes")

    assert [one.entry for one in answer.entries if one.probability >= 0.1] == ["hot"]
    assert answer.at_once == (PULL, HANDS_OFF)


def test_a_danger_is_heard_through_typing_errors_and_while_typing(gated: Bench) -> None:
    """The word is known from another line of the library, so that a slip of the hand is read as it."""
    rewrite(
        gated,
        STINGS.replace("- it zaps me", "- it zaps me\n- somebody was electrocuted"),
    )

    warm = "the fan roars and the lid is warm"

    assert gated.asking.search(f"{warm}, electrocutd").at_once == (PULL, HANDS_OFF)
    assert gated.asking.search("owner electrocuted", unfinished=True).at_once == (
        PULL,
        HANDS_OFF,
    )
    assert gated.asking.search(f"{warm}, not electrocutd").at_once == ()


def test_few_letters_that_fit_nothing_yet_raise_no_alarm(gated: Bench) -> None:
    hasty, whole = (
        gated.asking.search("touching it", unfinished=True),
        gated.asking.search("touching it"),
    )

    assert not whole.fits
    assert whole.at_once == (PULL, HANDS_OFF)
    assert hasty.at_once == ()


def test_what_is_done_at_once_is_not_searched(gated: Bench) -> None:
    assert gated.asking.search("ozone").entries == ()


def test_an_edited_sheet_speaks_with_its_new_words(gated: Bench) -> None:
    assert gated.asking.search("fizzing").at_once == ()
    rewrite(gated, STINGS.replace("buzzes", "fizzes"))

    assert gated.asking.search("fizzing").at_once == (PULL, HANDS_OFF)
    assert gated.asking.search("buzzes").at_once == ()


# At the terminal


@pytest.fixture
def own_library(gated: Bench, monkeypatch: pytest.MonkeyPatch) -> None:
    """The small library in place of the stock one, for the command line."""
    monkeypatch.setattr(shelf, "stock_folder", lambda: gated.shop.shelf.stock)


def test_a_search_says_it_before_the_ranking_and_in_json(
    run: Run, own_library: None
) -> None:
    shown = run("search", WORDS).stdout
    told = json.loads(run("search", WORDS, "--json").stdout)

    assert shown.startswith(f"At once:\n  ! {PULL}\n  ! {HANDS_OFF}\n\n")
    assert told["at_once"] == [PULL, HANDS_OFF]
    assert (
        json.loads(
            run(
                "search",
                "charge light on, power button does nothing, no fan, no picture",
                "--json",
            ).stdout
        )["at_once"]
        == []
    )
    assert (
        "At once"
        not in run(
            "search", "charge light on, power button does nothing, no fan, no picture"
        ).stdout
    )


def test_a_search_says_why_a_step_cannot_be_left_out(
    run: Run, own_library: None
) -> None:
    shown = run("search", "it zaps me, metal parts prickle on the charger").stdout

    assert "\nNext: Look at lead and charger (4 min, needs torch) [stings]\n" in shown
    assert "\n      It comes before everything else here.\n" in shown


def test_a_search_says_what_is_lacking_for_a_test_that_must_be_done(
    run: Run, own_library: None
) -> None:
    run("tools", "--lack", "torch")

    shown = run("search", "it zaps me, metal parts prickle on the charger").stdout

    assert (
        "Missing here: torch, which this test needs: get that first, or pass the machine on."
        in shown
    )


def test_the_guide_says_it_before_the_first_question_and_then_only_what_is_new(
    run: Run, own_library: None
) -> None:
    shown = run("guide", WORDS, "--model", "Tern 13", given="2\n1\nq\n").stdout

    assert shown.count("At once:") == 1
    assert shown.index(PULL) < shown.index("Look at lead and charger")


def test_the_guide_says_what_an_outcome_makes_likely(
    run: Run, own_library: None
) -> None:
    """The fan was the likelier fault; blown out it is as loud, and the sheet that it left below a tenth speaks."""
    words = "touching the lid stings and the fan is loud"

    shown = run("guide", words, "--model", "Tern 13", given="2\nq\n").stdout

    assert shown.index("Blow it out") < shown.index(
        f"At once:\n  ! {PULL}\n  ! {HANDS_OFF}\n"
    )
    assert shown.count("At once:") == 1


def test_a_first_test_set_aside_in_the_guide_is_asked_again(
    run: Run, own_library: None
) -> None:
    shown = run("guide", WORDS, "--model", "Tern 13", given="n\nq\n").stdout

    assert shown.count("Look at lead and charger (4 min") == 2
    assert "it cannot be left out: do it as far as it goes" in shown
    assert (
        "  It comes before everything else here; it was set aside, but cannot be left out.\n"
        in shown
    )


# Confirming what was not measured


def test_confirming_a_cause_without_its_measurement_asks_first(
    run: Run, own_library: None
) -> None:
    refused = run("confirm", "stings/filter", "--model", "Tern 13", status=2)

    assert "nothing is on record of “Measure the current of the case”" in refused.stderr
    assert "--untested" in refused.stderr

    run("confirm", "stings/filter", "--model", "Tern 13", "--untested")
    assert json.loads(run("export", "-").stdout)["cause"] == "stings/filter"


def test_a_cause_without_such_a_test_is_confirmed_at_once(
    run: Run, own_library: None
) -> None:
    assert (
        "saved as job" in run("confirm", "stings/charger", "--model", "Tern 13").stdout
    )


def test_the_guide_asks_before_it_confirms_what_was_not_measured(
    run: Run, own_library: None
) -> None:
    """Looked at and asked, it is the filter current by far; the third line is its number among the causes."""
    known = "2\n1\nc\n1\n"

    no = run("guide", WORDS, "--model", "Tern 13", given=f"{known}n\nq\n").stdout
    yes = run("guide", WORDS, "--model", "Tern 13", given=f"{known}y\n12\n\n").stdout

    assert "without which `stings/filter` is a guess." in no
    assert "saved as job" not in no
    assert "saved as job" in yes


# On the pages


@pytest.fixture
def visitor(gated: Bench) -> Visitor:
    return Visitor(create_app(gated))


def test_the_pages_say_it_before_everything_else(
    gated: Bench, visitor: Visitor
) -> None:
    found = visitor.go(f"/?q={WORDS}")
    typed = visitor.go(f"/answer?q={WORDS}")
    sheet = visitor.go("/entry/stings")
    job = visitor.go(f"/job/{gated.jobs.begin(WORDS, 'Tern 13')}")

    for page in (found, typed, sheet, job):
        assert page.html.count('class="urgent"') == 1
        for after in (
            "Before you start",
            "Next",
            "What fits",
            "Symptom",
            "on the clock",
        ):
            assert page.text.index(f"At once {PULL} {HANDS_OFF}") < (
                page.text + after
            ).index(after)
    assert job.text.index(PULL) < job.text.index(WORDS)
    assert (
        'data-status="At once: Pull the charger at the wall. Do not touch the case.'
        in typed.html
    )
    assert "At once" not in visitor.go("/?q=heats up").text


def test_a_page_says_why_a_step_cannot_be_left_out_and_what_is_lacking(
    gated: Bench, visitor: Visitor
) -> None:
    gated.shop.kept_settings.change_tools(lack=["torch"])
    visitor.go(f"/?q={WORDS}&model=Tern 13")

    page = visitor.press("Could not do it")

    assert (
        "Look at lead and charger it comes before everything else here; it was set aside, but cannot be left out."
        in (page.text)
    )
    assert "Missing here: torch , which this test needs: get that first" in page.text


def test_a_sheet_shows_what_comes_first_and_what_waits(visitor: Visitor) -> None:
    page = visitor.go("/entry/stings")

    assert "4 min before everything else · needs torch" in page.text
    assert "Feed it on the tested circuit 1 min only after test 4" in page.text
    assert "within the limits 1 min only after test 4" in page.text


def test_a_second_press_saves_a_cause_that_was_not_measured_and_nothing_is_lost(
    gated: Bench, visitor: Visitor
) -> None:
    job = gated.jobs.begin(WORDS, "Tern 13", "T-7")
    visitor.go(f"/confirm?cause=stings/filter&job={job}")

    asked = visitor.press("Save", minutes="9", note="felt by two people", by="JD")

    assert asked.status == 409
    assert (
        "Not saved yet: nothing is on record of this Measure the current of the case"
        in asked.text
    )
    assert gated.jobs.job(job).closed is None
    assert asked.link("Do it first") == f"/job/{job}"

    saved = visitor.press("I know it without: save")

    assert saved.status == 200
    closed = gated.jobs.job(job).closed
    assert closed is not None
    assert (closed.cause, closed.minutes, closed.note, closed.by) == (
        "stings/filter",
        9.0,
        "felt by two people",
        "JD",
    )


def test_what_was_measured_on_the_job_is_saved_by_one_press(
    gated: Bench, visitor: Visitor
) -> None:
    job = gated.jobs.begin(WORDS, "Tern 13", "T-7")
    gated.jobs.found(job, Finding(MEASURE, "within the limits"))
    visitor.go(f"/confirm?cause=stings/filter&job={job}")

    visitor.press("Save")

    closed = gated.jobs.job(job).closed
    assert closed is not None
    assert closed.cause == "stings/filter"
