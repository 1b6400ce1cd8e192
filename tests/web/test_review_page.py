"""Visits to the pages that look back and around: review with its files, library, checks, keys, gaps."""

from __future__ import annotations

import csv
import io
import re
import shutil
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.shops import quick_folder
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench
from kb.bench.settings import SettingsFile
from kb.model import Confirmation
from kb.review.tables import TABLES
from webui.app import create_app
from webui.pages.review_page import FEW

PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"


@pytest.fixture
def bench(stock_bench: Bench) -> Iterator[Bench]:
    """A shop of its own over the shipped entries with three jobs on two machines of two models."""
    stock_bench.asking.models()
    with quick_folder() as folder:
        made = Bench(Path(shutil.copytree(stock_bench.folder, folder / "shop")))
        for job in (
            Confirmation(PACK, "Tern 13", unit="T-1", minutes=10, part="battery", closed_at="2026-01-10T09:00:00Z"),
            Confirmation(PLUG, "Tern 13", unit="T-1", minutes=20, closed_at="2026-06-30T22:30:00Z"),
            Confirmation(PACK, "Skua 14", unit="S-1", minutes=40, part="battery", closed_at="2026-07-02T09:00:00Z"),
        ):
            made.jobs.confirm(job)
        yield made
        made.close()


# The review


def test_the_filters_stand_in_every_address_that_leads_on(visitor: Visitor) -> None:
    page = visitor.go("/review?model=Tern+13&since=2026-01-01&until=2026-06-30")

    files = [to for to, _ in page.links if to.startswith("/review/")]
    assert len(files) >= 6
    assert all(to.endswith("?model=Tern+13&since=2026-01-01&until=2026-06-30") for to in files)
    assert "2 jobs on 1 machine." in page.text
    assert "from 2026-01-10 to 2026-06-30: 172 days" in page.text


def test_the_parts_to_keep_are_told_with_what_they_rest_on(visitor: Visitor) -> None:
    page = visitor.go("/review")

    # two batteries in 174 days: (2 + 1/2) · 91/174 = 1.31
    assert "battery 2 1.3" in page.text


def test_models_are_compared_with_limits_beside_each_figure(visitor: Visitor) -> None:
    text = visitor.go("/review").text

    assert "Tern 13 30 1 machine · 2.0 (0.2 to 7.2) jobs" in text  # Garwood's limits for 2 jobs: 0.2422 and 7.2247


def test_every_failure_stands_on_the_page_once_and_the_rarer_ones_are_folded_away(
    bench: Bench, visitor: Visitor
) -> None:
    causes = [f"{entry.slug}/{cause.slug}" for entry in bench.entries.served()[:8] for cause in entry.causes]
    for cause in causes:
        bench.jobs.confirm(Confirmation(cause, "Plover 15", minutes=5), untested=True)

    html = visitor.go("/review?model=Plover+15").html

    section = html[html.index('<h2 id="failures">') : html.index('<h2 id="stock">')]
    in_sight, _, folded = section.partition("<details")
    assert in_sight.count('href="/entry/') == FEW
    assert in_sight.count('href="/entry/') + folded.count('href="/entry/') == len(causes) > 20
    assert f"{len(causes) - FEW} rarer failures" in folded


def test_a_review_of_a_few_failures_more_than_are_in_sight_has_no_empty_list(bench: Bench, visitor: Visitor) -> None:
    for entry in bench.entries.served()[: FEW + 2]:
        bench.jobs.confirm(Confirmation(f"{entry.slug}/{entry.causes[0].slug}", "Plover 15", minutes=5), untested=True)

    html = visitor.go("/review?model=Plover+15").html

    assert "2 rarer failures" in html
    assert not re.search(r"<ul[^>]*>\s*</ul>", html)


@pytest.mark.parametrize("name", sorted(TABLES))
def test_every_table_can_be_taken_along(visitor: Visitor, name: str) -> None:
    answer = visitor.client.get(f"/review/{name}.csv", base_url=HOME)

    assert answer.status_code == 200
    assert answer.mimetype == "text/csv"
    assert f'filename="benchlore-{name}.csv"' in answer.headers["Content-Disposition"]
    assert len({len(row) for row in csv.reader(io.StringIO(answer.text, newline=""))}) == 1


