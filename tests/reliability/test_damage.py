"""A history that is damaged, emptied, gone, another's or newer: told plainly, never made anew, entries go on."""

from __future__ import annotations

import json
import os
import random
import re
import shlex
import shutil
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from helpers.long import LONG

from kb.base.clock import utc_now
from kb.bench.front import Bench
from kb.history import History
from kb.history.copies.backup import daily
from kb.history.trouble import HistoryForeign, HistoryTrouble
from kb.history.verification import verify
from kb.model import Confirmation
from reliability.running import CAUSE, WORDS, Browser, Server, no_trace, units
from webui.commands import main

HARMS = 1200 if LONG else 320
#: How far from the beginning of a definition a byte is spoilt.
STEPS = range(0, 40, 13) if LONG else (13,)


@pytest.fixture
def worked(shop: Path) -> Path:
    """A shop with sixty jobs, an index that knows them and the backup of the day."""
    with History.open(shop / "history.db") as history, history.together():
        for number in range(60):
            words = f"{WORDS} {number % 7}"
            history.close_job(
                Confirmation(
                    CAUSE,
                    model="Tern 13",
                    unit=f"T-{number}",
                    words=words,
                    note="x" * 300,
                )
            )
    bench = Bench(shop)
    bench.asking.models()
    bench.close()
    daily(shop, utc_now())
    return shop


def run(*arguments: str, shop: Path) -> Result:
    """A command; whatever goes wrong, nobody sees a traceback."""
    given = CliRunner().invoke(
        main, [*arguments, "--shop", str(shop)], prog_name="benchlore"
    )
    assert given.exception is None or isinstance(given.exception, SystemExit), (
        f"{given.exception!r}"
    )
    assert no_trace(given.stderr), given.stderr
    return given


def gone(path: Path) -> None:
    path.unlink()


def gone_with_its_marks(path: Path) -> None:
    for tail in (".db", ".id", ".tip"):
        path.with_suffix(tail).unlink()


def emptied(path: Path) -> None:
    path.write_bytes(b"")


def random_bytes(path: Path) -> None:
    path.write_bytes(random.Random(1).randbytes(20_000))


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:10_000])


def folder(path: Path) -> None:
    path.unlink()
    path.mkdir()


def anothers(path: Path) -> None:
    path.unlink()
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE orders (x)")
    other.close()


def newer(path: Path) -> None:
    changed = sqlite3.connect(path)
    changed.execute("INSERT INTO about VALUES ('schema', '99')")
    changed.commit()
    changed.close()


WAYS = [gone, gone_with_its_marks, emptied, random_bytes, cut, folder, anothers, newer]


@pytest.mark.parametrize("harm", WAYS)
def test_without_a_usable_history_entries_are_searched_and_the_way_back_is_shown(
    worked: Path, harm: Callable[[Path], None]
) -> None:
    history = worked / "history.db"
    harm(history)
    before = history.read_bytes() if history.is_file() else None

    found = run("search", WORDS, "--json", shop=worked)
    assert found.exit_code == 0
    answer = json.loads(found.stdout)
    assert answer["entries"][0]["entry"] == "no-battery"
    assert answer["entries"][0]["causes"][0]["confirmed_elsewhere"] >= 1, (
        "the counts are those of the last good look"
    )
    assert "benchlore restore" in found.stderr

    for needing in (
        ["confirm", CAUSE, "--model", "Tern 13"],
        ["export"],
        ["backup", str(worked / "b.zip")],
        ["verify"],
    ):
        refused = run(*needing, shop=worked)
        assert refused.exit_code == 1, needing
        assert "benchlore restore" in refused.stderr + refused.stdout, needing
    assert (history.read_bytes() if history.is_file() else None) == before, (
        "the file is left as it is"
    )

    told = found.stderr.replace("\n", " ")
    words = shlex.split(re.search(r"benchlore (restore .*)", told)[1].strip())  # type: ignore[index]
    restored = CliRunner().invoke(main, words)
    assert restored.exit_code == 0, restored.output
    assert len(units(worked)) == 60
    assert run("verify", shop=worked).exit_code == 0


