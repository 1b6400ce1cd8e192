"""The shipped sheets keep people, machines and data safe whatever the guide would rather do; mend the sheet."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence

import pytest
from helpers.asking import questions
from helpers.long import LONG

from kb.bench.front import Bench
from kb.diagnosis.answer import Answer, Step
from kb.diagnosis.case import LEAST_SHARE
from kb.diagnosis.case import SoFar as Done
from kb.library import gates
from kb.library.checks import LONGEST_DEED, MOST_DEEDS
from kb.model import Entry, Finding, Test

TINGLES = "case tingles when I touch it while charging"
TRIPS = "trips the residual current breaker"
#: What holds current, and what proves it safe, in the sheet of mains faults.
MAINS = "trips-the-breaker"


def _sheet(bench: Bench, slug: str) -> Entry:
    entry = bench.entries.entry(slug)
    assert entry is not None
    return entry


def _test(entry: Entry, begins: str) -> Test:
    (found,) = [test for test in entry.tests if test.title.startswith(begins)]
    return found


def _shows(bench: Bench, *outcomes: str) -> tuple[Finding, ...]:
    """Outcomes of the mains sheet, each with the test that shows it."""
    entry = _sheet(bench, MAINS)
    tests = {
        outcome.text: test.slug for test in entry.tests for outcome in test.outcomes
    }
    return tuple(Finding(f"{MAINS}/{tests[outcome]}", outcome) for outcome in outcomes)


def _step(answer: Answer) -> Step:
    assert answer.next_step is not None
    return answer.next_step


# Mains


@pytest.mark.parametrize(
    "seen",
    [
        (),
        ("all sound",),
        ("all sound", "never tripped, tingle only"),
        ("all sound", "never tripped, tingle only", "no change with both"),
        (
            "all sound",
            "never tripped, tingle only",
            "all in limits",
            "no change with both",
        ),
    ],
)
@pytest.mark.parametrize("lacks", [frozenset(), frozenset({"earth tester"})])
def test_a_tingle_is_not_called_harmless_before_its_current_was_measured(
    stock_bench: Bench, seen: Sequence[str], lacks: frozenset[str]
) -> None:
    """Without the tester neither: then it is the measurement that is asked for, and what is lacking is said."""
    for failed in ((), (f"{MAINS}/charger", f"{MAINS}/mains-lead")):
        answer = stock_bench.asking.search(
            TINGLES,
            findings=_shows(stock_bench, *seen),
            at=Done(lacks=lacks, failed=failed),
        )

        step = _step(answer)
        assert (step.kind, step.name) != ("fix", "filter-current")
        if failed and lacks and "never tripped, tingle only" in seen:
            assert step.lacks == ("earth tester",)


def test_a_tingle_that_was_measured_in_limits_may_be_called_harmless(
    stock_bench: Bench,
) -> None:
    seen = _shows(
        stock_bench,
        "all sound",
        "never tripped, tingle only",
        "all in limits",
        "there, but in limits",
    )

    step = _step(stock_bench.asking.search(TINGLES, findings=seen))

    assert (step.kind, step.name) == ("fix", "filter-current")


def test_a_tingle_is_confirmed_as_harmless_only_with_the_measurement_on_record(
    stock_bench: Bench,
) -> None:
    cause = f"{MAINS}/filter-current"

    (missing,) = stock_bench.jobs.untested(cause)

    assert "touch current" in missing.title
    assert "earth tester" in missing.needs
    assert (
        stock_bench.jobs.untested(
            cause, outcomes=_shows(stock_bench, "there, but in limits")
        )
        == ()
    )


def test_nothing_goes_back_to_the_wall_after_a_trip_before_the_insulation_was_measured(
    stock_bench: Bench,
) -> None:
    entry = _sheet(stock_bench, MAINS)
    insulation = _test(entry, "Measure earth and insulation")

    feeding = [
        test
        for test in entry.tests
        if re.search(r"\b(?:plug|swap|try|feed|touch current)\b", test.title, re.I)
    ]

    assert len(feeding) == 4
    for test in feeding:
        assert insulation in gates.waits_for(entry, test, ())
        assert insulation.slug not in [
            one.slug for one in gates.waits_for(entry, insulation, ())
        ]
    for seen in ((), ("all sound",), ("all sound", "trips everywhere")):
        step = _step(
            stock_bench.asking.search(TRIPS, findings=_shows(stock_bench, *seen))
        )
        assert step.name not in [test.slug for test in feeding]


def test_nobody_is_told_to_feel_for_a_tingle(stock_bench: Bench) -> None:
    entry = _sheet(stock_bench, MAINS)

    for text in [f"{test.title} {test.detail}" for test in entry.tests] + [
        fix.text for fix in entry.fixes
    ]:
        assert not re.search(r"\bfeel", text), text


# What is looked at first


@pytest.mark.parametrize(
    ("words", "first"),
    [
        ("smells burnt", "Cut the mains at the wall"),
        ("smoke from the side", "Cut the mains at the wall"),
        (
            "battery gets hot while charging",
            "Charger out and machine off, look along its edges",
        ),
        ("swollen battery", "Pull the charger, shut down and look along the edges"),
        (
            "pad moves the pointer but does not click",
            "Lay the machine on a flat table, look at the gap",
        ),
        (
            "touchpad stays pressed, everything is dragged",
            "Look along the gap of the pad",
        ),
        (
            "keys stick and come back slowly",
            "Lay the machine on a flat table and look for rocking or a dome",
        ),
        (
            "types letters by itself",
            "Lay the machine on a flat table and look for a bulge",
        ),
        (
            "bottom cover will not close",
            "Lay the machine shut on a flat table and look for a dome",
        ),
        ("spilled coffee on it", "Pull charger and battery at once"),
        (
            "hard drive clicks, need the photos",
            "Ask, with the machine off, whether the data are wanted",
        ),
        (
            "charger ticks when plugged in, its light blinks",
            "Pull the charger at the wall, look at it",
        ),
        (
            "did not come back after a firmware update",
            "Put the charger in, leave it alone",
        ),
        (TRIPS, "Look at lead, plugs and charger with everything unplugged"),
    ],
)
@pytest.mark.parametrize("typing", [False, True])
def test_what_can_hurt_is_looked_at_first(
    stock_bench: Bench, words: str, first: str, typing: bool
) -> None:
    answer = stock_bench.asking.search(words, unfinished=typing)

    assert _step(answer).title.startswith(first)
    assert answer.next_test == answer.next_step


def test_a_hot_pack_is_not_blamed_on_heavy_work_before_it_was_compared(
    stock_bench: Bench,
) -> None:
    entry = _sheet(stock_bench, "battery-hot-while-charging")
    look, compare = entry.tests[:2]
    fix = entry.fix_for("load-and-charge")
    assert fix is not None

    assert gates.waits_for(entry, fix, ()) == (look, compare)
    assert look.first
    assert not look.cover_off


@pytest.mark.parametrize(
    ("slug", "shows"),
    [
        ("battery-hot-while-charging", "bulge, sweet smell"),
        ("touchpad-wont-click", "gap uneven, the pad stands proud"),
        ("touchpad-click-stuck", "the pad stands proud"),
        ("touchpad-dead", "the pad stands proud"),
        ("touchpad-pointer-jumps", "domed or proud"),
        ("keys-sticky", "rocks or is domed"),
        ("keys-type-by-themselves", "keyboard domed"),
        ("cover-does-not-close", "pad proud, a dome"),
        ("burning-smell-or-smoke", "sweet smell like nail polish"),
    ],
)
def test_once_a_look_has_shown_a_bad_pack_nothing_is_pressed_or_charged(
    stock_bench: Bench, slug: str, shows: str
) -> None:
    """Looks of other sheets may come in between; then the pack is taken out, or something harmless is looked at."""
    entry = _sheet(stock_bench, slug)
    (look,) = [test for test in entry.tests if test.first]
    (bad,) = [
        outcome.text for outcome in look.outcomes if outcome.text.startswith(shows)
    ]
    findings = [Finding(f"{slug}/{look.slug}", bad)]

    step = _step(stock_bench.asking.search(entry.title, findings=findings))
    while step.held:
        findings.append(Finding(f"{step.entry}/{step.name}", step.outcomes[0]))
        step = _step(stock_bench.asking.search(entry.title, findings=findings))

    assert step.kind == "fix" or not re.search(
        r"\b(?:press|push|charg|click)", step.title, re.I
    )


@pytest.mark.parametrize(
    "slug", ["touchpad-wont-click", "keys-sticky", "keys-type-by-themselves"]
)
def test_a_swollen_pack_is_looked_for_before_anything_is_pressed(
    stock_bench: Bench, slug: str
) -> None:
    entry = _sheet(stock_bench, slug)
    (look,) = [test for test in entry.tests if test.first]

    assert any("swollen-pack" in outcome.points_to for outcome in look.outcomes)
    for test in entry.tests:
        if re.search(r"\bpress", test.title, re.I):
            assert look in gates.waits_for(entry, test, ())


@pytest.mark.parametrize(
    ("slug", "begins", "waits"),
    [
        ("burning-smell-or-smoke", "Feed the board", "Measure the main supply line"),
        (
            "liquid-spill",
            "After cleaning and drying, start",
            "Measure the main supply line",
        ),
        ("corrosion-inside", "Start on a current-limited supply", "Clean one spot"),
        ("battery-swollen", "With another sound pack", "Open the cover without force"),
        ("bent-corner", "Read the disk's health", "Open it and look behind the dent"),
        (
            "drive-health-warning",
            "Run the drive's long self-test",
            "Ask whether the data are wanted",
        ),
        ("system-install-fails", "Delete all partitions", "Ask whose data"),
        ("owner-lock-active", "Erase the drive", "Ask the seller"),
    ],
)
def test_what_feeds_opens_or_erases_waits_for_what_makes_it_safe(
    stock_bench: Bench, slug: str, begins: str, waits: str
) -> None:
    entry = _sheet(stock_bench, slug)

    assert _test(entry, waits) in gates.waits_for(entry, _test(entry, begins), ())


def test_fine_panel_plugs_are_not_probed_under_power(
    library: tuple[Entry, ...],
) -> None:
    """A title names no plug to measure at; where the detail does, a breakout or power off stands beside it."""
    for entry in library:
        for test in entry.tests:
            if (
                re.search(r"\bmeasure\b", test.title, re.I)
                and "panel" in f"{entry.title} {test.title} {test.detail}"
            ):
                assert not re.search(
                    r"at the (?:panel|board's cable|lvds|edp)\b.*\b(?:plug|end)",
                    test.title,
                    re.I,
                ), test.title
    for slug in ("backlight-dead", "no-image-machine-runs", "brightness-stuck"):
        entry = next(one for one in library if one.slug == slug)
        assert any(
            "Never at the plug under power, unless through a breakout" in test.detail
            for test in entry.tests
        )


def test_a_tube_panel_is_looked_for_before_the_backlight_is_measured_under_power(
    library: tuple[Entry, ...],
) -> None:
    entry = next(one for one in library if one.slug == "backlight-dead")
    looks = {
        test.slug
        for test in entry.tests
        if any("tube panel" in outcome.text for outcome in test.outcomes)
    }
    live = [test for test in entry.tests if "live measuring" in test.does]

    assert looks
    assert len(live) == 2
    for test in live:
        before = set(test.after)
        before |= {
            name
            for other in entry.tests
            if other.slug in before
            for name in other.after
        }
        assert before & looks, test.title


# At once


@pytest.mark.parametrize(
    ("words", "deed"),
    [
        ("swollen battery", "Do not press on the pad, the keys or the lid."),
        (
            "hissing battery",
            "Switch it off, pull the charger and do not charge it again.",
        ),
        ("battery gets hot while charging", "Switch it off and pull the charger."),
        (
            "water dripping out of it after the flood, cellar, mains was on",
            "Pull the charger at the wall",
        ),
        (
            "I smell something like nail varnish remover near the palm rest",
            "leave it, keep away",
        ),
        (
            "smoke came out of the side",
            "Cut the mains at the wall, and do not switch it on again to see.",
        ),
        ("smells burnt", "clear the room and call the fire service"),
        (
            "spilled tea, it is still on",
            "Switch it off now: hold the power button until it is dark.",
        ),
        (
            "spilled tea, it is still on",
            "take the battery out if it comes off without tools",
        ),
        ("spilled tea, it is still on", "Do not switch it on"),
        (
            "clicking hard drive, data wanted",
            "Switch it off now: every further start can cost data.",
        ),
        ("clicking hard drive, data wanted", "Do not try again"),
        ("charger hums and stinks", "Pull the charger at the wall, not at its plug."),
        (TRIPS, "do not plug it in again before it was measured"),
        (TINGLES, "Do not touch the case of a machine that tingles"),
        ("my kid got a shock from the lid", "sees a doctor, even if they feel well"),
        ("found hot in the bag", "let it cool on stone or metal"),
    ],
)
def test_what_presses_is_said_at_once(
    stock_bench: Bench, words: str, deed: str
) -> None:
    assert any(deed in one for one in stock_bench.asking.search(words).at_once)


@pytest.mark.parametrize(
    ("words", "first"),
    [
        (
            "dropped the battery on concrete now it hisses a bit",
            "leave it, keep away and call the fire service",
        ),
        (
            "glowing fluff in the fan, sparks out of the vent",
            "Cut the mains at the wall",
        ),
        (
            "battery gets hot while charging",
            "leave it, keep away and call the fire service",
        ),
    ],
)
def test_what_hurts_most_is_said_before_what_is_done_with_the_machine(
    stock_bench: Bench, words: str, first: str
) -> None:
    assert first in stock_bench.asking.search(words).at_once[0]


@pytest.mark.parametrize(
    "words",
    [
        "wont start since smoke came out",
        "no picture, fan on, smells burnt",
        "keyboard row dead, the battery is swollen too",
        "screen flickers and the charger sparks",
    ],
)
def test_a_danger_named_beside_another_fault_is_heard(
    stock_bench: Bench, words: str
) -> None:
    assert stock_bench.asking.search(words).at_once


@pytest.mark.parametrize(
    "words",
    [
        "no sound from the speakers",
        "speakers hiss and crackle",
        "hinge stiff, no smoke, not swollen",
        "wifi drops every hour",
        "picture flickers on battery",
        "one key dead",
    ],
)
def test_nothing_is_alarmed_where_nothing_presses(
    stock_bench: Bench, words: str
) -> None:
    assert stock_bench.asking.search(words).at_once == ()


def test_of_what_people_write_nearly_all_danger_is_heard_and_hardly_anything_else(
    stock_bench: Bench, library: tuple[Entry, ...]
) -> None:
    """Every second line of the four measuring sets, of sheets that have deeds and of sheets that have none."""
    speaking = {entry.slug for entry in library if entry.deeds}
    asked = [
        one for name in ("dev", "own", "fresh", "blind") for one in questions(name)[::2]
    ]
    pressing = [one for one in asked if one.entries & speaking]

    heard = [
        one.words
        for one in pressing
        if stock_bench.asking.search(one.words, limit=1).at_once
    ]
    alarmed = [
        one.words
        for one in asked
        if one not in pressing and stock_bench.asking.search(one.words, limit=1).at_once
    ]

    assert len(asked) == 660
    assert len(heard) >= 0.95 * len(pressing)
    assert len(alarmed) <= 0.02 * (len(asked) - len(pressing)), alarmed


def test_deeds_are_few_short_and_end_in_a_full_stop(library: tuple[Entry, ...]) -> None:
    speaking = [entry for entry in library if entry.deeds]

    assert len(speaking) >= 12
    for entry in speaking:
        assert 1 <= len(entry.deeds) <= MOST_DEEDS, entry.slug
        assert all(
            len(deed) <= LONGEST_DEED and deed.endswith(".") for deed in entry.deeds
        ), entry.slug


# Whatever the complaint, whatever was shown


def _walks(library: tuple[Entry, ...]) -> Iterator[tuple[str, random.Random]]:
    """Every sheet's title, and of some a wording with one of a sheet that has something to look at first."""
    gated = [entry for entry in library if any(test.first for test in entry.tests)]
    for number, entry in enumerate(library):
        dice = random.Random(number)
        yield entry.title, dice
        if number % 6 == 1 or (LONG and number % 2):
            yield (
                f"{dice.choice(entry.wordings)}, {dice.choice(dice.choice(gated).wordings)}",
                dice,
            )


