"""Answers and reviews as plain text for a terminal."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from kb.cli.phrases import first_of, if_any, if_known

if TYPE_CHECKING:
    from kb.bench.settings import Settings
    from kb.diagnosis.answer import (
        Answer,
        CauseBelief,
        EntryBelief,
        Loss,
        Parting,
        Step,
    )
    from kb.history.copies.register import BackedUp
    from kb.history.dates import Misdated
    from kb.history.jobs import OpenJob
    from kb.library.tools import Tool
    from kb.review.demand import Needed
    from kb.review.failures import Failure, Review
    from kb.review.models import Measured, ModelLine
    from kb.review.overview import Overview

#: Causes shown per entry, and failures per review, before "and N more".
CAUSES_SHOWN = 4
FAILURES_SHOWN = 15
#: A further entry with less belief than this is named without its causes.
LEAST_SHOWN = 0.01
#: Belief in something that a picture does not list which is told of.
LEAST_UNLISTED = 0.1
#: Parts to keep and gaps, likewise.
LINES_SHOWN = 10
BAR = 20
#: Records with a wrong date named by their number.
MISDATED_SHOWN = 10
#: Files that a backup leaves out named by their names.
LEFT_OUT_SHOWN = 5
#: What settings mean and how they are changed; one for an hour of work and its currency.
SETTINGS_EXPLAINED = {
    "zone": "whose midnight a day begins at; benchlore settings --zone Europe/Oslo",
    "lacks": "tools and parts without which tests are not proposed; benchlore tools --lack NAME",
    "half_life_days": "how old a job is when it counts half in beliefs; benchlore settings --half-life 2y",
    "machines_from": "what is likely on them; benchlore settings --machines-from pallet",
    "currency": "what an hour of work costs; benchlore settings --hour 36.00 --currency EUR",
    "library": "the sheets and lists of the shop's trade; benchlore settings --library DIR",
    "elsewhere": "what other shops had, where it was learned; benchlore settings --elsewhere off",
}


def counted(number: int, what: str) -> str:
    """A number of things.

    >>> counted(1, "job"), counted(12, "job")
    ('1 job', '12 jobs')
    """
    ending = "" if number == 1 else "s"
    return f"{number} {what}{ending}"


def pairs_told(pairs: Iterable[tuple[str, int]]) -> str:
    """What was counted, each with its number, in one line.

    >>> pairs_told([("fan", 2), ("panel", 1)])
    'fan 2, panel 1'
    """
    return ", ".join(f"{what} {number}" for what, number in pairs)


def answer_lines(answer: Answer) -> Iterator[str]:
    """What is to be done at once, then the ranked answer: how the words were read, entries, the next step."""
    how_read = list(_how_read(answer))
    yield from urgent_lines(answer.at_once)
    if answer.at_once and how_read:
        yield ""
    yield from how_read
    if answer.two:
        yield f"Two things are told here: follow {answer.two[0]} or {answer.two[1]}, and come back for the other."
    yield from _ranked_lines(answer.entries)
    if answer.something_else >= 0.01:
        yield ""
        yield f"   Something else: {share(answer.something_else).strip()}{_where_else(answer)}"
    if answer.parting:
        yield ""
        yield from _parting_lines(answer.parting, answer.next_step)
    if answer.next_step and answer.fits:
        yield ""
        yield from _step_lines(answer.next_step, answer.loss)


def _how_read(answer: Answer) -> Iterator[str]:
    """How the words were read, on which model, and that they fit nothing well."""
    for typed, read in answer.corrections:
        yield f'read as: {read} (for "{typed}"; put it in "quotes" to keep it)'
    if answer.model:
        yield f"model: {answer.model}"
    if not answer.fits:
        yield "Nothing here fits these words well: say it in other words, or write it down as a new entry."
        if answer.entries:
            yield ""
            yield "Perhaps:"


def _parting_lines(parting: Parting, step: Step | None) -> Iterator[str]:
    """The question that parts two neighbours, and the test that answers it best unless it is the next step anyway."""
    yield "Which is it?"
    for slug, seen in zip((parting.first, parting.second), parting.seen, strict=True):
        if seen:
            yield f"      {slug}: {seen}"
    coming = f"{step.entry}/{step.name}" if step else ""
    if parting.test not in ("", coming):
        entry = parting.test.partition("/")[0]
        yield f"      told apart best by: {parting.what} ({parting.minutes:g} min) [{entry}]"


def _ranked_lines(entries: Sequence[EntryBelief]) -> Iterator[str]:
    """The entries, best first; those that are hardly believed stand without a blank line between."""
    is_short = False
    for number, entry in enumerate(entries, 1):
        if not is_short:
            yield ""
        is_short = number > 1 and entry.probability < LEAST_SHOWN
        yield from _entry_lines(number, entry, is_short)


def _step_lines(step: Step, loss: Loss | None) -> Iterator[str]:
    """The next step with its minutes and needs, why it comes next, and what is missing for it."""
    yield from caution_lines(step.cautions, "Before")
    yield from procedure_lines(step.procedure)
    where = if_any(" [{}]", step.entry)
    yield f"Next: {step.title} ({facts(step)}){where}"
    below = [f"for: {step.cause}"] if step.cause else []
    below += held_lines(step)
    below += [step.why, f"expected until it works: {step.expected_minutes:.0f} min"]
    below += lacking_lines(step, loss)
    for line in below:
        yield f"      {line}"


def caution_lines(cautions: Sequence[str], heading: str) -> Iterator[str]:
    """The first caution of a step, and how many more there are; nothing if there is none."""
    if cautions:
        more = if_any(" ({} more in `benchlore guide`)", len(cautions) - 1)
        yield f"{heading}: {cautions[0]}{more}"


def _where_else(answer: Answer) -> str:
    """In which picture something else is believed, where it is mostly one of those shown."""
    entry = max(answer.entries, key=lambda one: one.unlisted, default=None)
    if (
        entry
        and 2 * entry.unlisted > answer.something_else
        and entry.unlisted >= LEAST_UNLISTED
    ):
        return f", mostly something that is not listed under “{entry.title}”"
    return ""


def facts(step: Step) -> str:
    """The minutes of a step, the waiting, whether the cover comes off and what it needs."""
    wait = if_any(" and {:g} of waiting", step.wait)
    cover = ", cover off" if step.cover_off else ""
    needs = if_any(", needs {}", ", ".join(step.needs))
    return f"{step.minutes:g} min{wait}{cover}{needs}"


def urgent_lines(deeds: Sequence[str]) -> Iterator[str]:
    """What is to be done at once, under its heading; nothing if nothing presses."""
    if deeds:
        yield "At once:"
        yield from (f"  ! {deed}" for deed in deeds)


def procedure_lines(steps: Sequence[str]) -> Iterator[str]:
    """What to do in each step of a procedure, in order, under its heading; nothing if there is none."""
    # the help of a command need not wait for it
    from kb.library.procedures import short

    if steps:
        yield "In this order:"
        yield from (
            f"  {number:2}. {short(step)}" for number, step in enumerate(steps, 1)
        )


def held_lines(step: Step) -> Iterator[str]:
    """Why a step cannot be left out, a sentence if it cannot."""
    if step.held:
        yield f"{step.held[:1].upper()}{step.held[1:]}."


def lacking_lines(step: Step, loss: Loss | None) -> Iterator[str]:
    """What the shop lacks for a step, and what would help most of what it lacks, a sentence each."""
    if step.lacks:
        what = f"Missing here: {', '.join(step.lacks)}, which this {step.kind} needs"
        yield f"{what}: get that first, or pass the machine on."
    if loss:
        yield f"Missing here: {loss.tool}, which would save about {loss.minutes:.0f} min."


def tool_lines(found: Sequence[Tool]) -> Iterator[str]:
    """The tools with the tests and fixes that need them, those that are lacking marked."""
    yield "tests  fixes"
    for tool in found:
        lacking = " (lacking)" if tool.lacking else ""
        yield f"{tool.tests:5d}  {tool.fixes:5d}  {tool.name}{lacking}"


def settings_lines(settings: Settings, zone: str) -> Iterator[str]:
    """The settings with what they mean and how they are changed; `zone` is empty for that of the computer."""
    days = settings.half_life_days
    values = {
        "zone": zone or "that of this computer",
        "lacks": ", ".join(sorted(settings.lacks)) or "nothing",
        "half_life_days": f"{days:g}" if days else "off",
        "machines_from": settings.machines_from,
        "hourly_cents": settings.hourly_cents or "work costs nothing",
        "currency": settings.currency or "none is shown",
        "library": settings.library or "the one that ships",
        "elsewhere": "believed" if settings.elsewhere else "off",
    }
    for name, value in values.items():
        yield f"{name:<14}  {value}"
        if name in SETTINGS_EXPLAINED:
            yield f"{'':16}{SETTINGS_EXPLAINED[name]}"


def backup_lines(found: BackedUp, now: datetime) -> Iterator[str]:
    """The last backup, the last one on another disk, and what is in none."""
    if found.last is None:
        yield "last backup   none yet: benchlore backup FILE"
        return
    place = "on another disk" if found.last.elsewhere else "on the same disk"
    yield f"last backup   {found.last.name}, {ago(found.last.made, now)}, {place}"
    if found.elsewhere is None:
        yield "another disk  none: a backup there outlives this one"
    elif found.elsewhere != found.last:
        yield f"another disk  {found.elsewhere.file}, {ago(found.elsewhere.made, now)}"
    if found.waiting:
        yield f"              {counted(found.waiting, 'record')} saved since"
    # one line, whatever a name holds
    without = [" ".join(name.split()) for name in found.last.left_out]
    if without:
        yield f"              without {first_of(without, LEFT_OUT_SHOWN)}"


def date_lines(found: Misdated) -> Iterator[str]:
    """How many records have a date that cannot be right, and which ones first; nothing if there are none."""
    kinds = {
        "before 2000": found.before,
        "in the future": found.future,
        "out of order": found.out_of_order,
    }
    told = [f"{len(records)} {what}" for what, records in kinds.items() if records]
    if told:
        first = sorted([*found.before, *found.future, *found.out_of_order])[
            :MISDATED_SHOWN
        ]
        named = ", ".join(map(str, first))
        record = "record" if found.count == 1 else "records"
        more = ", ..." if found.count > len(first) else ""
        yield f"dates         {found.count} cannot be right: {', '.join(told)}"
        yield f"              {record} {named}{more}"


def ago(moment: str, now: datetime) -> str:
    """How long ago a time (ISO, with its zone) was; the day itself if the clock says that it has not come yet.

    >>> now = datetime.fromisoformat("2026-11-24T10:15:00Z")
    >>> ago("2026-11-24T08:10:00Z", now), ago("2026-11-21T08:10:00Z", now), ago("2026-11-24T10:14:50Z", now)
    ('2 h ago', '3 d ago', 'just now')
    >>> ago("2027-01-01T00:00:00Z", now)
    'by its date of 2027-01-01'
    """
    minutes = (now - datetime.fromisoformat(moment)).total_seconds() / 60
    if minutes < 0:
        return f"by its date of {moment[:10]}"
    if minutes < 2:
        return "just now"
    if minutes < 120:
        return f"{minutes:.0f} min ago"
    if minutes < 48 * 60:
        return f"{minutes // 60:.0f} h ago"
    return f"{minutes // 1440:.0f} d ago"


def job_line(state: OpenJob) -> str:
    """One line that says which job this is: what was found, on which machine, when, and its words."""
    closed = state.closed
    found = (
        f"{closed.cause}, closed {closed.closed_at[:10]}" if closed else "still open"
    )
    tag = if_any(" ({})", state.unit)
    words = if_any(", “{}”", " ".join(state.words.split())[:60])
    return f"job {state.job}: {state.model or 'no model'}{tag}, {found}{words}"


def review_lines(review: Review) -> Iterator[str]:
    """The most frequent failures with rates, minutes and parts."""
    since = if_any(" since {}", review.since)
    machines = counted(review.machines, "machine")
    yield f"{review.model or 'All models'}{since}: {counted(review.jobs, 'job')} on {machines}"
    if review.median_minutes is not None:
        yield f"median {review.median_minutes:g} min a job, {review.total_minutes / 60:.0f} h in all"
    for failure in review.failures[:FAILURES_SHOWN]:
        yield ""
        yield from _failure_lines(failure)
    if len(review.failures) > FAILURES_SHOWN:
        yield ""
        yield f"and {len(review.failures) - FAILURES_SHOWN} more"
    if review.parts:
        yield ""
        yield f"Parts used: {pairs_told(review.parts)}"


def overview_lines(seen: Overview) -> Iterator[str]:
    """The review, and what belongs beside it: jobs by quarter, parts to keep, models compared, gaps of the library."""
    from kb.review.demand import AHEAD_DAYS  # a search need not wait for it

    yield from review_lines(seen.review)
    if seen.strays:
        yield ""
        yield f"Dated far from all others, and left out of days: {seen.strays} (benchlore verify counts wrong dates)"
    if seen.review.quarters:
        yield ""
        yield f"Jobs by quarter: {pairs_told(seen.review.quarters)}"
    yield from _listed(
        f"Parts for the next {AHEAD_DAYS} days, from {seen.span.days} days seen:",
        [_stock_line(one) for one in seen.stock],
    )
    yield from _listed(
        "Models by bench minutes a machine (least first, by the upper limit):",
        [_model_line(line) for line in seen.models],
    )
    yield from _listed(
        "Words that led nowhere:",
        [
            f"{one.times:7d}  {one.words or '(no words)'} (last {seen.period.day(one.last)})"
            for one in seen.gaps
        ],
    )
    if seen.unconfirmed:
        yield ""
        yield f"Entries never confirmed here: {len(seen.unconfirmed)}"


def _listed(heading: str, lines: list[str]) -> Iterator[str]:
    if lines:
        yield ""
        yield heading
        yield from lines[:LINES_SHOWN]
    if len(lines) > LINES_SHOWN:
        yield f"         and {len(lines) - LINES_SHOWN} more"


def _stock_line(one: Needed) -> str:
    return f"{one.expected:7.1f}  {one.part}: keep {one.high}; {one.used} used, {one.from_donors} from donors"


def _model_line(line: ModelLine) -> str:
    """A model with its minutes, jobs and parts a machine, and on how many of its machines the cause was found."""
    minutes, told = "      ?", ""
    if line.minutes:
        minutes, told = (
            f"{line.minutes.value:7.0f}",
            f", minutes {_figure(line.minutes)}",
        )
    machines = counted(line.machines, "machine")
    each = f"{_figure(line.jobs)} jobs and {_figure(line.parts)} parts a machine{told}"
    return f"{minutes}  {line.model}: {machines}, {each}; cause found on {line.good.value:.0%}"


def _figure(given: Measured) -> str:
    limits = (
        f" ({given.interval.low:.1f} to {given.interval.high:.1f})"
        if given.interval
        else ""
    )
    return f"{given.value:.1f}{limits}"


def _entry_lines(number: int, entry: EntryBelief, is_short: bool) -> Iterator[str]:
    """An entry with its likelier causes; its first line alone if it is to be told in short."""
    yield f"{number:2d} {share(entry.probability)} {_bar(entry.probability)} {entry.title} [{entry.entry}]"
    if is_short:
        return
    if entry.matched:
        yield f"        matched: {entry.matched[0]}"
    for text in entry.against:
        yield f"        spoken against: {text}"
    for cause in entry.causes[:CAUSES_SHOWN]:
        yield f"        {share(cause.probability)}  {cause.slug}: {cause.name}"
        yield f"              {counts_in_words(cause, entry)}"
    if len(entry.causes) > CAUSES_SHOWN:
        yield f"              and {len(entry.causes) - CAUSES_SHOWN} rarer causes"


def counts_in_words(cause: CauseBelief, entry: EntryBelief) -> str:
    """What a belief rests on: counts, and the 95 % interval of the cause's share of such jobs before any test."""
    likely = f"likely {cause.low:.0%} to {cause.high:.0%} of such jobs"
    beyond = (
        f"; {in_other_shops(entry)}, {share(cause.in_other_shops).strip()}"
        if entry.other_shops
        else ""
    )
    mended = (
        f"fix {cause.fix_minutes:g} min"
        if cause.fix_minutes
        else "its fix is not written down"
    )
    if not entry.jobs_here and not entry.jobs_elsewhere:
        return (
            f"not confirmed yet; listed as {cause.weight}{beyond}: {likely}; {mended}"
        )
    elsewhere = f"{cause.confirmed_elsewhere} of {entry.jobs_elsewhere}"
    counts = f"{elsewhere} on all models"
    if entry.jobs_here:
        counts = f"{cause.confirmed_here} of {entry.jobs_here} on this model, {elsewhere} on other models"
    return f"{counts}{beyond}: {likely}; {mended}"