@pytest.mark.parametrize("harm", [gone, random_bytes, anothers] if not LONG else WAYS)
def test_the_pages_say_what_is_wrong_and_serve_entries_all_the_same(
    worked: Path, harm: Callable[[Path], None]
) -> None:
    """The history goes while the server runs, and comes back while it runs."""
    with Server(worked) as server:
        browser = Browser(server.port)
        token = browser.token()
        harm(worked / "history.db")
        for address in (
            "/",
            f"/?q={WORDS.replace(' ', '+')}",
            "/library",
            "/entry/no-battery",
        ):
            said = browser.get(address)
            assert said.status == 200, (address, said.shown)
            assert no_trace(said.text), address
            assert "benchlore restore" in said.shown, address
        said = browser.confirm("T-99", token, note="kept text")
        assert said.status == 503
        assert "benchlore restore" in said.shown
        assert "kept text" in said.text

        (backup,) = (worked / "backups").glob("*.zip")
        assert run("restore", str(backup), "--replace", shop=worked).exit_code == 0
        assert browser.confirm("T-99", token).status == 303
        assert "benchlore restore" not in browser.get("/").shown
    assert units(worked)[-1] == "T-99"


def test_a_history_that_a_newer_program_took_over_is_left_to_it_by_whoever_has_it_open(
    worked: Path,
) -> None:
    bench = Bench(worked)
    assert bench.asking.search(WORDS).entries[0].causes[0].confirmed_elsewhere
    newer(worked / "history.db")
    before = (worked / "history.db").read_bytes()

    assert bench.asking.search(WORDS).entries[0].entry == "no-battery"
    assert any("newer program" in told for told in bench.health.warnings())
    with pytest.raises(HistoryForeign, match="newer program"):
        bench.jobs.confirm(Confirmation(CAUSE, model="Tern 13"))

    assert (worked / "history.db").read_bytes() == before
    bench.close()


