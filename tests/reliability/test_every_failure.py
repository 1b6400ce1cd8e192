"""Each system call of a save made to fail in turn, and what people type kept out of the log's form."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import pytest
from helpers.long import LONG
from helpers.places import ROOT

from kb.bench.front import Bench
from kb.history import History
from kb.history.verification import verify
from kb.model import Confirmation
from reliability.running import (
    CAUSE,
    CORPUS,
    WORDS,
    Browser,
    Server,
    no_trace,
    records,
    units,
)

CALLS = (
    "write",
    "pwrite64",
    "fsync",
    "fdatasync",
    "openat",
    "rename",
    "link",
    "unlink",
)
ERRORS = ("EIO", "ENOSPC", "EACCES") if LONG else ("EIO", "ENOSPC")

SAVE = """
import sys
from pathlib import Path
from kb.history import History, kinds
from kb.model import Confirmation
from kb.history.trouble import HistoryTrouble
from kb.library.shelf import EntryChanged, NotSaved, Shelf, digest
import sqlite_utils, fcntl
shop, text = Path(sys.argv[1]), sys.argv[2]
try:
    if text:
        shelf = Shelf(None, shop / "entries")
        sheet = shelf.sheet("no-battery")
        shelf.save("no-battery", text, digest(sheet.text if sheet else ""))
    else:
        with History.open(shop / "history.db") as history:
            with history.together():
                history.close_job(Confirmation("no-battery/plug", model="Tern 13", unit="T-new"))
                history.note(kinds.UNIT_MOVED, "", {"tag": "T-new", "place": "A7"})
    print("saved")
except (HistoryTrouble, NotSaved, EntryChanged) as trouble:
    print("refused:", trouble)
"""


def traced(shop: Path, text: str, *options: str) -> subprocess.CompletedProcess[str]:
    """One save in a process of its own under strace."""
    return subprocess.run(
        [
            "strace",
            "-f",
            "-y",
            "--seccomp-bpf",
            *options,
            sys.executable,
            "-c",
            SAVE,
            str(shop),
            text,
        ],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
        env={"PATH": "/usr/bin:/bin", "PYTHONHASHSEED": "0"},
    )


def on_the_shop(shop: Path, text: str, log: Path) -> list[tuple[str, int]]:
    """The calls of a save on the shop's files, each with its number among all calls of that name."""
    done = traced(shop, text, "-o", str(log), "-e", f"trace={','.join(CALLS)}")
    assert done.stdout == "saved\n", done.stderr
    seen: Counter[str] = Counter()
    found = []
    for call, told in re.findall(r"^\d+ +(\w+)\((.*)$", log.read_text(), re.MULTILINE):
        seen[call] += 1
        if str(shop) in told:
            found.append((call, seen[call]))
    return found


def failures(calls: list[tuple[str, int]]) -> Iterator[tuple[str, int, str]]:
    for place, (call, number) in enumerate(calls):
        if call == "pwrite64" and place % 8 and not LONG:
            continue
        yield from (
            (call, number, error)
            for error in (ERRORS if LONG or place % 6 == 0 else ERRORS[:1])
        )


def sound(shop: Path) -> None:
    (shop / "entries").mkdir(parents=True)
    (shop / "entries/no-battery.md").write_text("old")
    with History.open(shop / "history.db") as history:
        history.close_job(Confirmation(CAUSE, model="Tern 13", unit="T-old"))


