"""The check-out in a browser: one line at a time, failures that lead to their job and back, signing, and the sheet."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient
from helpers.visiting import Page
from security.walking import HERE, HOME, post, token, visitor
from werkzeug.test import TestResponse

import webui
from kb.bench.front import Bench
from kb.history import kinds
from kb.machines.checkout.codes import CODES
from kb.machines.labels import tag_code
from kb.model import Confirmation
from webui.app import create_app

TAG = "P7-012"
HOUSE = """# Check-out

- **flat** (1 min; rare; part battery; sits 1; first): nothing bulges
    - fails: see no-battery
- **charges** (2 min; sometimes; part battery; sits 1; reads wear): the level rises
    - fails: see no-battery, starts-no-charge
- **keys** (2 min; often; part keyboard; sits 2): press every one
    - fails: see keys-dead
- **close-up** (6 min; work; sits 1): every screw in its hole
- **look** (3 min; rare; after close-up; sits 3; reads look): cleaned
    - grade A: nothing seen at arm's length
    - grade B: fine scratches
"""


@pytest.fixture
def client(bench: Bench) -> FlaskClient:
    """A visitor of a shop with a short list of its own and one machine."""
    house = bench.folder / "entries" / "house"
    house.mkdir(parents=True)
    (house / "checkout.md").write_text(HOUSE)
    bench.machines.write(kinds.UNIT_IN, {"tag": TAG, "model": "Tern 13", "lot": "P7"})
    return visitor(create_app(bench))


def page(client: FlaskClient, more: str = "") -> Page:
    answer = client.get(f"/u/{TAG}/checkout{more}", base_url=HOME)
    assert answer.status_code == 200, answer.text
    return Page(answer)


def send(client: FlaskClient, where: str = "", **given: str) -> TestResponse:
    return post(
        client, f"/u/{TAG}/checkout{where}", {"token": token(client), **given}, HERE
    )


def all_good(bench: Bench, **values: str) -> None:
    while line := bench.checkout.of(TAG).next_line:
        bench.checkout.good(TAG, line.line.name, values.get(line.line.name, ""), "JT")


def test_the_next_line_stands_large_and_the_rest_below_with_reasons(
    client: FlaskClient,
) -> None:
    text = client.get(f"/u/{TAG}/checkout", base_url=HOME).text

    step = text[text.index('class="step"') : text.index("What is left")]
    assert "nothing bulges" in step
    assert "Before everything else".lower() in step.lower()
    assert "press every one" not in step
    assert text.index(">flat<", text.index("What is left")) < text.index(">keys<")
    assert "found after closing up it costs" in text


def test_a_line_shown_good_leads_to_the_next_one_and_keeps_who_looked(
    client: FlaskClient, bench: Bench
) -> None:
    answer = send(client, line="flat", shown="good", by="JT")

    assert (answer.status_code, answer.headers["Location"]) == (
        303,
        f"/u/{TAG}/checkout",
    )
    assert bench.machines.unit(TAG).lines["flat"].by == "JT"
    text = client.get(f"/u/{TAG}/checkout", base_url=HOME).text
    assert "1 of 5 lines settled" in text
    assert 'value="JT"' in text


def test_a_line_named_in_the_address_is_brought_up_and_a_tag_leads_to_that_machine(
    client: FlaskClient, bench: Bench
) -> None:
    bench.machines.write(kinds.UNIT_IN, {"tag": "P7-013", "model": "Tern 13"})

    assert (
        "press every one"
        in client.get(f"/u/{TAG}/checkout?line=KEYS", base_url=HOME).text
    )
    other = client.get(f"/u/{TAG}/checkout?line=p7-013", base_url=HOME)
    assert (other.status_code, other.headers["Location"]) == (303, "/u/p7-013/checkout")
    unknown = client.get(f"/u/{TAG}/checkout?line=nothing", base_url=HOME)
    assert unknown.status_code == 404
    assert "no line `nothing`" in unknown.text


def test_a_failed_line_opens_the_search_with_its_words_and_leads_back_afterwards(
    client: FlaskClient, bench: Bench
) -> None:
    send(client, line="flat", shown="good")

    failed = send(client, line="charges", shown="bad", words="battery sign crossed out")

    job = failed.headers["Location"].rpartition("/")[2]
    searched = client.get(failed.headers["Location"], base_url=HOME).text
    assert "<h1><bdi>battery sign crossed out</bdi></h1>" in searched
    assert "Tern 13" in searched
    assert f'href="/u/{TAG}/checkout"' in searched
    bench.jobs.confirm(Confirmation("no-battery/plug", job=job, by="AW"))
    closed = client.get(f"/job/{job}", base_url=HOME).text
    assert re.search(
        rf'<a class="button main" href="/u/{TAG}/checkout"[^>]*>Back to the check-out of <bdi>{TAG}</bdi></a>',
        closed,
    )
    assert bench.checkout.of(TAG).failed == ()


def test_the_fault_pictures_of_a_line_are_offered_as_words(
    client: FlaskClient, bench: Bench
) -> None:
    text = client.get(f"/u/{TAG}/checkout?line=charges", base_url=HOME).text

    entries = {entry.slug: entry for entry in bench.entries.served()}
    assert f'<button name="words" value="{entries["no-battery"].title}"' in text


def test_own_words_count_where_no_picture_was_tapped(
    client: FlaskClient, bench: Bench
) -> None:
    send(client, line="keys", shown="bad", own_words="row 3 dead after coffee")

    (job,) = bench.machines.unit(TAG).open_jobs
    assert job.words == "row 3 dead after coffee"


def test_a_failed_pinned_line_says_what_is_done_at_once_and_offers_nothing_else(
    client: FlaskClient, bench: Bench
) -> None:
    send(client, line="flat", shown="bad")

    text = client.get(f"/u/{TAG}/checkout", base_url=HOME).text
    assert "Waits for what failed" in text
    assert 'data-key="g"' not in text


def test_waiving_needs_a_reason_and_pinned_lines_offer_none(
    client: FlaskClient, bench: Bench
) -> None:
    refused = send(client, line="keys", shown="waived", why=" ")
    pinned = send(client, line="flat", shown="waived", why="no time")
    send(client, line="keys", shown="waived", why="the buyer has a keyboard")

    assert refused.status_code == pinned.status_code == 400
    assert "keys is waived for a reason alone" in refused.text
    assert "flat is never waived" in pinned.text
    assert (
        'value="waived"'
        not in client.get(f"/u/{TAG}/checkout?line=flat", base_url=HOME).text
    )
    assert (
        'value="waived"'
        in client.get(f"/u/{TAG}/checkout?line=charges", base_url=HOME).text
    )
    assert bench.checkout.of(TAG).open_points == (
        "keys waived (the buyer has a keyboard)",
    )


def test_a_form_that_says_nothing_is_refused(client: FlaskClient) -> None:
    assert "press one of its buttons" in send(client, line="keys").text


def test_a_line_is_taken_back(client: FlaskClient, bench: Bench) -> None:
    send(client, line="keys", shown="good")
    assert "keys" in bench.machines.unit(TAG).lines

    send(client, line="keys", shown="back")

    assert "keys" not in bench.machines.unit(TAG).lines


def test_an_unready_machine_is_not_signed_and_no_form_for_it_is_shown(
    client: FlaskClient, bench: Bench
) -> None:
    assert "/checkout/sign" not in client.get(f"/u/{TAG}/checkout", base_url=HOME).text

    refused = send(client, "/sign", by="JT")

    assert refused.status_code == 400
    assert "P7-012 is not ready to be signed" in refused.text
    assert bench.machines.unit(TAG).signature is None


def test_the_repairer_does_not_sign_somebody_else_does_and_the_sheet_says_all(
    client: FlaskClient, bench: Bench
) -> None:
    job = (
        send(client, line="charges", shown="bad", words="no battery")
        .headers["Location"]
        .rpartition("/")[2]
    )
    bench.jobs.confirm(
        Confirmation("no-battery/pack", job=job, by="AW", part="battery")
    )
    send(client, line="flat", shown="good")
    send(client, line="charges", shown="good", value="91 %")
    send(client, line="keys", shown="waived", why="none wanted")
    send(client, line="close-up", shown="good")
    send(client, line="look", shown="good", grade="B", value="two scratches on the lid")

    repairer = send(client, "/sign", by="aw")
    signed = send(client, "/sign", by="JT")

    assert repairer.status_code == 400
    assert "whoever repaired does not sign" in repairer.text
    assert signed.headers["Location"] == f"/u/{TAG}/checkout/sheet"
    sheet = client.get(signed.headers["Location"], base_url=HOME).text
    for told in (
        "91 %",
        "B: two scratches on the lid",
        "Grade B: fine scratches.",
        "keys waived (none wanted)",
        "<bdi>JT</bdi>, ",
    ):
        assert told in sheet
    assert "not ready" not in sheet


def test_the_sheet_of_an_unsigned_machine_says_so(client: FlaskClient) -> None:
    assert (
        "Not signed: this machine is not ready"
        in client.get(f"/u/{TAG}/checkout/sheet", base_url=HOME).text
    )


def test_a_tag_that_nobody_knows_is_no_page(client: FlaskClient) -> None:
    for where in ("", "/sheet"):
        answer = client.get(f"/u/P9-001/checkout{where}", base_url=HOME)
        assert answer.status_code == 404
        assert "no record names a machine P9-001" in answer.text


@pytest.mark.parametrize("key", ["g", "b", "n w"])
def test_single_keys_and_the_enter_of_a_scanner_find_their_buttons(
    client: FlaskClient, key: str
) -> None:
    text: Any = client.get(f"/u/{TAG}/checkout?line=keys", base_url=HOME).text

    assert f'data-key="{key}"' in text
    assert (
        'disabled aria-hidden="true"'
        in text[text.index('id="showed"') : text.index('data-key="g"')]
    )


def test_the_sheet_shows_every_code_and_none_of_them_is_taken_for_a_tag(
    client: FlaskClient,
) -> None:
    page = client.get("/checkout/codes", base_url=HOME).text

    drawn = re.findall(r'<path d="([^"]+)"', page)

    assert drawn == [tag_code(code).path for code in CODES]
    assert (
        client.get("/scan?tag=linegood", base_url=HOME).headers["Location"]
        == "/checkout/codes"
    )
    script = Path(webui.__file__).with_name("static").joinpath("keys.js").read_text()
    (taken,) = re.findall(r"/\^(LINE\(.*\))\$/", script)
    assert all(re.fullmatch(taken, code) for code in CODES)