def harms(sound: bytes, chance: random.Random) -> Iterator[tuple[str, bytes]]:
    for number in range(HARMS):
        raw, kind = (
            bytearray(sound),
            ("cut", "flip", "zeroed page", "swapped pages")[number % 4],
        )
        pages = len(raw) // 4096
        if kind == "cut":
            yield kind, sound[: chance.randrange(len(sound))]
            continue
        if kind == "flip":
            place = chance.randrange(len(raw) * 8)
            raw[place // 8] ^= 1 << place % 8
        elif kind == "zeroed page":
            page = chance.randrange(pages)
            raw[page * 4096 : page * 4096 + 4096] = bytes(4096)
        else:
            one, two = chance.sample(range(pages), 2)
            first, second = (
                raw[one * 4096 : one * 4096 + 4096],
                raw[two * 4096 : two * 4096 + 4096],
            )
            raw[one * 4096 : one * 4096 + 4096], raw[two * 4096 : two * 4096 + 4096] = (
                second,
                first,
            )
        yield kind, bytes(raw)


def contents(path: Path) -> object:
    """All rows as any reader gets them, or that it gets none."""
    try:
        reader = sqlite3.connect(path)
        reader.text_factory = bytes
        try:
            return [
                reader.execute(f"SELECT * FROM {name} ORDER BY 1").fetchall()
                for name in ("records", "about")
            ]
        finally:
            reader.close()
    except sqlite3.Error:
        return None


def test_no_damage_hides_from_the_check_and_none_breaks_the_program(
    worked: Path,
) -> None:
    """Verify tells of every harm that alters a row; searching goes on after each; nothing is made anew."""
    path, chance = worked / "history.db", random.Random(7)
    sound, rows = path.read_bytes(), contents(path)
    altered, missed, broken = 0, [], []
    bench = Bench(worked)
    for number, (kind, raw) in enumerate(harms(sound, chance)):
        path.write_bytes(raw)
        if contents(path) != rows:
            altered += 1
            try:
                if verify(path).ok:
                    missed.append((number, kind))
            except HistoryTrouble:
                pass
        if number % 8 == 0:
            bench.close()
            bench = Bench(worked)
            if bench.asking.search(WORDS).entries[0].entry != "no-battery":
                broken.append((number, kind))
            bench.jobs.open_jobs()
            bench.health.warnings()
            shown = run("verify", shop=worked)
            if contents(path) != rows and shown.exit_code != 1:
                missed.append((number, kind))
        for tail in ("-journal", "-wal", "-shm"):
            path.with_name(path.name + tail).unlink(missing_ok=True)
    bench.close()
    assert missed == []
    assert broken == []
    assert altered > HARMS / 4
    print(f"{altered} of {HARMS} harms alter what a reader gets, all of them told")


@pytest.mark.parametrize("name", ["history.db", "index.db"])
def test_damage_that_cannot_even_be_quoted_is_told_and_the_search_goes_on(
    worked: Path, name: str
) -> None:
    """A byte that is no UTF-8 in the text of a table: what SQLite says of it cannot be read as text either."""
    sound = {
        path: path.read_bytes() for path in (worked / "history.db", worked / "index.db")
    }
    raw, untold = sound[worked / name], []
    begins = [found.start() for found in re.finditer(b"CREATE (TABLE|INDEX)", raw)]
    for place in [begin + step for begin in begins for step in STEPS]:
        for path, content in sound.items():
            path.write_bytes(content)
        harmed = bytearray(raw)
        harmed[place] |= 0x80
        (worked / name).write_bytes(harmed)

        bench = Bench(worked)
        assert bench.asking.search(WORDS).entries[0].entry == "no-battery"
        if (
            name == "history.db"
            and not bench.health.trouble()
            and verify(worked / name).ok
        ):
            untold.append(place)
        bench.close()
    assert len(begins) >= 4
    assert untold == []


def test_a_damaged_index_is_made_anew_while_the_server_runs(worked: Path) -> None:
    with Server(worked) as server:
        browser = Browser(server.port)
        assert browser.get("/?q=dead").status == 200
        raw = bytearray((worked / "index.db").read_bytes())
        for page in range(1, len(raw) // 4096, 3):
            raw[page * 4096 : page * 4096 + 4096] = bytes(4096)
        (worked / "index.db").write_bytes(raw)
        answers = [browser.get(f"/?q={WORDS.replace(' ', '+')}") for _ in range(3)]
        assert [said.status for said in answers] == [200] * 3
        said = browser.get(f"/?q={WORDS.replace(' ', '+')}&model=Tern+13")
        assert "60 of 60 on this model" in said.shown
    assert run("verify", shop=worked).exit_code == 0


def test_an_index_removed_while_it_is_open_is_made_anew(worked: Path) -> None:
    bench = Bench(worked)
    bench.asking.search(WORDS)
    (worked / "index.db").unlink()
    assert bench.asking.models() == ["Tern 13"]
    bench.jobs.confirm(Confirmation("no-battery/plug", model="Skua 14"))
    assert bench.asking.models() == ["Tern 13", "Skua 14"]
    bench.close()


def test_a_word_list_with_a_mistake_is_named_and_the_search_goes_on(
    worked: Path,
) -> None:
    bench = Bench(worked)
    for mistake in (
        '[same]\njack = ["socket"\n',
        "same = 3\n",
        "[same]\njack = 5\n",
        "\xff",
    ):
        (worked / "words.toml").write_text(mistake, encoding="latin-1")
        assert bench.asking.search(WORDS).entries[0].entry == "no-battery"
        assert any("words.toml" in warning for warning in bench.health.warnings()), (
            mistake
        )
        assert any(
            "words.toml" in problem for problem in bench.health.state().problems
        ), mistake
    (worked / "words.toml").write_text('[same]\njack = ["socket"]\n')
    bench.asking.search(WORDS)
    assert bench.health.warnings() == ()
    bench.close()


@pytest.mark.skipif(os.name == "nt", reason="rights work otherwise there")
def test_a_write_protected_shop_can_be_searched(worked: Path) -> None:
    """Root may write anywhere, so the rights are given up in a process of its own."""
    target = Path("/tmp") / f"benchlore-protected-{os.getpid()}"
    shutil.copytree(worked, target)
    for found in [target, *target.rglob("*")]:
        found.chmod(0o555 if found.is_dir() else 0o444)
    into, out = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            if os.getuid() == 0:
                os.setuid(65534)
            bench = Bench(target)
            answer = bench.asking.search(WORDS, "Tern 13")
            told = f"{answer.entries[0].entry} {answer.entries[0].causes[0].confirmed_here}"
            try:
                bench.jobs.confirm(Confirmation(CAUSE, model="Tern 13"))
            except HistoryTrouble as trouble:
                told += f" {trouble}"
            os.write(out, told.encode())
        except BaseException as error:
            os.write(out, repr(error).encode())
        finally:
            os._exit(0)
    os.close(out)
    with open(into) as said:
        text = said.read()
    os.waitpid(child, 0)
    for found in [target, *target.rglob("*")]:
        found.chmod(0o755)
    shutil.rmtree(target)
    assert text.startswith("no-battery 60 ")
    assert "write-protected, nothing saved" in text
