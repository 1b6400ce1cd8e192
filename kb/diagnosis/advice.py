"""The advice on what to do next: the guide's choice among what the sheets leave open, said in one sentence."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

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
#: The number of the repair that is to look beyond what is listed, and the neighbours that are named then.
BEYOND, NEIGHBOURS_NAMED = 0, 3
#: Why a test that comes first is the next step, and what is said of one that was set aside.
FIRST = worded("it comes before everything else here")
ASIDE = worded("it was set aside, but cannot be left out")
#: Why a test is done that clears nothing more, and the most minutes at the bench that one may take.
LEADS_ON, LONGEST_LOOK = worded("what is listed is cleared, and it may lead to another picture"), 10.0


@dataclass(frozen=True, slots=True)
class Advice:
    """The step to take, the test that pays most if a test is wanted, and the causes no test parts any more.

    `loss` is the lacking tool that would help most, if one would.
    """

    step: Step | None = None
    test: Step | None = None
    undivided: tuple[str, ...] = ()
    loss: Loss | None = None


def advise(diagnosis: Diagnosis, knowledge: Knowledge, at: SoFar, hasty: bool = False) -> Advice:
    """What to do next, given the belief after the findings so far; a `hasty` answer weighs fewer causes, less far.

    The guide chooses among what the entries' gates leave open: a test that comes first stands before everything, and
    where the guide's choice waits for another test, that test is the step.
    """
    likely = likely_causes(diagnosis, FEW_CANDIDATES if hasty else MOST_CANDIDATES)
    if not likely:
        return Advice()
    at = replace(at, opened=at.opened or cover_is_off(at, knowledge), lacks=at.lacks or frozenset())
    question = AdviceQuestion(diagnosis, likely, knowledge, at=at, effort=HASTE if hasty else 1.0)
    if held := _comes_first(question):
        return _held_advice(question, held)
    case = case_of(question)
    options = _options(case, question)
    best = options[0]
    if held := _waited_for(case, best) or _leading_on(case, best, question):
        return _held_advice(question, held)
    loss = None if hasty else _loss(question, best.expected_minutes)
    return Advice(_step_of(case, best, options, question), _next_test(case, options), case.undivided, loss)


def _options(case: Case, question: AdviceQuestion) -> list[guide.Option]:
    """What the guide weighed, best first, as far as the machine takes it."""
    weighed = guide.weigh(case.problem, {}, case.failed, question.at.opened, question.effort)
    options = _possible(case, weighed, question)
    if question.alarmed and options[0].kind == "fix":  # what was found to be dangerous is dealt with first
        return options
    return _in_order(case, options, question.at.opened)


def _step_of(case: Case, best: guide.Option, options: Sequence[guide.Option], question: AdviceQuestion) -> Step:
    return _test_step(case, best, options) if best.kind == "test" else _fix_step(case, best, question)


def _next_test(case: Case, options: Sequence[guide.Option]) -> Step | None:
    """The best test that waits for no other, None if there is none."""
    for option in options:
        if option.kind == "test" and not case.tests[option.index].waits:
            return _test_step(case, option, options)
    return None


def _possible(case: Case, options: Sequence[guide.Option], question: AdviceQuestion) -> list[guide.Option]:
    """The options without a fix that needs of the machine what it does not do; if none is left, to look further."""

    def is_possible(option: guide.Option) -> bool:
        return option.kind == "test" or question.can_take(case.repairs[option.index])

    beyond = guide.Option("fix", BEYOND, SEARCH_MINUTES, options[0].expected_minutes)
    return [option for option in options if is_possible(option)] or [beyond]


def _in_order(case: Case, options: Sequence[guide.Option], opened: bool) -> list[guide.Option]:
    """The options, and first of those that are nearly as good as the best the closed one, then one that only looks."""
    least = options[0].expected_minutes
    near = [o for o in options if o.expected_minutes - least <= min(NEARLY * least, NEARLY_MINUTES)]
    chosen = min(near, key=lambda option: _trouble(case, option, opened))
    return [chosen, *(option for option in options if option is not chosen)]


def _trouble(case: Case, option: guide.Option, opened: bool) -> tuple[bool, bool]:
    """Whether a step opens a closed machine, and whether it measures."""
    if option.kind == "fix":
        return case.repairs[option.index].inside and not opened, False
    whole = case.tests[option.index].whole
    return any(test.cover_off for test in whole) and not opened, any(test.measures for test in whole)


def _comes_first(question: AdviceQuestion) -> Held | None:
    """The test that nothing may come before: the first unanswered one of the likeliest entry that has any."""
    shares = question.diagnosis.by_entry
    for slug in sorted(shares, key=lambda slug: (-shares[slug], slug)):
        entry = question.knowledge.entry(slug) if shares[slug] >= LEAST_SHARE else None
        test = gates.next_first(entry, question.answered(slug)) if entry else None
        if test and question.can_be_done([test]):
            return Held(Trial(slug, test), FIRST)
    return None


def _waited_for(case: Case, best: guide.Option) -> Held | None:
    """The test that has to be answered before the guide's choice, None if nothing has."""
    if not _waits(case, best):
        return None
    chosen = case.tests[best.index] if best.kind == "test" else case.repairs[best.index]
    what = (
        worded("the test “{title}”", title=chosen.test.title)
        if isinstance(chosen, Trial)
        else worded("the fix for “{cures}”", cures=chosen.cures)
    )
    return Held(Trial(chosen.entry, chosen.waits[0]), worded("{what} waits for it", what=what))


