"""The refresh of the index: kept in step with the entry files, the words and the history."""

from __future__ import annotations

import hashlib
import json
import sqlite3
import stat
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby, islice, zip_longest
from math import inf
from operator import attrgetter
from pathlib import Path

from kb.base.trouble import Trouble
from kb.history import History, kinds
from kb.history.jobs import job_of
from kb.history.record import Record
from kb.history.rows import BATCH
from kb.history.same import SameModels
from kb.history.trouble import in_plain_words
from kb.history.units import unit_of
from kb.index import elsewhere, taught
from kb.index.elsewhere import CountsTrouble, PooledCounts
from kb.index.file import is_damage
from kb.index.index import FLOOR_SAME, FLOOR_SHOPS, JOBS_SAME, JOBS_SHOPS, Index
from kb.index.jobs import ClosedJob, told_of
from kb.index.sheets import TakenSheet
from kb.index.spoken import Retold
from kb.language import terms, words
from kb.language.reading import Proofreader
from kb.language.terms import NOTHING, Content
from kb.language.words import Lexicon
from kb.library.shelf import Shelf
from kb.model import Entry

#: The kinds of record that the index counts; all others leave it as it is.
COUNTED = ("close", "retract")
#: Those at which it is brought up to date: it notes whose jobs are ours, too.
NOTICED = (*COUNTED, kinds.MOVED_IN.name)
#: Those by which names of models come to mean others, or their own again.
TURNING = (kinds.SAME_MODEL.name, kinds.STRUCK.name)
#: After so many records that the index does not count its mark is moved past them.
READ_AGAIN = 16
#: Records taken in at once: what each changes is held in memory until all are (some 100 MB) and the change is written.
PORTION = 20_000
#: The mark of an index that has passed no record yet.
NOTHING_TAKEN = "0"
#: Seconds waited while another process changes an index that can serve as it stands, and one that is empty.
SHORT_WAIT, LONG_WAIT = 0.5, 60.0
#: Seconds of processor time to take in a sheet and a job (59.6 s for 5,000 sheets, 56 s for 100,000 jobs, measured;
#: few jobs cost more each).
SHEET_COSTS, JOB_COSTS = 0.012, 0.0008
#: The same to take in what a record tells of a machine (4.9 s for 20,000 machines that came in, measured).
FLOOR_COSTS = 0.00025


def refresh(
    index: Index,
    shelf: Shelf,
    history: History | None,
    word_files: tuple[Path, ...],
    patience: float = inf,
    *,
    tell: Callable[[Due], None] | None = None,
) -> Lexicon:
    """Bring the index up to date and give the lexicon it was made with; cheap when nothing has changed.

    Without a history, jobs and words stay as they were last taken in. While another process is changing the
    index for long, or the disk does not take the change, the index serves as it stands, if it holds anything.
    Raises what reading the history raises, and TakesLong where it would take longer than `patience` seconds;
    the index is unchanged then. What is due is told before it is taken in.
    """
    usable = bool(index.about("lexicon"))
    stamp = _words_stamp(word_files) if history or not usable else index.about("words")
    stamps = shelf.stamps()
    try:
        anew = index.about("words") != stamp
        sheets_as_read = not anew and index.sheets.stamps() == stamps
        if sheets_as_read and (history is None or _has_every_job(index, history)):
            return words.from_json(index.about("lexicon"))
        if tell or patience < inf:
            _before_it(_due(index, stamps, history, anew), patience, tell)
        with index.changing(SHORT_WAIT if usable else LONG_WAIT):
            _take_words(index, word_files, stamp)
            lexicon = words.from_json(index.about("lexicon"))
            reweighed = _refresh_sheets(index, shelf, stamps, lexicon)
            taking = _Taking(index, history, lexicon)
            taking.portion(reweighed)
        if taking.all_the_rest():
            return lexicon
    except sqlite3.OperationalError as error:
        if not usable or is_damage(error):
            raise
        return words.from_json(index.about("lexicon"))
    return refresh(index, shelf, history, word_files, patience, tell=tell)


def _before_it(due: Due, patience: float, tell: Callable[[Due], None] | None) -> None:
    """Tell what is due before it is taken in; raises TakesLong where that would take longer than is waited for."""
    if due.seconds > patience:
        raise TakesLong
    if tell:
        tell(due)


