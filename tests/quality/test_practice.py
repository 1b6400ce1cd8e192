"""Steps that nobody at a bench would take so: what forty complaints walked through showed; mend the sheet, not this.

Common practice, no source.
"""

from __future__ import annotations

import pytest

from kb.bench.front import Bench
from kb.diagnosis.case import SoFar
from kb.library import gates
from kb.model import Entry, Finding

#: By sheet: a step that waits, a fix by its cause or a test by its number, and the number of the test it waits for.
WAITS = [
    pytest.param("no-sign-of-life", 4, 1, id="fed before it was looked at and smelt"),
    pytest.param("no-sign-of-life", 5, 1, id="measured before it was looked at"),
    pytest.param("no-sign-of-life", 7, 1, id="opened for a cell before a look"),
    pytest.param("wifi-missing", "card", 4, id="a new card, the old one never seated"),
    pytest.param("clock-resets", "time-setting", 1, id="the zone, for a lost clock"),
    pytest.param("liquid-spill", 4, 3, id="a magnifier before the wet path is known"),
    pytest.param("battery-sudden-drop", "cold-pack", 1, id="cold, nobody asked where"),
    pytest.param(
        "battery-sudden-drop", "low-level-action", 5, id="a level set that nobody read"
    ),
    pytest.param("drive-health-warning", "old-event", 5, id="old, no long self-test"),
]


@pytest.mark.parametrize(("slug", "step", "before"), WAITS)
def test_what_a_bench_does_first_is_waited_for(
    library: tuple[Entry, ...], slug: str, step: str | int, before: int
) -> None:
    entry = next(one for one in library if one.slug == slug)
    waiting = entry.tests[step - 1] if isinstance(step, int) else entry.fix_for(step)
    assert waiting

    assert entry.tests[before - 1] in gates.waits_for(entry, waiting, frozenset())


@pytest.mark.parametrize(
    "words",
    ["dead as a doornail, no light with the charger", "wont turn on"],
)
def test_a_dead_machine_is_looked_at_before_anything_is_plugged_in(
    stock_bench: Bench, words: str
) -> None:
    step = stock_bench.asking.search(words).next_step

    assert step
    assert step.title.startswith("Look, sniff and shake from outside")


def test_no_wireless_card_is_bought_before_the_old_one_was_seated(
    stock_bench: Bench,
) -> None:
    findings = [
        Finding("wifi-missing/" + name, outcome)
        for name, outcome in (
            (_slug(stock_bench, 2), "all on, no card named"),
            (_slug(stock_bench, 1), "still none"),
        )
    ]

    step = stock_bench.asking.search(
        "wifi not there at all", findings=findings, at=SoFar()
    ).next_step

    assert step
    assert (step.kind, step.name) in {
        ("test", _slug(stock_bench, 4)),
        ("fix", "card-seat"),
        ("test", _slug(stock_bench, 3)),
    }


def test_a_logo_that_stands_is_not_answered_with_another_charger(
    stock_bench: Bench,
) -> None:
    step = stock_bench.asking.search("stuck at the logo with the spinning dots")

    assert step.next_step
    assert step.next_step.entry == "stuck-at-logo"


def test_whoever_wants_the_data_may_leave_the_listening_out(
    library: tuple[Entry, ...],
) -> None:
    entry = next(one for one in library if one.slug == "drive-clicks-or-grinds")
    listening = entry.tests[1]

    assert listening.title.startswith("Listen for ten seconds")
    left = listening.outcomes[-1]
    assert left.text == "it stays off, the data are wanted"
    assert [*left.points_to, *left.clears, *left.see] == []


def test_a_brick_that_is_cracked_or_smells_is_not_plugged_in_again(
    stock_bench: Bench,
) -> None:
    words = "charger brick hums and gets hot, no charge"
    look = stock_bench.asking.search(words).next_step
    assert look
    assert look.title.startswith("Look at brick, both leads and both plugs")
    cracked = Finding(
        f"charger-alone/{look.name}", "the brick is cracked, rattles or smells"
    )

    step = stock_bench.asking.search(words, findings=[cracked]).next_step

    assert step
    assert (step.kind, step.name) == ("fix", "brick-dead")


def test_of_two_sockets_the_one_that_was_named_is_looked_at(
    stock_bench: Bench,
) -> None:
    entry = stock_bench.entries.entry("outside-screen-not-found")
    assert entry
    listed = Finding(
        f"{entry.slug}/{entry.tests[1].slug}", "listed, but the screen says no signal"
    )

    found = stock_bench.asking.search(
        "external monitor over hdmi not detected", findings=[listed]
    )

    assert found.entries[0].entry == "hdmi-no-signal"


def _slug(bench: Bench, number: int) -> str:
    entry = bench.entries.entry("wifi-missing")
    assert entry
    return entry.tests[number - 1].slug
