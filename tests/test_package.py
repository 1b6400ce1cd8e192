"""The wheel carries the entries, and the program finds them there as well as in a checkout."""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest
from helpers.places import ROOT

from kb import __version__

#: The moment that both builds are told, in seconds since 1970.
MOMENT = "1764460800"


def built(source: Path, target: Path) -> dict[str, Path]:
    """The wheel and the source archive that a tree gives, by the end of their names."""
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(target)]
    subprocess.run(
        command,
        cwd=source,
        env={**os.environ, "SOURCE_DATE_EPOCH": MOMENT},
        check=True,
        capture_output=True,
    )
    return {file.suffix: file for file in target.glob("benchlore-*")}


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    return built(ROOT, tmp_path_factory.mktemp("first"))


@pytest.fixture(scope="module")
def unpacked(first: dict[str, Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What an installation of the wheel puts on the path."""
    folder = tmp_path_factory.mktemp("wheel")
    with zipfile.ZipFile(first[".whl"]) as packed:
        packed.extractall(folder / "site")
    return folder / "site"


def test_wheel_and_archive_are_the_same_bytes_from_another_folder_at_another_time(
    first: dict[str, Path], tmp_path: Path
) -> None:
    with tarfile.open(first[".gz"]) as packed:
        packed.extractall(tmp_path, filter="data")
    (tree,) = tmp_path.iterdir()
    for file in tree.rglob("*"):
        os.utime(file, (1_000_000_000, 1_000_000_000))
    again = built(tree, tmp_path / "again")

    assert {end: file.read_bytes() for end, file in again.items()} == {
        end: file.read_bytes() for end, file in first.items()
    }


def _run(site: Path, *arguments: str, folder: Path) -> subprocess.CompletedProcess[str]:
    environment = {
        **os.environ,
        "PYTHONPATH": str(site),
        "BENCHLORE_SHOP": str(folder / "shop"),
    }
    command = [sys.executable, *arguments]
    return subprocess.run(
        command,
        cwd=folder,
        env=environment,
        capture_output=True,
        text=True,
        check=False,
    )


def test_an_installed_wheel_finds_all_its_entries(
    unpacked: Path, tmp_path: Path
) -> None:
    where = _run(
        unpacked,
        "-c",
        "from kb.library.shelf import stock_folder; print(stock_folder())",
        folder=tmp_path,
    )

    assert where.stdout.strip() == str(unpacked / "kb" / "_entries"), where.stderr
    shipped = {path.name for path in (unpacked / "kb" / "_entries").iterdir()}
    assert shipped == {path.name for path in (ROOT / "entries").iterdir()}


def test_an_installed_wheel_answers_a_search(unpacked: Path, tmp_path: Path) -> None:
    found = _run(
        unpacked,
        "-m",
        "webui",
        "search",
        "charger light on but will not start",
        folder=tmp_path,
    )

    assert found.returncode == 0, found.stderr
    assert "charge-light-but-no-start" in found.stdout


def test_the_wheel_carries_words_parts_licence_and_pages(unpacked: Path) -> None:
    for name in (
        "kb/language/words.toml",
        "kb/_entries/house/trade.toml",
        "kb/library/skeleton/house/trade.toml",
        "kb/LICENSE",
        "webui/templates/bench.html",
        "webui/static/bench.css",
        f"benchlore-{__version__}.data/data/share/man/man1/benchlore.1",
        "webui/static/qr.js",
        "webui/static/qr.licence.txt",
    ):
        assert (unpacked / name).exists(), name


def test_a_search_imports_no_web_framework(tmp_path: Path) -> None:
    script = (
        "import sys; from webui.commands import main\n"
        "try: main(['search', 'no light'])\n"
        "except SystemExit: pass\n"
        "assert 'flask' not in sys.modules and 'waitress' not in sys.modules, 'a search loads the web'"
    )

    assert _run(ROOT, "-c", script, folder=tmp_path).returncode == 0
