"""The page of tools: ticked, unticked, and never undone by somebody else."""

from __future__ import annotations

import pytest
from flask import Flask
from helpers.humming import TOOLS, WORDS, text_of, write
from helpers.visiting import HOME, Page, Visitor

from kb.bench.front import Bench
from webui.app import create_app

pytestmark = pytest.mark.shop("humming")


def test_where_machines_come_from_is_set_on_the_tools_page(bench: Bench) -> None:
    visitor = Visitor(create_app(bench))
    page = visitor.go("/tools")
    form = next(form for form in page.forms if form.action == "/tools/source")

    def sent(source: str) -> Page:
        headers = {"Origin": HOME, "Sec-Fetch-Site": "same-origin"}
        given = {**form.fields, "source": source}
        return Page(
            visitor.client.post(
                "/tools/source",
                data=given,
                base_url=HOME,
                headers=headers,
                follow_redirects=True,
            )
        )

    assert "by the pallet" in page.text
    assert form.fields["source"] == "counter"
    assert "Saved" in sent("pallet").text
    assert bench.shop.settings.machines_from == "pallet"
    assert "not from `sea`" in sent("sea").text


# On a page


@pytest.fixture
def app(bench: Bench) -> Flask:
    return create_app(bench)


def tick(app: Flask, missing: list[str], shown: list[str], **more: str) -> Page:
    visitor = Visitor(app)
    token = next(
        form.fields["token"]
        for form in visitor.go("/tools").forms
        if form.action == "/tools"
    )
    fields = {"token": token, "missing": missing, "shown": shown, **more}
    headers = {"Origin": HOME}
    return Page(
        visitor.client.post(
            "/tools", data=fields, base_url=HOME, headers=headers, follow_redirects=True
        )
    )


def ticked(page: Page) -> list[str]:
    return [
        line.split('"')[0]
        for line in page.html.split('name="missing" value="')
        if '" checked' in line[:60]
    ]


def test_a_tool_is_ticked_as_lacking_on_its_page_and_unticked_again(
    app: Flask, bench: Bench
) -> None:
    page = tick(app, ["scale", "multimeter"], [])
    assert ticked(page) == ["multimeter", "scale"]
    assert "Saved." in page.text
    assert bench.shop.settings.lacks == {"multimeter", "scale"}

    page = tick(app, ["scale"], ["scale", "multimeter"])
    assert ticked(page) == ["scale"]


def test_two_people_who_tick_at_once_do_not_undo_each_other(
    app: Flask, bench: Bench
) -> None:
    tick(app, ["scale"], [])

    tick(app, ["multimeter"], [])

    assert bench.shop.settings.lacks == {"multimeter", "scale"}


def test_the_page_is_reached_from_the_foot_of_every_page(app: Flask) -> None:
    page = Visitor(app).follow("Tools")

    assert "multimeter" in page.text
    assert "1 test" in page.text
    assert "script" not in page.html.partition("<main")[2]


def test_a_name_that_nobody_knows_is_refused_and_nothing_is_saved(
    app: Flask, bench: Bench
) -> None:
    page = tick(app, ["multimetre", "scale"], [])

    assert page.status == 400
    assert "did you mean `multimeter`?" in page.text
    assert not bench.shop.kept_settings.path.exists()


def test_a_damaged_file_is_told_above_every_page_and_left_as_it_is(
    app: Flask, bench: Bench
) -> None:
    write(bench, "lacks = [")

    assert "shop.toml cannot be read" in Visitor(app).go("/").text
    page = tick(app, ["scale"], [])
    assert page.status == 503
    assert "nothing was saved" in page.text
    assert text_of(bench) == "lacks = ["


def test_a_form_without_its_token_ticks_nothing(app: Flask, bench: Bench) -> None:
    answer = app.test_client().post(
        "/tools", data={"missing": "scale"}, base_url=HOME, headers={"Origin": HOME}
    )

    assert answer.status_code == 403
    assert bench.shop.settings.lacks == frozenset()


def test_the_loss_and_the_missing_tool_stand_under_the_next_step(
    app: Flask, bench: Bench
) -> None:
    bench.shop.kept_settings.change_tools(
        lack=[*TOOLS, "soldering iron", "charging socket"]
    )

    page = Visitor(app).go(f"/?q={WORDS}")

    assert "which this fix needs: get that first" in page.text
    assert "Missing here: multimeter , which would save about" in page.text
    step = page.html.index('class="step"')
    assert (
        step
        < page.html.index("which would save about")
        < page.html.index('class="pictures"')
    )
