"""The front door: a confirmation changes the next answer, a retraction takes it back."""

from __future__ import annotations

import shutil
import sqlite3
import threading
from functools import partial
from operator import mul
from pathlib import Path

import pytest
from helpers.places import CORPUS

from kb.base.trouble import NotThere
from kb.bench.front import Bench
from kb.diagnosis import counts
from kb.diagnosis.case import SoFar
from kb.index import postings, remembered
from kb.index.remembered import Kept
from kb.model import Confirmation, Finding

BOARD = "no-battery/light-board"


def _causes(bench: Bench, words: str, model: str) -> list[str]:
    return [cause.slug for cause in bench.asking.search(words, model).entries[0].causes]


def test_without_history_the_order_is_the_entrys_own(bench: Bench) -> None:
    assert _causes(bench, "batt missing", "Tern 13") == ["pack", "plug", "light-board"]


def test_an_unlikely_cause_confirmed_a_few_times_comes_first_on_that_model_only(bench: Bench) -> None:
    for number in range(6):
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13", unit=f"T-{number}"))

    assert _causes(bench, "batt missing", "Tern 13")[0] == "light-board"
    cause = bench.asking.search("batt missing", "Tern 13").entries[0].causes[0]
    assert (cause.confirmed_here, cause.confirmed_elsewhere) == (6, 0)
    other = bench.asking.search("batt missing", "Skua 14").entries[0].causes
    assert {c.slug: c.confirmed_elsewhere for c in other}["light-board"] == 6


def test_two_of_two_is_not_called_certain(bench: Bench) -> None:
    for _ in range(2):
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13"))

    cause = next(c for c in bench.asking.search("batt missing", "Tern 13").entries[0].causes if c.slug == "light-board")

    assert cause.within < 0.6
    assert cause.high < 0.95


def test_one_more_confirmation_never_lowers_its_cause(bench: Bench) -> None:
    before = 0.0
    for _ in range(4):
        shares = {c.slug: c.within for c in bench.asking.search("batt missing", "Tern 13").entries[0].causes}
        assert shares["light-board"] > before
        before = shares["light-board"]
        bench.jobs.confirm(Confirmation(BOARD, "Tern 13"))


def test_jobs_under_words_said_of_everything_say_less_of_how_often_an_entry_is_it(bench: Bench) -> None:
    """Four told "dead", two of them of one entry; told nothing, or words of its own, a job counts whole."""
    other = "starts-no-charge/charger"
    for cause, words in ((BOARD, "dead"), (BOARD, "dead"), (other, "dead"), (other, "dead"), (BOARD, "")):
        bench.jobs.confirm(Confirmation(cause, "Tern 13", words=words))
    bench.jobs.confirm(Confirmation(other, "Tern 13", words="dark as a cellar, that jack"))

    with bench.shop.files.reading() as (index, _):
        counted = counts.confirmed(index.jobs.alike("Tern 13", by_day=False))

    assert counted.entries.here == {"no-battery": 0.5 + 0.5 + 1, "starts-no-charge": 0.5 + 0.5 + 1}
    assert counted.entries.told.here == {"no-battery": 3, "starts-no-charge": 3}
    assert counted.causes["no-battery"].here == {"light-board": 3}
    assert {one.slug: one.jobs for one in bench.entries.catalogue().listed if one.jobs} == counted.entries.told.here


def test_a_retraction_gives_the_numbers_of_a_history_that_never_held_the_job(bench: Bench, tmp_path: Path) -> None:
    untouched = Bench(tmp_path / "other", stock=bench.shop.shelf.stock)
    for one in (bench, untouched):
        one.jobs.confirm(Confirmation("no-battery/pack", "Tern 13", words="flat as a kipper"))
    job = bench.jobs.confirm(Confirmation(BOARD, "Tern 13", words="glimmer gone astray")).job
    assert bench.asking.search("glimmer astray", "Tern 13").entries[0].entry == "no-battery"

    bench.jobs.retract(job, "it was the plug")

    for words in ("batt missing", "glimmer astray", "flat as a kipper"):
        assert bench.asking.search(words, "Tern 13").entries == untouched.asking.search(words, "Tern 13").entries
    untouched.close()


def test_after_one_confirmation_an_odd_wording_and_its_variants_find_the_entry(bench: Bench) -> None:
    assert not bench.asking.search("wibbles like a jellyfish").fits

    bench.jobs.confirm(Confirmation("keys-dead/ribbon", "Tern 13", words="wibbles like a jellyfish"))

    for words in ("wibbles like a jellyfish", "it wibbles, jellyfish", "wibles like jelyfish"):
        assert bench.asking.search(words).entries[0].entry == "keys-dead", words
    assert "wibbles like a jellyfish" in bench.asking.search("wibbles like a jellyfish").entries[0].matched


