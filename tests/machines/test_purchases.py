"""Purchases read from lists: every mistake named by its line, each line once, prices as people write them."""

from __future__ import annotations

from datetime import date

from kb.machines.purchases import PurchaseList, PurchasesKnown, read_purchases

SHOP = PurchasesKnown(
    parts=("battery", "keyboard", "panel"),
    models=("Skua 14", "Tern 13"),
    tags={"p7-03": "P7-03"},
    purchases=frozenset({"b-007", "4711"}),
    currency="EUR",
    today=date(2026, 3, 31),
)
HEAD = "Article;For model;Qty;Sum;Unit price;Machine;Ordered;Received;Order no"

#: Twelve mistakes, each by the line it stands on, and a word of what is said of it.
PLANTED = {
    2: (";Skua 14;1;55,00;;;;;", "the part is missing"),
    3: ("pannel;Skua 14;1;55,00;;;;;", "the nearest is panel"),
    4: ("panel;Skau 14;1;55,00;;;;;", "the nearest is Skua 14"),
    5: ("panel;Skua 14;none;55,00;;;;;", "no number of pieces"),
    6: ("panel;Skua 14;1;;;;;;", "the price is missing"),
    7: ("panel;Skua 14;1;55 or so;;;;;", "no sum of money"),
    8: ("panel;Skua 14;2;55,00;50,00;;;;", "2 at 50,00 are not 55,00"),
    9: ("panel;Skua 14;1;55,00;;P9-99;;;", "no machine here has the tag P9-99"),
    10: ("panel;Skua 14;1;55,00;;;31.2.2026;;", "is no day"),
    11: ("panel;Skua 14;1;55,00;;;24.3.2027;;", "has not come yet"),
    12: ("panel;Skua 14;1;55,00;;;24.3.2026;20.3.2026;", "before it was bought"),
    13: ("panel;Skua 14;1;-5,00;;;;;", "below 0"),
    14: ("panel;Skua 14;1;55,00;;;;;4711", "written down already"),
}


def read(*rows: str, shop: PurchasesKnown = SHOP) -> PurchaseList:
    return read_purchases("\n".join((HEAD, *rows)), "orders.csv", shop)


def test_every_planted_mistake_is_named_by_its_line_and_the_good_lines_stay() -> None:
    listed = read(
        *(row for row, _ in PLANTED.values()),
        "battery;tern 13;3;60,00;20,00;p7-03;24.3.2026;28.3.2026;",
    )

    told = {remark.line: remark.problem for remark in listed.remarks}
    assert sorted(told) == sorted(PLANTED)
    assert {
        line for line, (_, word) in PLANTED.items() if word not in told[line]
    } == set()
    (battery,) = listed.buying
    assert (battery.part, battery.model, battery.count, battery.cents) == (
        "battery",
        "Tern 13",
        3,
        6000,
    )
    assert (battery.tag, battery.bought_on, battery.came_on) == (
        "P7-03",
        "2026-03-24",
        "2026-03-28",
    )
    assert battery.purchase == "B-008"


def test_lines_of_one_order_and_lines_alike_are_purchases_of_their_own() -> None:
    listed = read(*["panel;;1;55;;;;;4712"] * 2, *["battery;;1;20;;;;;"] * 2)

    assert [one.purchase for one in listed.buying] == [
        "4712",
        "4712-2",
        "B-008",
        "B-009",
    ]
    assert len({one.token for one in listed.buying}) == 4


def test_a_line_that_was_taken_in_before_is_known_though_more_were_added() -> None:
    rows = ["panel;;1;55;;;;;4712", "battery;;1;20;;;;;4712"]
    first = read(*rows)
    tokens = {one.token for one in first.buying}
    later = PurchasesKnown(
        parts=SHOP.parts,
        purchases=frozenset({"4712", "4712-2"}),
        currency="EUR",
        used=tokens.__contains__,
    )
    again = read(*rows, "keyboard;;1;9;;;;;4712", shop=later)

    assert [one.part for one in again.known] == ["panel", "battery"]
    assert [(one.part, one.purchase) for one in again.buying] == [
        ("keyboard", "4712-3")
    ]
    assert again.remarks == ()


def test_names_that_are_meant_as_written_are_taken_as_they_stand() -> None:
    meant = PurchasesKnown(parts=SHOP.parts, models=SHOP.models, as_written=True)

    assert read("pannel;Skau 14;1;55,00;;;;;", shop=meant).buying[0].model == "Skau 14"


def test_a_new_part_that_is_near_none_is_taken_and_one_price_a_piece_is_enough() -> (
    None
):
    listed = read("thermal pad sheet;;4;;1,25 EUR;;;;")

    assert [(one.part, one.cents) for one in listed.buying] == [
        ("thermal pad sheet", 500)
    ]