class _Taking:
    """Jobs that are being taken in by portions, all of them read by the same words; to be made while changing."""

    def __init__(self, index: Index, history: History | None, lexicon: Lexicon) -> None:
        self._index = index
        self._history = history
        self._lexicon = lexicon
        self._reader = Proofreader(lexicon, index.words.written())
        self._is_all = False

    def portion(self, reweighed: bool = False) -> None:
        """Take in the next portion of jobs; to be called while changing."""
        self._is_all = self._history is None or _refresh_jobs(
            self._index, self._history, self._lexicon, self._reader
        )
        if self._is_all:
            _learn(self._index, anew=reweighed)
        else:
            self._index.note(taught.LEARNED_FROM, "")  # it is learned from all of them

    def all_the_rest(self) -> bool:
        """Take in what is left, each portion kept by itself; False where the words or sheets are others by now."""
        sheets = self._index.about("sheets")
        while not self._is_all:
            with self._index.changing(LONG_WAIT):
                if self._index.about("sheets") != sheets:
                    return False
                self.portion()
        return True


def _learn(index: Index, anew: bool) -> None:
    """Learn how much models have in common if jobs have come, gone or changed their models since, or in any case."""
    source = index.taught.source(index.about(JOBS_SAME))
    if anew or index.about(taught.LEARNED_FROM) != source:
        index.note(taught.POOLING, index.taught.learned(source, index.sheets.odds))
        index.note(taught.LEARNED_FROM, source)


class TakesLong(Exception):
    """Taking in what is new would take longer than whoever asks is to wait; nothing was done."""


@dataclass(frozen=True, slots=True)
class Due:
    """What is not in the index yet: so many sheets and records; `first` if it holds nothing at all so far."""

    sheets: int
    records: int
    first: bool

    @property
    def seconds(self) -> float:
        """About how many seconds of processor time it takes to take it in."""
        return self.sheets * SHEET_COSTS + self.records * JOB_COSTS


def _due(
    index: Index, stamps: dict[str, str], history: History | None, anew: bool
) -> Due:
    """The sheets and records that are not in the index yet; with `anew` none is in it as it should be.

    Raises what reading the history raises.
    """
    first = not index.about("lexicon")
    sheets = (
        len(stamps) if anew else len(stamps.items() ^ index.sheets.stamps().items())
    )
    if history is None:
        return Due(sheets, 0, first)
    mark = NOTHING_TAKEN if anew else index.about("mark") or NOTHING_TAKEN
    taken = 0 if _beyond(mark, history) is None else int(mark.partition(" ")[0])
    return Due(sheets, history.tip().count - taken, first)


def as_it_stands(index: Index, word_files: tuple[Path, ...]) -> Lexicon:
    """The lexicon of an index that is left as it is; that of the program where it holds nothing yet."""
    kept = index.about("lexicon")
    return words.from_json(kept) if kept else words.read_lexicon(*word_files[:-1])


def refresh_floor(index: Index, history: History, patience: float = inf) -> None:
    """Bring the machines up to date; cheap when nothing has changed. Raises what reading the history raises.

    They have a mark of their own, so that a search need not wait for what a check-out notes. TakesLong is raised where
    that, or what another process changes meanwhile, would take longer than `patience` seconds; nothing is changed then.
    """
    mark = index.about("floor mark") or NOTHING_TAKEN
    further = _beyond(mark, history)
    if further is not None and next(further, None) is None:
        return
    if patience < inf and _floor_due(index, mark, history) * FLOOR_COSTS > patience:
        raise TakesLong
    try:
        while not _bring_floor_up(
            index, history, LONG_WAIT if patience == inf else SHORT_WAIT
        ):
            pass
    except sqlite3.OperationalError as error:
        if patience < inf and error.sqlite_errorcode == sqlite3.SQLITE_BUSY:
            raise TakesLong from error
        raise


def floor_read(index: Index) -> int:
    """How many records have been read for the machines."""
    return int((index.about("floor mark") or NOTHING_TAKEN).partition(" ")[0])