def _leading_on(case: Case, best: guide.Option, question: AdviceQuestion) -> Held | None:
    """The least troublesome test left that may lead to another sheet, where the guide would look beyond all sheets.

    To the arithmetic such a test is worth nothing once its own sheet is cleared: no cause is left that it would part.
    """
    if best.kind == "test" or case.repairs[best.index].fix is not None:
        return None
    looks = []
    for number, one in enumerate(case.tests):
        if one.minutes <= LONGEST_LOOK and _leads_elsewhere(one, question):
            opens = number in case.problem.test_inside and not question.at.opened
            looks.append((opens, one.minutes, one.name, one))
    if not looks:
        return None
    *_, chosen = min(looks)
    return Held(Trial(chosen.entry, chosen.whole[0]), LEADS_ON)


def _leads_elsewhere(one: Trial, question: AdviceQuestion) -> bool:
    """Whether an outcome of a test points to another sheet whose machine may do what this one does."""
    for outcome in one.test.outcomes:
        for name in outcome.see:
            slug = name.partition("/")[0]
            entry = question.knowledge.entry(slug)
            if slug != one.entry and entry and not contradicts(entry, question.states):
                return True
    return False


def _held_advice(question: AdviceQuestion, held: Held) -> Advice:
    """The advice to do the held test, with what the guide expects of beginning with it."""
    case = case_of(replace(question, held=held))
    minutes = guide.minutes_testing_first(case.problem, 0, case.failed, question.at.opened, question.effort)
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
        wanted.update(missing if len(missing) == 1 else ())
    found = []
    for tool in sorted(wanted, key=lambda name: (-wanted[name], name))[:TOOLS_WEIGHED]:
        case = case_of(replace(question, at=replace(at, lacks=at.lacks - {tool})))
        best = guide.weigh(case.problem, {}, case.failed, at.opened)[0]
        found.append(Loss(tool, minutes - best.expected_minutes))
    most = min(found, key=lambda loss: (-loss.minutes, loss.tool), default=None)
    return most if most and most.minutes >= LEAST_SAVED else None


def _fix_step(case: Case, option: guide.Option, question: AdviceQuestion) -> Step:
    """The step of a fix; one whose tool is lacking stays, since it may be the cause, and says what is missing."""
    repair = case.repairs[option.index]
    whole = sum(case.problem.prior)
    pairs = zip(case.problem.prior, case.problem.fix_of, strict=True)
    share = sum(p for p, fix in pairs if fix == option.index) / whole
    if repair.fix is None:
        return _beyond(option, share, question)
    why = worded("{minutes:g} min to fix: no test left would save more than it costs", minutes=repair.fix.minutes)
    needs = repair.fix.parts + repair.fix.needs
    return Step(
        kind="fix",
        entry=repair.entry,
        name=repair.fix.causes[0],
        title=headline(repair.fix.text),
        cause=repair.cures,
        minutes=repair.fix.minutes,
        expected_minutes=option.expected_minutes,
        why=why,
        needs=needs,
        wait=repair.fix.wait,
        cover_off=repair.fix.cover_off,
        detail=repair.fix.text,
        lacks=question.missing(needs),
    )


def _beyond(option: guide.Option, share: float, question: AdviceQuestion) -> Step:
    """The step that looks beyond what is listed: where to, if the picture is clear and only its causes are."""
    picture = question.knowledge.entry(question.diagnosis.unlisted_picture)
    where, how = worded("here"), ""
    if picture:
        near = _like_it(picture, question)
        others = worded("look at {near}, where the machine does the same; ", near=near) if near else ""
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
    found = (question.knowledge.entry(near.slug) for near in picture.neighbours)
    states = question.states or picture.machine
    titles = [f"“{entry.title}”" for entry in found if entry and not contradicts(entry, states)]
    return " and ".join(filter(None, (", ".join(titles[:NEIGHBOURS_NAMED][:-1]), *titles[:NEIGHBOURS_NAMED][-1:])))


def _test_step(case: Case, option: guide.Option, options: Sequence[guide.Option]) -> Step:
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
    test = case.tests[option.index].test
    cleared = _most_cleared(case, option.index)
    likely = worded("`{outcome}` ({chance:.0%} likely)", outcome=cleared.outcome, chance=cleared.chance)
    what = worded(
        "{minutes:g} min; {likely} would rule out {share:.0%} of what it may be",
        minutes=test.minutes,
        likely=likely,
        share=cleared.share,
    )
    if cleared.share < LEAST_CLEARED:
        return worded("{minutes:g} min; whatever it shows rules out little of what it may be", minutes=test.minutes)
    ready = [one for one in options if not _waits(case, one)]
    cheaper = [o for o in ready if o.kind == "test" and case.tests[o.index].test.minutes < test.minutes]
    rival = min(cheaper or [o for o in ready if o.kind == "fix"], key=lambda o: o.expected_minutes, default=None)
    if rival is None or rival.expected_minutes - option.expected_minutes < 0.5:
        return what
    more = worded(
        "{minutes:.0f} min more on the whole",
        minutes=rival.expected_minutes - option.expected_minutes,
    )
    if rival.kind == "fix":
        return worded("{what}; fixing on a guess would take {more}", what=what, more=more)
    return worded(
        "{what}; beginning with the {minutes:g}-min test would take {more}",
        what=what,
        minutes=case.tests[rival.index].test.minutes,
        more=more,
    )


def _waits(case: Case, option: guide.Option) -> bool:
    """Whether a step cannot be taken before another."""
    return bool((case.tests if option.kind == "test" else case.repairs)[option.index].waits)


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
    for o, outcome in enumerate(case.tests[t].test.outcomes):
        unlikely = 0.5 / len(table[0])
        share = sum(p for p, row in zip(prior, table, strict=True) if row[o] < unlikely) / whole
        chance = sum(p * row[o] for p, row in zip(prior, table, strict=True)) / whole
        found.append(_Cleared(outcome.text, share, chance))
    return max(found, key=lambda one: one.share * one.chance)
