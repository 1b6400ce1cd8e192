"""Jobs of other shops: their tags are those of their own machines, until their folder is moved into this one."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.histories import import_jobs
from helpers.places import CORPUS

from kb.bench.front import Bench
from kb.bench.jobs import JobsWanted
from kb.bench.machines import NoMachine
from kb.bench.past import PastAsked
from kb.history import kinds
from kb.history.exchange import export_everything, export_jobs
from kb.index import file
from kb.index.jobs import machine_key
from kb.model import Confirmation

PLUG = "no-battery/plug"


def furnished(folder: Path, donor: str = "Skua 14") -> Bench:
    """A shop whose P7-1 waits for a fan, beside a donor P7-3 of another model."""
    bench = Bench(folder, stock=CORPUS)
    bench.machines.write(kinds.LOT, {"lot": "P7", "cents": 10000})
    for tag, model in (("P7-1", "Tern 13"), ("P7-3", donor)):
        bench.machines.write(
            kinds.UNIT_IN, {"tag": tag, "model": model, "lot": "P7", "words": "hot"}
        )
    bench.machines.give_up("P7-3", "board gone")
    bench.machines.want("P7-1", "fan")
    return bench


def mended(bench: Bench) -> str:
    """The id of the job that the donor's fan ended, after half an hour."""
    given = Confirmation(
        PLUG, "Tern 13", unit="P7-1", minutes=30, part="fan", donor="P7-3"
    )
    return bench.jobs.confirm(given, untested=True).job


@pytest.fixture(scope="module")
def shops(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Bench, Bench]]:
    """A shop that took in the jobs of another one, whose machines have the same tags; for reading only."""
    folder = tmp_path_factory.mktemp("shops")
    ours, theirs = (
        furnished(folder / "ours"),
        furnished(folder / "theirs", donor="Auk 15"),
    )
    job = mended(theirs)
    theirs.jobs.confirm(
        Confirmation(PLUG, "Tern 13", unit="Q3-9", part="fan"), untested=True
    )
    ours.parts.take("P7-3", "keyboard")
    import_jobs(ours.history(), export_jobs(theirs.history()))
    assert ours.jobs.job(job).closed
    yield ours, theirs
    ours.close()
    theirs.close()


@pytest.fixture
def ours(shops: tuple[Bench, Bench]) -> Bench:
    return shops[0]


def test_the_job_of_another_shop_says_nothing_of_our_machine_of_that_tag(
    ours: Bench,
) -> None:
    unit, donor = ours.machines.unit("P7-1"), ours.machines.unit("P7-3")

    assert [one.part for one in unit.wanted] == ["fan"]
    assert (unit.jobs, unit.work, unit.moved) == ((), (), ())
    assert [one.part for one in donor.moved] == ["keyboard"]
    assert [unit.line.tag for unit in ours.parts.wanting()] == ["P7-1"]
    with pytest.raises(NoMachine):
        ours.machines.unit("Q3-9")


def test_our_donor_keeps_its_part_and_what_fitted_there_is_learned_with_the_model_of_their_donor(
    ours: Bench,
) -> None:
    told = ours.parts.told()

    assert set(told.gone) == {("p7-3", "keyboard")}
    assert [(one.giver, one.receiver, one.shown) for one in told.tries["fan"]] == [
        ("Auk 15", "Tern 13", "worked")
    ]
    assert [
        offer.source.tag for offer in ours.parts.who_has("fan", "Skua 14").offers
    ] == ["P7-3"]


def test_its_part_costs_our_machine_nothing(ours: Bench) -> None:
    assert ours.cost.costs().unit("P7-1").parts == 0
    assert ours.cost.costs().unit("P7-1").share == 5000


def test_the_jobs_of_our_machine_are_asked_for_without_those_of_the_other(
    ours: Bench,
) -> None:
    assert ours.jobs.closed_like(JobsWanted(unit="p7-1")) == ()
    assert len(ours.jobs.closed_like(JobsWanted(model="Tern 13"))) == 2


def test_in_the_review_a_machine_of_another_shop_is_none_of_ours(ours: Bench) -> None:
    with ours.shop.knowing() as knowledge:
        machines = knowledge.index.jobs.closed("", "9999").machines

    assert len(machines) == 2
    assert machine_key("Tern 13", "P7-1", "") not in machines


