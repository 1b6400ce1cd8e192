"""The advice on what to do next: the guide's choice among what the sheets leave open, said in one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import compress
from operator import mul

from kb.base.ranked import most_first
from kb.base.worded import listed, worded
from kb.diagnosis import guide
from kb.diagnosis.answer import Loss, Step
from kb.diagnosis.case import (
    FEW_CANDIDATES,
    LEAST_SHARE,
    MOST_CANDIDATES,
    SEARCH_MINUTES,
    AdviceQuestion,
    Case,
    CaseRepair,
    Held,
    SoFar,
    Trial,
    bench_minutes,
    case_of,
    cover_is_off,
    likely_causes,
    open_tests,
)
from kb.diagnosis.causes import Diagnosis, Knowledge
from kb.diagnosis.doing import headline
from kb.diagnosis.shown import contradicts
from kb.library import gates
from kb.model import Entry

#: While the words are still being typed, the part of the guide's usual work that is spent on them.
HASTE = 0.2
#: Lacking tools whose worth is worked out, each at the price of one more question to the guide, and the least saving
#: in minutes that is worth a sentence.
TOOLS_WEIGHED, LEAST_SAVED = 3, 1.0
#: A test that is done for safety's sake may clear less than this share of the belief, which is said without a figure.
LEAST_CLEARED = 0.005
#: A step whose expected minutes are higher by less than this share, and by less than so many minutes, is as good as the
#: best: what is expected is hardly known better, and a bench would rather not open or measure.
NEARLY, NEARLY_MINUTES = 0.05, 2.0
#: A saving of fewer minutes than this is no reason to be told.
WORTH_TELLING = 0.5
#: The number of the repair that is to look beyond what is listed, and the neighbours that are named then.
BEYOND, NEIGHBOURS_NAMED = 0, 3
#: Why a test that comes first is the next step, and what is said of one that was set aside.
FIRST = worded("it comes before everything else here")
ASIDE = worded("it was set aside, but cannot be left out")
#: Why a test is done that clears nothing more, and the most minutes at the bench that one may take.
LEADS_ON, LONGEST_LOOK = (
    worded("what is listed is cleared, and it may lead to another picture"),
    10.0,
)


@dataclass(frozen=True, slots=True)
class Advice:
    """The step to take, the test that pays most if a test is wanted, and the causes no test parts any more.

    `loss` is the lacking tool that would help most, if one would.
    """

    step: Step | None = None
    test: Step | None = None
    undivided: tuple[str, ...] = ()
    loss: Loss | None = None


def advise(
    diagnosis: Diagnosis, knowledge: Knowledge, at: SoFar, hasty: bool = False
) -> Advice:
    """What to do next, given the belief after the findings so far; a `hasty` answer weighs fewer causes, less far.

    The guide chooses among what the entries' gates leave open: a test that comes first stands before everything, and
    where the guide's choice waits for another test, that test is the step. Where all that a picture lists is ruled out,
    the step is to look beyond it.
    """
    likely = likely_causes(diagnosis, FEW_CANDIDATES if hasty else MOST_CANDIDATES)
    if not likely and not diagnosis.unlisted_picture:
        return Advice()
    at = replace(
        at,
        opened=at.opened or cover_is_off(at, knowledge),
        lacks=at.lacks or frozenset(),
    )
    question = AdviceQuestion(
        diagnosis, likely, knowledge, at=at, effort=HASTE if hasty else 1.0
    )
    if held := _comes_first(question):
        return _held_advice(question, held)
    case = case_of(question)
    options = _options(case, question)
    best = options[0]
    if held := _waited_for(case, best) or _leading_on(case, best, question):
        return _held_advice(question, held)
    loss = None if hasty else _loss(question, best.expected_minutes)
    return Advice(
        _step_of(case, best, options, question),
        _next_test(case, options),
        case.undivided,
        loss,
    )


def _options(case: Case, question: AdviceQuestion) -> list[guide.Option]:
    """What the guide weighed, best first, as far as the machine takes it."""
    weighed = guide.weigh(
        case.problem, {}, case.failed, question.at.opened, question.effort
    )
    options = _possible(case, weighed, question)
    # what was found to be dangerous is dealt with first
    if question.alarmed and options[0].kind == "fix":
        return options
    return _in_order(case, options, question.at.opened)


def _step_of(
    case: Case,
    best: guide.Option,
    options: Sequence[guide.Option],
    question: AdviceQuestion,
) -> Step:
    return (
        _test_step(case, best, options)
        if best.kind == "test"
        else _fix_step(case, best, question)
    )


def _next_test(case: Case, options: Sequence[guide.Option]) -> Step | None:
    """The best test that waits for no other, None if there is none."""
    for option in options:
        if option.kind == "test" and not case.chosen(option).waits:
            return _test_step(case, option, options)
    return None


def _possible(
    case: Case, options: Sequence[guide.Option], question: AdviceQuestion
) -> list[guide.Option]:
    """The options without a fix that needs of the machine what it does not do; if none is left, to look further."""
    possible = [
        option for option in options if question.can_be_done(case.chosen(option).whole)
    ]
    return possible or [
        guide.Option("fix", BEYOND, SEARCH_MINUTES, options[0].expected_minutes)
    ]


def _in_order(
    case: Case, options: Sequence[guide.Option], opened: bool
) -> list[guide.Option]:
    """The options, and first of those that are nearly as good as the best the closed one, then one that only looks."""
    least = options[0].expected_minutes
    nearly = min(NEARLY * least, NEARLY_MINUTES)
    near = [option for option in options if option.expected_minutes - least <= nearly]
    chosen = min(near, key=lambda option: _trouble(case, option, opened))
    return [chosen, *(option for option in options if option is not chosen)]


def _trouble(case: Case, option: guide.Option, opened: bool) -> tuple[bool, bool]:
    """Whether a step opens a closed machine, and whether it measures."""
    step = case.chosen(option)
    return step.inside and not opened, isinstance(step, Trial) and step.measures


def _comes_first(question: AdviceQuestion) -> Held | None:
    """The test that nothing may come before: the first unanswered one of the likeliest entry that has any."""
    shares = {
        slug: share
        for slug, share in question.diagnosis.by_entry.items()
        if share >= LEAST_SHARE
    }
    for slug in most_first(shares):
        entry = question.knowledge.entry(slug)
        test = gates.next_first(entry, question.answered(slug)) if entry else None
        if test and question.can_be_done([test]):
            return Held(Trial(slug, test), FIRST)
    return None


def _waited_for(case: Case, best: guide.Option) -> Held | None:
    """The test that has to be answered before the guide's choice, None if nothing has."""
    step = case.chosen(best)
    if not step.waits:
        return None
    return Held(
        Trial(step.entry, step.waits[0]),
        worded("{what} waits for it", what=step.called),
    )


