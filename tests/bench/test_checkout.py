"""The desk for check-outs: what is written down, what comes next, and that nobody signs what is not ready."""

from __future__ import annotations

import pytest

from kb.base.trouble import Refusal
from kb.bench.checkout import NoLine, NotReady, RepairerSigns
from kb.bench.front import Bench
from kb.bench.machines import NoMachine
from kb.bench.returns import come_back
from kb.history import kinds
from kb.history.jobs import OpenJob
from kb.machines.checkout.standing import LineState
from kb.model import Confirmation

#: What is read at the lines that say so.
VALUES = {"wear": "91 %", "wipe": "sanitize, report 100 %"}
TAG = "P7-012"
PLUG = "no-battery/plug"


@pytest.fixture
def bench_with_machine(bench: Bench) -> Bench:
    bench.machines.write(kinds.UNIT_IN, {"tag": TAG, "model": "Tern 13", "lot": "P7"})
    return bench


def all_good(bench: Bench, by: str = "JT", but: tuple[str, ...] = ()) -> None:
    """Go through everything that is left, in the order proposed."""
    while (line := bench.checkout.of(TAG).next_line) and line.line.name not in but:
        bench.checkout.good(
            TAG, line.line.name, value=VALUES.get(line.line.reads, ""), by=by
        )


def test_a_fresh_machine_begins_with_what_can_hurt_and_what_is_law(
    bench_with_machine: Bench,
) -> None:
    stands = bench_with_machine.checkout.of("p7 - 012")

    assert [todo.line.name for todo in stands.way.todo[:3]] == [
        "pack-flat",
        "locks-absent",
        "wiped",
    ]
    assert len(stands.way.todo) == len(stands.checklist.lines)
    assert stands.way.expected_minutes < stands.way.listed_minutes
    assert not stands.is_ready


def test_a_machine_and_a_line_that_there_are_not_are_told(
    bench_with_machine: Bench,
) -> None:
    with pytest.raises(NoMachine):
        bench_with_machine.checkout.of("P9-001")
    with pytest.raises(NoLine, match="no line `every-kye`; did you mean `every-key`"):
        bench_with_machine.checkout.good(TAG, "every-kye")
    with pytest.raises(NoLine, match="it has pack-flat, locks-absent"):
        bench_with_machine.checkout.good(TAG, "zzz")


def test_what_showed_good_is_left_no_more_and_can_be_taken_back(
    bench_with_machine: Bench,
) -> None:
    desk = bench_with_machine.checkout
    desk.good(TAG, "Pack-Flat", by="JT")
    assert desk.of(TAG).next_line is not None
    assert "pack-flat" not in [todo.line.name for todo in desk.of(TAG).way.todo]

    desk.take_back(TAG, "pack-flat")

    assert desk.of(TAG).way.todo[0].line.name == "pack-flat"
    with pytest.raises(Refusal, match="showed nothing yet"):
        desk.take_back(TAG, "pack-flat")


def test_a_wipe_without_its_record_is_no_wipe(bench_with_machine: Bench) -> None:
    """The record of a sanitization is part of it: NIST SP 800-88 Rev. 2, section on its documentation (from memory)."""
    with pytest.raises(Refusal, match="wiped is good with its record alone"):
        bench_with_machine.checkout.good(TAG, "wiped", value="  ")

    assert "wiped" not in bench_with_machine.machines.unit(TAG).lines


def test_nothing_is_installed_before_the_drive_was_wiped(
    bench_with_machine: Bench,
) -> None:
    with pytest.raises(Refusal, match="install comes after wiped; show that first"):
        bench_with_machine.checkout.good(TAG, "install")

    bench_with_machine.checkout.good(TAG, "wiped", value="sanitize, report 100 %")
    bench_with_machine.checkout.good(TAG, "install")

    assert bench_with_machine.checkout.of(TAG).readings.wipe == "sanitize, report 100 %"


def test_a_failed_line_opens_a_job_with_the_words_and_is_mended_with_it(
    bench_with_machine: Bench,
) -> None:
    bench = bench_with_machine

    failed = bench.checkout.bad(TAG, "charges", "battery sign crossed out", by="JT")

    job = bench.jobs.job(failed.job)
    assert (job.words, job.model, job.unit) == (
        "battery sign crossed out",
        "Tern 13",
        TAG,
    )
    assert bench.checkout.opened_by(failed.job, TAG) == "charges"
    assert [one.line.name for one in bench.checkout.of(TAG).failed] == ["charges"]
    assert bench.checkout.bad(TAG, "charges").job == failed.job

    bench.jobs.confirm(Confirmation(PLUG, job=failed.job, by="AW"))

    stands = bench.checkout.of(TAG).at("charges")
    assert stands is not None
    assert stands.state is LineState.GOOD
    assert bench.machines.machine(TAG).stands.line.failed_lines == ()