def test_a_part_that_looks_like_a_formula_is_text_in_the_file(bench: Bench, visitor: Visitor) -> None:
    bench.jobs.confirm(Confirmation(PACK, "Tern 13", part="=1+1"))

    answer = visitor.client.get("/review/stock.csv", base_url=HOME)

    assert "'=1+1" in answer.text


@pytest.mark.parametrize("name", ["failures", "quarters"])
def test_every_picture_can_be_taken_along_and_is_sound(bench: Bench, visitor: Visitor, name: str) -> None:
    bench.jobs.confirm(Confirmation(PACK, "<b>&'\"", part="x"))

    answer = visitor.client.get(f"/review/{name}.svg?since=2000-01-01", base_url=HOME)

    picture = ElementTree.fromstring(answer.text)
    assert answer.mimetype == "image/svg+xml"
    assert picture.tag == "{http://www.w3.org/2000/svg}svg"
    assert "style" not in answer.text
    assert "attachment" in answer.headers["Content-Disposition"]


def test_a_picture_of_nothing_is_still_a_picture(visitor: Visitor) -> None:
    for name in ("failures", "quarters"):
        answer = visitor.client.get(f"/review/{name}.svg?model=None+Such", base_url=HOME)
        ElementTree.fromstring(answer.text)


@pytest.mark.parametrize("address", ["/review/nothing.csv", "/review/nothing.svg", "/review/stock.svg"])
def test_a_file_that_is_none_is_not_there(visitor: Visitor, address: str) -> None:
    assert visitor.go(address).status == 404


@pytest.mark.parametrize(
    "days", ["since=0001-01-01", "until=9999-12-31", "since=tomorrow", "since=2026-12-01&until=2026-01-01"]
)
def test_odd_days_are_no_error(visitor: Visitor, days: str) -> None:
    assert visitor.go(f"/review?{days}").status == 200


def test_a_view_without_jobs_says_so(visitor: Visitor) -> None:
    assert "No closed jobs in this view" in visitor.go("/review?model=None+Such").text


def test_days_are_shown_in_the_shops_zone(bench: Bench) -> None:
    SettingsFile(bench.folder).path.write_text('zone = "Europe/Oslo"\n', encoding="utf-8")

    page = Visitor(create_app(bench)).go("/review?model=Tern+13")

    assert "first 2026-07-01, last 2026-07-01" in page.text


# Gaps


def test_pressing_nothing_fits_is_counted_once_and_looking_is_not(bench: Bench, visitor: Visitor) -> None:
    visitor.go("/?q=zxqv+wvutz&model=Tern+13&unit=T-7")
    before = visitor.page
    assert "Nothing in this view" in visitor.go("/review").text

    page = visitor.press("write it down as a new entry", before)
    visitor.press("write it down as a new entry", before)

    assert page.status == 200
    assert "zxqv wvutz" in page.html
    (gap,) = bench.looking_back.overview().gaps
    assert (gap.words, gap.no_fit, gap.models) == ("zxqv wvutz", 1, ("Tern 13",))
    assert "zxqv wvutz nothing fitted 1 time · Tern 13" in visitor.go("/review").text


def test_words_of_a_gap_lead_back_to_the_search(bench: Bench, visitor: Visitor) -> None:
    bench.jobs.nothing_fits("50% & <dim>")
    visitor.go("/review")

    assert 'value="50% &amp; &lt;dim&gt;"' in visitor.follow("50% & <dim>").html


# The library


def test_the_library_finds_by_words_in_an_entry(visitor: Visitor) -> None:
    page = visitor.go("/library?q=no+BATTERY+although")

    assert "The system shows no battery although one is fitted 3 jobs" in page.text
    assert "fault picture" in page.text
    assert len([to for to, _ in page.links if to.startswith("/entry/")]) < 10