def test_a_moved_shop_keeps_its_jobs_on_its_machines_and_those_of_others_off_them(
    shops: tuple[Bench, Bench], tmp_path: Path
) -> None:
    """In one folder: jobs of two other shops, and a move of a third that holds jobs of one of these."""
    ours, theirs = shops
    moving, new = furnished(tmp_path / "moving"), Bench(tmp_path / "new", stock=CORPUS)
    job = mended(moving)
    import_jobs(moving.history(), export_jobs(theirs.history()))
    import_jobs(
        new.history(), [*export_jobs(theirs.history()), *export_jobs(ours.history())]
    )
    assert new.machines.units() == ()

    import_jobs(new.history(), export_everything(moving.history()))

    for shop in (moving, new):
        unit = shop.machines.unit("P7-1")
        assert (unit.wanted, [one.job for one in unit.jobs]) == ((), [job])
        assert [one.part for one in shop.machines.unit("P7-3").moved] == ["fan"]
        tries = shop.parts.told().tries["fan"]
        assert sorted((one.giver, one.receiver) for one in tries) == [
            ("Auk 15", "Tern 13"),
            ("Skua 14", "Tern 13"),
        ]
        assert [one.job for one in shop.jobs.closed_like(JobsWanted(unit="P7-1"))] == [
            job
        ]
        assert [unit.line.tag for unit in shop.machines.units()] == ["P7-1", "P7-3"]
    third = Bench(tmp_path / "third", stock=CORPUS)
    import_jobs(third.history(), export_everything(new.history()))
    assert [one.job for one in third.machines.unit("P7-1").jobs] == [job]


def test_jobs_that_came_before_their_shop_was_moved_are_on_its_machines_from_then_on(
    tmp_path: Path,
) -> None:
    old, new = furnished(tmp_path / "old"), Bench(tmp_path / "new", stock=CORPUS)
    job = mended(old)
    import_jobs(new.history(), export_jobs(old.history()))
    assert new.machines.units() == ()
    assert [(one.giver, one.receiver) for one in new.parts.told().tries["fan"]] == [
        ("Skua 14", "Tern 13")
    ]

    import_jobs(new.history(), export_everything(old.history()))

    assert [one.job for one in new.machines.unit("P7-1").jobs] == [job]
    assert [(one.giver, one.receiver) for one in new.parts.told().tries["fan"]] == [
        ("Skua 14", "Tern 13")
    ]
    assert import_jobs(new.history(), export_jobs(old.history())).floor == 0


def test_a_shop_with_jobs_alone_moves_with_its_machines(tmp_path: Path) -> None:
    old, new = (
        Bench(tmp_path / "old", stock=CORPUS),
        Bench(tmp_path / "new", stock=CORPUS),
    )
    job = mended(old)

    import_jobs(new.history(), export_everything(old.history()))

    assert [one.job for one in new.machines.unit("P7-1").jobs] == [job]


def by_a_program_of_old(bench: Bench) -> list[str]:
    """The lines of a move as they were before they named the shop."""
    return [
        line for line in export_everything(bench.history()) if '"moved-in"' not in line
    ]


def test_what_an_older_program_wrote_for_a_move_takes_the_jobs_in_it_for_our_own(
    tmp_path: Path,
) -> None:
    old, new = furnished(tmp_path / "old"), Bench(tmp_path / "new", stock=CORPUS)
    job = mended(old)

    import_jobs(new.history(), by_a_program_of_old(old))

    assert [one.job for one in new.machines.unit("P7-1").jobs] == [job]


def test_what_a_list_taught_goes_with_the_jobs_of_it_that_are_taken_back(
    shops: tuple[Bench, Bench], tmp_path: Path
) -> None:
    new, lines = (
        Bench(tmp_path / "new", stock=CORPUS),
        list(export_jobs(shops[1].history())),
    )
    past = new.past.read(
        "\n".join(lines).encode(), PastAsked(), "theirs.jsonl", dry=False
    )
    imported = new.past.find_import(past.imported)
    assert imported
    assert set(new.parts.told().tries) == {"fan"}

    new.past.take_back(imported, "the wrong file")

    assert new.parts.told().tries == {}
    new.close()
    assert new.history().own_shops() == {new.history().shop}
    assert import_jobs(new.history(), lines).floor == 0


def test_a_job_that_is_retracted_here_teaches_no_longer_though_another_shop_told_it(
    shops: tuple[Bench, Bench], tmp_path: Path
) -> None:
    new = Bench(tmp_path / "new", stock=CORPUS)
    import_jobs(new.history(), export_jobs(shops[1].history()))
    (job,) = (one.job for one in new.jobs.closed_like(JobsWanted()) if one.donor)

    new.jobs.retract(job, "it was the cable")

    assert new.parts.told().tries == {}


def test_an_index_of_the_version_before_is_made_anew_without_the_jobs_of_others(
    ours: Bench,
) -> None:
    assert ours.machines.unit("P7-1").jobs == ()
    (foreign,) = (
        one.seq
        for one in ours.history().records_since(0, "close")
        if '"P7-1"' in one.body
    )
    ours.close()
    with sqlite3.connect(ours.folder / "index.db") as index:
        index.execute("INSERT INTO floor SELECT 'p7-1', ?, 'x', 'y'", (foreign,))
    assert len(ours.machines.unit("P7-1").jobs) == 1
    ours.close()
    with sqlite3.connect(ours.folder / "index.db") as index:
        index.execute(
            "UPDATE about SET value = ? WHERE key = 'version'",
            (f"22 {file.VERSION.partition(' ')[2]}",),
        )

    assert ours.machines.unit("P7-1").jobs == ()