def _floor_due(index: Index, mark: str, history: History) -> int:
    """How many records are to be read for the machines: all, where the history is another or more shops are ours."""
    count = history.tip().count
    anew = _beyond(mark, history) is None or index.about(FLOOR_SHOPS) != _own_shops(
        history
    )
    return count if anew else count - floor_read(index)


def _bring_floor_up(index: Index, history: History, wait: float) -> bool:
    """Take in a portion of what is new of machines; whether that is all.

    Another process that changes the index is waited for in seconds.
    """
    with index.changing(wait, counts=False):
        turned = _turned(index, FLOOR_SAME, history)
        moved = _moved_in(index, FLOOR_SHOPS, history)
        # another process may have been quicker
        further = _beyond(index.about("floor mark") or NOTHING_TAKEN, history)
        if further is None or moved:
            index.floor.forget()
            further = history.records_since()
        return _take_floor(
            index, history, further, index.floor.named(turned) if turned else ()
        )


def _take_floor(
    index: Index, history: History, further: Iterator[Record], also: Iterable[str]
) -> bool:
    """Take in a portion of these records, and anew every machine that they concern and those of the keys in `also`.

    Whether that is all of them.
    """
    touched, own = set(also), history.own_shops()
    last, taken = None, 0
    for record in islice(further, PORTION):
        last, taken = record, taken + 1
        with in_plain_words(history.path):
            touched.update(index.floor.take(record, own))
    for key in sorted(touched):
        with in_plain_words(history.path):
            index.floor.put(unit_of(key, history.records(index.floor.records_of(key))))
    if last is not None:
        index.note("floor mark", _mark(last.seq, last.chain))
    return taken < PORTION


def refresh_elsewhere(index: Index, file: Path) -> None:
    """Hold what the file of other shops' counts says; cheap when it has not changed. What is wrong with it is noted.

    While another process is changing the index for long, or the disk does not take it, what was held before serves.
    """
    stamp = _stamp_of(file)
    if index.about(elsewhere.STAMP) == stamp:
        return
    counts, trouble = _counts_in(file) if stamp else (None, "")
    try:
        with index.changing(SHORT_WAIT):
            index.elsewhere.put(counts)
            index.note(elsewhere.STAMP, stamp)
            index.note(elsewhere.TROUBLE, trouble)
    except sqlite3.OperationalError as error:
        if is_damage(error):
            raise


def _counts_in(file: Path) -> tuple[PooledCounts | None, str]:
    """The counts that a file holds, or in a sentence why it holds none."""
    try:
        with file.open("rb") as source:
            return elsewhere.read(source.read(elsewhere.LARGEST + 1)), ""
    except CountsTrouble as trouble:
        told = trouble.sentence
    except OSError as error:
        told = str(error.strerror)
    return None, f"{file} cannot be used ({told}); until then no other shop counts"


def _stamp_of(file: Path) -> str:
    """What tells a plain file from what it was before, empty for none."""
    try:
        found = file.stat()
    except OSError:
        return ""
    if not stat.S_ISREG(found.st_mode):
        return ""
    return f"{found.st_ino} {found.st_size} {found.st_mtime_ns} {found.st_ctime_ns}"


def strayed(index: Index, history: History) -> str:
    """The first job that the index does not hold as the history does, empty if it holds each alike.

    To be called while reading. Raises what reading the history raises.
    """
    for held, kept in zip_longest(
        index.jobs.held(), map(told_of, history.closed_jobs())
    ):
        if held != kept:
            job, *_ = kept or held or ("",)
            return str(job)
    return ""


def is_abreast(index: Index, history: History) -> bool:
    """Whether nothing that the index counts was saved since it was brought up to date."""
    return _uncounted(index, history) is not None


def words_trouble(word_files: tuple[Path, ...]) -> str:
    """In a sentence what is wrong with the words that the shop added, empty if nothing is."""
    try:
        words.read_lexicon(*word_files)
    except (Trouble, ValueError, AttributeError, TypeError, OSError) as error:
        told = (
            error.sentence
            if isinstance(error, Trouble)
            else f"{word_files[-1]} is not in the form of a word list"
        )
        return f"{told}; until then the words that ship with the program are used alone"
    return ""


