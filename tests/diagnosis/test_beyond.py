"""What other shops had as a level of belief: where it stands, when it fades, and that without it all is as before."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from math import exp, log
from pathlib import Path
from random import Random

import pytest
from helpers.pooling import counts_of, file_of
from helpers.taught import PACK, PLUG, WORDS

from kb.base.pooling import smoothed
from kb.bench.front import Bench
from kb.diagnosis.answer import Answer, EntryBelief
from kb.diagnosis.belief import CAUSE_MODEL_JOBS, UNLISTED_SHARE, two_levels
from kb.diagnosis.beyond import Beyond, of_causes, of_sheets, upper
from kb.diagnosis.causes import Counts, of_entries
from kb.diagnosis.counts import Confirmed
from kb.index import elsewhere
from kb.index.elsewhere import NOWHERE, Elsewhere, SheetElsewhere
from kb.model import Confirmation
from kb.office.pooled import SharedCount, pooled

BOARD = "no-battery/light-board"


def learn(bench: Bench) -> None:
    bench.learning.learn(file_of("no-battery"))


def answered(bench: Bench, model: str = "Skua 14") -> Answer:
    """All that is answered but the time it took."""
    return replace(bench.asking.search(WORDS, model), took_ms=0.0)


def sheet(bench: Bench, model: str = "Skua 14") -> EntryBelief:
    (found,) = (
        one
        for one in bench.asking.search(WORDS, model).entries
        if one.entry == "no-battery"
    )
    return found


def within(found: EntryBelief) -> dict[str, float]:
    return {one.cause: one.within for one in found.causes}


def test_each_level_is_counted_over_the_one_before_by_hand() -> None:
    written = {"plug": 0.4, "pack": 0.6}
    had = Beyond(
        everywhere={"plug": 6.0, "pack": 2.0}, here={"pack": 3.0}, strength=20.0
    )
    pool = {"plug": (6 + 10 * 0.4) / 18, "pack": (2 + 10 * 0.6) / 18}
    own = {"plug": (1 + 20 * pool["plug"]) / 25, "pack": (4 + 20 * pool["pack"]) / 25}
    model = {"plug": 8 * own["plug"] / 11, "pack": (3 + 8 * own["pack"]) / 11}

    assert upper(written, {"plug": 1.0, "pack": 4.0}, had, 10.0, 8.0) == pytest.approx(
        model
    )
    assert two_levels(
        written, {"plug": 1.0, "pack": 4.0}, {"pack": 2.0}, beyond=had
    ) == pytest.approx(smoothed(model, {"pack": 2.0}, CAUSE_MODEL_JOBS))
    assert upper(written, {"plug": 1.0}, None, 10.0, 8.0) == smoothed(
        written, {"plug": 1.0}, 10.0
    )


def test_how_often_a_sheet_was_had_elsewhere_leans_on_its_belief_by_hand() -> None:
    """Two of four entries are excluded by the words; each has thirty jobs beforehand, what no sheet fits none."""
    had = Beyond(everywhere={"a": 60.0, "b": 10.0, "d": 30.0})
    prior = {"a": 90 / 220, "b": 40 / 220}
    weights = {slug: 4 * share * exp(0.62) for slug, share in prior.items()} | {"": 1.0}

    found = of_entries({"a": 1.0, "b": 1.0}, Counts(beyond=had), 2)

    assert found == pytest.approx(
        {slug: weight / sum(weights.values()) for slug, weight in weights.items()}
    )


def test_on_a_model_jobs_elsewhere_count_as_jobs_here_and_are_shown_as_none() -> None:
    found = elsewhere_on("tern 13")
    beside = Confirmed(Counts(here={"a": 2.0}), {}).beside(
        of_sheets(found, {"no-battery"})
    )

    # seven jobs of a shop tell 4.2
    assert beside.entries.here == {"a": 2.0, "no-battery": pytest.approx(31 * 0.6)}
    assert beside.entries.told.here == {"a": 2.0}
    assert of_sheets(found, {"another"}) == Beyond(everywhere={}, here={})
    assert of_sheets({}, {"no-battery"}) is None


def elsewhere_on(model: str) -> dict[str, Elsewhere]:
    sheets = counts_of("no-battery").sheets
    return {
        slug: Elsewhere(sheet, sheet.models[model]) for slug, sheet in sheets.items()
    }


def test_a_new_shop_believes_what_other_shops_had_and_says_on_how_much_it_rests(
    bench: Bench,
) -> None:
    before = sheet(bench)
    learn(bench)
    after = sheet(bench)

    counts = counts_of("no-battery").sheets["no-battery"]
    entry = bench.entries.entry("no-battery")
    assert entry
    shares = two_levels(
        entry.odds(),
        {},
        {},
        beyond=Beyond(everywhere=counts.causes, here=counts.models["skua 14"].causes),
    )
    assert within(after)[PACK] == pytest.approx(
        shares["pack"] * (1 - UNLISTED_SHARE), rel=0.05
    )
    assert within(after)[PACK] > within(before)[PACK] + 0.2
    assert (after.jobs_in_other_shops, after.other_shops) == (217, 31)
    (pack,) = (one for one in after.causes if one.cause == PACK)
    on_it = 31 * 4 * 0.6  # four of a shop's seven jobs, which tell 4.2
    assert pack.in_other_shops == pytest.approx((on_it + 8 * 6 / 7) / (on_it + 8))
    assert after.probability > before.probability
    assert (before.jobs_in_other_shops, before.other_shops) == (0, 0)


def test_what_a_model_has_elsewhere_is_believed_on_that_model_alone(
    bench: Bench,
) -> None:
    learn(bench)

    assert within(sheet(bench, "Tern 13"))[BOARD] > 0.5
    assert within(sheet(bench, "Skua 14"))[BOARD] < 0.1


def test_the_more_jobs_of_its_own_a_shop_has_the_less_other_shops_say(
    bench: Bench,
) -> None:
    learn(bench)
    shares = []
    for _ in range(3):
        shares.append(within(sheet(bench))[PLUG])
        for _ in range(12):
            bench.jobs.confirm(Confirmation(PLUG, "Skua 14"))

    assert shares[0] < 0.15 < 0.45 < shares[1] < shares[2]


def test_without_a_file_and_switched_off_every_figure_is_as_it_was(
    bench: Bench,
) -> None:
    bench.jobs.confirm(Confirmation(PLUG, "Tern 13"))
    before = answered(bench)
    learn(bench)
    with_them = answered(bench)

    bench.shop.kept_settings.set_elsewhere(False)
    assert answered(bench) == before
    bench.shop.kept_settings.set_elsewhere(True)
    assert answered(bench) == with_them != before
    bench.learning.forget()
    assert answered(bench) == before


def test_where_the_history_has_taught_how_alike_models_are_other_shops_stand_below_that(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    from kb.base import pooling
    from kb.index import taught

    monkeypatch.setattr(pooling, "FEWEST_GROUPS", 1)
    monkeypatch.setattr(taught, "FIRST_STEP", 2)
    for model in ("Tern 13", "Rail 15"):
        for _ in range(2):
            bench.jobs.confirm(Confirmation(PLUG, model))
    before = within(sheet(bench))
    learn(bench)
    after = within(sheet(bench))

    with bench.shop.knowing() as knowledge:
        assert knowledge.index.taught.pooling is not None
    assert after[PACK] > before[PACK] + 0.2
    assert sum(after.values()) == pytest.approx(1.0)


def test_a_file_that_cannot_be_used_counts_nowhere_and_is_told(bench: Bench) -> None:
    before = answered(bench)
    file = bench.folder / elsewhere.FILE
    file.write_bytes(b"{}")

    assert answered(bench) == before
    (told,) = bench.health.left_out()
    assert told.startswith(
        f"{file} cannot be used (this is no file of pooled counts: format"
    )
    assert told in bench.health.state().problems
    assert told in bench.health.warnings()
    learn(bench)
    assert bench.health.left_out() == ()


def test_an_index_that_is_made_anew_holds_the_counts_again(bench: Bench) -> None:
    learn(bench)
    before = within(sheet(bench))
    bench.close()
    Path(bench.folder / "index.db").unlink()

    assert within(sheet(bench)) == before


# What it gains where the truth is known


@dataclass
class Truth:
    """Sheets of one world with four causes each: the shares that a new shop has, its jobs, and those of twelve others.

    The shares of all shops lie about those of the world as a Dirichlet of concentration `alike`.
    """

    alike: float
    lies: bool = False
    shares: dict[str, list[float]] = field(default_factory=dict)
    own: dict[str, Counter[str]] = field(default_factory=dict)
    sent: list[SharedCount] = field(default_factory=list)

    def __post_init__(self) -> None:
        dice = Random(f"truth {self.alike}")
        for sheet in (f"sheet {number}" for number in range(80)):
            world = dirichlet(dice, [0.8] * 4)
            self.shares[sheet] = dirichlet(
                dice, [self.alike * share for share in world]
            )
            self.own[sheet] = Counter(
                dice.choices(FOUR, self.shares[sheet], k=dice.choice((0, 0, 2, 6)))
            )
            for shop in range(12):
                had = Counter(
                    dice.choices(
                        FOUR,
                        dirichlet(dice, [self.alike * share for share in world]),
                        k=15,
                    )
                )
                had = (
                    Counter({FOUR[world.index(min(world))]: 1_000_000})
                    if self.lies and shop == 0
                    else had
                )
                self.sent += [
                    SharedCount(str(shop), "", sheet, cause, jobs)
                    for cause, jobs in had.items()
                ]

    def believed(self, learned: bool) -> dict[str, dict[str, float]]:
        """The shares of causes that the new shop believes."""
        sheets = pooled(self.sent, date(2026, 11, 30)).sheets
        return {
            sheet: two_levels(
                dict.fromkeys(FOUR, 1.0),
                own,
                {},
                beyond=beyond_of(sheets[sheet]) if learned else None,
            )
            for sheet, own in self.own.items()
        }

    def loss(self, learned: bool) -> float:
        """How surprising the next job's cause is, a sheet."""
        found = self.believed(learned)
        each = (
            -share * log(found[sheet][cause])
            for sheet, shares in self.shares.items()
            for cause, share in zip(FOUR, shares, strict=True)
        )
        return sum(each) / len(self.shares)


FOUR = ("a", "b", "c", "d")


def dirichlet(dice: Random, weights: Sequence[float]) -> list[float]:
    gammas = [dice.gammavariate(weight + 1e-9, 1.0) + 1e-9 for weight in weights]
    return [one / sum(gammas) for one in gammas]


def beyond_of(sheet: SheetElsewhere) -> Beyond:
    return of_causes(Elsewhere(sheet, NOWHERE))


@pytest.mark.parametrize("alike", [2.0, 64.0])
def test_other_shops_make_the_next_cause_less_of_a_surprise_though_one_of_twelve_lies(
    alike: float,
) -> None:
    """First measured: .30 and .29 less, and .22 and .23 with the liar among them."""
    honest, fooled = Truth(alike), Truth(alike, lies=True)
    without = honest.loss(learned=False)

    assert honest.loss(learned=True) < without - 0.25
    assert fooled.loss(learned=True) < without - 0.18