def _leading_on(
    case: Case, best: guide.Option, question: AdviceQuestion
) -> Held | None:
    """The least troublesome test left that may lead to another sheet, where the guide would look beyond all sheets.

    To the arithmetic such a test is worth nothing once its own sheet is cleared: no cause is left that it would part.
    """
    if best.kind == "test" or case.repairs[best.index].fix is not None:
        return None
    looks = [
        one
        for one in case.tests
        if one.minutes <= LONGEST_LOOK and _leads_elsewhere(one, question)
    ]
    if not looks:
        return None
    chosen = min(
        looks,
        key=lambda one: (one.inside and not question.at.opened, one.minutes, one.name),
    )
    return Held(Trial(chosen.entry, chosen.whole[0]), LEADS_ON)


def _leads_elsewhere(one: Trial, question: AdviceQuestion) -> bool:
    """Whether an outcome of a test points to another sheet whose machine may do what this one does."""
    seen = {slug for outcome in one.test.outcomes for slug in outcome.sheets_seen}
    others = map(question.knowledge.entry, seen - {one.entry})
    return any(entry and not contradicts(entry, question.states) for entry in others)


def _held_advice(question: AdviceQuestion, held: Held) -> Advice:
    """The advice to do the held test, with what the guide expects of beginning with it."""
    case = case_of(replace(question, held=held))
    minutes = guide.minutes_testing_first(
        case.problem, 0, case.failed, question.at.opened, question.effort
    )
    option = guide.Option("test", 0, bench_minutes(held.one.test), minutes)
    told = [held.why, ASIDE] if held.one.name in question.at.skipped else [held.why]
    lacks = question.missing(held.one.test.needs)
    step = replace(_test_step(case, option, ()), lacks=lacks, held=listed(told))
    return Advice(step, step, case.undivided)


def _loss(question: AdviceQuestion, minutes: float) -> Loss | None:
    """The lacking tool with which the expected minutes would fall most, if by enough to be said.

    Weighed are the tools that alone keep tests of the likely entries from being done; ties by name. That a fix
    needs one is not counted, since the minutes reckon with every fix being done.
    """
    at = question.at
    if not at.lacks:
        return None
    wanted: Counter[str] = Counter()
    for one in open_tests(question):
        missing = question.missing_for(one)
        if len(missing) == 1:
            wanted.update(missing)
    found = []
    for tool in most_first(wanted)[:TOOLS_WEIGHED]:
        case = case_of(replace(question, at=replace(at, lacks=at.lacks - {tool})))
        best = guide.weigh(case.problem, {}, case.failed, at.opened)[0]
        found.append(Loss(tool, minutes - best.expected_minutes))
    most = min(found, key=lambda loss: (-loss.minutes, loss.tool), default=None)
    return most if most and most.minutes >= LEAST_SAVED else None


def _fix_step(case: Case, option: guide.Option, question: AdviceQuestion) -> Step:
    """The step of a fix; one whose tool is lacking stays, since it may be the cause, and says what is missing."""
    repair = case.repairs[option.index]
    fix = repair.fix
    if fix is None:
        return _beyond(case, option, question)
    needs = fix.parts + fix.needs
    return Step(
        kind="fix",
        entry=repair.entry,
        name=fix.causes[0],
        title=headline(fix.text),
        cause=repair.cures,
        minutes=fix.minutes,
        expected_minutes=option.expected_minutes,
        why=worded(
            "{minutes:g} min to fix: no test left would save more than it costs",
            minutes=fix.minutes,
        ),
        needs=needs,
        wait=fix.wait,
        cover_off=fix.cover_off,
        detail=fix.text,
        lacks=question.missing(needs),
    )


