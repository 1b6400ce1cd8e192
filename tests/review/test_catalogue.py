"""The catalogue of entries beside what the jobs say of them."""

from __future__ import annotations

from kb.bench.front import Bench


def test_entries_never_confirmed_are_those_without_a_job_in_the_view(
    shop: Bench,
) -> None:
    all_slugs = {entry.slug for entry in shop.entries.served()}

    assert {
        entry.slug for entry in shop.looking_back.overview().unconfirmed
    } == all_slugs - {"no-battery"}
    assert {
        entry.slug for entry in shop.looking_back.overview("No Such 1").unconfirmed
    } == all_slugs
