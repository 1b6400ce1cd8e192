"""The commands for machines: what they print, as text and as JSON, and with which exit status."""

from __future__ import annotations

import json
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import get_args

import pytest
from click.testing import Result
from helpers.places import CORPUS

from kb.bench.front import Bench
from kb.cli import machines
from kb.model import Finding, WayOut

Run = Callable[..., Result]
PALLET = "tag,model,complaint,place\nP7-001,Tern 13,no battery,A1\nP7-002,Skua 14,keys dead,A2\n,Skua 14,,A3\n"


def test_the_ways_out_are_those_of_the_records() -> None:
    assert get_args(WayOut) == machines.WAYS_OUT


def test_a_pallet_comes_in_and_its_lot_and_machines_are_shown(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "pallet.csv").write_text(PALLET)

    dry = run("intake", "pallet.csv", "--lot", "P7", "--dry-run")
    assert "3 machines would come in as lot P7" in dry.stdout
    assert "nothing was written" in dry.stdout
    run("lot", "P7", status=2)

    assert (
        "3 machines taken in as lot P7"
        in run("intake", "pallet.csv", "--lot", "P7").stdout
    )

    lot = json.loads(run("lot", "p7", "--json").stdout)
    assert (lot["came_in"], lot["states"]["waiting"]) == (3, 3)
    assert [one["tag"] for one in lot["units"]] == ["P7-001", "P7-002", "P7-003"]
    assert [one["next"] for one in lot["units"]] == [
        "find the fault",
        "find the fault",
        "first look",
    ]
    assert "P7-002" in run("lot", "P7", "--model", "skua 14").stdout
    assert run("lot", "P7", "--state", "ready", status=1).stdout

    unit = json.loads(run("unit", " p7-001", "--json").stdout)
    assert (unit["model"], unit["place"], unit["state"]) == ("Tern 13", "A1", "waiting")
    assert "complaint: no battery" in run("unit", "P7-001").stdout


def test_a_list_is_read_from_standard_input_and_its_problems_are_told(run: Run) -> None:
    told = run(
        "intake",
        "-",
        "--lot",
        "P7",
        "--json",
        status=1,
        given='model\nTern 13\n,\n"x\n',
    )
    assert [one["line"] for one in json.loads(told.stdout)["problems"]] == [4]
    assert "standard input:4: a quote on this line" in told.stderr


def test_a_machine_that_nobody_knows_is_told_in_a_sentence(run: Run) -> None:
    assert (
        "no record names a machine P9-001"
        in run("unit", "p9-001".upper(), status=2).stderr
    )


def test_a_list_as_a_spreadsheet_of_the_west_writes_it_is_read(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "pallet.csv").write_bytes(
        "Model;Remark\nTern 13;Gehäuse gebrochen\n".encode("cp1252")
    )

    run("intake", "pallet.csv", "--lot", "P8")

    assert "Gehäuse gebrochen" in run("unit", "P8-001").stdout


def test_labels_of_a_lot_are_one_file_to_print_and_never_replace_another_unasked(
    run: Run, tmp_path: Path
) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)

    assert (
        "labels.html: 4"
        in run("labels", "X-1", "--lot", "P7", "--out", "labels.html").stdout
    )
    told = (tmp_path / "labels.html").read_text()
    assert all(f"<b>{tag}</b>" in told for tag in ("P7-001", "P7-002", "P7-003", "X-1"))
    assert (
        "add --replace"
        in run("labels", "--lot", "P7", "--out", "labels.html", status=1).stderr
    )
    assert "name tags" in run("labels", "--out", "other.html", status=2).stderr


def test_a_donor_tells_what_is_left_in_it_and_for_whom(
    run: Run, tmp_path: Path
) -> None:
    (tmp_path / "list.csv").write_text("tag,model\nP7-001,Tern 13\nP7-002,Tern 13\n")
    run("intake", "list.csv", "--lot", "P7", "--new-models")
    shop = Bench(tmp_path / "shop")
    shop.machines.give_up("P7-001", "lid broken")
    shop.machines.want("P7-002", "panel")
    shop.close()

    told = json.loads(run("unit", "P7-001", "--json").stdout)

    assert told["parts_left"][0]["part"] == "panel"
    assert told["parts_left"][0]["wanted_by"] == ["P7-002"]
    assert (
        "  left: panel, good 10 in 10, wanted by P7-002" in run("unit", "P7-001").stdout
    )
    assert json.loads(run("unit", "P7-002", "--json").stdout)["parts_left"] == []


def test_a_machine_ends_with_what_comes_next_and_the_command_for_it(run: Run) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)

    *_, last = run("unit", "P7-001").stdout.splitlines()
    assert last == "go on: benchlore guide 'no battery' --model 'Tern 13' --unit P7-001"
    told = json.loads(run("unit", "P7-003", "--json").stdout)["onward"]
    assert run("unit", "P7-003").stdout.endswith(
        f"go on: {told['what']} ({told['minutes']:g} min): benchlore checkout P7-003\n"
    )
    assert (told["command"], told["before"], told["job"]) == (
        "benchlore checkout P7-003",
        [],
        None,
    )
    assert told["line"]


