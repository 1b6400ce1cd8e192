"""The page of parts, and that of the pile beside it."""

from __future__ import annotations

from helpers.donating import bought_for_others
from helpers.visiting import Visitor

from kb.bench.front import Bench
from webui.app import create_app


def test_on_the_pages_one_tap_takes_a_part(floor: Bench) -> None:
    visitor = Visitor(create_app(floor))
    page = visitor.go("/parts?part=keyboard&for=P7-02")
    assert "fits: the same model" in page.text
    page = visitor.press("Taken from")

    assert page.status == 200
    assert "P7-04" not in page.text.split("What machines wait for")[0]
    assert floor.machines.unit("P7-02").wanted == ()
    page = visitor.go("/pile?hours=8&money=15&lot=P7")
    assert "Next:" in page.text
    assert visitor.go("/pile?hours=many").status == 400


def test_the_drawer_stands_among_those_who_have_one_and_gives_a_piece_to_a_machine_alone(
    floor: Bench,
) -> None:
    floor.parts.take("P7-05", "keyboard")
    visitor = Visitor(create_app(floor))
    assert (
        "Taken out of the drawer"
        not in visitor.go("/parts?part=keyboard&model=Skua+14").text
    )
    page = visitor.go("/parts?part=keyboard&for=P7-03")
    assert "The drawer, from P7-05 · Skua 14" in page.text
    page = visitor.press("Taken out of the drawer")

    assert "The drawer" not in page.text
    assert floor.machines.unit("P7-03").to_fit == ("keyboard",)


def test_a_price_that_was_paid_for_another_model_says_so_in_every_language(
    floor: Bench,
) -> None:
    bought_for_others(floor)
    visitor = Visitor(create_app(floor))
    for language, paid, order in (
        ("en", "as paid for {}", "Order 1"),
        ("de", "wie für {} bezahlt", "1 bestellen"),
        ("es", "como se pagó para {}", "Pedir 1"),
    ):
        visitor.client.set_cookie("language", language)

        page = visitor.go("/parts?part=adapter+lead&for=P7-03").text
        pile = visitor.go("/pile").text

        told = f"15.00 ({paid.format('Tern 13')})"
        assert f": {told}." in page
        assert f"{order} : {told}" in page
        assert f"15.00 ({paid.format('Skua 14')})" in pile
    assert visitor.go("/parts.csv").html.endswith("1500,Tern 13\r\n")
