"""The page of the library and of its checks."""

from __future__ import annotations

import pytest
from helpers.visiting import Visitor

from kb.bench.front import Bench

pytestmark = pytest.mark.shop("with_three_jobs")


# The library


def test_the_library_finds_by_words_in_an_entry(visitor: Visitor) -> None:
    page = visitor.go("/library?q=no+BATTERY+although")

    assert "The system shows no battery although one is fitted 3 jobs" in page.text
    assert "fault picture" in page.text
    assert len([to for to, _ in page.links if to.startswith("/entry/")]) < 10


def test_the_areas_of_the_whole_library_are_folded_those_of_a_short_list_are_not(
    visitor: Visitor,
) -> None:
    whole = visitor.go("/library").html
    unfolded = visitor.follow("Unfold all areas").html
    short = visitor.go("/library?q=no+battery+although").html

    assert (
        whole.count('<details class="area">')
        == unfolded.count('<details class="area" open>')
        > 10
    )
    assert whole.count('href="/entry/') == unfolded.count('href="/entry/')
    assert '<details class="area" open>' in short
    assert '<details class="area">' not in short + unfolded
    assert "Unfold all areas" not in short


def test_the_library_shows_own_text_unconfirmed_and_unusable_ones_alone(
    bench: Bench, visitor: Visitor
) -> None:
    stock = bench.entries.on_file("battery-not-detected")
    assert stock
    bench.entries.save(
        "harbour-damp", stock.text.replace("The system shows no battery", "Damp"), ""
    )
    (bench.folder / "entries" / "torn.md").write_text("nothing\n")

    own = visitor.go("/library?show=own")
    assert [to for to, _ in own.links if to.startswith("/entry/")] == [
        "/entry/torn/edit",
        "/entry/harbour-damp",
    ]
    assert "own text" in own.text
    assert "battery-not-detected" not in visitor.go("/library?show=new").html
    # its wordings stand in the stock entry too
    assert "/entry/harbour-damp" in visitor.go("/library?show=better").html
    assert "/entry/harbour-damp" not in visitor.go("/library?show=mend").html


def test_the_checks_name_every_remark_by_file_and_line(
    bench: Bench, visitor: Visitor
) -> None:
    (bench.folder / "entries").mkdir(exist_ok=True)
    (bench.folder / "entries" / "torn.md").write_text("nothing\n")

    page = visitor.go("/library/checks")

    for remark in bench.entries.check():
        assert f"line {remark.line}: {remark.problem}"[:60] in page.text.replace(
            " ", " "
        )
    assert page.text.count("line ") >= len(bench.entries.check()) > 0
    assert page.link("Edit") == "/entry/torn/edit"


def test_what_is_wrong_is_told_apart_from_what_could_be_better(
    bench: Bench, visitor: Visitor
) -> None:
    stock = bench.entries.on_file("battery-not-detected")
    assert stock
    assert (
        "could be better"
        not in visitor.go("/library").text.partition("that could be better")[2]
    )
    thin = (
        stock.text.replace("The system shows no battery", "Damp").partition(
            "## Also heard as"
        )[0]
        + "## Also heard as\n\n- drips\n"
    )
    near = "## See also\n\n- **no-such-entry**: it drips\n"
    bench.entries.save("harbour-damp", thin, "")
    bench.entries.save(
        "harbour-salt", stock.text.partition("## See also")[0] + near, ""
    )

    page = visitor.go("/library")
    told = {
        slug: visitor.go(f"/library?show={slug}").html for slug in ("mend", "better")
    }
    checks = visitor.go("/library/checks").text

    assert "1 thing to mend" in page.text
    assert "things could be better" in page.text
    assert ("harbour-salt" in told["mend"], "harbour-damp" in told["mend"]) == (
        True,
        False,
    )
    assert "harbour-damp" in told["better"]
    wrong, better = checks.split("Could be better")
    assert "there is no entry no-such-entry" in wrong.replace("`", "")
    assert "Also heard as has 1" in better.replace("`", "")


def test_the_list_of_checks_is_that_of_the_command(bench: Bench) -> None:
    assert list(bench.entries.catalogue().remarks) == bench.entries.check()
