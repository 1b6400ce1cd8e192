"""The sets of complaints: each is said to be one that constants were chosen on, or one that nobody looked at."""

from __future__ import annotations

import re

from helpers.places import TESTS

DATA = TESTS / "data"


def test_every_set_stands_in_the_list_of_what_was_tuned_on_and_one_at_least_was_never_looked_at() -> (
    None
):
    told = dict(
        re.findall(
            r"^\| `([^`]+)` \| ([^|]+?) \|",
            (DATA / "README.md").read_text("utf-8"),
            re.MULTILINE,
        )
    )
    sets = [
        *DATA.glob("*.tsv"),
        *DATA.glob("*.txt"),
        *DATA.glob("unseen/*.tsv"),
        *DATA.glob("unseen/*.txt"),
    ]

    assert sorted(told) == sorted(str(path.relative_to(DATA)) for path in sets)
    assert told["unseen/voices-b.tsv"] == "no"