def _take_words(index: Index, word_files: tuple[Path, ...], stamp: str) -> None:
    """Empty the index and note the words it is to be made with, unless it is made with them already.

    Another process may have been quicker. A list of the shop's own with a mistake is left out.
    """
    if index.about("words") == stamp:
        return
    index.empty()
    trouble = words_trouble(word_files)
    lexicon = words.read_lexicon(*(word_files[:-1] if trouble else word_files))
    index.note("words trouble", trouble)
    index.note("lexicon", words.to_json(lexicon))
    index.words.put_known(lexicon.known_words)
    index.note("words", stamp)


def own_content(entry: Entry, lexicon: Lexicon) -> Content:
    """The terms and words of an entry's own texts."""
    return terms.count(terms.texts_of(entry), lexicon)


def _refresh_sheets(
    index: Index, shelf: Shelf, stamps: dict[str, str], lexicon: Lexicon
) -> bool:
    """Take in what is new in the sheets; whether the weights of any causes are others by that."""
    held = index.sheets.stamps()
    if held == stamps:
        return False
    index.other_sheets()
    before = set(index.sheets.slugs().values())
    gone = sorted(held.keys() - stamps.keys())
    changed = {
        slug: stamp for slug, stamp in sorted(stamps.items()) if held.get(slug) != stamp
    }
    odds_before = index.sheets.odds([*gone, *changed])
    index.sheets.drop(gone)
    index.sheets.put(_sheets(shelf, changed, lexicon))
    after = set(index.sheets.slugs().values())
    _count_words_said(index, after - before, before - after, lexicon)
    return index.sheets.odds(changed) != odds_before


def _count_words_said(
    index: Index, came: Iterable[str], went: Iterable[str], lexicon: Lexicon
) -> None:
    """Count the words of the complaints of entries that came, and no more those of entries that went."""
    said = Counter[str]()
    for sign, slugs in ((1, came), (-1, went)):
        for slug in slugs:
            held = terms.count(
                ((text, 1) for text in index.spoken.texts(slug)), lexicon
            )
            said.update({word: sign * times for word, times in held.words.items()})
    index.words.add_said(said)


def _sheets(
    shelf: Shelf, stamps: dict[str, str], lexicon: Lexicon
) -> Iterator[TakenSheet]:
    """The sheets of those slugs, each read when it is asked for: a large library never stands in memory."""
    files = shelf.files()
    for slug, stamp in stamps.items():
        if slug in files:
            read = shelf.read(*files[slug])
            content = own_content(read.entry, lexicon) if read.entry else NOTHING
            yield TakenSheet(
                slug=slug,
                stamp=stamp,
                own=read.own,
                entry=read.entry,
                remarks=read.parsed.remarks,
                content=content,
                unread=read.unread,
            )


def _has_every_job(index: Index, history: History) -> bool:
    """Whether the index counts all that the history holds; past many records that nobody counts its mark is moved.

    Past a few it stays: reading them again is cheaper than a write that every search of a busy check-out waits for.
    """
    mark = index.about("mark")
    passed = _uncounted(index, history)
    if passed is None:
        return False
    if len(passed) >= READ_AGAIN:
        with index.changing(SHORT_WAIT, counts=False):
            if index.about("mark") == mark:
                index.note("mark", _mark(passed[-1].seq, passed[-1].chain))
    return True


def _uncounted(index: Index, history: History) -> list[Record] | None:
    """The records after the mark of the index if it counts none of them, else None."""
    further = _beyond(index.about("mark"), history)
    if further is None:
        return None
    passed = []
    for record in further:
        if record.kind in NOTICED or (
            record.kind in TURNING and _means_otherwise(index, history)
        ):
            return None
        passed.append(record)
    return passed


def _means_otherwise(index: Index, history: History) -> bool:
    """Whether a name of a model means another one than when jobs were last taken in."""
    return bool(
        SameModels.from_json(index.about(JOBS_SAME)).turned(history.same_models())
    )


def _turned(index: Index, noted: str, history: History) -> frozenset[str]:
    """The names (folded) under which the index holds what has another name by now; notes by which merges it is told.

    Noted before any record is read: one that a merge overtakes meanwhile is told anew the next time.
    """
    before, now = SameModels.from_json(index.about(noted)), history.same_models()
    if before.merges != now.merges:
        index.note(noted, now.to_json())
    return before.turned(now)