@pytest.mark.skipif(
    not shutil.which("strace"),
    reason="strace is not installed; it makes the calls fail",
)
@pytest.mark.parametrize(
    "what", ["a confirmed cause and its machine's place", "an entry"]
)
def test_whichever_call_fails_a_save_is_kept_or_plainly_refused(
    quick: Path, what: str
) -> None:
    from concurrent.futures import ThreadPoolExecutor

    text = CORPUS.joinpath("no-battery.md").read_text() if what == "an entry" else ""
    sound(quick / "counted")
    calls = on_the_shop(quick / "counted", text, quick / "log")

    outcomes: Counter[str] = Counter()

    def failing(case: tuple[str, int, str]) -> str:
        call, number, error = case
        shop = quick / f"{call}-{number}-{error}"
        sound(shop)
        options = [
            "-o",
            "/dev/null",
            "-e",
            f"inject={call}:error={error}:when={number}",
        ]
        done = traced(shop, text, *options)
        outcomes[done.stdout.partition(":")[0].strip()] += 1
        kept = (
            (shop / "entries/no-battery.md").read_text()
            if text
            else "T-new"
            if "T-new" in units(shop)
            else ""
        )
        moved = len(records(shop, "unit-moved"))
        told = ""
        if done.stdout == "saved\n":
            told = "" if kept == (text or "T-new") else "said to be saved, and is not"
        elif done.stdout.startswith("refused: "):
            told = "" if no_trace(done.stdout) else done.stdout
            if text and kept not in ("old", text):
                told = f"torn: {kept[:40]!r}"
        else:
            told = f"{done.stdout} {done.stderr[-300:]}"
        if moved != (kept == "T-new"):
            told = "of a cause and the machine's place that were saved together one is there alone"
        if not told and not verify(shop / "history.db").ok:
            told = "the history is no longer sound"
        shutil.rmtree(shop)
        return told and f"{case}: {told}"

    cases = list(failures(calls))
    with ThreadPoolExecutor(2) as both:
        wrong = [told for told in both.map(failing, cases) if told]
    assert wrong == []
    assert len(cases) > 10
    assert outcomes["refused"] >= 3, (
        f"too few of the calls did fail for this to show anything: {outcomes}"
    )
    print(
        f"{what}: {len(cases)} failures of {dict(Counter(call for call, _ in calls))}"
    )


def test_what_people_type_forges_no_line_of_the_log_and_is_not_in_it(
    shop: Path,
) -> None:
    """An error in the middle of requests that carry line ends, escapes and turned text in every field."""
    broken = (
        "from kb.bench.front import AskingDesk as a, EntryDesk as e, JobDesk as j\n"
    )
    broken += (
        "def f(*a, **k): raise KeyError('the customer said: ' + str(a[1:]) + str(k))\n"
    )
    broken += "a.search = a.look = e.sheet = j.confirm = f\n"
    evil = "%0d%0aERROR forged%1b[31m%e2%80%a8x%e2%80%ae customer-Smith"
    with Server(shop, setting=broken) as server:
        browser = Browser(server.port)
        asked = 0
        for address in (
            f"/?q={evil}",
            f"/entry/{evil}",
            f"/?q=dead&model={evil}",
            f"/answer?q={evil}",
        ):
            said = browser.get(address.replace(" ", "%20"))
            assert said.status == 500 or "entry" in address, address
            assert "customer" not in said.shown.replace("customer-Smith", "")
            asked += said.status == 500
        assert (
            browser.confirm(
                "T-1\r\nERROR forged", note="customer-Smith\nERROR forged"
            ).status
            == 500
        )
        log = server.stop()
    lines = log.splitlines()
    assert len(lines) == asked + 1
    assert all(
        re.match(r"\[\d{4}-[^]]+\] ERROR in failures: error \w+ at ", line)
        for line in lines
    ), lines
    assert not re.search(
        "[\x00-\x08\x0b-\x1f\x7f\u2028\u2029\u202a-\u202e\u2066-\u2069]", log
    )
    assert "customer" not in log
    assert "forged" not in log


def test_a_retracted_job_leaves_everything_as_if_it_had_never_been(
    shop: Path, quick: Path
) -> None:
    """No page removes a row; who, when and why stand in the history; the learned order is that without the job."""
    other = quick / "other"
    shutil.copytree(shop, other)
    for folder, wrong in ((shop, True), (other, False)):
        with Server(folder) as server:
            browser = Browser(server.port)
            assert browser.confirm("T-1").status == 303
            if wrong:
                said = browser.confirm(
                    "T-2", cause="no-battery/light-board", q=f"{WORDS} at all", by="KL"
                )
                job = said.headers["Location"]
                token = browser.token(job)
                assert (
                    browser.post(
                        f"{job}/undo", {"token": token, "why": "it was the cable"}
                    ).status
                    == 303
                )
    with History.open(shop / "history.db") as history:
        kept = list(history.records_since())
    assert [record.kind for record in kept] == ["close", "close", "retract"]
    assert json.loads(kept[2].body) == {"by": "KL", "why": "it was the cable"}
    assert kept[2].at >= kept[1].at
    answers = []
    for folder in (shop, other):
        bench = Bench(folder)
        answers.append(
            [
                bench.asking.search(words, "Tern 13")
                for words in (WORDS, f"{WORDS} at all", "keys dead")
            ]
        )
        bench.close()
    for one, two in zip(*answers, strict=True):
        assert one.entries == two.entries
        assert one.next_step == two.next_step