def test_a_step_of_an_open_job_comes_after_what_keeps_one_safe(
    run: Run, tmp_path: Path
) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)
    with closing(Bench(tmp_path / "shop")) as bench:
        job = bench.jobs.begin("battery swollen, trackpad lifted", "Tern 13", "P7-001")

    told = json.loads(run("unit", "P7-001", "--json").stdout)["onward"]
    before, last = run("unit", "P7-001").stdout.splitlines()[-2:]

    assert (
        before
        == f"before: {told['before'][0]} ({len(told['before']) - 1} more in `benchlore guide`)"
    )
    assert (
        last
        == f"go on: {told['what']} ({told['minutes']:g} min): benchlore guide --job {job}"
    )


def test_a_tag_that_is_nearly_one_is_told_with_the_one_that_is_meant(run: Run) -> None:
    run("intake", "-", "--lot", "P7", given="model\n" + "Tern 13\n" * 120)

    assert "no record names a machine P7-2; " in run("unit", "P7-2", status=2).stderr
    assert "did you mean `P7-012`?" in run("unit", "P7-12", status=2).stderr
    assert "did you mean `P7-002`?" in run("unit", "P7-2", status=2).stderr
    assert "did you mean `P7-003`?" in run("checkout", "p7-03", status=2).stderr
    assert "did you mean" not in run("unit", "drawer", status=2).stderr


def test_a_machine_that_left_is_back_and_a_misread_tag_names_the_one_that_is_meant(
    run: Run, tmp_path: Path
) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)
    with closing(Bench(tmp_path / "shop")) as bench:
        bench.machines.let_go("P7-001", "sold")
    assert "P7-001  gone" in run("unit", "P7-001").stdout

    assert "P7-001  waiting" in run("unit", "P7-001", "--back").stdout

    assert "has not left the shop" in run("unit", "P7-001", "--back", status=1).stderr
    assert "did you mean `P7-001`?" in run("unit", "P7-OO1", status=2).stderr


def test_what_happens_to_a_machine_is_written_down_at_the_terminal(run: Run) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)

    assert run("unit", "P7-001", "--place", "C4").stderr == "P7-001 stands at C4\n"
    assert "C4" in run("unit", "P7-001").stdout
    assert run("unit", "P7-001", "--to", "KM").stderr == "KM has P7-001\n"
    assert (
        run("unit", "P7-002", "--give-up", "lid broken").stderr
        == "P7-002 is given up for its parts\n"
    )
    assert "P7-002  donor" in run("unit", "P7-002").stdout
    left = run("unit", "P7-001", "--gone", "sold", "--for", "185.00")
    assert left.stderr == (
        "P7-001 has left the shop (sold); its check-out is not signed: somebody's data may still be in it\n"
    )
    assert "P7-001  gone" in left.stdout


@pytest.mark.parametrize(
    ("told", "status", "said"),
    [
        (("--gone", "lost"), 2, "'lost' is not one of"),
        (("--for", "185.00"), 2, "give one of --place"),
        (("--place", "C4", "--for", "185.00"), 2, "give it with --gone"),
        (("--place", "C4", "--to", "KM"), 2, "give one of --place"),
        (("--gone", "sold", "--for", "much"), 1, "much"),
    ],
)
def test_what_cannot_be_written_down_of_a_machine_is_said_and_nothing_is(
    run: Run, told: tuple[str, ...], status: int, said: str
) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)

    assert said in run("unit", "P7-001", *told, status=status).stderr
    assert "P7-001  waiting" in run("unit", "P7-001").stdout


def test_a_list_that_tells_more_says_of_which_machines(run: Run) -> None:
    run("intake", "-", "--lot", "P7", given=PALLET)

    told = run(
        "intake",
        "-",
        "--lot",
        "P7",
        given="tag,model,look\nP7-001,tern13,scratched\nP7-009,Tern 13,\n",
    )

    assert "1 machine taken in as lot P7\ntags P7-009\n" in told.stdout
    assert "more is told of machines that were in already: P7-001" in told.stdout


def test_a_machine_says_why_it_was_given_up_and_for_how_much_it_left(
    run: Callable[..., Result],
) -> None:
    run("intake", "-", "--lot", "P7", given="tag,model\nP7-1,Tern 13\nP7-2,Tern 13\n")
    run("settings", "--currency", "EUR")

    donor = run("unit", "P7-1", "--give-up", "board dead").stdout
    gone = run("unit", "P7-2", "--gone", "sold", "--for", "185,00").stdout

    assert "given up for its parts: board dead" in donor
    assert ": sold for 185.00 EUR" in gone
    told = json.loads(run("unit", "P7-2", "--json").stdout)
    assert (told["gone"], told["gone_cents"], told["given_up"]) == ("sold", 18500, None)


def test_what_was_found_on_an_open_job_is_told_to_whoever_goes_on_with_it(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("kb.library.shelf.stock_folder", lambda: CORPUS)
    with closing(Bench(tmp_path / "shop", stock=CORPUS)) as bench:
        job = bench.jobs.begin("no battery", "Tern 13", "P7-1")
        entry = bench.entries.entry("no-battery")
        assert entry
        test = entry.tests[0]
        shown = next(iter(test.outcomes)).text
        bench.jobs.found(job, Finding(f"no-battery/{test.slug}", shown))
        bench.jobs.did_not_help(job, "no-battery/plug")

    told = run("unit", "P7-1").stdout

    assert f"    {shown} · {test.title}" in told
    assert "    no change · " in told
