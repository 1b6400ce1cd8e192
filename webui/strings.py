"""Every string that the pages show, in one place: a translation is another mapping with the same keys.

Values in braces are put in by the page; in a string with `n`, the form for one stands before the bar.
"""

from __future__ import annotations

from collections.abc import Mapping

ENGLISH: Mapping[str, str] = {
    "language": "en",
    "program": "Benchlore",
    "skip": "Skip to the content",
    "nav": "Pages",
    "nav.bench": "Bench",
    "nav.library": "Library",
    "nav.review": "Review",
    # the field
    "ask.title": "What is wrong with it?",
    "ask.words": "What is wrong with it?",
    "ask.words.hint": "in any words: dead, no lite, shuts off when hot",
    "ask.model": "Model",
    "ask.unit": "Tag",
    "ask.go": "Look up",
    "ask.none": "The workshop's memory is ready: type what the machine does or does not do.",
    "ask.failed": "The answer did not come. Press the button to try again.",
    "ask.status": "{n} fault picture fits, likeliest: {title}|{n} fault pictures fit, likeliest: {title}",
    "ask.status.none": "Nothing here fits these words well.",
    # the answer
    "answer.title": "What fits",
    "answer.on_model": "on {model}",
    "answer.read_as": "Read “{typed}” as “{read}”.",
    "answer.keep": "Keep “{typed}”",
    "answer.poor": "Nothing here fits these words well. Say it in other words, or write it down as a new entry.",
    "answer.safety": "Before you start",
    "answer.safety.for": "for: {title}",
    "answer.matched": "Heard as",
    "answer.causes": "Likely causes",
    "answer.more": "{n} less likely cause|{n} less likely causes",
    "answer.it_was": "It was this",
    "answer.it_was.label": "It was this: {cause}",
    "answer.tried": "tried, did not help",
    "answer.else": "Something else",
    "answer.else.why": "the share of belief kept for faults that nobody has written down here",
    "answer.new": "Nothing here fits: write it down as a new entry",
    "counts.none": "not confirmed here yet; listed as {weight}",
    "counts.here": "{k} of {whole} on this model",
    "counts.elsewhere": "{k} of {whole} on other models",
    "counts.all": "{k} of {whole} jobs here",
    "counts.entry.none": "no job here yet",
    "counts.entry.here": "{n} job on this model|{n} jobs on this model",
    "counts.entry.elsewhere": "{n} on others",
    "counts.entry.all": "{n} job here|{n} jobs here",
    "fix.minutes": "fix {minutes}",
    # the next step
    "step.title": "Next",
    "step.cover": "cover off",
    "step.needs": "needs {needs}",
    "step.in": "From:",
    "step.expected": "About {minutes} until it works.",
    "step.showed": "What did it show?",
    "step.aside": "Could not do it",
    "step.worked": "It works now",
    "step.failed": "Changed nothing",
    "step.test_first": "Rather test something first",
    # a job
    "job.title": "On the bench",
    "job.no_model": "model not said",
    "job.no_words": "no words",
    "job.since": "opened {moment}",
    "job.clock": "{minutes} on the clock",
    "job.so_far": "So far",
    "job.back": "Take back",
    "job.back.label": "Take back: {what}",
    "job.skipped": "could not be done",
    "job.again": "Back on the list",
    "job.fix_failed": "fix for {cause} changed nothing",
    "job.away": "Put this job away without a cause",
    "job.away.why": "Why",
    "job.away.default": "put away without a cause",
    "job.away.go": "Put away",
    "job.open": "Open jobs",
    "job.findings": "{n} thing noted|{n} things noted",
    # confirming
    "confirm.title": "It was this",
    "confirm.fix": "Fix",
    "confirm.model": "Model",
    "confirm.model.missing": "Needed: causes are counted by model.",
    "confirm.minutes": "Bench minutes",
    "confirm.minutes.clock": "from the clock of this job",
    "confirm.part": "Part fitted",
    "confirm.part.none": "no part",
    "confirm.part.other": "another part",
    "confirm.donor": "Donor (its tag)",
    "confirm.unit": "Tag of this machine",
    "confirm.words": "As it was said",
    "confirm.note": "Note for next time",
    "confirm.by": "Your initials",
    "confirm.more": "Donor, tag, words, note, initials",
    "confirm.save": "Save",
    # a closed job
    "closed.title": "Saved",
    "closed.undone": "Undone",
    "closed.away": "Put away",
    "closed.job": "Job {job}",
    "closed.effect": "What this changed",
    "closed.undo": "Undo",
    "closed.undo.why": "undone at once",
    "closed.retracted": "This no longer counts: {why}.",
    "closed.next": "Next machine",
    "closed.same": "Search these words again",
    "closed.again": "Take it up again with what was found",
    "closed.on": "on {model}",
    "closed.tag": "tag {unit}",
    "closed.part": "part {part}",
    "closed.donor": "from donor {donor}",
    "closed.by": "by {by}",
    "closed.found": "What the tests showed",
    # an entry
    "entry.symptom": "Symptom",
    "entry.causes": "Likely causes",
    "entry.tests": "Cheapest test first",
    "entry.fixes": "Fix",
    "entry.safety": "Before you start",
    "entry.wordings": "Also heard as ({n})",
    "entry.see_also": "See also",
    "entry.undivided": "Not told apart",
    "entry.remarks": "To mend in the file",
    "entry.remark": "line {line}: {problem}; {instead}",
    "entry.own": "this shop's own text",
    "entry.part": "part {parts}",
    "entry.points": "points to {causes}",
    "entry.clears": "not {causes}",
    "entry.open": "settles nothing",
    "entry.right": "right {n} times in 100",
    "entry.jobs": "Counts are of confirmed jobs{model}.",
    "entry.jobs.model": ", first those on {model}",
    # review
    "review.title": "What fails most",
    "review.model": "Model",
    "review.all": "all models",
    "review.since": "Since",
    "review.go": "Show",
    "review.none": "No closed jobs here yet. Confirm a fix at the bench and it is counted here.",
    "review.sum": "{jobs} on {machines}.",
    "review.jobs": "{n} job|{n} jobs",
    "review.machines": "{n} machine|{n} machines",
    "review.median": "Half of the jobs took {minutes} or less; {hours} h in all.",
    "review.failure": "Failure",
    "review.count": "Jobs",
    "review.minutes": "Median",
    "review.rate": "{rate} of machines, likely between {low} and {high}",
    "review.chart": "{name}: {rate} of machines",
    "review.parts": "Parts used",
    "review.seen": "first {first}, last {last}",
    "review.scale": "Bars run to {reach}; the thin line is where the true share lies, 19 times in 20.",
    # library
    "library.title": "Library",
    "library.count": "{n} fault picture|{n} fault pictures",
    "library.jobs": "{n} job|{n} jobs",
    # a new entry
    "new.title": "A new entry",
    "new.lead": "Write what you know; the rest can follow. The file's form is checked when you save.",
    "new.slug": "Short name (lower-case words joined by hyphens)",
    "new.text": "Text",
    "new.save": "Save",
    # failures
    "failure.again": "Send it again",
    "failure.kept": "What you sent is kept here:",
    "failure.home": "To the bench",
    "failure.busy": "The history is busy: nothing was saved",
    "failure.disk": "The disk did not take it: nothing was saved",
    "failure.history": "The history cannot be used",
    "failure.no_job": "There is no such job",
    "failure.closed": "This job is closed",
    "failure.refused": "That does not fit: nothing was saved",
    "failure.stale": "This form was shown to another browser or is too old: nothing was saved",
    "failure.400": "This address or form is not understood",
    "failure.400.do": "Go back to the bench and begin from there.",
    "failure.403": "This did not come from one of these pages: nothing was saved",
    "failure.403.do": "Open the page here and send the form from it.",
    "failure.404": "There is no such page",
    "failure.404.do": "Look in the library, or search from the bench.",
    "failure.405": "This page cannot be used that way",
    "failure.405.do": "Go back to the bench and begin from there.",
    "failure.413": "That is too much for one form: nothing was saved",
    "failure.413.do": "Shorten it and send it again.",
    "failure.431": "That is too much for one request",
    "failure.431.do": "Shorten it and send it again.",
    "failure.500": "Something broke here: nothing was saved",
    "failure.500.do": "The log has it under the number below. The other pages work on.",
}

#: What a new entry begins with.
EMPTY_SHEET = """---
title: {words}
area: power
---

## Symptom

- {words}

## Likely causes

- **first-cause** (often): what may be wrong
- **second-cause** (sometimes): what else may be wrong

## Cheapest test first

1. What to do (3 min)
    - what it shows: first-cause
    - what else it shows: not first-cause

## Fix

- **first-cause** (10 min): what to do
- **second-cause** (20 min; part mainboard): what to do

## Safety

- Charger out and battery unplugged before anything inside is touched.

## Also heard as

- {words}
"""
