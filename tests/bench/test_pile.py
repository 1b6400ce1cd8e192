"""The desk for the pile: who is next, who wants whose parts, and what is believed of machines."""

from __future__ import annotations

import subprocess
import sys
from collections import Counter
from collections.abc import Callable, Iterable
from typing import Any

import pytest
from click.testing import Result
from helpers.floors import PLUG, came_in
from helpers.places import CORPUS

from kb.base.trouble import Refusal
from kb.bench.asking import AskingDesk
from kb.bench.front import Bench
from kb.bench.onward import onward
from kb.bench.parts import in_all_words
from kb.bench.pile import PileView
from kb.bench.returns import come_back
from kb.diagnosis.answer import Outline
from kb.diagnosis.answering import Complaint
from kb.history import kinds
from kb.index import refresh
from kb.language.words import Lexicon
from kb.library.customs import Customs
from kb.library.shelf import digest
from kb.machines import complaints
from kb.model import Confirmation


def test_the_pile_names_the_next_machine_and_who_wants_whose_parts(
    floor: Bench,
) -> None:
    view = floor.pile.view("p7", hours=8)
    turns = {one.tag: one.turn for one in view.outlooks}

    assert set(turns) == {"P7-01", "P7-02"}
    assert list(turns.values()).count("next") == 1
    assert view.unseen == ("P7-03",)
    assert 0 < view.forecast.working.expected <= 2
    assert {one.tag: one.wanted_by for one in view.outlooks}["P7-01"] == {
        "keyboard, Tern 13": ("P7-02",)
    }
    wanting = next(one for one in view.pile.waiting if one.tag == "P7-02")
    assert [(one.cause, one.belief) for one in wanting.remedies] == [
        ("wants keyboard", 1.0)
    ]
    assert {donor.tag for donor in view.pile.donors} == {"P7-04", "P7-05"}
    assert floor.pile.view("P8").outlooks == ()


def test_machines_whose_words_tell_of_a_danger_do_not_wait_for_their_turn(
    gated: Bench,
) -> None:
    came_in(gated, "P7-001", words="case stings on the charger")
    came_in(gated, "P7-002", words="buzzes in the corner")
    came_in(gated, "P7-003", words="no battery found")
    gated.machines.let_go("P7-001", "waste")

    assert gated.pile.view("P7").urgent == {
        "P7-002": ("Pull the charger at the wall.", "Do not touch the case.")
    }


def test_a_danger_is_told_beside_the_words_of_today_and_not_of_the_day_it_came_in(
    gated: Bench,
) -> None:
    came_in(gated, "P7-001", words="no battery found")
    gated.machines.let_go("P7-001", "sold")
    come_back(gated, "P7-001", "case stings on the charger")

    view = gated.pile.view("P7")

    assert list(view.urgent) == ["P7-001"]
    assert view.heard == {"P7-001": "case stings on the charger"}


def test_a_danger_is_told_though_a_harmless_job_was_opened_after_it(
    gated: Bench,
) -> None:
    came_in(gated, "P7-001", words="")
    hot, harmless = (
        gated.jobs.begin(words, "Tern 13", "P7-001")
        for words in ("case stings on the charger", "no battery found")
    )
    machine = gated.machines.machine("P7-001")

    deeds = gated.pile.view("P7").urgent["P7-001"]

    assert deeds == ("Pull the charger at the wall.", "Do not touch the case.")
    assert in_all_words(gated.parts.at_once(machine.stands)) == deeds
    assert gated.parts.at_once_beside(gated.jobs.job(harmless)) == deeds
    assert gated.parts.at_once_beside(gated.jobs.job(hot)) == ()
    coming = onward(gated, machine)
    assert coming
    assert coming.before[:2] == deeds


def test_a_line_that_showed_bad_on_several_other_models_counts_on_all_of_them(
    floor: Bench,
) -> None:
    for tag, model in (
        ("P7-11", "Alder 2"),
        ("P7-12", "Alder 2"),
        ("P7-13", "Zinnia 5"),
    ):
        floor.machines.write(kinds.UNIT_IN, {"tag": tag, "model": model})
    for tag in ("P7-11", "P7-12"):
        floor.machines.write(
            kinds.FUNCTION, {"tag": tag, "line": "every-key", "shown": "bad"}
        )
    floor.machines.write(
        kinds.FUNCTION, {"tag": "P7-13", "line": "every-key", "shown": "good"}
    )

    # Bad on 2 of 3 others: (2 + 20 · .05) / (3 + 20), to which the donor's own model has nothing to add.
    believed_sound = floor.parts.goodness("keyboard", floor.machines.unit("P7-04"), ())
    assert believed_sound == pytest.approx(1 - 3 / 23)


