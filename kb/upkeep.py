"""Keeps the derived index in step with the entry files, the words and the history."""

from __future__ import annotations

import hashlib
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

from kb import reading, terms, words
from kb.history import History
from kb.history.jobs import job_of
from kb.history.record import Record
from kb.history.trouble import in_plain_words
from kb.index import Index, Sheet, Spoken, is_damage
from kb.model import Entry
from kb.shelf import Shelf, read_sheet
from kb.terms import NOTHING, Content
from kb.words import Lexicon

#: The tenths that one confirmed complaint counts: half a wording of the entry's own, since some are confirmed wrongly
#: (as much as a wording cost twice as many answers after a careless history: tests/test_quality.py).
SPOKEN = terms.WORDING / 2
#: Seconds waited while another process changes an index that can serve as it stands, and one that is empty.
SHORT_WAIT, LONG_WAIT = 0.5, 60.0
#: All complaints of an entry together count at most this share of its own text, so that they cannot swamp it.
MOST_SPOKEN = 0.5


def refresh(index: Index, shelf: Shelf, history: History | None, word_files: tuple[Path, ...]) -> Lexicon:
    """Bring the index up to date and give the lexicon it was made with; cheap when nothing has changed.

    Without a history, jobs and words stay as they were last taken in. While another process is changing the
    index for long, or the disk does not take the change, the index serves as it stands, if it holds anything.
    Raises what reading the history raises; the index is unchanged then.
    """
    usable = bool(index.about("lexicon"))
    stamp = _words_stamp(word_files) if history or not usable else index.about("words")
    stamps = shelf.stamps()
    tip = _tip(history) if history else index.about("tip")
    if (index.about("words"), index.about("tip")) == (stamp, tip) and index.stamps() == stamps:
        return words.from_json(index.about("lexicon"))
    try:
        with index.changing(SHORT_WAIT if usable else LONG_WAIT):
            if index.about("words") != stamp:
                _take_words(index, word_files, stamp)
            lexicon = words.from_json(index.about("lexicon"))
            _refresh_sheets(index, shelf, stamps, lexicon)
            if history is not None and index.about("tip") != tip:
                _refresh_jobs(index, history, lexicon)
                index.note("tip", tip)
        return lexicon
    except sqlite3.OperationalError as error:
        if not usable or is_damage(error):
            raise
        return words.from_json(index.about("lexicon"))


def words_trouble(word_files: tuple[Path, ...]) -> str:
    """In a sentence what is wrong with the words that the shop added, empty if nothing is."""
    try:
        words.read_lexicon(*word_files)
    except (ValueError, AttributeError, TypeError, OSError) as error:
        told = str(error) if type(error) is ValueError else f"{word_files[-1]} is not in the form of a word list"
        return f"{told}; until then the words that ship with the program are used alone"
    return ""


def _take_words(index: Index, word_files: tuple[Path, ...], stamp: str) -> None:
    """Empty the index and note the words it is to be made with; a list of the shop's own with a mistake is left out."""
    index.empty()
    trouble = words_trouble(word_files)
    lexicon = words.read_lexicon(*(word_files[:1] if trouble else word_files))
    index.note("words trouble", trouble)
    index.note("lexicon", words.to_json(lexicon))
    index.put_known_words(lexicon.known_words)
    index.note("words", stamp)


def own_content(entry: Entry, lexicon: Lexicon) -> Content:
    """The terms and words of an entry's own texts."""
    return terms.count(terms.texts_of(entry), lexicon)


def spoken_content(own: Content, spoken: Iterable[Spoken], lexicon: Lexicon) -> Content:
    """What the complaints under which an entry was confirmed add to what its own texts hold."""
    said = terms.count(((one.text, one.share * SPOKEN) for one in spoken), lexicon)
    if not said.terms:
        return NOTHING
    limit = min(1.0, MOST_SPOKEN * sum(own.terms.values()) / sum(said.terms.values()))
    counts = {term: max(round(tenths * limit), 1) for term, tenths in said.terms.items()}
    return Content(Counter(counts), said.words)


def _refresh_sheets(index: Index, shelf: Shelf, stamps: dict[str, str], lexicon: Lexicon) -> None:
    held = index.stamps()
    index.drop_sheets(sorted(held.keys() - stamps.keys()))
    changed = {slug: stamp for slug, stamp in sorted(stamps.items()) if held.get(slug) != stamp}
    if changed:
        index.put_sheets(_sheets(shelf, changed, lexicon), _spoken_in(index, lexicon))


def _spoken_in(index: Index, lexicon: Lexicon) -> Callable[[str, Content], Content]:
    """What the jobs in the index add to an entry, by its slug and its own content."""
    return lambda slug, own: spoken_content(own, index.spoken(slug), lexicon)


def _sheets(shelf: Shelf, stamps: dict[str, str], lexicon: Lexicon) -> Iterator[Sheet]:
    """The sheets of those slugs, each read when it is asked for: a large library never stands in memory."""
    files = shelf.files()
    for slug, stamp in stamps.items():
        if slug in files:
            read = read_sheet(*files[slug])
            content = own_content(read.entry, lexicon) if read.entry else NOTHING
            yield Sheet(slug, stamp, read.own, read.entry, read.parsed.remarks, content)


def _refresh_jobs(index: Index, history: History, lexicon: Lexicon) -> None:
    """Take in the records since the last time; a history that was replaced is taken in from its start."""
    if index.about("shop") != history.shop + history.created:
        index.forget_jobs()
        index.note("shop", history.shop + history.created)
        index.note("seq", "0")
    touched: set[str] = set()
    seq = int(index.about("seq") or "0")
    corrections: dict[str, str] = {}
    for record in history.records_since(seq):
        seq = record.seq
        with in_plain_words(history.path):
            _take_in(index, record, lexicon, corrections)
        if record.kind in ("close", "retract"):
            touched.update(index.entries_of_job(record.job))
    index.note("seq", str(seq))
    index.recount(sorted(touched), _spoken_in(index, lexicon))


def _take_in(index: Index, record: Record, lexicon: Lexicon, corrections: dict[str, str]) -> None:
    if record.kind == "close":
        job = job_of(record)
        if job.words not in corrections:
            corrections[job.words] = reading.corrected(job.words, lexicon, index)
        index.put_job(record.seq, job, corrections[job.words])
    elif record.kind == "retract":
        index.retract_job(record.job, "retracted")


def _tip(history: History) -> str:
    tip = history.tip()
    return f"{history.shop} {history.created} {tip}"


def _words_stamp(files: tuple[Path, ...]) -> str:
    found = hashlib.sha256()
    for file in files:
        try:
            found.update(file.read_bytes())
        except OSError as error:
            found.update(f"-{error.errno}".encode())
    return found.hexdigest()