def _moved_in(index: Index, noted: str, history: History) -> bool:
    """Whether jobs are ours by now that were another shop's when the index last took any in; notes whose are ours."""
    own = _own_shops(history)
    if index.about(noted) == own:
        return False
    index.note(noted, own)
    return True


def _own_shops(history: History) -> str:
    """The shops whose jobs are ours, as an index notes them."""
    return json.dumps(sorted(history.own_shops()))


def _rename_jobs(index: Index, history: History, turned: frozenset[str]) -> None:
    """Count what was counted under those names under the names that the history has for it now."""
    seqs = index.jobs.named(turned)
    for start in range(0, len(seqs), BATCH):
        records = history.records(seqs[start : start + BATCH])
        with in_plain_words(history.path):
            index.jobs.rename({record.seq: job_of(record) for record in records})


def _refresh_jobs(
    index: Index, history: History, lexicon: Lexicon, reader: Proofreader
) -> bool:
    """Take in a portion of the records since the last time; whether these are all.

    A history that is not the one known is taken in from its start.
    """
    turned = _turned(index, JOBS_SAME, history)
    _moved_in(index, JOBS_SHOPS, history)
    further = _beyond(index.about("mark"), history)
    if further is None:
        index.forget_jobs()
        index.note("mark", NOTHING_TAKEN)
        further = history.records_since()
    elif turned:
        _rename_jobs(index, history, turned)
    touched: set[str] = set()
    taken = 0
    while records := tuple(islice(further, min(BATCH, PORTION - taken))):
        counted = [record for record in records if record.kind in COUNTED]
        with in_plain_words(history.path):
            touched |= _take_in(index, counted, reader)
        _note_passed(index, "mark", records)
        _note_passed(index, "counted", counted)
        taken += len(records)
    _settle(index, touched, lexicon)
    return taken < PORTION


def _note_passed(index: Index, key: str, records: Sequence[Record]) -> None:
    """Note the last of those records, if there are any."""
    for record in records[-1:]:
        index.note(key, _mark(record.seq, record.chain))


def _settle(index: Index, touched: set[str], lexicon: Lexicon) -> None:
    """Share those complaints anew, and count what that changes of terms and words, each read once."""
    served = set(index.sheets.slugs().values())
    retold = Retold()
    for text in sorted(touched):
        shifts = index.jobs.settle(text)
        held = terms.count([(text, 1)], lexicon) if shifts else NOTHING
        for shift in shifts:
            retold.add(shift, held, is_served=shift.entry in served)
    index.spoken.write(retold)
    index.words.add_said(retold.words)


def _take_in(index: Index, records: Iterable[Record], reader: Proofreader) -> set[str]:
    """Count the jobs of these records, or count them no more; gives the words that are to be settled then."""
    touched: set[str] = set()
    for kind, alike in groupby(records, attrgetter("kind")):
        if kind == kinds.CLOSE.name:
            closed = [_as_read(record, reader) for record in alike]
            index.jobs.put(closed)
            touched.update(one.read_words for one in closed)
        else:
            touched.update(
                index.jobs.retract(record.seq, record.job) for record in alike
            )
    return touched


def _as_read(record: Record, reader: Proofreader) -> ClosedJob:
    """The closed job in a record, with its complaint as it is read."""
    job = job_of(record)
    return ClosedJob(record.seq, job, reader.corrected(job.words))


def _beyond(mark: str, history: History) -> Iterator[Record] | None:
    """The records after the one that a mark names; None if the history does not hold that very one.

    Its chain value seals all records before it: a history that holds it is the one that was taken in, and goes on.
    """
    if mark == NOTHING_TAKEN:
        return history.records_since()
    number, _, chain = mark.partition(" ")
    records = history.records_since(int(number) - 1) if number.isdecimal() else iter(())
    marked = next(records, None)
    return records if marked is not None and marked.chain == chain else None


def _mark(number: int, chain: str) -> str:
    """What the index notes of a record that it has passed."""
    return f"{number} {chain}"


def _words_stamp(files: tuple[Path, ...]) -> str:
    found = hashlib.sha256()
    for file in files:
        try:
            found.update(file.read_bytes())
        except OSError as error:
            found.update(f"-{error.errno}".encode())
    return found.hexdigest()
