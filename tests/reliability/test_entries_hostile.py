"""Entry files as nobody should write them: none takes the others down, each refusal says where and what instead."""

from __future__ import annotations

import gc
import multiprocessing
import os
import random
import re
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import pytest
from helpers.long import LONG
from helpers.places import ROOT
from hypothesis import given, seed, settings
from hypothesis import strategies as st

from kb.bench.front import Bench
from kb.bench.health import BEING_READ
from kb.library import markdown
from kb.library.shelf import Shelf, read_sheet
from reliability.conftest import SHIPPED
from reliability.running import CORPUS, WORDS, Browser, Server, wait_for

MUTATIONS = 100_000 if LONG else 1_200
TEXTS = [path.read_text("utf-8") for path in sorted(SHIPPED.glob("*.md"))]
PIECES = [
    "---\n",
    "## ",
    "- ",
    "**",
    "(",
    ")",
    ": ",
    "not ",
    "\t",
    "\u202e",
    "\x85",
    "- **x** (often): y\n",
    "1. ",
    "[",
    "```",
    "<b>",
    "\ufeff",
    "é",
    "🔋",
    "    ",
    "\r\n",
    "area: nothing\n",
    "min",
    "; ",
    "9 in 10",
    "|",
    "\\",
    "&#0;",
]


def mutated(text: str, chance: random.Random) -> str:
    """A text with a few of the mistakes that an editor, a merge or a bad disk makes."""
    lines = text.split("\n")
    for _ in range(chance.randint(1, 6)):
        at, kind = chance.randrange(len(lines)), chance.randrange(8)
        line = lines[at]
        if kind == 0:
            del lines[at]
        elif kind == 1:
            lines.insert(at, lines[chance.randrange(len(lines))])
        elif kind == 2:
            lines[at] = line[: chance.randrange(len(line) + 1)]
        elif kind == 3:
            lines[at] = line.replace(
                *chance.choice(
                    [
                        ("(", ""),
                        (")", ""),
                        (":", ""),
                        ("**", "*"),
                        ("- ", "-"),
                        ("min", ""),
                    ]
                )
            )
        elif kind == 4:
            where = chance.randrange(len(line) + 1)
            lines[at] = line[:where] + chance.choice(PIECES) + line[where:]
        elif kind == 5:
            other = chance.randrange(len(lines))
            lines[at], lines[other] = lines[other], line
        elif kind == 6:
            lines[at] = "  " * chance.randint(0, 4) + line.lstrip()
        else:
            lines[at] = line[::-1]
        lines = lines or [""]
    return "\n".join(lines)


def told_well(text: str) -> str:
    """What is wrong with how the text was read, empty if nothing is."""
    read = markdown.parse(text, "some-entry", "some-entry.md")
    if read.entry is None and not read.remarks:
        return "no entry and no remark"
    for remark in read.remarks:
        if not (remark.file and remark.line >= 1 and remark.problem and remark.instead):
            return f"a remark that does not help: {remark}"
        if remark.line > text.count("\n") + 2:
            return f"a line beyond the end: {remark}"
    return ""


def read_many(start: int) -> list[tuple[int, str]]:
    """What is wrong with how every second mutation was read."""
    wrong = []
    for number in range(start, MUTATIONS, 2):
        text = mutated(TEXTS[number % len(TEXTS)], random.Random(number))
        if told := told_well(text):
            wrong.append((number, told))
    return wrong


def test_every_mutation_of_every_shipped_entry_is_read_or_refused_with_its_line() -> (
    None
):
    with ProcessPoolExecutor(2, multiprocessing.get_context("fork")) as both:
        assert [wrong for part in both.map(read_many, range(2)) for wrong in part] == []


@seed(20261124)
@settings(max_examples=5_000 if LONG else 150, deadline=None, database=None)
@given(
    st.lists(st.one_of(st.sampled_from(PIECES), st.text(max_size=12)), max_size=60).map(
        "".join
    )
)
def test_law_any_text_is_read_or_refused_with_its_line(text: str) -> None:
    assert told_well(text) == ""