def test_no_step_is_proposed_before_a_first_test_of_any_sheet_that_holds_a_tenth(
    stock_bench: Bench, library: tuple[Entry, ...]
) -> None:
    """Steps are done with outcomes by chance, set aside or in vain, typed hastily or not, with and without tools."""
    sheets = {entry.slug: entry for entry in library}
    held = fixes = 0
    for words, dice in _walks(library):
        findings: list[Finding] = []
        failed: list[str] = []
        skipped: list[str] = []
        lacks = frozenset(
            dice.sample(
                ["torch", "multimeter", "earth tester", "live system stick"],
                dice.randrange(3),
            )
        )
        for _ in range(6):
            at = Done(failed=tuple(failed), skipped=tuple(skipped), lacks=lacks)
            answer = stock_bench.asking.search(
                words,
                findings=findings,
                limit=10,
                unfinished=dice.random() < 0.5,
                at=at,
            )
            step = answer.next_step
            if step is None:
                break
            done = {finding.test for finding in findings}
            _obeys_the_gates(answer, sheets, done)
            held += bool(step.held)
            fixes += step.kind == "fix"
            name = f"{step.entry}/{step.name}"
            if step.kind == "else":
                break
            if step.kind == "fix":
                failed.append(name)
            elif dice.random() < 0.15:
                skipped.append(name)
            else:
                findings.append(Finding(name, dice.choice(step.outcomes)))

    assert held > 25
    assert fixes > 25


def _obeys_the_gates(answer: Answer, sheets: dict[str, Entry], done: set[str]) -> None:
    """The step comes before no unanswered first test of a likely sheet, and before nothing that it waits for."""
    likely = [
        sheets[one.entry] for one in answer.entries if one.probability >= LEAST_SHARE
    ]
    first = [
        f"{entry.slug}/{test.slug}"
        for entry in likely
        for test in entry.tests
        if test.first and f"{entry.slug}/{test.slug}" not in done
    ]
    for step in filter(None, (answer.next_step, answer.next_test)):
        name = f"{step.entry}/{step.name}"
        assert not first or name in first, (answer.query, name, first)
        entry = sheets.get(step.entry)
        taken = (
            (entry.test(step.name) if step.kind == "test" else entry.fix_for(step.name))
            if entry
            else None
        )
        if entry and taken:
            answered = [
                one.partition("/")[2]
                for one in done
                if one.startswith(f"{entry.slug}/")
            ]
            assert gates.waits_for(entry, taken, answered) == (), (answer.query, name)
