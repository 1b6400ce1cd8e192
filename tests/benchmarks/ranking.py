"""Ranking: what the order of the entries costs, and the first one after a save, in processor time and memory.

Run `PYTHONPATH=.:tests python tests/benchmarks/ranking.py [ENTRIES ...]`: libraries of so many entries, those beyond
the shipped ones made up (`synthetic`), searched with every sixth complaint of dev and own. Milliseconds of processor
time of this process; memory is the most it ever held. A save is one entry with one wording more, taken into the index.
"""

from __future__ import annotations

import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterable
from dataclasses import replace
from functools import partial
from pathlib import Path

from helpers.asking import questions
from helpers.trade_words import shipped_lexicon
from synthetic import grown

from kb.diagnosis import causes, fit
from kb.diagnosis.causes import Counts
from kb.index import refresh
from kb.index.index import Index
from kb.index.sheets import TakenSheet
from kb.language.words import Lexicon
from kb.library.shelf import Shelf, stock_folder
from kb.model import Entry

SAVES = 7


def milliseconds(act: Callable[[], object]) -> float:
    """Of processor time."""
    began = time.process_time()
    act()
    return (time.process_time() - began) * 1000


def put(index: Index, entries: Iterable[Entry], lexicon: Lexicon) -> None:
    """Take entries into an index."""
    taken = (
        TakenSheet(
            slug=one.slug,
            stamp="",
            own=False,
            entry=one,
            remarks=(),
            content=refresh.own_content(one, lexicon),
        )
        for one in entries
    )
    with index.changing():
        index.other_sheets()
        index.sheets.put(taken)


def rank(words: str, index: Index, lexicon: Lexicon) -> None:
    """Read the words, fit them, believe: what a ranking does for a shop without a history."""
    with index.reading():
        found, slugs = fit.fit(words, lexicon, index), index.slugs()
        causes.of_entries(
            {slugs[number]: score for number, score in found.scores.items()},
            Counts(),
            found.others,
        )


def measure(count: int) -> None:
    """Print the figures of a library of so many entries."""
    lexicon = shipped_lexicon()
    shipped = [
        sheet.entry for sheet in Shelf(stock_folder(), None).sheets() if sheet.entry
    ]
    index = Index(Path(tempfile.mkdtemp()) / "index.db")
    with index.changing():
        index.words.put_known(lexicon.known_words)
    built = milliseconds(lambda: put(index, grown(shipped, count), lexicon))
    asked = [one.words for one in (*questions("dev"), *questions("own"))[::6]]
    rank(asked[0], index, lexicon)

    def ask(words: str) -> float:
        return milliseconds(lambda: rank(words, index, lexicon))

    each = [ask(words) for words in asked]
    again = [ask(words) for words in asked]
    saves, firsts = [], []
    for number, one in enumerate(shipped[:SAVES]):
        changed = replace(
            one, wordings=(*one.wordings, f"found wanting for the {number}th time")
        )
        saves.append(milliseconds(partial(put, index, [changed], lexicon)))
        firsts.append(
            milliseconds(lambda: rank("no picture, fan spins", index, lexicon))
        )
    print(
        f"{count:6} entries: built in {built / 1000:.0f} s; ranking, mean {statistics.mean(each):.1f} ms, "
        f"median {statistics.median(each):.1f}, worst {max(each):.0f}; the same again {statistics.mean(again):.1f}; "
        f"a save {statistics.median(saves):.0f}, the first ranking after it {statistics.median(firsts):.0f}; "
        f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1000:.0f} MB at most",
        flush=True,
    )
    index.close()


if __name__ == "__main__":
    for told in sys.argv[1:] or ["150", "1000", "10000"]:
        measure(int(told))