def test_a_wording_heard_in_capitals_too_is_shown_once_as_the_entry_has_it(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation(BOARD, "Tern 13", words="BATTERY ABSENT IN SETUP"))

    matched = bench.asking.search("battery absent in setup").entries[0].matched

    assert [one for one in matched if one.casefold() == "battery absent in setup"] == ["battery absent in setup"]


def test_an_outcome_moves_the_belief_and_taking_it_back_restores_it(bench: Bench) -> None:
    before = bench.asking.search("batt missing")
    found = Finding("no-battery/fit-a-battery-known-to-be-good", "battery appears")

    after = bench.asking.search("batt missing", findings=[found])

    assert after.entries[0].causes[0].slug == "pack"
    assert after.entries[0].causes[0].within > 0.85
    assert bench.asking.search("batt missing").entries == before.entries


def test_outcomes_that_clear_everything_make_something_else_grow(bench: Bench) -> None:
    findings = [
        Finding("no-battery/reseat-the-battery-plug", "no change"),
        Finding("no-battery/unplug-the-charge-light-board", "no change"),
        Finding("no-battery/fit-a-battery-known-to-be-good", "no change"),
    ]

    shares = [bench.asking.search("batt missing", findings=findings[:done]).something_else for done in range(4)]

    assert shares[3] > max(shares[:3])
    assert shares[3] > 0.75  # the rest: the neighbours of which nothing was tested


def test_a_fix_that_did_not_help_takes_its_causes_out_of_the_belief(bench: Bench) -> None:
    tried = SoFar(failed=("no-battery/pack",))

    causes = {c.slug: c.probability for c in bench.asking.search("batt missing", at=tried).entries[0].causes}

    assert causes["pack"] == 0.0
    assert (
        causes["plug"] > {c.slug: c.probability for c in bench.asking.search("batt missing").entries[0].causes}["plug"]
    )


def test_the_order_of_outcomes_is_irrelevant(bench: Bench) -> None:
    findings = [
        Finding("no-battery/reseat-the-battery-plug", "no change"),
        Finding("no-battery/fit-a-battery-known-to-be-good", "no change"),
    ]

    one, other = bench.asking.search("batt", findings=findings), bench.asking.search("batt", findings=findings[::-1])

    for a, b in zip(one.entries, other.entries, strict=True):
        assert a.probability == pytest.approx(b.probability)


def test_the_model_named_in_the_complaint_is_taken_for_the_model(bench: Bench) -> None:
    bench.jobs.confirm(Confirmation(BOARD, "Tern 13"))

    answer = bench.asking.search("tern 13 batt missing")

    assert answer.model == "Tern 13"
    assert answer.entries == bench.asking.search(" batt missing", "Tern 13").entries


def test_an_unknown_entry_or_cause_is_refused_with_the_ones_there_are(bench: Bench) -> None:
    with pytest.raises(NotThere, match="no-battery"):
        bench.jobs.confirm(Confirmation("no-batery/plug", "Tern 13"))
    with pytest.raises(NotThere, match="no-battery/light-board"):
        bench.jobs.confirm(Confirmation("no-battery/lihgt-board", "Tern 13"))


def test_the_same_form_sent_twice_saves_one_job(bench: Bench) -> None:
    one = bench.jobs.confirm(Confirmation(BOARD, "Tern 13"), token="a-form")
    other = bench.jobs.confirm(Confirmation(BOARD, "Tern 13"), token="a-form")

    assert one.job == other.job
    assert bench.looking_back.overview("Tern 13").review.jobs == 1


def test_a_changed_file_is_seen_by_the_next_search(bench: Bench) -> None:
    own = bench.folder / "entries"
    own.mkdir(parents=True)
    assert bench.shop.shelf.stock is not None
    text = (bench.shop.shelf.stock / "keys-dead.md").read_text()
    (own / "keys-dead.md").write_text(text.replace("- qwert row gone", "- marmalade under the board"))
    assert bench.asking.search("marmalade").entries[0].entry == "keys-dead"

    (own / "keys-dead.md").unlink()

    assert not bench.asking.search("marmalade").fits


def test_a_broken_entry_takes_none_of_the_others_down(bench: Bench) -> None:
    own = bench.folder / "entries"
    own.mkdir(parents=True)
    (own / "broken.md").write_bytes(b"\xff\xfe")

    assert bench.asking.search("batt missing").entries[0].entry == "no-battery"
    assert any(remark.file == "broken.md" for remark in bench.entries.check())


SAID = ("said", "spoken_term", "spoken_mass", "tally")