def test_what_is_believed_of_a_machine_follows_its_sheets_and_its_settings(
    floor: Bench,
) -> None:
    (waiting,) = (unit for unit in floor.machines.units() if unit.line.tag == "P7-01")

    def believed() -> Outline:
        floor.parts.told()
        answer = floor.parts.answer(waiting)
        assert answer
        return answer

    first = believed()
    assert believed() is first
    slug = first.causes[0].name.partition("/")[0]
    sheet = floor.entries.sheet(slug)
    assert sheet
    floor.entries.save(
        slug,
        sheet.text.replace(sheet.entry.title, "Dark at the plug", 1),
        digest(sheet.text),
    )
    second = believed()
    assert second is not first
    floor.shop.kept_settings.set_half_life(90)
    assert believed() is not second


@pytest.mark.slow
def test_a_machine_built_from_several_has_a_tag_of_its_own_and_history_and_cost_follow_its_parts(
    floor: Bench, run: Callable[..., Result]
) -> None:
    floor.machines.write(kinds.LOT, {"lot": "P7", "cents": 50000})
    ((tag, model),) = [
        (one.tags, one.model)
        for one in floor.pile.view().assembly.machines
        if one.model == "Tern 13"
    ]
    assert (tag, model) == (("P7-04",), "Tern 13")
    before = floor.cost.costs()
    built = floor.pile.build("tern 13", "c" * 30)
    assert floor.pile.build("tern 13", "c" * 30) == built == "Built-001"

    pieces = floor.machines.unit("P7-04").moved
    assert len(pieces) > 10
    assert {one.tag for one in pieces} == {built}
    unit = floor.machines.unit(built)
    assert (unit.model, len(unit.moved), unit.notes[0].text) == (
        "Tern 13",
        len(pieces),
        "built from P7-04",
    )
    after = floor.cost.costs()
    assert (
        before.unit("P7-04").cents
        == 10000
        == after.unit("P7-04").cents + after.unit(built).cents
    )
    assert after.unit(built).cents > 9000
    with pytest.raises(Refusal, match="no complete Tern 13 can be put together"):
        floor.pile.build("Tern 13")
    told = run("pile", "--build", "Skua 14", "--shop", str(floor.folder)).stdout
    assert "Built-002 is built" in told


def test_what_a_waiting_machine_could_give_is_as_good_as_the_desk_for_parts_says(
    floor: Bench,
) -> None:
    floor.machines.write(
        kinds.FUNCTION, {"tag": "P7-01", "line": "every-key", "shown": "bad"}
    )

    view = floor.pile.view("P7")

    machine = next(one for one in view.pile.waiting if one.tag == "P7-01")
    causes = complaints.believed(floor.parts.answer(view.units["P7-01"]))
    good = {view.pools[piece.part][0]: machine.good(piece) for piece in machine.pieces}
    unit = floor.machines.unit("P7-01")
    assert good == {
        part: pytest.approx(floor.parts.goodness(part, unit, causes)) for part in good
    }
    assert good["keyboard"] < 0.5  # its line showed bad


