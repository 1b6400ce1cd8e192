"""Pallets read from lists: every mistake named by its line, nothing written by a dry run, nothing twice."""

from __future__ import annotations

import hashlib
from pathlib import Path

import pytest
from helpers.arriving import PLANTED, furnished, planted

from kb.bench.front import Bench
from kb.machines import arrival
from kb.machines.arrival import InShop


def digest(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


def test_a_dry_run_names_twelve_planted_mistakes_by_line_and_writes_nothing(
    bench: Bench,
) -> None:
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


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
def test_the_separator_is_the_one_of_the_headings(separator: str) -> None:
    """An eight-line pallet with commas in its complaints is still one of semicolons."""
    head = separator.join(("Serial No", "MACHINE", "Fault", "Location", "Label"))
    rows = [
        separator.join((f"S{n}", "Tern 13", f"{n} dead", "A1", f"P7-{n}"))
        for n in range(8)
    ]

    table = arrival.read_table("\n".join((head, *rows)), "pallet.csv")

    assert table.remarks == ()
    assert [row.values["tag"] for row in table.rows] == [f"P7-{n}" for n in range(8)]
    assert table.rows[3].values == {
        "serial": "S3",
        "model": "Tern 13",
        "words": "3 dead",
        "place": "A1",
        "tag": "P7-3",
    }


def test_a_column_that_is_not_known_is_told_and_left_out() -> None:
    table = arrival.read_table("model,colour,model\nTern 13,grey,x\n", "p.csv")

    assert [remark.problem[:45] for remark in table.remarks] == [
        "nothing is known of a column `colour`, it is ",
        "two columns are headed model, the second is l",
    ]
    assert table.rows[0].values == {"model": "Tern 13"}


@pytest.mark.parametrize(
    "text", ["", "\n \n", "tag,words\nP7-1,dead\n", '"model\nTern 13\n']
)
def test_a_list_without_a_model_column_is_told_on_its_first_line(text: str) -> None:
    table = arrival.read_table(text, "p.csv")

    assert table.rows == ()
    assert table.remarks[-1].line == 1


def test_a_complaint_over_two_lines_in_quotes_is_one_and_later_lines_keep_their_numbers() -> (
    None
):
    table = arrival.read_table(
        'model,words\nTern 13,"dead\nand hot"\nSkua 14,keys,x\n', "p.csv"
    )

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
