"""Shops in which names of models were merged, beside the same shops with the kept names written from the start."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random

from helpers.places import CORPUS
from kb.base.trouble import Trouble
from kb.bench.front import Bench
from kb.bench.jobs import JobsWanted
from kb.history import kinds, schema
from kb.history.ledger import Ledger
from kb.history.record import Record, chain_of, first_link
from kb.model import Confirmation

#: Two ways to write one model, a third name, and another model.
NAMES = ("Tern 13", "Tern13", "T 13", "Skua 14")
TAGS = ("P7-1", "P7-2", "P7-3", "")
CAUSES = (
    "no-battery/plug",
    "no-battery/pack",
    "keys-dead/ribbon",
    "starts-no-charge/dc-jack",
)
WORDS = ("no battery is listed", "row of keys dead", "goes off when unplugged", "")
PARTS = ("battery", "keyboard")

Deed = tuple[object, ...]


def deeds(random: Random, number: int) -> Iterator[Deed]:
    """So many things that happen in a shop, each as its name and what it is given; merges come up often."""
    pick = random.choice
    for _ in range(number):
        name, other, tag, turn = (
            pick(NAMES),
            pick(NAMES),
            pick(TAGS[:-1]),
            random.randrange(4),
        )
        yield pick(
            (
                ("confirm", name, pick(TAGS), pick(CAUSES), pick(WORDS), tag),
                ("confirm", name, pick(TAGS), pick(CAUSES), pick(WORDS), tag),
                ("open", name, pick(TAGS), pick(WORDS)),
                ("close", turn, pick(CAUSES)),
                ("retract", turn),
                ("arrive", tag, name),
                ("look", tag, pick(("good", "bad"))),
                ("part", pick(PARTS), name, other, tag),
                ("no_fit", name),
                ("merge", name, other),
                ("merge", name, other),
                ("apart", name),
                ("ask",),
            )
        )


@dataclass
class Told:
    """A shop to which things happen, with what is known of its names beside it: each merged one and the one kept."""

    bench: Bench
    same: dict[str, str] = field(default_factory=dict)

    def kept(self, name: str) -> str:
        """The name that counts in the end."""
        while name in self.same:
            name = self.same[name]
        return name

    def happen(self, deed: Deed) -> None:
        """Let one thing happen, unless the shop refuses it."""
        name, *given = deed
        with suppress(Trouble):
            getattr(self, f"_{name}")(*given)

    def _confirm(
        self, model: str, tag: str, cause: str, words: str, donor: str
    ) -> None:
        given = Confirmation(
            cause, model, unit=tag, words=words, minutes=10, part="battery", donor=donor
        )
        self.bench.history().close_job(given)

    def _open(self, model: str, tag: str, words: str) -> None:
        self.bench.history().open_job(model, tag, words)

    def _close(self, number: int, cause: str) -> None:
        jobs = self.bench.history().open_jobs()
        if jobs:
            self.bench.history().close_job(
                Confirmation(cause, job=jobs[number % len(jobs)].job)
            )

    def _retract(self, number: int) -> None:
        history = self.bench.history()
        jobs = [job.job for job in history.closed_jobs()] + [
            job.job for job in history.open_jobs()
        ]
        if jobs:
            history.retract(jobs[number % len(jobs)], "wrong")

    def _arrive(self, tag: str, model: str) -> None:
        self.bench.machines.write(
            kinds.UNIT_IN, {"tag": tag, "model": model, "lot": "P7", "words": WORDS[0]}
        )

    def _look(self, tag: str, shown: str) -> None:
        self.bench.machines.write(
            kinds.FUNCTION, {"tag": tag, "line": "every-key", "shown": shown}
        )

    def _part(self, part: str, giver: str, taker: str, tag: str) -> None:
        write = self.bench.machines.write
        write(
            kinds.FIT,
            {"part": part, "from_model": giver, "to_model": taker, "shown": "worked"},
        )
        write(
            kinds.PART_BOUGHT,
            {"purchase": "B1", "part": part, "model": taker, "count": 1, "cents": 2000},
        )
        write(kinds.PART_WANTED, {"tag": tag, "part": part})
        write(kinds.DONOR, {"tag": TAGS[0], "why": "board"})

    def _no_fit(self, model: str) -> None:
        self.bench.jobs.nothing_fits("smells of fish", model)

    def _merge(self, name: str, kept: str) -> None:
        saved = self.bench.models.merge(name, kept)
        self.same[saved.merge.name] = saved.merge.kept

    def _apart(self, name: str) -> None:
        self.bench.models.part(name)
        del self.same[name]

    def _ask(self) -> None:
        self.bench.asking.models()
        self.bench.machines.units()


def figures(bench: Bench, called: Callable[[str], str] = str) -> Mapping[str, object]:
    """All that a shop counts by model, asked for by each of the names, as `called` turns it."""
    told: dict[str, object] = {
        "models": bench.asking.models(),
        "units": bench.machines.units(),
        "lots": [lot.models for lot in bench.machines.lots()],
        "wanted": bench.parts.wanted(),
        "cost": bench.cost.costs().seen,
        "open": [(job.job, job.model) for job in bench.jobs.open_jobs()],
        "last": [(job.job, job.model) for job in bench.jobs.last_saved(5)],
        "all": bench.looking_back.overview(),
        "pile": bench.pile.view(),
        "strayed": bench.health.state().problems,
    }
    for name in NAMES:
        model = called(name)
        told[f"search {name}"] = [
            replace(bench.asking.search(words, model), took_ms=0.0)
            for words in WORDS[:2]
        ]
        told[f"review {name}"] = bench.looking_back.overview(model)
        told[f"jobs {name}"] = bench.jobs.closed_like(JobsWanted(model=model))
        told[f"bench {name}"] = bench.jobs.open_like(JobsWanted(model=model))
        told[f"check-out {name}"] = bench.checkout.looks(
            bench.shop.same_models().kept(model)
        )
        told[f"sources {name}"] = [bench.parts.who_has(part, model) for part in PARTS]
    return told


def with_kept_names(told: Told, folder: Path) -> Bench:
    """The same shop with the kept names in its records from the start, and without a word of any merge."""
    with Ledger.open(
        told.bench.folder / "history.db", told.bench.shop.clock, create=False
    ) as ledger:
        shop, created, records = ledger.shop, ledger.created, list(ledger.since(0))
    folder.mkdir()
    connection = schema.connect(folder / "history.db", mode="rwc")
    schema.build(connection, shop, created)
    merges = {one.id for one in records if one.kind == kinds.SAME_MODEL.name}
    chain = first_link(shop, created)
    for record in records:
        record = _renamed(record, told.kept, merges)
        chain = chain_of(chain, record)
        record = replace(record, chain=chain)
        connection.execute(
            schema.INSERT, [getattr(record, column) for column in schema.COLUMNS]
        )
    connection.close()
    return Bench(folder, stock=CORPUS, clock=told.bench.shop.clock)


def _renamed(record: Record, kept: Callable[[str], str], merges: set[str]) -> Record:
    body = json.loads(record.body)
    if record.id in merges or body.get("record") in merges:
        return replace(record, kind="weather", body="{}")
    named = {
        key: kept(body[key])
        for key in ("model", "from_model", "to_model")
        if key in body
    }
    return replace(record, body=json.dumps({**body, **named}))


def without_its_index(bench: Bench, folder: Path) -> Bench:
    """The same shop with its history alone."""
    folder.mkdir()
    for name in ("history.db", "history.id", "history.tip"):
        if (bench.folder / name).exists():
            shutil.copy(bench.folder / name, folder / name)
    return Bench(folder, stock=CORPUS, clock=bench.shop.clock)