def in_other_shops(entry: EntryBelief) -> str:
    """How many jobs of a sheet there were in how many other shops."""
    return f"elsewhere, {counted(entry.jobs_in_other_shops, 'job')} in {counted(entry.other_shops, 'shop')}"


def share(given: float) -> str:
    """A share of belief in four letters; neither 0 nor 100 % for what is not certain.

    >>> share(0.384), share(0.002), share(0.9991), share(0.0)
    (' 38%', ' <1%', '>99%', '  0%')
    """
    from kb.base.intervals import whole_percent

    sign, percent = whole_percent(given)
    return f"{sign}{percent}%".rjust(4)


def _failure_lines(failure: Failure) -> Iterator[str]:
    yield f"{failure.jobs:4d} {_bar(failure.rate)} {failure.cause}"
    yield f"     {failure.name}"
    minutes = if_known(", median {:g} min", failure.median_minutes)
    machines = counted(failure.machines, "machine")
    yield (
        f"     {machines}: {failure.rate:.1%} of those seen, 95 % interval {failure.low:.1%} to "
        f"{failure.high:.1%}{minutes}; first {failure.first_seen[:10]}, last {failure.last_seen[:10]}"
    )
    if failure.parts:
        yield f"     parts: {pairs_told(failure.parts)}"


def _bar(share: float) -> str:
    filled = round(min(share, 1.0) * BAR)
    return "#" * filled + "." * (BAR - filled)
