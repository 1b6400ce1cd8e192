"""What holds of the code as a whole: names used once, modules that say what they are, lines laid out by a tool."""

from __future__ import annotations

import ast
import sys
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from helpers.near import mirrored
from helpers.places import ROOT

#: Modules of a hundred whose first sentence holds their own name, at least.
NAMED = 80
#: Places that the formatter leaves alone, at most: tables of words that are read in lines.
LEFT_ALONE = 10


@cache
def modules() -> tuple[tuple[Path, ast.Module], ...]:
    """Every module of the core and the pages, read once."""
    paths = [
        path for room in ("kb", "webui") for path in sorted((ROOT / room).rglob("*.py"))
    ]
    return tuple(
        (path.relative_to(ROOT), ast.parse(path.read_text(encoding="utf-8")))
        for path in paths
    )


def is_named(path: Path, sentence: str) -> bool:
    """Whether each word of the module's name stands in the sentence, in the singular or plural."""
    words = [word for word in path.stem.split("_") if word != "page"]
    return all(word.removesuffix("s") in sentence.casefold() for word in words)


@pytest.mark.slow
def test_no_two_classes_have_one_name() -> None:
    where = defaultdict(list)
    for path, module in modules():
        for node in ast.walk(module):
            if isinstance(node, ast.ClassDef):
                where[node.name].append(str(path))

    assert {name: paths for name, paths in where.items() if len(paths) > 1} == {}


def test_a_module_stands_by_its_name_in_its_first_sentence() -> None:
    said = {
        path: (ast.get_docstring(module) or "").split("\n")[0]
        for path, module in modules()
    }
    plain = {
        path: sentence
        for path, sentence in said.items()
        if not path.stem.startswith("__")
    }
    unnamed = [
        str(path) for path, sentence in plain.items() if not is_named(path, sentence)
    ]

    assert len(unnamed) <= (100 - NAMED) / 100 * len(plain), unnamed


#: Why a module has no file of tests of its own.
EXAMPLES = "each of its functions shows a worked example, and that runs as a test"
#: The modules without one, each with its reason; one that has got its file leaves the list.
WITHOUT_TESTS = {
    "kb/base/csvtext.py": EXAMPLES,
    "kb/diagnosis/doing.py": EXAMPLES,
    "kb/diagnosis/noise.py": EXAMPLES,
    "kb/language/named.py": EXAMPLES,
    "kb/language/nearest.py": EXAMPLES,
    "kb/language/sounds.py": EXAMPLES,
    "kb/language/spacing.py": EXAMPLES,
    "kb/library/frontmatter.py": EXAMPLES,
    "kb/library/items.py": EXAMPLES,
    "webui/strings.py": "a table alone: tests/web/test_catalogues.py holds it against the pages and the translations",
}


def functions(module: ast.Module) -> Iterator[ast.FunctionDef]:
    """The functions and methods of a module that others may call."""
    classes = [node for node in module.body if isinstance(node, ast.ClassDef)]
    for node in [*module.body, *(part for one in classes for part in one.body)]:
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def test_a_module_has_its_tests_in_the_mirrored_folder_or_a_reason_why_not() -> None:
    without = {
        str(path)
        for path, _ in modules()
        if not path.stem.startswith("__") and not (ROOT / mirrored(path)).is_file()
    }

    assert without == set(WITHOUT_TESTS)


def test_what_is_tested_by_its_examples_shows_one_of_each_function() -> None:
    unshown = [
        f"{path}:{function.lineno}"
        for path, module in modules()
        if WITHOUT_TESTS.get(str(path)) == EXAMPLES
        for function in functions(module)
        if ">>>" not in (ast.get_docstring(function) or "")
    ]

    assert unshown == []


#: Ways through a function, at most: one, and one more for each condition, loop, `and`, `or`, case and handler in it.
MOST_WAYS = 14
BRANCHES = (
    ast.If,
    ast.IfExp,
    ast.For,
    ast.While,
    ast.ExceptHandler,
    ast.match_case,
    ast.comprehension,
    ast.Assert,
)


#: Lines of a function with its signature and its docstring, at most; what decorates it is not counted.
MOST_LINES = 40


def ways(function: ast.AST) -> int:
    """The cyclomatic complexity (McCabe 1976) with comprehensions and their conditions counted, as radon does."""
    found = 1
    for node in ast.walk(function):
        found += isinstance(node, BRANCHES)
        found += len(node.values) - 1 if isinstance(node, ast.BoolOp) else 0
        found += len(node.ifs) if isinstance(node, ast.comprehension) else 0
    return found