def test_the_areas_of_the_whole_library_are_folded_those_of_a_short_list_are_not(visitor: Visitor) -> None:
    whole = visitor.go("/library").html
    unfolded = visitor.follow("Unfold all areas").html
    short = visitor.go("/library?q=no+battery+although").html

    assert whole.count('<details class="area">') == unfolded.count('<details class="area" open>') > 10
    assert whole.count('href="/entry/') == unfolded.count('href="/entry/')
    assert '<details class="area" open>' in short
    assert '<details class="area">' not in short + unfolded
    assert "Unfold all areas" not in short


def test_the_library_shows_own_text_unconfirmed_and_unusable_ones_alone(bench: Bench, visitor: Visitor) -> None:
    stock = bench.entries.on_file("battery-not-detected")
    assert stock
    bench.entries.save("harbour-damp", stock.text.replace("The system shows no battery", "Damp"), "")
    (bench.folder / "entries" / "torn.md").write_text("nothing\n")

    own = visitor.go("/library?show=own")
    assert [to for to, _ in own.links if to.startswith("/entry/")] == ["/entry/torn/edit", "/entry/harbour-damp"]
    assert "own text" in own.text
    assert "battery-not-detected" not in visitor.go("/library?show=new").html
    assert "/entry/harbour-damp" in visitor.go("/library?show=better").html  # its wordings stand in the stock entry too
    assert "/entry/harbour-damp" not in visitor.go("/library?show=mend").html


def test_the_checks_name_every_remark_by_file_and_line(bench: Bench, visitor: Visitor) -> None:
    (bench.folder / "entries").mkdir(exist_ok=True)
    (bench.folder / "entries" / "torn.md").write_text("nothing\n")

    page = visitor.go("/library/checks")

    for remark in bench.entries.check():
        assert f"line {remark.line}: {remark.problem}"[:60] in page.text.replace(" ", " ")
    assert page.text.count("line ") >= len(bench.entries.check()) > 0
    assert page.link("Edit") == "/entry/torn/edit"


def test_what_is_wrong_is_told_apart_from_what_could_be_better(bench: Bench, visitor: Visitor) -> None:
    stock = bench.entries.on_file("battery-not-detected")
    assert stock
    assert "could be better" not in visitor.go("/library").text.partition("that could be better")[2]
    thin = (
        stock.text.replace("The system shows no battery", "Damp").partition("## Also heard as")[0]
        + "## Also heard as\n\n- drips\n"
    )
    near = "## See also\n\n- **no-such-entry**: it drips\n"
    bench.entries.save("harbour-damp", thin, "")
    bench.entries.save("harbour-salt", stock.text.partition("## See also")[0] + near, "")

    page = visitor.go("/library")
    told = {slug: visitor.go(f"/library?show={slug}").html for slug in ("mend", "better")}
    checks = visitor.go("/library/checks").text

    assert "1 thing to mend" in page.text
    assert "things could be better" in page.text
    assert ("harbour-salt" in told["mend"], "harbour-damp" in told["mend"]) == (True, False)
    assert "harbour-damp" in told["better"]
    wrong, better = checks.split("Could be better")
    assert "there is no entry no-such-entry" in wrong.replace("`", "")
    assert "Also heard as has 1" in better.replace("`", "")


def test_the_list_of_checks_is_that_of_the_command(bench: Bench) -> None:
    assert list(bench.entries.catalogue().remarks) == bench.entries.check()


# The keys


def test_the_keys_can_be_read_without_script_and_switched_off(visitor: Visitor) -> None:
    page = visitor.go("/")
    assert "keys.js" in page.html

    visitor.follow("Keys")
    page = visitor.press("Switch single keys off")
    assert "Single keys are off" in page.text
    assert "keys.js" not in visitor.go("/").html

    visitor.go("/keys")
    visitor.press("Switch single keys on")
    assert "keys.js" in visitor.go("/").html


def test_enter_in_a_field_of_the_confirmed_fix_presses_nothing(visitor: Visitor) -> None:
    page = visitor.go(f"/confirm?cause={PLUG}&model=Tern+13")

    form = page.html[page.html.index('<form method="post" action="/confirm"') :]
    assert form.index("<button") == form.index('<button class="unseen" disabled')