def _dump(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with sqlite3.connect(path) as connection:
        numbers = dict(connection.execute("SELECT number, slug FROM sheet"))
        sheets = connection.execute("SELECT slug, entry, content, masses FROM sheet ORDER BY slug").fetchall()
        words = connection.execute("SELECT word, stem, written, said FROM word ORDER BY word").fetchall()
        jobs = connection.execute("SELECT job, cause, read_words, retracted FROM job ORDER BY seq").fetchall()
        totals = connection.execute("SELECT term, total FROM term ORDER BY term").fetchall()
        said = [connection.execute(f"SELECT * FROM {table} ORDER BY 1, 2, 3").fetchall() for table in SAID]
    return {
        "slugs": sorted((slug,) for slug in numbers.values()),
        "sheets": sheets,
        "words": words,
        "jobs": jobs,
        "totals": totals,
        "said": [row for table in said for row in table],
    }


def test_a_rebuilt_index_equals_the_one_that_grew_step_by_step(bench: Bench) -> None:
    bench.asking.search("batt")
    for number, words in enumerate(("batt missing", "accu gone for good", "leds lit", "accu gone for good")):
        bench.jobs.confirm(
            Confirmation(("no-battery/pack", "charges-no-start/button")[number % 2], "Tern 13", words=words)
        )
        bench.asking.search("batt")
    own = bench.folder / "entries"
    own.mkdir(parents=True)
    assert bench.shop.shelf.stock is not None
    shutil.copy(bench.shop.shelf.stock / "keys-dead.md", own / "more-keys.md")
    bench.asking.search("batt")
    (own / "more-keys.md").unlink()
    bench.asking.search("batt")
    grown = _dump(bench.folder / "index.db")
    bench.close()

    (bench.folder / "index.db").unlink()
    bench.asking.search("batt")

    assert _dump(bench.folder / "index.db") == grown


def test_an_index_written_in_many_small_parts_equals_the_one_written_at_once(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.asking.search("batt")
    at_once = _postings(bench.folder / "index.db")
    bench.close()

    (bench.folder / "index.db").unlink()
    monkeypatch.setattr(postings, "MOST_GATHERED", 10)
    bench.asking.search("batt")

    assert _postings(bench.folder / "index.db") == at_once


def _postings(path: Path) -> list[tuple[object, ...]]:
    with sqlite3.connect(path) as connection:
        return connection.execute("SELECT term, total, packed FROM term ORDER BY term").fetchall()


def test_an_index_whose_counts_cannot_be_read_is_made_anew_when_they_change(bench: Bench) -> None:
    bench.asking.search("batt missing")
    with sqlite3.connect(bench.folder / "index.db") as connection:
        connection.execute("UPDATE sheet SET content = x'00'")
    bench.jobs.confirm(Confirmation("no-battery/pack", "Tern 13", words="batt missing"))

    found = bench.asking.search("batt missing", "Tern 13").entries[0]

    assert (found.entry, found.jobs_here) == ("no-battery", 1)


def test_what_is_remembered_of_a_large_library_stays_within_bounds(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(remembered, "MOST_REMEMBERED", 4)

    with bench.shop.files.reading() as (index, _):
        given = [index.remembered.get(Kept.MODELS, partial(mul, 2, number), number) for number in range(100)]
        again = index.remembered.get(Kept.MODELS, lambda: 0, 99)

    assert given == [number * 2 for number in range(100)]
    assert again == 198
    assert len(index.remembered._passing) <= 4


def test_a_damaged_index_is_made_anew(bench: Bench) -> None:
    expected = bench.asking.search("batt missing").entries
    bench.close()
    (bench.folder / "index.db").write_bytes(b"not a database at all" * 500)

    assert bench.asking.search("batt missing").entries == expected


def test_two_that_start_at_once_make_one_sound_index(tmp_path: Path) -> None:
    corpus = CORPUS
    found: list[str] = []

    def start() -> None:
        one = Bench(tmp_path / "shop", stock=corpus)
        found.append(one.asking.search("batt missing").entries[0].entry)
        one.close()

    threads = [threading.Thread(target=start) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert found == ["no-battery"] * 6


def test_warming_up_takes_in_every_entry_and_changes_no_answer(bench: Bench) -> None:
    before = bench.asking.search("batt missing").entries
    worker = threading.Thread(target=bench.asking.warm)

    worker.start()
    worker.join()

    with bench.shop.files.reading() as (index, _):
        slugs = index.slugs().values()
    held = max(remembered._OF_ENTRIES._held.values(), key=len)
    assert all((Kept.HEARD, slug) in held for slug in slugs)
    assert bench.asking.search("batt missing").entries == before
