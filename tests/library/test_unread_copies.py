"""A shop's copy of a stock entry that cannot be read takes nothing away: the stock entry stands in, and it is said."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import Result
from helpers.places import CORPUS
from helpers.visiting import Visitor

from kb.bench.front import Bench
from kb.diagnosis.answer import Answer
from kb.library import shelf
from kb.library.shelf import stock_folder
from kb.model import Confirmation
from webui.app import create_app

SLUG = "no-battery"
WORDS = "battery absent in setup"
STOCK = (CORPUS / f"{SLUG}.md").read_bytes()

Run = Callable[..., Result]
Break = Callable[[bytes], bytes]

#: What happens to files: each leaves nothing that can be served.
BREAKS: dict[str, Break] = {
    "the first line is lost": lambda text: text.partition(b"\n")[2],
    "it is empty": lambda text: b"",
    "it is not UTF-8": lambda text: text.replace(b"battery", b"batt\xe9rie"),
    "it is UTF-16": lambda text: text.decode().encode("utf-16"),
    "the title is lost": lambda text: b"\n".join(
        line for line in text.split(b"\n") if not line.startswith(b"title:")
    ),
    "half of the first list is all that was saved": lambda text: text[:120],
    "it is far too large": lambda text: text + b"x" * 70_000,
}
each_break = pytest.mark.parametrize("broken", BREAKS.values(), ids=BREAKS.keys())


def own_copy(shop: Path, slug: str, text: bytes) -> Path:
    path = shop / "entries" / f"{slug}.md"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(text)
    return path


def told(answer: Answer) -> Answer:
    return replace(answer, took_ms=0.0)


@each_break
def test_an_own_copy_that_cannot_be_read_leaves_the_answers_of_the_stock_entry(
    bench: Bench, broken: Break, tmp_path: Path
) -> None:
    untouched = Bench(tmp_path / "other", stock=CORPUS)
    own_copy(bench.folder, SLUG, broken(STOCK))
    for one in (bench, untouched):
        one.jobs.confirm(
            Confirmation(f"{SLUG}/light-board", "Tern 13", words="glimmer gone")
        )

    for words in (WORDS, "glimmer gone", "keys dead"):
        assert told(bench.asking.search(words, "Tern 13")) == told(
            untouched.asking.search(words, "Tern 13")
        )
    sheet = bench.entries.sheet(SLUG)
    assert sheet
    assert sheet.entry == untouched.entries.entry(SLUG)
    assert sheet.entry.safety
    untouched.close()


@each_break
def test_an_own_copy_that_cannot_be_read_is_named_everywhere(
    bench: Bench, broken: Break
) -> None:
    assert (bench.health.left_out(), bench.health.state().problems) == ((), ())
    path = own_copy(bench.folder, SLUG, broken(STOCK))

    (said,) = bench.health.left_out()

    assert said.startswith(f"entries/{SLUG}.md cannot be read (line ")
    assert said.endswith("), the stock entry is used instead; see `benchlore check`")
    assert "\n" not in said
    assert said in bench.health.warnings()
    assert bench.health.state().problems == (said,)
    instead = [
        remark
        for remark in bench.entries.check()
        if "the stock entry of that name is used instead" in remark.problem
    ]
    assert [(remark.file, remark.line) for remark in instead] == [(f"{SLUG}.md", 1)]
    path.write_bytes(STOCK)
    assert (bench.health.left_out(), bench.health.state().problems) == ((), ())


def test_a_copy_that_cannot_be_read_makes_no_other_entry_name_what_is_not_there(
    bench: Bench,
) -> None:
    """keys-dead names no-battery as its neighbour."""
    before = [remark for remark in bench.entries.check() if remark.file != f"{SLUG}.md"]
    own_copy(bench.folder, SLUG, b"")

    after = bench.entries.check()

    assert [remark for remark in after if remark.file != f"{SLUG}.md"] == before
    assert not [
        remark for remark in after if remark.file == f"{SLUG}.md" and remark.wish
    ]


def test_an_entry_of_the_shops_own_that_cannot_be_read_is_named_and_left_out(
    bench: Bench,
) -> None:
    own_copy(bench.folder, "harbour-damp", b"")

    assert bench.health.left_out() == (
        "entries/harbour-damp.md cannot be read (line 1: the file does not start with front matter), it is left out; "
        "see `benchlore check`",
    )
    assert bench.asking.search(WORDS).entries[0].entry == SLUG


def test_a_file_that_is_named_like_no_entry_is_none_of_the_shops_copies(
    bench: Bench,
) -> None:
    own_copy(bench.folder, "README", b"how we write entries here")

    assert bench.health.left_out() == ()


def test_many_copies_that_cannot_be_read_are_told_in_one_line_and_each_by_the_check(
    bench: Bench,
) -> None:
    slugs = sorted(path.stem for path in CORPUS.glob("*.md"))
    for slug in slugs:
        own_copy(bench.folder, slug, b"")

    assert bench.health.left_out() == (
        "4 own entries cannot be read (charges-no-start.md, keys-dead.md, no-battery.md ...), "
        "stock entries are used where there are any; see `benchlore check`",
    )
    assert [problem.partition(" ")[0] for problem in bench.health.state().problems] == [
        f"entries/{s}.md" for s in slugs
    ]
    assert bench.asking.search(WORDS).fits


def test_a_stock_entry_that_stands_in_follows_the_stock(tmp_path: Path) -> None:
    stock = Path(shutil.copytree(CORPUS, tmp_path / "stock"))
    bench = Bench(tmp_path / "shop", stock=stock)
    own_copy(bench.folder, SLUG, b"")
    bench.asking.search(WORDS)

    (stock / f"{SLUG}.md").write_bytes(
        STOCK.replace(b"The machine shows no battery", b"No battery at all")
    )

    assert bench.asking.search(WORDS).entries[0].title == "No battery at all"
    bench.close()


def test_every_safety_entry_stands_in_for_a_copy_that_cannot_be_read(
    stock_bench: Bench, tmp_path: Path
) -> None:
    """Found first by its own words, with its cautions, whatever happened to the copy."""
    warned_of = {
        "battery-swollen": "the battery is swollen",
        "burning-smell-or-smoke": "smells burnt and smokes",
        "liquid-spill": "coffee was spilt over it",
    }
    stock_bench.asking.models()
    bench = Bench(Path(shutil.copytree(stock_bench.folder, tmp_path / "shop")))
    for slug, broken in zip(warned_of, BREAKS.values(), strict=False):
        own_copy(
            bench.folder, slug, broken((stock_folder() / f"{slug}.md").read_bytes())
        )

    for slug, words in warned_of.items():
        assert told(bench.asking.search(words)) == told(
            stock_bench.asking.search(words)
        )
        assert bench.asking.search(words).entries[0].entry == slug
        served, stock = bench.entries.entry(slug), stock_bench.entries.entry(slug)
        assert served
        assert served == stock
        assert served.safety
    bench.close()


@pytest.fixture
def torn(run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Run:
    """The command line in a shop whose copy of one stock entry has lost its first line."""
    monkeypatch.setattr(shelf, "stock_folder", lambda: CORPUS)
    own_copy(tmp_path / "shop", SLUG, STOCK.partition(b"\n")[2])
    return run


SAID = f"entries/{SLUG}.md cannot be read (line 1: the file does not start with front matter), the stock entry is used"


def test_search_says_so_in_one_line_beside_its_answer(torn: Run) -> None:
    result = torn("search", WORDS)

    assert [
        line for line in result.stderr.splitlines() if "cannot be read" in line
    ] == [f"Warning: {SAID} instead; see `benchlore check`"]
    assert "The machine shows no battery" in result.stdout


def test_search_says_so_in_its_json_too(torn: Run) -> None:
    one = json.loads(torn("search", WORDS, "--json").stdout)
    lines = [
        json.loads(line)
        for line in torn(
            "search", "--stdin", given=f"{WORDS}\nkeys dead\n"
        ).stdout.splitlines()
    ]

    for answer in (one, *lines):
        assert [warning.startswith(SAID) for warning in answer["warnings"]] == [True]


def test_the_guide_says_so_before_its_first_step(torn: Run) -> None:
    result = torn("guide", WORDS, "--model", "Tern 13", given="q\n")

    assert result.stderr.count(SAID) == 1
    assert result.output.index(SAID) < result.output.index("Before you start:")
    assert "! Pull the charger first." in result.stdout


def test_verify_ends_with_1_and_names_it(torn: Run) -> None:
    torn("confirm", f"{SLUG}/plug", "--model", "Tern 13")

    result = torn("verify", status=1)
    problems = json.loads(torn("verify", "--json", status=1).stdout)["problems"]

    assert f"problem: {SAID}" in result.stderr
    assert [problem.startswith(SAID) for problem in problems] == [True]


def test_check_names_it(torn: Run) -> None:
    lines = torn("check", status=1).stdout.splitlines()

    assert (
        f"{SLUG}.md:1: nothing in this file can be served, the stock entry of that name is used instead; "
        "mend it, or move it away"
    ) in lines


def test_every_page_says_so_and_the_entrys_own_page_shows_the_stock_text(
    bench: Bench,
) -> None:
    own_copy(bench.folder, SLUG, STOCK.partition(b"\n")[2])
    visitor = Visitor(create_app(bench))

    for address in (
        "/",
        f"/?q={WORDS.replace(' ', '+')}",
        "/library",
        "/review",
        f"/entry/{SLUG}",
    ):
        assert visitor.go(address).text.count(SAID) == 1, address
    page = visitor.go(f"/entry/{SLUG}")
    assert "the stock text, since this shop's own cannot be read" in page.text
    assert "this shop's own text" not in page.text
    assert "Pull the charger first." in page.text
    assert (
        "the file does not start with front matter"
        in page.text.partition("To mend in the file")[2]
    )
    assert "Add a picture" not in page.text
    assert (
        visitor.follow("Edit").text.count("the file does not start with front matter")
        >= 1
    )


def test_what_is_mended_on_its_page_counts_again_and_nothing_is_said_any_more(
    bench: Bench,
) -> None:
    own_copy(bench.folder, SLUG, STOCK.partition(b"\n")[2])
    visitor = Visitor(create_app(bench))
    visitor.go(f"/entry/{SLUG}/edit")

    text = STOCK.decode().replace("The machine shows no battery", "Ours")
    page = visitor.press("Save", text=text)

    assert "Ours" in page.text
    assert "cannot be read" not in page.text
