"""What comes first on a sheet comes first in every advice, and what waits for a test is not advised before it."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers.gated import ASK, FEED, HOT, LOOK, MEASURE, STINGS, WORDS, rewrite

from kb.bench.front import Bench
from kb.cli.json_contract import of_answer
from kb.diagnosis import causes
from kb.diagnosis.answer import Step
from kb.diagnosis.case import SoFar as Done
from kb.model import Finding


def test_the_sheets_of_these_tests_are_sound(gated: Bench) -> None:
    assert [remark for remark in gated.entries.check() if not remark.wish] == []


def _shown(**outcomes: str) -> tuple[Finding, ...]:
    names = {"look": LOOK, "ask": ASK, "feed": FEED, "measure": MEASURE}
    return tuple(Finding(names[test], outcome) for test, outcome in outcomes.items())


def _step(
    bench: Bench, *findings: Finding, words: str = WORDS, done: Done | None = None
) -> Step:
    step = bench.asking.search(words, findings=findings, at=done or Done()).next_step
    assert step is not None
    return step


def _name(step: Step) -> str:
    return f"{step.entry}/{step.name}"


def test_a_first_test_comes_first_though_another_sheet_is_likelier(
    gated: Bench,
) -> None:
    hot, stings = gated.asking.search("stings lid hot lid").entries[:2]
    assert (hot.entry, stings.entry) == ("hot", "stings")
    assert hot.probability > 0.4 > stings.probability > 0.1

    assert _name(_step(gated, words="stings lid hot lid")) == LOOK


@pytest.mark.parametrize("words", [WORDS, "it zaps me", "lid stings, hot lid"])
def test_the_first_tests_come_before_anything_else_in_their_order(
    gated: Bench, words: str
) -> None:
    assert _name(_step(gated, words=words)) == LOOK
    assert _name(_step(gated, *_shown(look="sound"), words=words)) == ASK
    assert _name(_step(gated, *_shown(ask="everywhere"), words=words)) == LOOK


def test_after_them_the_guide_chooses_again(gated: Bench) -> None:
    step = _step(gated, *_shown(look="split", ask="everywhere"))

    assert step.held == ""
    assert (step.kind, step.name) == ("fix", "charger")


def test_the_gate_holds_for_hasty_answers_and_in_json(gated: Bench) -> None:
    hasty = gated.asking.search(WORDS, unfinished=True)
    told = of_answer(gated.asking.search(WORDS))

    assert hasty.next_step is not None
    assert _name(hasty.next_step) == LOOK
    assert hasty.next_test == hasty.next_step
    assert told["next_step"]["name"] == told["next_test"]["name"] == LOOK
    assert told["next_step"]["held"] == "it comes before everything else here"
    assert of_answer(gated.asking.search("heats up"))["next_step"]["held"] is None


def test_a_sheet_that_is_hardly_likely_holds_nothing_up(gated: Bench) -> None:
    answer = gated.asking.search(
        "the fan roars and the lid is warm, heats up, hot air at the hinge"
    )
    assert all(one.probability < 0.1 for one in answer.entries if one.entry == "stings")

    assert answer.next_step is not None
    assert answer.next_step.entry == "hot"


def test_a_first_test_that_was_set_aside_cannot_be_left_out(gated: Bench) -> None:
    step = _step(gated, done=Done(skipped=(LOOK,)))

    assert _name(step) == LOOK
    assert (
        step.held
        == "it comes before everything else here; it was set aside, but cannot be left out"
    )


def test_a_first_test_whose_tool_is_lacking_is_the_step_all_the_same_and_says_so(
    gated: Bench,
) -> None:
    step = _step(gated, done=Done(lacks=frozenset({"torch"})))

    assert _name(step) == LOOK
    assert step.lacks == ("torch",)


def test_a_fix_is_not_proposed_before_the_test_it_comes_after(gated: Bench) -> None:
    """The look has cleared the charger: writing it down takes a minute and is likeliest by far."""
    step = _step(gated, *_shown(look="sound", ask="everywhere"))

    assert _name(step) == MEASURE
    assert "filter current is felt, within the limits” waits for it" in step.held


def test_once_it_is_measured_the_fix_is_proposed(gated: Bench) -> None:
    step = _step(
        gated, *_shown(look="sound", ask="everywhere", measure="within the limits")
    )

    assert (step.kind, step.name, step.held) == ("fix", "filter", "")


@pytest.mark.parametrize(
    "done", [Done(skipped=(MEASURE,)), Done(lacks=frozenset({"earth tester"}))]
)
def test_a_fix_whose_test_cannot_be_done_goes_on_waiting_for_it(
    gated: Bench, done: Done
) -> None:
    step = _step(gated, *_shown(look="sound", ask="everywhere"), done=done)

    assert _name(step) == MEASURE
    assert step.lacks == tuple(done.lacks or ())
    assert ("cannot be left out" in step.held) == bool(done.skipped)


def test_a_test_is_not_proposed_before_the_one_it_comes_after(gated: Bench) -> None:
    """Feeding it is the quickest test by far, and tells as much of the charger."""
    for findings in (
        _shown(),
        _shown(look="sound"),
        _shown(look="sound", ask="everywhere"),
    ):
        answer = gated.asking.search(WORDS, findings=findings)

        for step in (answer.next_step, answer.next_test):
            assert step is not None
            assert _name(step) != FEED


@pytest.mark.parametrize(
    "aside", [Done(skipped=(MEASURE,)), Done(lacks=frozenset({"earth tester"}))]
)
def test_a_test_that_waits_for_one_that_cannot_be_done_is_not_proposed(
    gated: Bench, aside: Done
) -> None:
    done = replace(aside, failed=("stings/filter",))

    answer = gated.asking.search(
        WORDS, findings=_shown(look="sound", ask="everywhere"), at=done
    )

    for step in (answer.next_step, answer.next_test):
        assert step is None or _name(step) not in (FEED, MEASURE)


def test_a_test_that_waits_is_not_the_test_to_do_if_one_is_wanted(gated: Bench) -> None:
    """Were look and measurement of no use, feeding it, often wrong, would be the one test left to tell anything."""
    told = ("split: charger", "sound: not charger", "limits: filter", "above: charger")
    useless = STINGS
    for outcome in told:
        useless = useless.replace(outcome, outcome.partition(":")[0] + ": nothing")
    slow = useless.replace("(8 min; part charger)", "(20 min)").replace(
        "(1 min; after 4): write", "(20 min; after 4): write"
    )
    rewrite(gated, slow.replace("(1 min; after 4)", "(1 min; after 4; 8 in 10)"))

    answer = gated.asking.search(WORDS, findings=_shown(look="split", ask="everywhere"))

    assert answer.next_step is not None
    assert (answer.next_step.kind, answer.next_step.name) == ("fix", "charger")
    assert answer.next_test is None or _name(answer.next_test) != FEED


def test_a_step_is_not_held_against_one_that_cannot_be_taken_yet(gated: Bench) -> None:
    """Feeding it would be quicker than measuring, but waits for it."""
    slow = STINGS.replace("(8 min; part", "(40 min; part").replace(
        "(1 min; after 4): write", "(30 min): write"
    )
    rewrite(gated, slow.replace("(1 min; after 4)", "(1 min; after 4; 8 in 10)"))

    step = _step(gated, *_shown(look="sound", ask="everywhere"), Finding(LOOK, "split"))

    assert (_name(step), step.held) == (MEASURE, "")
    assert "fixing on a guess would take" in step.why


def test_the_minutes_of_what_a_fix_waits_for_are_counted(gated: Bench) -> None:
    """Another charger is the step either way; should it not help, the other fix has its measurement before it."""
    waiting = _step(gated, *_shown(look="split", ask="everywhere"))
    rewrite(gated, STINGS.replace("(1 min; after 4): write", "(1 min): write"))

    free = _step(gated, *_shown(look="split", ask="everywhere"))

    assert _name(waiting) == _name(free) == "stings/charger"
    assert waiting.expected_minutes > free.expected_minutes


def test_the_minutes_of_a_step_that_cannot_be_left_out_are_not_those_of_a_quicker_way(
    gated: Bench,
) -> None:
    """The same sheet without gates is quicker; with them the minutes count the tests that must be done."""
    held = _step(gated)
    rewrite(gated, STINGS.replace("; first", "").replace("; after 4", ""))

    free = _step(gated)

    assert _name(free) != LOOK
    assert held.expected_minutes > free.expected_minutes
    assert held.expected_minutes < free.expected_minutes + 4 + 2 + 6 + 1


def test_a_first_test_with_one_outcome_can_be_ticked_off(gated: Bench) -> None:
    rewrite(
        gated,
        STINGS.replace(
            "    - split: charger\n    - sound: not charger\n", "    - done: nothing\n"
        ),
    )

    assert _step(gated).outcomes == ("done",)
    assert _name(_step(gated, *_shown(look="done"))) == ASK


# Where the sheet in whose words it was told is cleared

HUMS = """---
title: The stand hums
area: power
---

