"""What outcomes say beyond their own sheet is believed: other sheets, the state of the machine, and nothing."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.states import CHARGER, DRAIN, TORCH, stated_bench

from kb.bench.front import Bench
from kb.diagnosis.answer import Answer
from kb.diagnosis.case import SoFar
from kb.model import Finding

DEAD = (Finding(DRAIN, "still nothing"),)


@pytest.fixture
def stated(tmp_path: Path) -> Iterator[Bench]:
    made = stated_bench(tmp_path)
    yield made
    made.close()


def _belief(answer: Answer) -> dict[str, float]:
    return {
        cause.cause: cause.probability
        for entry in answer.entries
        for cause in entry.causes
    }


def test_of_a_cause_that_a_test_says_nothing_of_the_belief_stays_between_the_others(
    stated: Bench,
) -> None:
    before = _belief(stated.asking.search("completely dead"))
    after = _belief(stated.asking.search("completely dead", findings=DEAD))

    assert before["stone-dead/charger"] == pytest.approx(before["stone-dead/hang"])
    assert (
        after["stone-dead/hang"]
        < after["stone-dead/charger"]
        < after["stone-dead/board"] * 6
    )


def test_an_outcome_that_points_to_another_sheet_brings_that_sheet_first(
    stated: Bench,
) -> None:
    """Though the words do not speak of it at all, and the test is trusted four times in five."""
    before = stated.asking.search("completely dead")
    after = stated.asking.search(
        "completely dead", findings=(Finding(TORCH, "faint picture"),)
    )

    assert before.entries[0].entry == "stone-dead"
    assert after.entries[0].entry == "dark-panel"
    assert after.entries[0].probability > 2 * before.entries[1].probability


def test_what_the_machine_does_rules_out_sheets_whose_machine_does_otherwise(
    stated: Bench,
) -> None:
    def of_network(*findings: Finding) -> float:
        return _belief(
            stated.asking.search("no light at the network", findings=findings)
        )["no-network/driver"]

    assert of_network() > 0.1
    assert of_network(*DEAD) < 0.02
    assert (
        of_network(*DEAD, Finding(CHARGER, "still nothing")) < of_network(*DEAD) * 1.5
    ), "said twice is said once"


def test_the_cure_of_a_dead_machine_does_not_speak_against_its_cause(
    stated: Bench,
) -> None:
    belief = _belief(
        stated.asking.search("completely dead", findings=(Finding(DRAIN, "it starts"),))
    )

    assert belief["stone-dead/hang"] > 0.95 * sum(belief.values())


@pytest.mark.parametrize("findings", [(), DEAD])
def test_nothing_that_needs_a_running_system_is_proposed_on_a_dead_machine(
    stated: Bench, findings: tuple[Finding, ...]
) -> None:
    skipped: list[str] = []
    for _ in range(8):
        answer = stated.asking.search(
            "completely dead", findings=findings, at=SoFar(skipped=skipped)
        )
        step = answer.next_step
        assert step is not None
        assert step.title not in (
            "Look into the log",
            "Read the device list",
            "Install it",
        )
        if step.kind != "test":
            break
        skipped.append(f"{step.entry}/{step.name}")


def test_a_fix_that_the_machine_cannot_take_gives_way_to_one_it_can(
    stated: Bench,
) -> None:
    tests = (
        "no-network/read-the-device-list",
        "no-network/try-another-port-of-the-switch",
        DRAIN,
        CHARGER,
        TORCH,
    )
    running = stated.asking.search(
        "no light at the network", at=SoFar(skipped=tests)
    ).next_step
    dead = stated.asking.search(
        "no light at the network", findings=DEAD, at=SoFar(skipped=tests)
    ).next_step

    assert running is not None
    assert (running.kind, running.name) == ("fix", "driver")
    assert dead is not None
    assert dead.name != "driver"


def test_waiting_costs_a_small_share_and_is_told(stated: Bench) -> None:
    """Draining takes 2 minutes and 10 of waiting, the other charger 3: counted whole, draining would come last."""
    answer = stated.asking.search("completely dead")
    drain = stated.asking.search(
        "no light, no fan, dead", at=SoFar(skipped=(CHARGER,))
    ).next_step

    assert drain is not None
    assert (drain.name, drain.minutes, drain.wait) == ("drain-it", 2, 10)
    assert answer.next_step is not None


def test_a_pallet_shop_believes_in_other_causes(stated: Bench) -> None:
    counter = _belief(stated.asking.search("completely dead"))
    stated.shop.kept_settings.set_source("pallet")
    pallet = stated.asking.search("completely dead")

    assert counter["stone-dead/charger"] > counter["stone-dead/board"] * 5
    assert (
        _belief(pallet)["stone-dead/board"] > _belief(pallet)["stone-dead/charger"] * 5
    )
    weights = {cause.cause: cause.weight for cause in pallet.entries[0].causes}
    assert weights["stone-dead/board"] == "often"


def test_among_steps_that_pay_alike_the_closed_one_comes_first_then_the_one_that_only_looks(
    tmp_path: Path,
) -> None:
    made = stated_bench(tmp_path)
    sheet = tmp_path / "stock" / "stone-dead.md"
    probe = "1. {} ({})\n    - it starts: charger\n    - still nothing: not charger\n"

    def first(*tests: tuple[str, str]) -> str:
        text = sheet.read_text().replace("(5 min", "(70 min")
        head, tail = text.split("## Cheapest test first")
        listed = "".join(probe.format(*test) for test in tests)
        sheet.write_text(
            f"{head}## Cheapest test first\n\n{listed}\n## Fix{tail.split('## Fix')[1]}"
        )
        step = made.asking.search("completely dead").next_step
        assert step is not None
        return step.title

    assert (
        first(("Open it", "2 min; cover off"), ("Probe it", "3 min; needs multimeter"))
        == "Probe it"
    )
    assert (
        first(("Probe it", "5 min; needs multimeter"), ("Look at it", "5.4 min"))
        == "Look at it"
    )
    assert (
        first(("Open it", "2 min; cover off"), ("Look at it", "13 min")) == "Open it"
    ), "not where it costs much more"
    made.close()


def test_a_fix_is_told_by_what_to_do_with_its_cause_below(stated: Bench) -> None:
    step = stated.asking.search(
        "completely dead", at=SoFar(skipped=(CHARGER, DRAIN, TORCH))
    ).next_step

    assert step is not None
    assert (step.kind, step.title) == ("fix", "Drain it")
    assert step.cause == "the controller hangs"


def test_when_a_picture_is_cleared_the_belief_goes_to_something_else_in_it(
    stated: Bench,
) -> None:
    cleared = (*DEAD, Finding(CHARGER, "still nothing"))
    failed = ("stone-dead/board", "stone-dead/hang", "stone-dead/charger")

    for words in (
        "stone dead no light at all",
        "it is stone dead, no light at all now",
    ):
        _looks_beyond(
            stated.asking.search(words, findings=cleared, at=SoFar(failed=failed))
        )


def _looks_beyond(answer: Answer) -> None:
    unlisted = {entry.entry: entry.unlisted for entry in answer.entries}
    assert (
        unlisted["stone-dead"]
        == max(unlisted.values())
        > 10 * max(entry.probability for entry in answer.entries)
    )
    assert answer.next_step is not None
    assert answer.next_step.kind == "else"