def test_without_words_a_failed_line_is_searched_with_its_first_fault_picture(
    stock_bench: Bench,
) -> None:
    line = stock_bench.checkout.line("every-key")

    pictures = stock_bench.checkout.pictures_of(line)

    row_of_keys = stock_bench.entries.entry("row-of-keys-dead")
    assert row_of_keys is not None
    assert len(pictures) == len(line.sheets)
    assert pictures[0] == row_of_keys.title


def test_a_job_of_a_failure_taken_back_is_put_away_unless_something_was_found(
    bench_with_machine: Bench,
) -> None:
    bench = bench_with_machine
    untouched = bench.checkout.bad(TAG, "pad").job
    bench.checkout.take_back(TAG, "pad")
    touched = bench.checkout.bad(TAG, "charges").job
    bench.jobs.did_not_help(touched, PLUG)
    bench.checkout.take_back(TAG, "charges")

    def is_open(job: OpenJob) -> bool:
        return not job.retracted

    assert not is_open(bench.jobs.job(untouched))
    assert is_open(bench.jobs.job(touched))


def test_the_same_form_sent_twice_is_written_once(bench_with_machine: Bench) -> None:
    first = bench_with_machine.checkout.bad(TAG, "pad", "dead", token="t")
    bench_with_machine.checkout.take_back(TAG, "pad", token="u")
    before = bench_with_machine.history().tip()

    assert (
        bench_with_machine.checkout.bad(TAG, "pad", "dead", token="t").job == first.job
    )
    assert bench_with_machine.history().tip() == before


def test_a_failed_pinned_line_holds_everything_else(bench_with_machine: Bench) -> None:
    bench_with_machine.checkout.bad(TAG, "pack-flat", "the pack bulges")

    way = bench_with_machine.checkout.of(TAG).way

    assert way.todo == ()
    assert {waits for _, waits in way.held} == {("pack-flat",)}


def test_waiving_needs_a_reason_and_is_not_for_what_can_hurt_is_law_or_is_work(
    bench_with_machine: Bench,
) -> None:
    desk = bench_with_machine.checkout
    with pytest.raises(Refusal, match="camera is waived for a reason alone"):
        desk.waive(TAG, "camera", " ")
    for line in ("pack-flat", "locks-absent", "wiped"):
        with pytest.raises(Refusal, match=f"{line} is never waived"):
            desk.waive(TAG, line, "no time")
    with pytest.raises(Refusal, match="close-up is a step of work"):
        desk.waive(TAG, "close-up", "no time")
    with pytest.raises(Refusal, match="wiped is a pinned line; say in a few words why"):
        desk.not_there(TAG, "wiped")

    desk.waive(TAG, "camera", "covered by the owner's wish")

    assert desk.of(TAG).open_points == ("camera waived (covered by the owner's wish)",)


def test_what_is_not_there_is_settled(bench_with_machine: Bench) -> None:
    bench_with_machine.checkout.not_there(TAG, "card-reader")

    stands = bench_with_machine.checkout.of(TAG).at("card-reader")

    assert stands is not None
    assert stands.is_settled


def test_a_machine_that_is_not_ready_is_not_signed(bench_with_machine: Bench) -> None:
    with pytest.raises(
        NotReady, match="P7-012 is not ready to be signed: 34 lines open: pack-flat"
    ):
        bench_with_machine.checkout.sign(TAG, "JT")
    assert bench_with_machine.machines.unit(TAG).signature is None


def test_whoever_repaired_does_not_sign_and_somebody_else_does(
    bench_with_machine: Bench,
) -> None:
    bench = bench_with_machine
    job = bench.checkout.bad(TAG, "charges", "battery sign crossed out").job
    bench.jobs.confirm(Confirmation(PLUG, job=job, by="AW"))
    all_good(bench)
    bench.checkout.waive(TAG, "camera", "none wanted")
    assert bench.checkout.of(TAG).is_ready

    with pytest.raises(
        RepairerSigns, match="aw repaired P7-012, and whoever repaired does not sign"
    ):
        bench.checkout.sign(TAG, " aw ")
    with pytest.raises(Refusal, match="give your initials"):
        bench.checkout.sign(TAG, " ")
    bench.checkout.sign(TAG, "JT")

    signed = bench.checkout.of(TAG).signature
    assert signed is not None
    assert (signed.by, signed.wear, signed.open) == (
        "JT",
        "91 %",
        "camera waived (none wanted)",
    )
    assert bench.machines.machine(TAG).stands.state.value == "ready"


