"""The code holds no words of the laptop trade: they stand with its sheets, in `entries/house/`."""

from __future__ import annotations

import io
import re
import tokenize
from collections.abc import Iterator
from functools import cache

from helpers.places import ROOT

#: Words by which a line of the program would know that it is about laptops.
TRADE = re.compile(
    r"(?i)(?<![a-z])(?:laptops?|notebooks?|batter(?:y|ies)|charg(?:er|ers|es|ing)|touchpads?|trackpads?|keyboards?"
    r"|webcams?|mainboards?|motherboards?|lids?|hinges?|palm ?rest|wi-?fi|bluetooth|hdmi|usb-c|swollen"
    r"|multimeter|live system|tern 13|skua 14|plover 15|harbour reuse)(?![a-z])"
)
#: Where they may stand all the same: path (a beginning), the words, and why.
ALLOWED = (
    (
        "kb/cli/",
        r"tern 13|skua 14|battery|charg\w+|hinge|multimeter|keyboard|usb-c|mainboard",
        "examples in the help of commands, which is read before a shop is known",
    ),
    (
        "kb/history/exchange.py",
        r"tern 13|battery",
        "a line of the exchange file as an example",
    ),
    ("kb/machines/cost/offers.py", "tern 13", "a line of an offer as an example"),
    ("kb/bench/own_files.py", "charger", "a line of words.toml as an example"),
    (
        "kb/library/checks.py",
        r"charg\w+",
        "verbs that a first look had better not ask for, and an example",
    ),
    (
        "kb/library/markdown.py",
        "battery",
        "the form of a fix, told where a line is not in it",
    ),
    (
        "kb/library/machine.py",
        "keyboard",
        "the form of a line, told where a line is not in it",
    ),
    (
        "kb/library/checklist.py",
        "keyboard",
        "the form of a line, told where a line is not in it",
    ),
    (
        "kb/library/spread.py",
        "keyboard|touchpad|palm rest",
        "the form of a line, told where a line is not in it",
    ),
    ("kb/CHANGELOG.md", "laptops", "what the library that ships is about"),
    (
        "kb/library/acts.py",
        "charger",
        "the form of an act, told where a line is not in it",
    ),
    ("kb/bench/settings.py", "multimeter", "a list of tools as an example"),
    ("kb/library/skeleton/", "multimeter", "what most trades measure with"),
    ("webui/", r"keyboards?", "what the pages are worked with"),
)
SUFFIXES = (".py", ".html", ".js", ".css", ".toml", ".md")


def told(path: str, text: str) -> Iterator[str]:
    """The lines of a file that say something while it runs: of Python its texts without comments and docstrings."""
    if not path.endswith(".py"):
        yield from text.splitlines()
        return
    speaking = (tokenize.NAME, tokenize.STRING, getattr(tokenize, "FSTRING_MIDDLE", -1))
    before = tokenize.NEWLINE
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        is_docstring = token.type == tokenize.STRING and before in (
            tokenize.NEWLINE,
            tokenize.INDENT,
        )
        if token.type in speaking and not is_docstring:
            yield token.string
        if token.type not in (tokenize.COMMENT, tokenize.NL):
            before = token.type


@cache
def said() -> frozenset[tuple[str, str]]:
    """Every word of laptops in the program, with the file that says it."""
    files = [
        file
        for room in ("kb", "webui")
        for file in (ROOT / room).rglob("*")
        if file.suffix in SUFFIXES
    ]
    assert len(files) > 250
    pairs = (
        (str(file.relative_to(ROOT)), file.read_text(encoding="utf-8"))
        for file in files
    )
    return frozenset(
        (path, word.casefold())
        for path, text in pairs
        for line in told(path, text)
        for word in TRADE.findall(line)
    )


def is_allowed(path: str, word: str) -> bool:
    return any(
        path.startswith(place) and re.fullmatch(words, word, re.IGNORECASE)
        for place, words, _ in ALLOWED
    )


def test_no_line_of_the_program_speaks_of_laptops() -> None:
    assert (
        sorted(f"{path}: {word}" for path, word in said() if not is_allowed(path, word))
        == []
    )


def test_every_exception_is_still_needed() -> None:
    unused = [
        (place, words)
        for place, words, _ in ALLOWED
        if not any(
            path.startswith(place) and re.fullmatch(words, word, re.IGNORECASE)
            for path, word in said()
        )
    ]

    assert unused == []