def test_however_many_machines_wait_the_sheets_are_looked_at_a_few_times(
    floor: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    for number in range(10, 30):
        floor.machines.write(
            kinds.UNIT_IN,
            {
                "tag": f"P7-{number}",
                "model": "Tern 13",
                "words": f"dark screen {number}",
            },
        )
    looked = Counter[str]()
    refreshed = refresh.refresh

    def counted(*given: Any, **named: Any) -> Lexicon:
        looked["at the sheets"] += 1
        return refreshed(*given, **named)

    monkeypatch.setattr(refresh, "refresh", counted)

    assert len(floor.pile.view().pile.waiting) >= 20
    assert 0 < looked["at the sheets"] <= 10


def test_a_view_is_kept_until_a_record_a_setting_or_the_question_changes(
    floor: Bench,
) -> None:
    first = floor.pile.view("P7", hours=8)
    assert floor.pile.view("p7", hours=8) is first
    assert floor.pile.view("P7", hours=9) is not first
    second = floor.pile.view("P7", hours=8)
    floor.machines.move("P7-01", "C9")
    third = floor.pile.view("P7", hours=8)
    assert third is not second
    assert third.units["P7-01"].line.place == "C9"
    floor.shop.kept_settings.set_half_life(90)
    assert floor.pile.view("P7", hours=8) is not third


def many_came_in(bench: Bench) -> None:
    """Three dozen machines of three models and four complaints; some want a part, some are donors, some were tested."""
    words = ("no battery found", "keys dead", "fan noisy", "screen stays dark")
    for number in range(36):
        tag, model = f"P8-{number:02}", ("Tern 13", "Skua 14", "Eider 17")[number % 3]
        came_in(bench, tag, model, words[number % 4])
        if number % 9 == 0:
            bench.machines.write(kinds.PART_WANTED, {"tag": tag, "part": "keyboard"})
        if number % 7 == 3:
            bench.machines.write(kinds.DONOR, {"tag": tag})
        if number % 5 == 4:
            shown = {"tag": tag, "line": "every-key", "shown": "bad"}
            bench.machines.write(kinds.FUNCTION, shown)


def in_full(view: PileView) -> str:
    """Every figure of a view."""
    return repr((view.pile, view.outlooks, view.plan, view.forecast, view.assembly))


def told_by_another_process(bench: Bench) -> str:
    """The view by a process that keeps nothing of what this one has worked out."""
    script = (
        "import sys; from pathlib import Path; from kb.bench.front import Bench; "
        "view = Bench(Path(sys.argv[1]), stock=Path(sys.argv[2])).pile.view('P7'); "
        "print(repr((view.pile, view.outlooks, view.plan, view.forecast, view.assembly)))"
    )
    run = [sys.executable, "-c", script, str(bench.folder), str(CORPUS)]
    return subprocess.run(
        run, capture_output=True, text=True, encoding="utf-8", check=True
    ).stdout.strip()


@pytest.mark.slow
def test_a_pile_reckoned_with_what_was_kept_is_that_of_a_process_that_kept_nothing(
    floor: Bench,
) -> None:
    many_came_in(floor)
    floor.pile.view("P7")
    write = floor.machines.write
    for change in (
        lambda: write(kinds.UNIT_NOTE, {"tag": "P8-01", "text": "lid scratched"}),
        lambda: write(kinds.PART_WANTED, {"tag": "P8-02", "part": "fan"}),
        lambda: write(
            kinds.FUNCTION, {"tag": "P8-03", "line": "every-key", "shown": "good"}
        ),
        lambda: floor.jobs.confirm(
            Confirmation(PLUG, "Tern 13", words="no battery found", minutes=9),
            untested=True,
        ),
    ):
        change()
        view = floor.pile.view("P7")
        assert len(view.outlooks) > 20
        assert in_full(view) == told_by_another_process(floor)


def test_machines_of_one_model_that_suffer_from_the_same_are_thought_about_once(
    floor: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    many_came_in(floor)
    asked: list[Complaint] = []
    outlines = AskingDesk.outlines

    def counted(desk: AskingDesk, complaints: Iterable[Complaint]) -> list[Outline]:
        asked.extend(complaints := list(complaints))
        return outlines(desk, complaints)

    monkeypatch.setattr(AskingDesk, "outlines", counted)
    floor.pile.view("P7")

    assert len(asked) == len({(one.text, one.model) for one in asked})
    assert len(asked) < 36 / 2


def test_a_note_on_a_machine_leaves_the_arithmetic_of_the_pile_as_it_was(
    floor: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = floor.pile.view("P7")
    floor.machines.write(kinds.UNIT_NOTE, {"tag": "P7-01", "text": "lid scratched"})
    monkeypatch.setattr("kb.bench.pile.foretold", pytest.fail)
    after = floor.pile.view("P7")

    assert after is not before
    assert after.forecast is before.forecast


def test_a_pile_is_reckoned_with_few_looks_at_the_house_files(
    floor: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    many_came_in(floor)
    floor.parts.told()
    looks: list[str] = []
    stamp = Customs.stamp

    def counted(customs: Customs, name: str) -> str:
        looks.append(name)
        return stamp(customs, name)

    monkeypatch.setattr(Customs, "stamp", counted)
    floor.pile.view("P7")

    assert 0 < len(looks) < 100