@pytest.mark.slow
def test_no_function_is_a_knot() -> None:
    knots = {
        f"{path}:{node.lineno} {node.name}": ways(node)
        for path, module in modules()
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and ways(node) > MOST_WAYS
    }

    assert knots == {}


def test_no_function_is_too_long_to_be_seen_at_once() -> None:
    lengths = {
        f"{path}:{node.lineno} {node.name}": node.end_lineno - node.lineno + 1
        for path, module in modules()
        for node in ast.walk(module)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef) and node.end_lineno
    }

    assert {name for name, lines in lengths.items() if lines > MOST_LINES} == set()


def test_a_folder_says_in_one_sentence_what_it_knows() -> None:
    folders = {
        path: ast.get_docstring(module)
        for path, module in modules()
        if path.name == "__init__.py"
    }

    assert [str(path) for path, sentence in folders.items() if not sentence] == []


def test_the_core_is_rooms_and_hardly_a_loose_module() -> None:
    loose = {path.name for path, _ in modules() if path.parent == Path("kb")}

    assert loose == {"__init__.py", "__main__.py", "model.py"}


def test_hardly_a_line_is_kept_from_the_formatter() -> None:
    texts = {
        path: path.read_text(encoding="utf-8")
        for room in ("kb", "webui", "tests")
        for path in (ROOT / room).rglob("*.py")
        if path != Path(__file__)
    }
    left = {path: text.count("# fmt: skip") for path, text in texts.items()}

    assert sum(left.values()) <= LEFT_ALONE, {path for path in left if left[path]}


#: Which modules use which library from outside; whoever wants another use of one asks the module that has it.
USERS = {
    "PIL": ("kb/library/album.py", "kb/library/drawing.py"),
    "Stemmer": ("kb/language/words.py",),
    "babel": ("webui/tongue.py",),
    "click": (
        "kb/cli/",
        "webui/serving_commands.py",
        "webui/guard/passphrase_command.py",
        "webui/serving/server.py",
    ),
    "filelock": ("kb/base/locks.py",),
    "flask": ("webui/",),
    "markdown_it": ("kb/library/markdown.py", "webui/rendering.py"),
    "markupsafe": ("webui/filters.py", "webui/tongue.py"),
    "ibis": ("kb/office/",),
    "platformdirs": ("kb/base/folders.py",),
    "psycopg": ("kb/office/engines.py",),
    "pyarrow": ("kb/office/",),
    "pyspark": ("kb/office/engines.py",),
    "rapidfuzz": ("kb/language/",),
    "segno": ("kb/machines/", "webui/"),
    "sqlite_utils": ("kb/history/schema.py",),
    "waitress": ("webui/serving/server.py", "webui/serving/visitors.py"),
    "werkzeug": ("webui/",),
}


def imported(module: ast.Module) -> Iterator[str]:
    """The top-level names of what a module imports while it runs."""
    for node in ast.walk(module):
        if isinstance(node, ast.Import):
            yield from (name.name.partition(".")[0] for name in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module.partition(".")[0]


def test_each_outside_library_has_one_user() -> None:
    own = {*sys.stdlib_module_names, "kb", "webui", "_typeshed"}
    strangers = {
        (str(path), name)
        for path, module in modules()
        for name in set(imported(module)) - own
        if not str(path).startswith(USERS.get(name, ("nobody",)))
    }

    assert strangers == set()


#: Modules of the standard library that only some systems have.
OF_SOME_SYSTEMS = {
    "fcntl",
    "msvcrt",
    "pwd",
    "grp",
    "termios",
    "tty",
    "pty",
    "resource",
    "winreg",
}


def guarded(module: ast.Module) -> Iterator[ast.AST]:
    """Everything that stands under a question which system this is, or under a `try`."""
    for node in ast.walk(module):
        if isinstance(node, ast.Try) or (
            isinstance(node, ast.If) and "sys.platform" in ast.unparse(node.test)
        ):
            yield from ast.walk(node)


@pytest.mark.slow
def test_what_only_some_systems_have_is_never_imported_unasked() -> None:
    unasked = []
    for path, module in modules():
        asked = set(map(id, guarded(module)))
        for node in ast.walk(module):
            names = (
                [name.name for name in node.names]
                if isinstance(node, ast.Import)
                else []
            )
            names += [node.module or ""] if isinstance(node, ast.ImportFrom) else []
            if OF_SOME_SYSTEMS & set(names) and id(node) not in asked:
                unasked.append((str(path), names))

    assert unasked == []
