"""Keeps the derived index in step with the entry files, the words and the history."""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from kb import reading, terms, words
from kb.history import History
from kb.history.jobs import job_of
from kb.history.record import Record
from kb.index import NOTHING, Counted, Index, Sheet, Spoken
from kb.model import Entry
from kb.shelf import Shelf, read_sheet
from kb.words import Lexicon, stem

#: The tenths that one confirmed complaint counts: as much as a wording of the entry's own.
SPOKEN = terms.WORDING
#: All complaints of an entry together count at most this share of its own text, so that they cannot swamp it.
MOST_SPOKEN = 0.5


def refresh(index: Index, shelf: Shelf, history: History | None, word_files: tuple[Path, ...]) -> Lexicon:
    """Bring the index up to date and give the lexicon it was made with; cheap when nothing has changed."""
    stamp = _words_stamp(word_files)
    stamps = shelf.stamps()
    tip = _tip(history)
    if (index.about("words"), index.about("tip")) == (stamp, tip) and index.stamps() == stamps:
        return words.from_json(index.about("lexicon"))
    with index.changing():
        if index.about("words") != stamp:
            index.empty()
            index.note("lexicon", words.to_json(words.read_lexicon(*word_files)))
            index.put_known_words({word: stem(word) for word in words.from_json(index.about("lexicon")).known_words})
            index.note("words", stamp)
        lexicon = words.from_json(index.about("lexicon"))
        _refresh_sheets(index, shelf, stamps, lexicon)
        if history is not None and index.about("tip") != tip:
            _refresh_jobs(index, history, lexicon)
            index.note("tip", tip)
    return lexicon


def own_content(entry: Entry, lexicon: Lexicon) -> Counted:
    """The terms and words of an entry's own texts."""
    content = terms.count(terms.texts_of(entry), lexicon)
    return Counted(content.terms, content.words, {word: stem(word) for word in content.words})


def with_spoken(own: Counted, spoken: Iterable[Spoken], lexicon: Lexicon) -> Counted:
    """What an entry holds together with the complaints under which it was confirmed."""
    said = terms.count(((one.text, one.share * SPOKEN) for one in spoken), lexicon)
    if not said.terms:
        return own
    counts = Counter(own.terms)
    limit = min(1.0, MOST_SPOKEN * sum(own.terms.values()) / sum(said.terms.values()))
    for term, tenths in said.terms.items():
        counts[term] += max(round(tenths * limit), 1)
    return Counted(counts, own.words + said.words, {**own.stems, **{word: stem(word) for word in said.words}})


def _refresh_sheets(index: Index, shelf: Shelf, stamps: dict[str, str], lexicon: Lexicon) -> None:
    held = index.stamps()
    index.drop_sheets(sorted(held.keys() - stamps.keys()))
    files = shelf.files()
    changed = []
    for slug in sorted(stamps):
        if held.get(slug) != stamps[slug] and slug in files:
            read = read_sheet(*files[slug])
            content = own_content(read.entry, lexicon) if read.entry else NOTHING
            changed.append(Sheet(slug, stamps[slug], read.own, read.entry, read.parsed.remarks, content))
    if changed:
        index.put_sheets(changed, lambda slug, own: with_spoken(own, index.spoken(slug), lexicon))


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
        _take_in(index, record, lexicon, corrections)
        if record.kind in ("close", "retract"):
            touched.update(index.entries_of_job(record.job))
    index.note("seq", str(seq))
    for slug in sorted(touched):
        index.recount(slug, with_spoken(index.content(slug), index.spoken(slug), lexicon))


def _take_in(index: Index, record: Record, lexicon: Lexicon, corrections: dict[str, str]) -> None:
    if record.kind == "close":
        job = job_of(record)
        if job.words not in corrections:
            corrections[job.words] = reading.corrected(job.words, lexicon, index)
        index.put_job(record.seq, job, corrections[job.words])
    elif record.kind == "retract":
        index.retract_job(record.job, "retracted")


def _tip(history: History | None) -> str:
    if history is None:
        return ""
    tip = history.tip()
    return f"{history.shop} {history.created} {tip}"


def _words_stamp(files: tuple[Path, ...]) -> str:
    found = hashlib.sha256()
    for file in files:
        found.update(file.read_bytes() if file.exists() else b"-")
    return found.hexdigest()
