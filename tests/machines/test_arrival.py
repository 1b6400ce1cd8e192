"""Pallets read from lists: every mistake named by its line, nothing written by a dry run, nothing twice."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest

from kb.bench.front import Bench
from kb.history import kinds
from kb.machines import arrival
from kb.machines.arrival import InShop

MODELS = ("Tern 13", "Skua 14", "Plover 15", "Fulmar 14")


def good_lines() -> list[str]:
    """A pallet of 40 good machines under headings; the first machine stands on line 2."""
    rows = [f"P7-{n:03d},{MODELS[n % 4]},no battery {n},A{n}" for n in range(1, 41)]
    return ["Tag,Model,Complaint,Shelf", *rows]


def furnished(bench: Bench) -> None:
    """A shop that knows the four models, and a machine P6-001 with a serial."""
    for number, model in enumerate(MODELS):
        body = {"tag": f"P6-{number + 1:03d}", "model": model, "lot": "P6", "serial": f"SN-{number}"}
        bench.machines.write(kinds.UNIT_IN, body)


#: Twelve mistakes, each by the line it is planted on, and a word of what is said of it.
PLANTED = {
    3: ("P7-001,Skua 14,dead,A2", "stands on line 2 too"),
    6: ("P6-001,Tern 13,dead,A5", "is in the shop already"),
    9: ("P7-008,Tren 13,dead,A8", "the nearest is Tern 13"),
    12: ("P7-011,,dead,A11", "the model is missing"),
    15: ("P7-014,Skua 14,dead, loud, hot,A14", "6 fields"),
    18: ('P7-017,Skua 14,"dead,A17', "a quote on this line"),
    20: ("1.2E+05,Skua 14,dead,A19", "spreadsheet"),
    22: (f"P7-021,Skua 14,{'x' * 501},A21", "501 characters"),
    25: ("P7/024,Skua 14,dead,A24", "a stroke"),
    28: ("P7-027,Skua 14,de\x07ad,A27", "cannot be read"),
    31: ("--,Skua 14,dead,A30", "neither a letter nor a digit"),
    40: ("p7 - 002,Skua 14,dead,A39", "stands on line"),
}


def planted() -> str:
    lines = good_lines()
    for number, (line, _) in PLANTED.items():
        lines[number - 1] = line
    lines[3] = "P7-002,Plover 15,hinge loose,A3"
    return "\n".join(lines) + "\n"


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_dry_run_names_twelve_planted_mistakes_by_line_and_writes_nothing(bench: Bench) -> None:
    furnished(bench)
    bench.machines.units()
    before = digest(bench.folder / "history.db")

    pallet = bench.arrivals.read_pallet(planted(), "P7", "pallet.csv")

    assert [remark.line for remark in pallet.remarks] == sorted(PLANTED)
    for remark in pallet.remarks:
        assert PLANTED[remark.line][1] in remark.problem, remark
        assert remark.instead
    assert len(pallet.arriving) == 28
    assert digest(bench.folder / "history.db") == before


def test_the_good_lines_come_in_and_the_same_list_again_changes_nothing(bench: Bench) -> None:
    furnished(bench)
    bench.arrivals.take_in(planted(), "P7", "pallet.csv")
    count = bench.history().tip().count
    assert count == 4 + 28

    again = bench.arrivals.take_in(planted(), "P7", "pallet.csv")

    assert bench.history().tip().count == count
    assert (len(again.arriving), len(again.known)) == (0, 28)
    assert [remark.line for remark in again.remarks] == sorted(PLANTED)


def test_machines_without_a_tag_get_the_next_free_one_and_do_not_come_twice(bench: Bench) -> None:
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-0041", "model": "Tern 13", "lot": "P7"})
    text = "model;complaint\nTern 13;dead\nTern 13;dead\nTern 13;hinge loose\n"

    first = bench.arrivals.take_in(text, "P7")
    again = bench.arrivals.take_in(text, "P7")

    assert [one.tag for one in first.arriving] == ["P7-0042", "P7-0043", "P7-0044"]
    assert (len(again.arriving), len(again.known)) == (0, 3)


def test_a_machine_that_only_a_job_has_named_comes_in_under_its_tag(bench: Bench) -> None:
    bench.jobs.begin("no battery", "Tern 13", "P7-001")

    pallet = bench.arrivals.take_in("tag,model,place\nP7-001,Tern 13,A1\n", "P7")

    assert pallet.remarks == ()
    found = bench.machines.unit("P7-001")
    assert (found.place, len(found.open_jobs)) == ("A1", 1)


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_the_one_of_the_headings(separator: str) -> None:
    """An eight-line pallet with commas in its complaints is still one of semicolons."""
    head = separator.join(("Serial No", "MACHINE", "Fault", "Location", "Label"))
    rows = [separator.join((f"S{n}", "Tern 13", f"{n} dead", "A1", f"P7-{n}")) for n in range(8)]

    table = arrival.read_table("\n".join((head, *rows)), "pallet.csv")

    assert table.remarks == ()
    assert [row.values["tag"] for row in table.rows] == [f"P7-{n}" for n in range(8)]
    assert table.rows[3].values == {"serial": "S3", "model": "Tern 13", "words": "3 dead", "place": "A1", "tag": "P7-3"}


def test_a_column_that_is_not_known_is_told_and_left_out() -> None:
    table = arrival.read_table("model,colour,model\nTern 13,grey,x\n", "p.csv")

    assert [remark.problem[:45] for remark in table.remarks] == [
        "nothing is known of a column `colour`, it is ", "two columns are headed model, the second is l",
    ]  # fmt: skip
    assert table.rows[0].values == {"model": "Tern 13"}


@pytest.mark.parametrize("text", ["", "\n \n", "tag,words\nP7-1,dead\n", '"model\nTern 13\n'])
def test_a_list_without_a_model_column_is_told_on_its_first_line(text: str) -> None:
    table = arrival.read_table(text, "p.csv")

    assert table.rows == ()
    assert table.remarks[-1].line == 1


def test_a_complaint_over_two_lines_in_quotes_is_one_and_later_lines_keep_their_numbers() -> None:
    table = arrival.read_table('model,words\nTern 13,"dead\nand hot"\nSkua 14,keys,x\n', "p.csv")

    assert table.rows[0].values["words"] == "dead and hot"
    assert [remark.line for remark in table.remarks] == [4]


def test_leading_zeros_of_a_tag_stay() -> None:
    read = arrival.read_table("tag,model\n0012,Tern 13\n", "p.csv")

    pallet = arrival.judge(read, "P7", InShop(), "p.csv")

    assert [one.tag for one in pallet.arriving] == ["0012"]


def test_a_new_model_far_from_all_others_comes_in_and_is_named(bench: Bench) -> None:
    furnished(bench)

    pallet = bench.arrivals.read_pallet("model\nWhimbrel 14\nWhimbrel 14\n", "P7")
    meant = bench.arrivals.read_pallet("model\nTern 14\n", "P7", new_models=True)

    assert (dict(pallet.new_models), pallet.remarks) == ({"Whimbrel 14": 2}, ())
    assert (dict(meant.new_models), meant.remarks) == ({"Tern 14": 1}, ())
