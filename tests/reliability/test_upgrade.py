"""A later program opens an older history and is killed in the middle of bringing it up to date."""

from __future__ import annotations

import random
import subprocess
import sys
import time
from pathlib import Path

from helpers.long import LONG
from helpers.places import ROOT

from kb.history import History, schema
from kb.history.trouble import HistoryForeign
from kb.history.verification import verify
from kb.model import Confirmation
from reliability.running import CAUSE, units

KILLS = 100 if LONG else 20

#: The program of a later year: one more migration, of many small steps; says what it is at.
LATER = """
import sys
from pathlib import Path
from kb.history import History, schema
known = schema.migrations
def migrations():
    steps = known()
    @steps(name="shelves")
    def shelves(db):
        print("begun", flush=True)
        db.table("shelf").create({"number": int, "name": str}, pk="number", strict=True)
        for number in range(1000):
            db.execute("INSERT INTO shelf VALUES (?, ?)", (number, "x" * 400))
        db.table("about").insert({"key": "schema", "value": "2"})
    return steps
schema.migrations, schema.SCHEMA = migrations, 2
print("ready", flush=True)
with History.open(Path(sys.argv[1])) as history:
    print("done", history.tip().count, history._ledger._connection.execute("SELECT count(*) FROM shelf").fetchone()[0])
"""


def later(path: Path) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-c", LATER, str(path)],
        cwd=ROOT,
        text=True,
        stdout=subprocess.PIPE,
    )


def test_a_history_is_old_or_new_after_a_kill_in_the_middle_of_an_upgrade(
    quick: Path,
) -> None:
    path, chance = quick / "shop" / "history.db", random.Random(25)
    with History.open(path) as history, history.together():
        for number in range(300):
            history.close_job(Confirmation(CAUSE, model="Tern 13", unit=f"T-{number}"))
    old = path.read_bytes()
    seen = {"old": 0, "new": 0}
    for kill in range(KILLS):
        for left in path.parent.iterdir():
            if left.name not in ("history.db", "history.id", "history.tip"):
                left.unlink()
        path.write_bytes(old)
        running = later(path)
        assert running.stdout is not None
        running.stdout.readline()
        if chance.random() < 0.8:
            running.stdout.readline()
        time.sleep(chance.uniform(0, 0.05))
        running.kill()
        running.communicate()
        try:
            assert len(units(path.parent)) == 300
            assert verify(path).problems() == ()
            seen["old"] += 1
        except HistoryForeign:
            seen["new"] += 1
            with History.open(path.with_name("history.before-shelves.db")) as copy:
                assert copy.tip().count == 300
        if kill % 5 == 0:
            done, _ = later(path).communicate()
            assert done.splitlines()[-1] == "done 300 1000"
    assert seen["old"] > 0
    print(
        f"{KILLS} kills: {seen['old']} times the old history, {seen['new']} times the new one"
    )


def test_every_schema_there_has_been_is_opened(quick: Path) -> None:
    """As there are more of them, each older one is made here by its own steps."""
    from sqlite_utils import Database

    for number in range(1, schema.SCHEMA + 1):
        path = quick / f"schema-{number}" / "history.db"
        path.parent.mkdir()
        connection = schema.connect(path, "rwc")
        steps, db = schema.migrations(), Database(connection)
        steps.apply(db, stop_before=[step.name for step in steps.pending(db)][number:])
        connection.executemany(
            "INSERT INTO about (key, value) VALUES (?, ?)",
            [("created", "2026-11-24T10:00:00Z"), ("shop", "x")],
        )
        connection.close()
        with History.open(path) as history:
            history.close_job(Confirmation(CAUSE, model="Tern 13"))
        assert verify(path).problems() == ()