## Symptom

- the stand hums softly
- humming from the stand
- a hum in the stand at night
- the stand drones

## Likely causes

- **plug** (often): the plug hums
- **coil** (often): the coil hums
- **loose-foot** (sometimes): a foot is loose

## Cheapest test first

1. Put the stand on felt with another plug (2 min)
    - it hums on: not plug, not coil, not loose-foot
    - silent: plug, coil, loose-foot
2. Put an ear to the lid (3 min)
    - it comes from the lid: see hot
    - it comes from below: nothing

## Fix

- **plug** (5 min): fit another
- **coil** (15 min): fit another
- **loose-foot** (240 min): turn it in

## Safety

- Pull the plug first.

## Also heard as

- drones
"""
FELT, EAR = "hums/put-the-stand-on-felt-with-another-plug", "hums/put-an-ear-to-the-lid"
CLEARED = Finding(FELT, "it hums on")
IN_VAIN = Done(failed=("hums/plug", "hums/coil"), lacks=frozenset({"torch"}))


@pytest.fixture
def unled(gated: Bench, monkeypatch: pytest.MonkeyPatch) -> Bench:
    """A bench that believes nothing of a sheet to which tests only lead: what the look alone brings."""
    monkeypatch.setattr(causes, "LED_TO", 0.0)
    return gated


def _hums(bench: Bench, *swaps: tuple[str, str]) -> Bench:
    text = HUMS
    for old, new in swaps:
        assert old in text
        text = text.replace(old, new)
    assert bench.shop.shelf.stock
    (bench.shop.shelf.stock / "hums.md").write_text(text)
    return bench


def _cleared(bench: Bench, *findings: Finding) -> Step:
    return _step(bench, CLEARED, *findings, words="the stand hums softly", done=IN_VAIN)


def test_before_looking_beyond_all_sheets_a_look_that_may_lead_to_another_one_is_taken(
    unled: Bench,
) -> None:
    bench = _hums(unled)
    assert _name(_step(bench, words="the stand hums softly")) != EAR

    step = _cleared(bench)

    assert _name(step) == EAR
    assert step.held == "what is listed is cleared, and it may lead to another picture"
    assert _cleared(bench, Finding(EAR, "it comes from below")).kind == "else"
    assert _cleared(bench, Finding(EAR, "it comes from the lid")).entry == "hot"


@pytest.mark.parametrize(
    "swap",
    [
        ("see hot", "nothing"),
        ("see hot", "see not-there"),
        ("Put an ear to the lid (3 min)", "Put an ear to the lid (12 min)"),
        ("Put an ear to the lid (3 min)", "Put an ear to the lid (3 min; needs torch)"),
    ],
    ids=["leads nowhere", "to no sheet", "takes too long", "a tool is lacking"],
)
def test_a_look_that_leads_nowhere_takes_long_or_cannot_be_done_is_not_taken(
    unled: Bench, swap: tuple[str, str]
) -> None:
    assert _cleared(_hums(unled, swap)).kind == "else"


def test_a_look_that_leads_only_to_what_such_a_machine_cannot_have_is_not_taken(
    unled: Bench,
) -> None:
    assert unled.shop.shelf.stock
    (unled.shop.shelf.stock / "hot.md").write_text(
        HOT.replace("area: cooling", "area: cooling\nmachine: runs")
    )
    bench = _hums(
        unled,
        (
            "not plug, not coil, not loose-foot",
            "not plug, not coil, not loose-foot; machine dead",
        ),
    )

    assert _cleared(bench).kind == "else"


def test_a_look_that_waits_for_one_that_was_set_aside_is_not_taken(
    unled: Bench,
) -> None:
    lift = "3. Lift the stand (1 min)\n    - light: nothing\n    - heavy: nothing\n\n## Fix"
    bench = _hums(
        unled,
        ("## Fix", lift),
        ("Put an ear to the lid (3 min)", "Put an ear to the lid (3 min; after 3)"),
    )
    assert _name(_cleared(bench)) == "hums/lift-the-stand"

    aside = Done(failed=IN_VAIN.failed, skipped=("hums/lift-the-stand",))

    assert (
        _step(bench, CLEARED, words="the stand hums softly", done=aside).kind == "else"
    )


def test_of_two_looks_that_lead_on_the_one_that_opens_nothing_comes_first(
    unled: Bench,
) -> None:
    inside = "3. Look inside (1 min; cover off)\n    - the fan hums: see hot\n    - it stands still: nothing\n\n## Fix"
    bench = _hums(unled, ("## Fix", inside))

    assert _name(_cleared(bench)) == EAR
    assert _cleared(bench, Finding(EAR, "it comes from below")).name == "look-inside"


def test_where_tests_lead_to_a_sheet_that_sheet_is_looked_at_before_looking_beyond(
    gated: Bench,
) -> None:
    """Its own minute of a test tells more than the three of the look that leads there."""
    assert _name(_cleared(_hums(gated))) == "hot/listen-to-the-fan"


BEGUN = """---
title: Wireless drops while the oven is on
area: power
---

## Symptom

- wireless drops while the oven is on

## Likely causes

- **oven** (often): the microwave oven jams the band
"""


def test_a_cause_of_a_sheet_that_was_only_begun_is_to_be_mended_as_one_knows_and_not_looked_for_elsewhere(
    gated: Bench,
) -> None:
    folder = gated.folder / "entries"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "oven.md").write_text(BEGUN)
    words = "wireless drops while the oven is on"

    step = _step(gated, words=words)

    assert (step.kind, _name(step), step.cause) == (
        "fix",
        "oven/oven",
        "the microwave oven jams the band",
    )
    assert step.title.startswith("Mend it as you know it")
    assert "write it into the sheet" in step.detail
    after = gated.asking.search(words, at=Done(failed=("oven/oven",)))
    assert all(
        cause.probability == 0
        for entry in after.entries
        for cause in entry.causes
        if entry.entry == "oven"
    )
    assert after.next_step is None or after.next_step.kind != "fix"
