"""Visits to the pages that look back and around: review with its files, library, checks, keys, gaps."""

from __future__ import annotations

import csv
import io
import re
import xml.etree.ElementTree as ElementTree

import pytest
from helpers.visiting import HOME, Visitor

from kb.bench.front import Bench
from kb.bench.settings import SettingsFile
from kb.model import Confirmation
from kb.review.tables import TABLES
from webui.app import create_app
from webui.pages.review_page import FEW

PLUG, PACK = "battery-not-detected/contact", "battery-not-detected/pack"

pytestmark = pytest.mark.shop("with_three_jobs")


# The review


def test_the_filters_stand_in_every_address_that_leads_on(visitor: Visitor) -> None:
    page = visitor.go("/review?model=Tern+13&since=2026-01-01&until=2026-06-30")

    files = [to for to, _ in page.links if to.startswith("/review/")]
    assert len(files) >= 6
    assert all(
        to.endswith("?model=Tern+13&since=2026-01-01&until=2026-06-30") for to in files
    )
    assert "2 jobs on 1 machine." in page.text
    assert "from 2026-01-10 to 2026-06-30: 172 days" in page.text


def test_the_parts_to_keep_are_told_with_what_they_rest_on(visitor: Visitor) -> None:
    page = visitor.go("/review")

    # two batteries in 174 days: (2 + 1/2) · 91/174 = 1.31
    assert "battery 2 1.3" in page.text


def test_models_are_compared_with_limits_beside_each_figure(visitor: Visitor) -> None:
    text = visitor.go("/review").text

    # Garwood's limits for 2 jobs: 0.2422 and 7.2247
    assert "Tern 13 30 1 machine · 2.0 (0.2 to 7.2) jobs" in text


def test_every_failure_stands_on_the_page_once_and_the_rarer_ones_are_folded_away(
    bench: Bench, visitor: Visitor
) -> None:
    causes = [
        f"{entry.slug}/{cause.slug}"
        for entry in bench.entries.served()[:8]
        for cause in entry.causes
    ]
    for cause in causes:
        bench.jobs.confirm(Confirmation(cause, "Plover 15", minutes=5), untested=True)

    html = visitor.go("/review?model=Plover+15").html

    section = html[html.index('<h2 id="failures">') : html.index('<h2 id="stock">')]
    in_sight, _, folded = section.partition("<details")
    assert in_sight.count('href="/entry/') == FEW
    assert (
        in_sight.count('href="/entry/') + folded.count('href="/entry/')
        == len(causes)
        > 20
    )
    assert f"{len(causes) - FEW} rarer failures" in folded


def test_a_review_of_a_few_failures_more_than_are_in_sight_has_no_empty_list(
    bench: Bench, visitor: Visitor
) -> None:
    for entry in bench.entries.served()[: FEW + 2]:
        bench.jobs.confirm(
            Confirmation(
                f"{entry.slug}/{entry.causes[0].slug}", "Plover 15", minutes=5
            ),
            untested=True,
        )

    html = visitor.go("/review?model=Plover+15").html

    assert "2 rarer failures" in html
    assert not re.search(r"<ul[^>]*>\s*</ul>", html)


@pytest.mark.parametrize("name", sorted(TABLES))
def test_every_table_can_be_taken_along(visitor: Visitor, name: str) -> None:
    answer = visitor.client.get(f"/review/{name}.csv", base_url=HOME)

    assert answer.status_code == 200
    assert answer.mimetype == "text/csv"
    assert f'filename="benchlore-{name}.csv"' in answer.headers["Content-Disposition"]
    assert (
        len({len(row) for row in csv.reader(io.StringIO(answer.text, newline=""))}) == 1
    )


def test_a_part_that_looks_like_a_formula_is_text_in_the_file(
    bench: Bench, visitor: Visitor
) -> None:
    bench.jobs.confirm(Confirmation(PACK, "Tern 13", part="=1+1"))

    answer = visitor.client.get("/review/stock.csv", base_url=HOME)

    assert "'=1+1" in answer.text


@pytest.mark.parametrize("name", ["failures", "quarters"])
def test_every_picture_can_be_taken_along_and_is_sound(
    bench: Bench, visitor: Visitor, name: str
) -> None:
    bench.jobs.confirm(Confirmation(PACK, "<b>&'\"", part="x"))

    answer = visitor.client.get(f"/review/{name}.svg?since=2000-01-01", base_url=HOME)

    picture = ElementTree.fromstring(answer.text)
    assert answer.mimetype == "image/svg+xml"
    assert picture.tag == "{http://www.w3.org/2000/svg}svg"
    assert "style" not in answer.text
    assert "attachment" in answer.headers["Content-Disposition"]


def test_a_picture_of_nothing_is_still_a_picture(visitor: Visitor) -> None:
    for name in ("failures", "quarters"):
        answer = visitor.client.get(
            f"/review/{name}.svg?model=None+Such", base_url=HOME
        )
        ElementTree.fromstring(answer.text)


@pytest.mark.parametrize(
    "address", ["/review/nothing.csv", "/review/nothing.svg", "/review/stock.svg"]
)
def test_a_file_that_is_none_is_not_there(visitor: Visitor, address: str) -> None:
    assert visitor.go(address).status == 404


@pytest.mark.parametrize(
    "days",
    [
        "since=0001-01-01",
        "until=9999-12-31",
        "since=tomorrow",
        "since=2026-12-01&until=2026-01-01",
    ],
)
def test_odd_days_are_no_error(visitor: Visitor, days: str) -> None:
    assert visitor.go(f"/review?{days}").status == 200


def test_a_view_without_jobs_says_so(visitor: Visitor) -> None:
    assert "No closed jobs in this view" in visitor.go("/review?model=None+Such").text


def test_days_are_shown_in_the_shops_zone(bench: Bench) -> None:
    SettingsFile(bench.folder).path.write_text(
        'zone = "Europe/Oslo"\n', encoding="utf-8"
    )

    page = Visitor(create_app(bench)).go("/review?model=Tern+13")

    assert "first 2026-07-01, last 2026-07-01" in page.text


def test_the_model_that_is_shown_stands_in_the_heading_and_is_marked_among_the_models(
    visitor: Visitor,
) -> None:
    page = visitor.go("/review?model=tern+13")

    (heading,) = re.findall("<h1>(.*?)</h1>", page.html)
    (marked,) = re.findall('aria-current="true">(.*?)</a>', page.html)
    assert heading.startswith("What fails most on <")
    assert "Tern 13" in heading
    assert "Tern 13" in marked
    assert "<h1>What fails most</h1>" in visitor.go("/review").html


def test_a_quarter_that_is_not_counted_whole_is_drawn_pale_and_said(
    visitor: Visitor,
) -> None:
    page = visitor.go("/review")  # from 10 January to 2 July

    assert "Pale: quarters that are not counted whole." in page.text
    numbers = page.text.partition("As numbers")[2]
    assert re.findall(r"Q(\d)( not whole)?", numbers) == [
        ("1", " not whole"),
        ("2", ""),
        ("3", " not whole"),
    ]
    assert "Pale" not in visitor.go("/review?since=2026-04-01&until=2026-06-30").text