def _beyond(case: Case, option: guide.Option, question: AdviceQuestion) -> Step:
    """The step that looks beyond what is listed: where to, if the picture is clear and only its causes are."""
    prior = case.problem.prior
    share = sum(
        compress(prior, [fix == option.index for fix in case.problem.fix_of])
    ) / sum(prior)
    picture = question.knowledge.entry(question.diagnosis.unlisted_picture)
    where, how = worded("here"), ""
    if picture:
        near = _like_it(picture, question)
        others = (
            worded("look at {near}, where the machine does the same; ", near=near)
            if near
            else ""
        )
        where = worded("under “{title}”", title=picture.title)
        how = worded(
            "The tests have cleared what is listed {where}. Measure what comes before it; {others}then write it down.",
            where=where,
            others=others,
        )
    return Step(
        kind="else",
        title=worded("Look beyond what is listed"),
        minutes=SEARCH_MINUTES,
        expected_minutes=option.expected_minutes,
        why=worded(
            "{share:.0%} for something that is not listed {where}: look further, then write it down",
            share=share,
            where=where,
        ),
        detail=how,
    )


def _like_it(picture: Entry, question: AdviceQuestion) -> str:
    """The titles of the neighbours of an entry whose machine does the same, as far as is known."""
    states = question.states or picture.machine
    found = filter(
        None, [question.knowledge.entry(near.slug) for near in picture.neighbours]
    )
    titles = [f"“{entry.title}”" for entry in found if not contradicts(entry, states)]
    *before, last = titles[:NEIGHBOURS_NAMED] or [""]
    return f"{', '.join(before)} and {last}" if before else last


def _test_step(
    case: Case, option: guide.Option, options: Sequence[guide.Option]
) -> Step:
    one = case.tests[option.index]
    test = one.test
    return Step(
        kind="test",
        entry=one.entry,
        name=test.slug,
        title=test.title,
        minutes=test.minutes,
        expected_minutes=option.expected_minutes,
        why=_why(case, option, options),
        needs=test.needs,
        wait=test.wait,
        cover_off=test.cover_off,
        detail=test.detail,
        outcomes=tuple(outcome.text for outcome in test.outcomes),
    )


def _why(case: Case, option: guide.Option, options: Sequence[guide.Option]) -> str:
    """Why this test: what it settles, and what the cheaper way would cost on the whole."""
    minutes = case.tests[option.index].test.minutes
    cleared = _most_cleared(case, option.index)
    if cleared.share < LEAST_CLEARED:
        return worded(
            "{minutes:g} min; whatever it shows rules out little of what it may be",
            minutes=minutes,
        )
    what = worded(
        "{minutes:g} min; {likely} would rule out {share:.0%} of what it may be",
        minutes=minutes,
        likely=worded(
            "`{outcome}` ({chance:.0%} likely)",
            outcome=cleared.outcome,
            chance=cleared.chance,
        ),
        share=cleared.share,
    )
    rival = _cheaper_way(case, minutes, options)
    saved = rival.expected_minutes - option.expected_minutes if rival else 0.0
    if rival is None or saved < WORTH_TELLING:
        return what
    more = worded("{minutes:.0f} min more on the whole", minutes=saved)
    if rival.kind == "fix":
        return worded(
            "{what}; fixing on a guess would take {more}", what=what, more=more
        )
    return worded(
        "{what}; beginning with the {minutes:g}-min test would take {more}",
        what=what,
        minutes=case.tests[rival.index].test.minutes,
        more=more,
    )


def _cheaper_way(
    case: Case, minutes: float, options: Sequence[guide.Option]
) -> guide.Option | None:
    """The best of the tests that take less than so many minutes, or of the fixes if no test does; None for neither."""
    tests, fixes = [], []
    for option in options:
        step = case.chosen(option)
        if step.waits:
            continue
        if isinstance(step, CaseRepair):
            fixes.append(option)
        elif step.test.minutes < minutes:
            tests.append(option)
    return min(tests or fixes, key=lambda option: option.expected_minutes, default=None)


@dataclass(frozen=True, slots=True)
class _Cleared:
    outcome: str
    share: float
    chance: float


def _most_cleared(case: Case, t: int) -> _Cleared:
    """The outcome that is expected to rule out most of the belief, and how much that is."""
    prior, table = case.problem.prior, case.problem.likelihood[t]
    whole = sum(prior)
    found = []
    for outcome, chances in zip(
        case.tests[t].test.outcomes, zip(*table, strict=True), strict=True
    ):
        unlikely = 0.5 / len(table[0])
        share = sum(compress(prior, [chance < unlikely for chance in chances])) / whole
        chance = sum(map(mul, prior, chances)) / whole
        found.append(_Cleared(outcome.text, share, chance))
    return max(found, key=lambda one: one.share * one.chance)
