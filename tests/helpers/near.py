"""The tests near a change: run it before landing, and nobody else finds red what this branch has broken."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path

from helpers.places import ROOT

#: What holds of the tree as a whole, whatever was changed.
ALWAYS = ("tests/test_structure.py", "tests/test_docs.py")
#: What holds of files that are no module, by the beginning of their path.
BY_PLACE = {
    "entries/": ("tests/library/test_entries.py", "tests/quality"),
    "kb/cli/commands.txt": ("tests/cli/test_group.py", "tests/cli/test_manpage.py"),
    "kb/language/words.toml": ("tests/language", "tests/quality"),
    "kb/language/foreign.toml": ("tests/language/test_foreign.py",),
    "webui/templates/": ("tests/web/test_catalogues.py", "tests/web/test_tongue.py"),
    "webui/translations/": ("tests/web/test_catalogues.py", "tests/web/test_tongue.py"),
    "README.md": ("tests/test_readme.py",),
    "DEVELOPERS.md": ("tests/test_recipes.py",),
}


def mirrored(path: Path) -> Path:
    """Where the tests of a module stand: below `tests` as it lies below `kb`, or below `tests/web`."""
    room = Path("tests") if path.parts[0] == "kb" else Path("tests/web")
    return room.joinpath(*path.parts[1:-1], f"test_{path.name}")


def near(changed: Iterable[str], root: Path = ROOT) -> list[str]:
    """What is to be run after those files of the tree have changed, each once: examples, tests, and what always is."""
    found = [one for name in changed for one in _near(Path(name))]
    there = [one for one in (*found, *ALWAYS) if (root / one).exists()]
    return list(dict.fromkeys(there))


def _near(path: Path) -> Iterator[str]:
    if path.suffix == ".py" and path.parts[0] in ("kb", "webui"):
        yield str(path)  # its examples
        yield str(mirrored(path))
        if "worded(" in _text(path):
            yield "tests/web/test_catalogues.py"
    elif path.name == "conftest.py":
        yield str(path.parent)
    elif path.name.startswith("test_"):
        yield str(path)
    for begun, tests in BY_PLACE.items():
        if str(path).startswith(begun):
            yield from tests


def _text(path: Path) -> str:
    file = ROOT / path
    return file.read_text(encoding="utf-8") if file.is_file() else ""


def changed_since(base: str, root: Path = ROOT) -> list[str]:
    """The files that differ from where this branch has left `base`, those not yet committed or added too."""
    left_at = _git(root, "merge-base", base, "HEAD")
    new = _git(root, "ls-files", "--others", "--exclude-standard")
    return [*_git(root, "diff", "--name-only", *left_at), *new]


def _git(root: Path, *asked: str) -> list[str]:
    done = subprocess.run(
        ("git", *asked), cwd=root, check=True, capture_output=True, text=True
    )
    return done.stdout.split()


if __name__ == "__main__":
    named = near(changed_since("main"))
    print(*named, sep="\n")
    sys.exit(subprocess.call((sys.executable, "-m", "pytest", "-q", *named), cwd=ROOT))