def bombs() -> Iterator[tuple[str, bytes]]:
    most = markdown.MAX_BYTES
    head = "---\ntitle: Bomb\narea: power\n---\n\n## Symptom\n\n- bomb\n\n"
    for name, piece in {
        "brackets": "[",
        "images": "![[](",
        "quotes": ">",
        "lists": "- ",
        "stars": "*a",
        "ticks": "`",
        "pipes": "|a",
        "entities": "&amp",
        "links": "[a](<b",
        "tabs": "\t-",
        "emphasis": "**a _b ",
    }.items():
        yield name, (head + piece * (most // len(piece)))[: most - 1].encode()
    yield (
        "nested",
        (head + "".join("  " * depth + "- a\n" for depth in range(240))).encode(),
    )
    yield "headings", (head + "# a\n" * 10_000).encode()
    yield "deep-headings", (head + "#" * 60_000).encode()
    yield "long-line", (head + "x" * 1_000_000).encode()
    yield "mark", b"\xef\xbb\xbf" + CORPUS.joinpath("no-battery.md").read_bytes()
    yield (
        "carriage",
        CORPUS.joinpath("no-battery.md").read_bytes().replace(b"\n", b"\r\n"),
    )
    yield "sixteen", CORPUS.joinpath("no-battery.md").read_text().encode("utf-16")
    yield "nul", head.encode() + b"- a\x00b\n"
    yield "overrides", (head + "- \u202eegap eht snrut\u202c \u2066\n").encode()
    yield "empty", b""
    yield "bytes", random.Random(3).randbytes(20_000)


@pytest.fixture
def bombed(shop: Path) -> Path:
    """A shop whose entries are one good one among all that should not be there."""
    entries = shop / "entries"
    entries.mkdir()
    for name, content in bombs():
        (entries / f"bomb-{name}.md").write_bytes(content)
    (entries / "good-one.md").write_bytes(CORPUS.joinpath("keys-dead.md").read_bytes())
    (entries / "a-link.md").symlink_to("/etc/passwd")
    (entries / "dangling.md").symlink_to("nowhere")
    (entries / "a-folder.md").mkdir()
    (entries / "UPPER Case.md").write_bytes(
        CORPUS.joinpath("no-battery.md").read_bytes()
    )
    os.mkfifo(entries / "a-pipe.md")
    return shop


@pytest.fixture
def unburdened() -> Iterator[None]:
    """The garbage collector looks through nothing that other tests have left, which took longer than what is timed."""
    gc.collect()
    gc.freeze()
    yield
    gc.unfreeze()


@pytest.mark.usefixtures("unburdened")
def test_every_entry_bomb_is_read_in_time_or_refused_with_its_reason(
    bombed: Path,
) -> None:
    slow = {}
    for name, content in bombs():
        path = bombed / "entries" / f"bomb-{name}.md"
        began = time.process_time()
        sheet = read_sheet(path, own=True)
        slow[name] = time.process_time() - began
        if len(content) > markdown.MAX_BYTES:
            assert sheet.entry is None
            assert "64 KiB" in sheet.parsed.remarks[0].instead
    print(
        "slowest:",
        *sorted(((round(took, 2), name) for name, took in slow.items()), reverse=True)[
            :3
        ],
    )
    assert [name for name, took in slow.items() if took > 1] == []


def test_bombs_links_pipes_and_folders_take_no_other_entry_down(bombed: Path) -> None:
    with Server(bombed) as server:
        browser = Browser(server.port)
        said = browser.get(f"/?q={WORDS.replace(' ', '+')}")
        assert said.status == 200
        assert "/entry/no-battery" in said.text
        for address in ("/entry/good-one", "/entry/bomb-carriage", "/library"):
            assert browser.get(address).status == 200, address
        for sheet in Shelf(CORPUS, bombed / "entries").sheets():
            status = browser.get(f"/entry/{sheet.slug.replace(' ', '%20')}").status
            assert status in (200, 303, 404), sheet.slug
        assert "root:" not in browser.get("/entry/a-link/edit").text
    remarks = {remark.file for remark in Bench(bombed).entries.check()}
    assert {
        "a-link.md",
        "dangling.md",
        "a-folder.md",
        "a-pipe.md",
        "bomb-nul.md",
        "bomb-sixteen.md",
    } <= remarks


def test_among_five_thousand_files_half_of_them_broken_the_search_finds_the_good_ones(
    shop: Path,
) -> None:
    text, entries = CORPUS.joinpath("no-battery.md").read_text(), shop / "entries"
    entries.mkdir()
    for number in range(5_000):
        good = text.replace("title: ", f"title: Number {number}, ", 1)
        (entries / f"many-{number}.md").write_text(
            good if number % 2 else text[: number % 60]
        )
    with Server(shop) as server:
        browser, began = Browser(server.port), time.monotonic()
        wait_for(
            lambda: BEING_READ.partition(";")[0] not in browser.get("/library").text,
            200,
        )
        reading = server.started_in + time.monotonic() - began
        said = browser.get("/?q=keys+dead")
        assert (said.status, "/entry/keys-dead" in said.text) == (200, True)
        assert "Number 4999" in browser.get("/entry/many-4999").shown
        began = time.monotonic()
        assert browser.get("/?q=keys+dead").status == 200
        again = time.monotonic() - began
        assert again < reading / 5, (
            "what was read once, at the start, is not read again"
        )


@pytest.mark.skipif(os.name == "nt", reason="rights work otherwise there")
def test_an_entry_that_may_not_be_read_is_named_and_takes_no_other_down(
    quick: Path,
) -> None:
    """Root may read anything, so the rights are given up in a process of its own."""
    (quick / "entries").mkdir()
    (quick / "entries" / "good-one.md").write_bytes(
        CORPUS.joinpath("keys-dead.md").read_bytes()
    )
    (quick / "entries" / "closed.md").write_bytes(
        CORPUS.joinpath("no-battery.md").read_bytes()
    )
    (quick / "entries" / "closed.md").chmod(0)
    for folder in (quick, quick / "entries"):
        folder.chmod(0o755)
    looking = (
        "import os, sys; from pathlib import Path; from kb.library.shelf import Shelf\n"
        "list(Shelf(None, Path(sys.argv[2])).sheets())  # loads what reading needs, while that may be read\n"
        "if os.getuid() == 0: os.setuid(65534)\n"
        "for sheet in Shelf(None, Path(sys.argv[1])).sheets():\n"
        "    print(sheet.slug, sheet.entry is not None, *(remark.problem for remark in sheet.parsed.remarks[:1]))"
    )
    said = subprocess.run(
        [sys.executable, "-c", looking, str(quick / "entries"), str(CORPUS)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=False,
    )
    assert said.stderr == ""
    closed, good = said.stdout.splitlines()
    assert good.startswith("good-one True")
    assert closed.startswith("closed False ")
    assert len(closed) > len("closed False ") + 10


def test_files_changed_by_hand_are_served_as_they_stand_while_the_server_runs(
    shop: Path,
) -> None:
    text = CORPUS.joinpath("no-battery.md").read_text()
    with Server(shop) as server:
        browser = Browser(server.port)
        assert browser.get("/entry/no-battery").status == 200
        (shop / "entries").mkdir()
        own = shop / "entries" / "no-battery.md"
        own.write_text(text.replace("title: ", "title: By hand, ", 1))
        assert "By hand" in browser.get("/entry/no-battery").shown
        own.write_text("---\ntitle: half a fi")
        assert browser.get("/library").status == 200
        assert browser.get(f"/?q={WORDS.replace(' ', '+')}").status == 200
        own.unlink()
        assert "By hand" not in browser.get("/entry/no-battery").shown


def test_the_second_of_two_editors_is_told_and_loses_nothing(shop: Path) -> None:
    """Both open the entry, both save; and again when the file was changed by hand in between."""
    text = CORPUS.joinpath("no-battery.md").read_text()
    address = "/entry/no-battery/edit"
    with Server(shop) as server:
        one, two = Browser(server.port), Browser(server.port)
        bases = []
        for browser in (one, two):
            found = re.search(r'name="base" value="([^"]*)"', browser.get(address).text)
            assert found
            bases.append(found[1])
        first = text.replace("title: ", "title: First, ", 1)
        second = text.replace("title: ", "title: Second, ", 1)
        assert (
            one.post(
                address, {"token": one.token(address), "base": bases[0], "text": first}
            ).status
            == 303
        )
        refused = two.post(
            address, {"token": two.token(address), "base": bases[1], "text": second}
        )
        assert refused.status == 409
        assert "Second, " in refused.text
        assert "First, " in refused.text
        assert "First, " in (shop / "entries/no-battery.md").read_text()

        base = re.search(r'name="base" value="([^"]*)"', one.get(address).text)
        assert base
        (shop / "entries/no-battery.md").write_text(
            text.replace("title: ", "title: By hand, ", 1)
        )
        refused = one.post(
            address, {"token": one.token(address), "base": base[1], "text": second}
        )
        assert refused.status == 409
        assert "By hand, " in (shop / "entries/no-battery.md").read_text()


def test_a_file_that_cannot_be_read_is_kept_when_an_entry_takes_its_place(
    quick: Path,
) -> None:
    from kb.library.shelf import digest

    shelf, text = (
        Shelf(CORPUS, quick / "entries"),
        CORPUS.joinpath("no-battery.md").read_text(),
    )
    (quick / "entries").mkdir()
    (quick / "entries/no-battery.md").write_bytes(text.encode("utf-16"))
    shelf.save("no-battery", text, digest(""))
    assert (quick / "entries/no-battery.md").read_text() == text
    assert (quick / "entries/.kept/no-battery-unread-1.md").read_bytes() == text.encode(
        "utf-16"
    )


def test_four_hundred_saves_by_two_editors_are_saved_or_told(quick: Path) -> None:
    from concurrent.futures import ThreadPoolExecutor

    from kb.library.shelf import EntryChanged, digest

    shelf = Shelf(CORPUS, quick / "entries")

    def edit(name: str) -> tuple[int, int]:
        saved = told = 0
        for number in range(200):
            sheet = shelf.sheet("no-battery")
            assert sheet is not None
            try:
                shelf.save(
                    "no-battery",
                    f"{sheet.text}<!-- {name} {number} -->\n",
                    digest(sheet.text),
                )
                saved += 1
            except EntryChanged:
                told += 1
        return saved, told

    base = len(CORPUS.joinpath("no-battery.md").read_text())
    (quick / "entries").mkdir()
    (quick / "entries/no-battery.md").write_text(
        CORPUS.joinpath("no-battery.md").read_text()
    )
    with ThreadPoolExecutor(2) as both:
        ends = list(both.map(edit, "ab"))
    sheet = shelf.sheet("no-battery")
    assert sheet is not None
    assert sheet.text[base:].count("<!--") == sum(saved for saved, _ in ends)
    assert sum(saved + told for saved, told in ends) == 400
    assert min(saved for saved, _ in ends) > 0
