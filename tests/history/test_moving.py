"""Machines, lots and parts as lines: whole for one's own move, and nothing of them for other shops."""

from __future__ import annotations

import json
from pathlib import Path
from random import Random

import pytest
from helpers.floor_records import PRIVATE as NOTHING_OF
from helpers.floor_records import SAMPLES, write_sample
from helpers.histories import import_jobs
from helpers.places import CORPUS

from kb.bench.arrivals import Arrived
from kb.bench.front import Bench
from kb.history import kinds
from kb.history.exchange import export_everything, export_jobs, export_table
from kb.history.verification import verify
from kb.model import Confirmation

PLUG = "no-battery/plug"
#: What stays at home, as it stands in the furnished shop.
PRIVATE = ("SN-123456", "Quay Disposals", "86400", "shelf A7", "12345", "in the attic")


@pytest.fixture
def other(tmp_path: Path) -> Bench:
    return Bench(tmp_path / "other", stock=CORPUS)


def furnish(bench: Bench) -> None:
    bench.machines.write(
        kinds.LOT,
        {"lot": "P7", "cents": 86400, "seller": "Quay Disposals", "freight_cents": 700},
    )
    for number in range(1, 6):
        bench.arrivals.arrive(
            Arrived(
                tag=f"P7-{number}",
                lot="P7",
                model="Tern 13",
                words="dead",
                place="shelf A7",
            )
        )
    bench.machines.correct("P7-1", {"serial": "SN-123456"})
    bench.jobs.confirm(
        Confirmation(PLUG, "Tern 13", unit="P7-1", by="AW", part="fan", donor="P7-5")
    )
    bench.machines.write(kinds.SIGNED, {"tag": "P7-1", "by": "JT", "look": "B"})
    bench.machines.let_go("P7-1", "sold", 12345)
    wrong = bench.machines.let_go("P7-2", "waste")
    bench.machines.strike(wrong.id, "wrong machine")
    bench.machines.give_up("P7-5", "board dead")
    bench.machines.want("P7-3", "panel")
    bench.machines.note("P7-3", "found in the attic", "AW")
    bench.arrivals.look_at("P7-4", {"pack-flat": "good", "every-key": "bad"}, "AW")
    told = {
        "part": "fan",
        "from_model": "Tern 13",
        "to_model": "Godwit 13",
        "shown": "worked",
        "source": "P7-1",
    }
    bench.machines.write(kinds.FIT, told)


def states(bench: Bench) -> list[tuple[str, str, str]]:
    return [(one.line.tag, one.state.value, one.todo) for one in bench.machines.units()]


def test_everything_moves_and_twice_changes_nothing(bench: Bench, other: Bench) -> None:
    furnish(bench)
    lines = list(export_everything(bench.history()))

    report = import_jobs(other.history(), lines)

    assert (report.added, report.remarks) == (1, ())
    assert states(other) == states(bench)
    assert other.machines.lot("P7").told == bench.machines.lot("P7").told
    assert other.machines.unit("P7-1").serial == "SN-123456"
    count = other.history().tip().count
    again = import_jobs(other.history(), lines)
    assert (again.added, again.floor, other.history().tip().count) == (0, 0, count)
    home = bench.history().tip().count
    assert import_jobs(bench.history(), lines).floor == 0
    assert bench.history().tip().count == home


def test_what_moved_twice_is_the_same_again(
    bench: Bench, other: Bench, tmp_path: Path
) -> None:
    furnish(bench)
    import_jobs(other.history(), export_everything(bench.history()))
    third = Bench(tmp_path / "third", stock=CORPUS)

    import_jobs(third.history(), export_everything(other.history()))

    assert states(third) == states(bench)


def test_serials_sellers_prices_and_places_never_travel_to_other_shops(
    bench: Bench,
) -> None:
    furnish(bench)

    told = "\n".join(export_jobs(bench.history(), with_retracted=True))

    assert [private for private in PRIVATE if private in told] == []
    lines = [json.loads(line) for line in told.splitlines()]
    assert [line.get("kind", "job") for line in lines] == ["job", "fit", "fit"]
    assert "source" not in lines[1]["body"]
    assert all(
        private in "\n".join(export_everything(bench.history())) for private in PRIVATE
    )


def test_of_no_kind_of_record_does_anything_private_travel_and_all_of_it_moves(
    bench: Bench, other: Bench
) -> None:
    assert {kind.name for kind, _ in SAMPLES} == {
        kind.name for kind in kinds.OF_THE_FLOOR
    }
    for number in range(2 * len(SAMPLES)):
        write_sample(bench.history(), number)
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13", unit="P7-001", place="shelf A7"))

    told = "\n".join(
        [
            *export_jobs(bench.history(), with_retracted=True),
            *export_table(bench.history(), True),
        ]
    )
    whole = "\n".join(export_everything(bench.history()))
    import_jobs(other.history(), whole.splitlines())

    assert [private for private in NOTHING_OF if private in told] == []
    assert [private for private in NOTHING_OF if private not in whole] == []
    kept = [
        [(one.kind, one.body) for one in shop.history().records_since()]
        for shop in (bench, other)
    ]
    named = [[one for one in told if one[0] == kinds.MOVED_IN.name] for told in kept]
    assert [one for one in kept[0][:-1] if one not in named[0]] == [
        one for one in kept[1][:-1] if one not in named[1]
    ]
    assert other.history().own_shops() == bench.history().own_shops() | {
        other.history().shop
    }
    assert states(other) == states(bench)
    found = verify(other.folder / "history.db")
    assert (found.problems(), found.of_the_floor, found.records) == (
        (),
        2 * len(SAMPLES) + 1,
        2 * len(SAMPLES) + 2,
    )


