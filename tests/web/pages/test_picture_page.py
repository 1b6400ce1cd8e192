"""Pictures on the pages: taken, kept, shown and never anything else."""

from __future__ import annotations

import io
import re
from io import BytesIO

import pytest
from helpers.floors import came_in
from helpers.photographs import SLUG, files, photo, send
from helpers.visiting import HOME, Visitor
from PIL import Image

from kb.bench.front import Bench
from kb.library.album import LARGEST_FILE
from kb.model import Finding
from webui.app import LARGEST_FORM


def test_a_picture_is_kept_with_the_machine(bench: Bench, visitor: Visitor) -> None:

    came_in(bench)
    visitor.go("/u/P7-001")
    drawn = io.BytesIO()
    Image.new("RGB", (80, 60), "red").save(drawn, "PNG")
    form = next(
        form for form in visitor.page.forms if form.action == "/u/P7-001/picture"
    )
    data = {
        "token": form.fields["token"],
        "caption": "lid [left]",
        "picture": (io.BytesIO(drawn.getvalue()), "lid.png"),
    }

    answer = visitor.client.post(
        "/u/P7-001/picture",
        data=data,
        base_url=HOME,
        headers={"Origin": HOME},
        follow_redirects=True,
    )

    shown = re.findall(r'<img src="(/entry/pictures/machine-[^"]+)"', answer.text)
    assert len(shown) == 1
    assert visitor.client.get(shown[0], base_url=HOME).status_code == 200
    assert 'alt="lid  left"' in answer.text


pytestmark = pytest.mark.shop("stocked")


def test_only_the_form_for_pictures_may_be_large(visitor: Visitor) -> None:
    large = photo(kind="PNG", comment=b"") + b"\0" * (LARGEST_FORM + 1)
    assert send(visitor, large).status == 200

    assert send(visitor, photo() + b"\0" * (LARGEST_FILE + 200_000)).status == 413
    form = visitor.go(f"/entry/{SLUG}/edit").forms[-1].fields
    answer = visitor.client.post(
        f"/entry/{SLUG}/edit",
        data={**form, "text": "x" * (LARGEST_FORM + 1)},
        base_url=HOME,
        headers={"Origin": HOME},
    )
    assert answer.status_code == 413


def test_a_picture_of_a_test_is_shown_small_in_the_step_and_beside_that_test(
    bench: Bench, visitor: Visitor
) -> None:
    job = bench.jobs.begin("shows no battery although one is fitted", "Tern 13")
    step = bench.jobs.standing(job).answer.next_step
    assert step
    assert (step.entry, step.kind) == (SLUG, "test")

    page = visitor.go(visitor.go(f"/job/{job}").link("Add a picture"))
    form = next(form for form in page.forms if form.action.endswith("/pictures"))
    assert f'<option value="test {step.name}" selected>' in page.html
    sent = {
        "token": form.fields["token"],
        "job": form.fields["job"],
        "place": f"test {step.name}",
        "caption": "here",
    }
    answer = visitor.client.post(
        form.action,
        data={**sent, "picture": (BytesIO(photo((800, 600))), "a.jpg")},
        base_url=HOME,
        headers={"Origin": HOME},
    )

    assert answer.headers["Location"] == f"/job/{job}"
    small = f'<img src="/entry/pictures/{SLUG}-1.jpg?small"'
    assert small in visitor.go(f"/job/{job}").html
    assert (
        small
        in visitor.go("/?q=shows+no+battery+although+one+is+fitted&model=Tern+13").html
    )
    beside = visitor.go(f"/entry/{SLUG}").html
    assert (
        small
        in beside[
            beside.index(f'id="test-{step.name}"') : beside.index('<h2 id="fixes">')
        ]
    )
    copy = visitor.client.get(f"/entry/pictures/{SLUG}-1.jpg?small", base_url=HOME)
    assert Image.open(BytesIO(copy.data)).size == (320, 240)

    bench.jobs.found(job, Finding(f"{SLUG}/{step.name}", step.outcomes[0]))
    assert small not in visitor.go(f"/job/{job}").html


def test_a_picture_is_given_other_words_and_another_place_later(
    visitor: Visitor,
) -> None:
    send(visitor, photo())

    page = visitor.press("Save", visitor.page, caption="how it looks", place="symptom")

    symptom = page.html[
        page.html.index('id="symptom"') : page.html.index('id="causes"')
    ]
    assert 'alt="how it looks"' in symptom
    gone = visitor.press("Save", page, file=f"{SLUG}-2.jpg", place="symptom")
    assert gone.status == 404
    assert "it may be removed already" in gone.text


def test_a_picture_from_another_site_is_refused(bench: Bench, visitor: Visitor) -> None:
    answer = visitor.client.post(
        f"/entry/{SLUG}/pictures",
        data={"picture": (BytesIO(photo()), "a.jpg")},
        base_url=HOME,
        headers={"Origin": "http://elsewhere.example"},
    )

    assert answer.status_code == 403
    assert files(bench) == []


@pytest.mark.parametrize(
    "name",
    [
        "x.jpg",
        f"{SLUG}-0.jpg",
        f"{SLUG}-01.jpg",
        "..%2F..%2Fhistory.db.jpg",
        f".kept%2F{SLUG}-1.jpg",
        "a-1.jpg%00",
    ],
)
def test_other_names_lead_nowhere(bench: Bench, visitor: Visitor, name: str) -> None:
    folder = bench.folder / "entries" / "pictures"
    (folder / ".kept").mkdir(parents=True)
    for place in ("x.jpg", f"{SLUG}-0.jpg", f"{SLUG}-01.jpg", f".kept/{SLUG}-1.jpg"):
        (folder / place).write_bytes(photo())

    assert (
        visitor.client.get(f"/entry/pictures/{name}", base_url=HOME).status_code == 404
    )


def test_a_picture_is_kept_by_the_browser_for_a_while_but_by_nobody_between(
    bench: Bench, visitor: Visitor
) -> None:
    send(visitor, photo())
    address = f"/entry/pictures/{SLUG}-1.jpg"

    first = visitor.client.get(address, base_url=HOME)
    again = visitor.client.get(
        address, base_url=HOME, headers={"If-None-Match": first.headers["ETag"]}
    )

    assert (first.status_code, again.status_code) == (200, 304)
    for answer in (first, again):
        assert answer.headers["Cache-Control"] == "private, max-age=3600"
        assert answer.headers["Vary"] == "Cookie"
    gone = visitor.client.get(f"/entry/pictures/{SLUG}-2.jpg", base_url=HOME)
    assert (gone.status_code, gone.headers["Cache-Control"]) == (404, "no-store")