def test_a_repair_after_signing_takes_the_signature_its_power_and_makes_lines_stale(
    bench_with_machine: Bench,
) -> None:
    bench = bench_with_machine
    all_good(bench)
    bench.checkout.sign(TAG, "JT")

    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit=TAG, part="battery", by="AW"))

    stands = bench.checkout.of(TAG)
    again = [todo.line.name for todo in stands.way.todo]
    assert stands.signature is None
    assert not stands.is_ready
    assert {"charges", "close-up", "memory"} <= set(again)
    assert "every-key" not in again
    assert stands.way.todo[0].why.startswith(
        "again, since work on the battery went that deep"
    )


@pytest.mark.parametrize("happens", ["job", "part", "donor", "gone"])
def test_what_else_keeps_a_machine_here(
    bench_with_machine: Bench, happens: str
) -> None:
    bench = bench_with_machine
    all_good(bench)
    match happens:
        case "job":
            bench.jobs.begin("dead", "Tern 13", TAG)
        case "part":
            bench.machines.want(TAG, "panel")
        case "donor":
            bench.machines.give_up(TAG, "board dead")
        case "gone":
            bench.machines.let_go(TAG, "sold")

    with pytest.raises(NotReady):
        bench.checkout.sign(TAG, "JT")


def test_shares_are_learned_from_check_outs_by_model_each_machine_once(
    bench: Bench,
) -> None:
    for number in range(6):
        tag = f"P7-{number}"
        bench.machines.write(
            kinds.UNIT_IN, {"tag": tag, "model": "TERN 13" if number < 4 else "Skua 14"}
        )
        for _ in range(2):
            bench.machines.write(
                kinds.FUNCTION,
                {"tag": tag, "line": "pad", "shown": "bad" if number < 1 else "good"},
            )
    bench.machines.write(
        kinds.FUNCTION, {"tag": "P7-0", "line": "pad", "shown": "good"}
    )
    bench.machines.write(
        kinds.FUNCTION, {"tag": "P7-1", "line": "camera", "shown": "not-there"}
    )

    pad = next(
        todo
        for todo in bench.checkout.of("P7-3").way.todo
        if todo.line.name == "camera"
    )
    counted = {
        todo.line.name: todo.counted for todo in bench.checkout.of("P7-1").way.todo
    }

    assert pad.counted.here.seen == 0
    assert "pad" not in counted
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-9", "model": "Tern 13"})
    fresh = next(
        todo for todo in bench.checkout.of("P7-9").way.todo if todo.line.name == "pad"
    )
    assert (fresh.counted.here.bad, fresh.counted.here.seen) == (1, 4)
    assert (fresh.counted.elsewhere.bad, fresh.counted.elsewhere.seen) == (0, 2)
    assert fresh.counted.fails == pytest.approx((1 + 25 * (0 + 20 * 0.05) / 22) / 29)


def test_a_shop_s_own_list_is_the_one_in_force(bench_with_machine: Bench) -> None:
    house = bench_with_machine.folder / "entries" / "house"
    house.mkdir(parents=True)
    (house / "checkout.md").write_text(
        "- **keys** (2 min; often; sits 2): press all\n- **odd** (2 hours): no\n- **screws** (1 min; work): in\n"
    )

    stands = bench_with_machine.checkout.of(TAG)

    assert [one.line.name for one in stands.standing] == ["keys", "screws"]
    assert [remark.problem for remark in stands.checklist.remarks] == [
        "`2 hours` is not understood"
    ]
    bench_with_machine.checkout.good(TAG, "keys")
    bench_with_machine.checkout.good(TAG, "screws")
    bench_with_machine.checkout.sign(TAG, "JT")


def test_a_machine_back_from_its_buyer_shows_again_that_it_is_wiped_flat_and_without_a_lock(
    bench_with_machine: Bench,
) -> None:
    desk = bench_with_machine.checkout
    all_good(bench_with_machine)
    desk.sign(TAG, "AW")
    bench_with_machine.machines.let_go(TAG, "sold", 18500)

    job = come_back(bench_with_machine, TAG, "hot pack, switches off")

    bench_with_machine.jobs.retract(job, "nothing found")
    stands = desk.of(TAG)
    again = {todo.line.name: todo.why for todo in stands.way.todo}
    assert {"pack-flat", "locks-absent", "wiped", "install", "screen"} <= set(again)
    assert "memory" not in again
    assert again["wiped"].startswith("again, since the machine was away")
    assert (stands.is_ready, stands.signature) == (False, None)
    all_good(bench_with_machine)
    assert desk.of(TAG).is_ready


def test_a_machine_let_go_by_mistake_keeps_what_it_showed(
    bench_with_machine: Bench,
) -> None:
    all_good(bench_with_machine)
    bench_with_machine.checkout.sign(TAG, "AW")
    bench_with_machine.machines.let_go(TAG, "sold")

    come_back(bench_with_machine, TAG)

    stands = bench_with_machine.checkout.of(TAG)
    assert stands.way.todo == ()
    assert stands.signature is not None