def test_a_merge_of_models_travels_with_the_jobs_as_they_were_written(
    bench: Bench, other: Bench
) -> None:
    for model in ("Tern13", "Tern 13"):
        bench.history().close_job(Confirmation(PLUG, model))
    before = list(export_jobs(bench.history()))
    bench.models.merge("Tern13", "Tern 13")

    lines = list(export_jobs(bench.history()))

    assert lines[:2] == before
    assert other.asking.models() == []
    assert import_jobs(other.history(), lines).remarks == ()
    assert (other.asking.models(), other.models.merges()[0].name) == (
        ["Tern 13"],
        "Tern13",
    )
    again = import_jobs(other.history(), before)
    assert (again.known, again.remarks) == (2, ())
    bench.models.part("Tern13")
    assert list(export_jobs(bench.history())) == before


def test_what_a_shop_tells_apart_itself_no_other_shop_merges(
    bench: Bench, other: Bench
) -> None:
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13"))
    bench.models.merge("Skua 14", "Tern 13")
    bench.models.merge("Skua14 G2", "Skua 14")
    other.arrivals.arrive(Arrived(tag="P7-1", lot="P7", model="skua 14"))
    other.models.merge("Skua14 G2", "skua 14")

    report = import_jobs(other.history(), export_jobs(bench.history()))

    assert [(one.line, one.problem) for one in report.remarks] == [
        (
            2,
            "elsewhere Skua 14 is the same as Tern 13, but here it has jobs or machines",
        ),
        (3, "Skua14 G2 is the same as skua 14 already"),
    ]
    assert (
        report.remarks[0].instead
        == 'if it is the same here, say so: benchlore same "Skua 14" "Tern 13"'
    )
    assert [(one.name, one.kept) for one in other.models.merges()] == [
        ("Skua14 G2", "skua 14")
    ]


@pytest.mark.parametrize(
    ("line", "problem"),
    [
        (
            '{"kind": "spaceship", "body": {}}',
            "nothing is known of records of the kind spaceship",
        ),
        (
            '{"kind": "gone", "body": {"tag": "P7-1", "how": "eaten"}}',
            "is none of sold",
        ),
        (
            '{"kind": "unit-in", "body": {"tag": "P7-1", "colour": "red"}}',
            "has no colour",
        ),
        ('{"kind": "unit-in"}', "the body is not a JSON object"),
        ('{"kind": "unit-in", "body": {"tag": 7}}', "7 is not a text"),
        ('{"kind": "moved-in", "body": {}}', "shop is missing"),
        ('{"kind": "struck", "body": {"why": "wrong"}}', "record is missing"),
        ('{"kind": "same-model", "body": {"model": "Tern 13"}}', "model is missing"),
    ],
)
def test_a_line_that_cannot_be_is_told_and_left_out(
    bench: Bench, line: str, problem: str
) -> None:
    report = import_jobs(bench.history(), [line])

    assert problem in report.remarks[0].problem
    assert bench.history().tip().count == 0


#: Values that a line may hold although nobody means them.
ODD: tuple[object, ...] = (
    "é",
    "\ud800",
    "\x00",
    "x" * 300,
    "../../a.jpg",
    "P7-1",
    "Tern 13",
    0,
    -1,
    1.5,
    2**70,
    None,
    True,
    [],
    {},
    [1],
)


def test_whatever_stands_in_a_line_it_is_taken_in_or_told(other: Bench) -> None:
    """Six hundred lines of every kind with odd values, each read and taken in without a fault of the program."""
    dice = Random("odd lines")
    for number in range(600):
        kind = dice.choice((*kinds.OF_JOBS, *kinds.OF_THE_FLOOR))
        body = {name: dice.choice(ODD) for name in kind.body if dice.random() < 0.8}
        line: dict[str, object] = {
            "kind": kind.name,
            "record": f"r{number}",
            "body": body,
        }
        line |= {
            name: dice.choice(ODD)
            for name in ("record", "job", "origin", "picture")
            if dice.random() < 0.4
        }
        report = import_jobs(other.history(), [json.dumps(line)])
        assert all(remark.problem and remark.instead for remark in report.remarks)

    assert verify(other.folder / "history.db").ok
    other.machines.lots()


@pytest.mark.parametrize("name", ["record", "origin"])
def test_a_record_of_a_name_that_cannot_be_stored_comes_in_once(
    bench: Bench, name: str
) -> None:
    line = json.dumps({"kind": "unit-in", name: "\ud800", "body": {"tag": "P7-1"}})

    assert [import_jobs(bench.history(), [line]).floor for _ in range(2)] == [1, 0]
