"""Every string that the pages show, in one place: a translation is another mapping with the same keys.

Values in braces are put in by the page; in a string with `n`, the form for one stands before the bar.
"""

from __future__ import annotations

from collections.abc import Mapping

ENGLISH: Mapping[str, str] = {
    "language": "en",
    "program": "Benchlore",
    "skip": "Skip to the content",
    "saved": "Saved.",
    "nav": "Pages",
    "nav.bench": "Bench",
    "nav.library": "Library",
    "nav.review": "Review",
    # the field
    "ask.title": "What is wrong with it?",
    "ask.words": "What is wrong with it?",
    "ask.words.hint": "dead, no lite, too hot",
    "ask.model": "Model",
    "ask.unit": "Tag",
    "ask.go": "Look up",
    "ask.none": "Type what the machine does or does not do, in any words, typing errors and all.",
    "ask.failed": "The answer did not come. Press the button to try again.",
    "ask.status": "{n} fault picture fits, likeliest: {title}|{n} fault pictures fit, likeliest: {title}",
    "ask.status.at_once": "At once: {deed}",
    "ask.status.none": "Nothing here fits these words well.",
    "ask.status.none.yet": "Nothing fits well yet.",
    # backups that fail
    "backups.since": "No backup has succeeded since {moment}.",
    "backups.none": "No backup has succeeded yet.",
    "backups.waiting": "{n} record is in none.|{n} records are in none.",
    "backups.do": "By hand:",
    # the answer
    "answer.title": "What fits",
    "answer.on_model": "on {model}",
    "answer.read_as": "Read “{typed}” as “{read}”.",
    "answer.keep": "Keep",
    "answer.keep.label": "Keep “{typed}” as typed",
    "answer.poor": "Nothing here fits these words well. Say it in other words, or write it down.",
    "answer.poor.read": (
        "Nothing here fits these words well. Say it in other words, or tell somebody who may write here."
    ),
    "answer.poor.yet": "Nothing fits well yet: type on, or say it in other words.",
    "answer.at_once": "At once",
    "answer.safety": "Before you start",
    "answer.safety.all": "all notes",
    "answer.named": "Counted on {model}, which your words name, and not on {field}.",
    "answer.named.only": "Counted on {model}, which your words name.",
    "answer.matched": "Heard as",
    "answer.causes": "Likely causes",
    "answer.more": "{n} less likely cause|{n} less likely causes",
    "answer.it_was": "It was this",
    "answer.it_was.label": "It was this: {cause}",
    "answer.tried": "tried, did not help",
    "answer.else": "Something else",
    "answer.else.why": "kept for faults that nobody has written down here",
    "answer.new": "Nothing here fits: write it down as a new entry",
    "counts.none": "not confirmed here yet; listed as {weight}",
    "counts.here": "{k} of {whole} on this model",
    "counts.elsewhere": "{k} of {whole} on other models",
    "counts.all": "{k} of {whole} jobs here",
    "counts.likely": "likely {low} to {high}",
    "counts.entry.none": "no job here yet",
    "counts.entry.here": "{n} job on this model|{n} jobs on this model",
    "counts.entry.elsewhere": "{n} on others",
    "counts.entry.all": "{n} job here|{n} jobs here",
    "fix.minutes": "fix {minutes}",
    # the next step
    "step.title": "Next",
    "step.else.read": (
        "{share} for something that is not listed here: look further, then tell somebody who may write here."
    ),
    "step.cover": "cover off",
    "step.wait": "and {minutes} of waiting",
    "step.needs": "needs {needs}",
    "step.in": "From:",
    "step.expected": "About {minutes} until it works.",
    "step.how": "How and why",
    "step.why": "Why this",
    "step.showed": "What did it show?",
    "step.aside": "Could not do it",
    "step.worked": "It works now",
    "step.failed": "Changed nothing",
    "step.test_first": "Rather test something first",
    "step.lacks": "Missing here: {tools}, which this fix needs: get that first, or pass the machine on.",
    "step.lacks.test": "Missing here: {tools}, which this test needs: get that first, or pass the machine on.",
    "step.loss": "Missing here: {tool}, which would save about {minutes}.",
    # a job
    "job.title": "On the bench",
    "job.no_model": "model not said",
    "job.no_words": "no words",
    "job.since": "opened {moment}",
    "job.clock": "on the clock",
    "job.noted": "{n} noted|{n} noted",
    "job.so_far": "So far",
    "job.back": "Take back",
    "job.back.label": "Take back: {what}",
    "job.skipped": "could not be done",
    "job.again": "Back on the list",
    "job.fix_failed": "Fix changed nothing: {cause}",
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
    "confirm.model.missing": "Needed, since causes are counted by model.",
    "confirm.minutes": "Bench minutes",
    "confirm.minutes.clock": "The clock of this job says {minutes}.",
    "confirm.part": "Part fitted",
    "confirm.part.none": "no part",
    "confirm.part.other": "another part",
    "confirm.donor": "Donor (its tag)",
    "confirm.place": "Where the machine stands",
    "confirm.unit": "Tag of this machine",
    "confirm.words": "As it was said",
    "confirm.note": "Note for next time",
    "confirm.by": "Your initials",
    "confirm.untested": "Not saved yet: nothing is on record of this",
    "confirm.untested.why": "Without it the cause is a guess: {cause}.",
    "confirm.untested.measure": "Do it first",
    "confirm.untested.save": "I know it without: save",
    "confirm.more": "Donor, tag, words, note, initials",
    "confirm.save": "Save",
    # a closed job
    "closed.title": "Saved",
    "closed.undone": "Undone",
    "closed.away": "Put away",
    "closed.job": "Job {job}",
    "closed.effect": "What this changed",
    "closed.undo": "Undo",
    "closed.reason": "Undo, and say why",
    "closed.retract": "Count it no longer",
    "closed.last": "Saved here last",
    "closed.here": "by this browser",
    "closed.undo.why": "undone at once",
    "closed.retracted": "This no longer counts: {why}.",
    "closed.why": "Why: {why}.",
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
    "entry.unread": "the stock text, since this shop's own cannot be read",
    "entry.machine": "The machine is {states}.",
    "machine.dead": "dead",
    "machine.lights": "dark but for its lights",
    "machine.no_picture": "on, without a picture",
    "machine.starts": "starting, but not into its system",
    "machine.runs": "running",
    "entry.not_this_if": "Not this if",
    "entry.not_this_if.why": "With this fault it does not show any of these; if it does, look at another sheet.",
    "entry.asks": "the machine must still have: {needs}",
    "entry.untold": "says nothing of:",
    "entry.see": "see",
    "entry.then": "then the machine is {states}",
    "entry.part": "part {parts}",
    "entry.first": "before everything else",
    "entry.after": "only after test {tests}",
    "entry.clears": "rules out:",
    "entry.open": "settles nothing",
    "entry.right": "right {n} times in 100",
    "entry.jobs": "Counts are of confirmed jobs{model}.",
    "entry.jobs.model": ", first those on {model}",
    "entry.interval": "likely between {low} and {high}",
    "entry.edit": "Edit",
    "entry.changes": "What this shop changed",
    "entry.print": "Print for the wall",
    "entry.printed": "Benchlore, {slug}, printed {day}",
    "entry.mend": "Mend it",
    "entry.away": "Put this entry away",
    "entry.away.why": "It is no longer searched. The file is moved into entries/.kept; the jobs under it stay.",
    "entry.away.go": "Move this entry aside",
    # a text that was moved aside
    "away.title": "Put away",
    "away.kept": "The text is kept in this shop's folder as {file}.",
    "away.back": "To get it back, move that file into entries and name it {file}.",
    "away.jobs": "Jobs confirmed under it stay in the history.",
    "away.stock": "The stock text, which counts again",
    # pictures
    "pictures.title": "Pictures",
    "pictures.alt": "{title}, picture {n}",
    "pictures.add": "Add a picture",
    "pictures.caption": "What is to be seen on it",
    "pictures.take": "Take one now",
    "pictures.choose": "Or choose one",
    "pictures.rules": "At most 12 MB. It is made smaller, and place and time are taken out of it.",
    "pictures.go": "Add it",
    "pictures.full": "An entry carries 8 pictures; remove one to add another.",
    "pictures.remove": "Remove",
    "pictures.remove.go": "Remove this picture; the file is kept aside",
    # editing
    "editor.title": "Edit: {title}",
    "editor.text": "Text",
    "editor.copy": "Saving makes a copy of this shop's own; the stock text stays as it is.",
    "editor.save": "Save",
    "editor.check": "Check",
    "editor.leave": "Leave without saving",
    "editor.line": "Line {line}",
    "editor.sound": "Nothing to mend.",
    "editor.problems": (
        "{n} thing to mend; it can be saved all the same.|{n} things to mend; it can be saved all the same."
    ),
    "editor.wishes": "{n} thing would make it better|{n} things would make it better",
    "editor.unusable": "This is no entry yet: it needs a title, a symptom and a cause.",
    "editor.not_saved": "Not saved.",
    "editor.too_long": "The entry is larger than 64 KiB; move part of it to another entry.",
    "editor.preview": "How it will look",
    # what differs from the stock text
    "changes.title": "What this shop changed",
    "changes.line": "From line {line}",
    "changes.key": "− stands in the stock text only, + in this shop's text only.",
    "changes.none": "Nothing: this shop's text says what the stock text says.",
    "changes.stock": "Take the stock text again",
    "changes.stock.why": "This shop's text is moved aside into entries/.kept and can be put back from there.",
    "changes.stock.go": "Move this shop's text aside",
    # two people at one entry
    "conflict.title": "Somebody else changed this entry: not saved yet",
    "conflict.lead": (
        "Since you opened it another text was saved. Yours is kept below: put in what you want from the "
        "other one, then save."
    ),
    "conflict.difference": "What differs",
    "conflict.key": "− stands in the other text only, + in yours only.",
    "conflict.yours": "Your text",
    "conflict.theirs": "The other text, as it stands now",
    "conflict.save": "Save mine in its place",
    "conflict.leave": "Leave theirs",
    # review
    "review.title": "What fails most",
    "review.on_page": "On this page",
    "leap.stock": "Stock",
    "leap.models": "Models",
    "leap.gaps": "Gaps",
    "leap.unconfirmed": "Unconfirmed",
    "leap.quarters": "Quarters",
    "review.failures": "Failures",
    "review.quarters": "Jobs by quarter",
    "review.model": "Model",
    "review.all": "all models",
    "review.since": "Since",
    "review.until": "Until",
    "review.go": "Show",
    "review.none_then": "No closed jobs in this view. Choose other days or another model.",
    "review.span": "Counted from {first} to {last}: {n} day.|Counted from {first} to {last}: {n} days.",
    "review.strays": (
        "{n} job of this shop is dated far from all others and left out of the days and quarters."
        "|{n} jobs of this shop are dated far from all others and left out of the days and quarters."
    ),
    "review.csv": "Table (CSV)",
    "review.svg": "Picture (SVG)",
    "review.file": "of {name}",
    "review.trend": "{name}, by quarter",
    "review.trends": "Beside it the jobs of the last quarters, on a scale of its own.",
    "review.spent": "{minutes} in all",
    "review.between": "{low} to {high}",
    "review.more": "{n} rarer failure|{n} rarer failures",
    "review.rest": "{n} more stands in the table (CSV).|{n} more stand in the table (CSV).",
    "review.numbers": "As numbers",
    "review.none": "No closed jobs here yet. Each fix confirmed at the bench is counted here.",
    "review.sum": "{jobs} on {machines}.",
    "review.jobs": "{n} job|{n} jobs",
    "review.machines": "{n} machine|{n} machines",
    "review.median": "Half of the jobs took {minutes} or less; {hours} h in all.",
    "review.failure": "Failure",
    "review.count": "Jobs",
    "review.minutes": "Median",
    "review.rate": "{rate} of machines, likely between {low} and {high}",
    "review.share": "{rate} of machines ({low} to {high})",
    "review.chart": "{name}: {rate} of machines",
    "review.seen": "first {first}, last {last}",
    "review.scale": "Bars run to {reach}; the thin line is where the true share lies, 19 times in 20.",
    "stock.title": "Keep in stock",
    "stock.how": (
        "What the next {ahead} days will ask for, by what {n} day used. With the last column on the shelf you run "
        "short about once in 40 such stretches.|What the next {ahead} days will ask for, by what {n} days used. With "
        "the last column on the shelf you run short about once in 40 such stretches."
    ),
    "stock.part": "Part",
    "stock.used": "Used",
    "stock.donors": "{n} from a donor|{n} from donors",
    "stock.expected": "Expected",
    "stock.keep": "Keep",
    "stock.more": "{n} part used less|{n} parts used less",
    "stock.none": "No part was used in this view.",
    "models.title": "Models compared",
    "models.how": (
        "Per machine that came to the bench, beside it where the true figure lies 19 times in 20. Least bench minutes "
        "first, by the upper limit, so that a model hardly seen is not praised for one lucky machine."
    ),
    "models.minutes": "Minutes",
    "models.jobs": "{figure} jobs",
    "models.parts": "{figure} parts",
    "models.good": "cause found {share}",
    "models.more": "{n} more model|{n} more models",
    "models.unknown": "not noted",
    "gaps.title": "What the library lacks",
    "gaps.how": (
        "Words for which somebody pressed “Nothing here fits”, jobs put away without a cause, and jobs under a cause "
        "that no entry lists. A search that was only typed is not kept."
    ),
    "gaps.no_fit": "nothing fitted {n} time|nothing fitted {n} times",
    "gaps.put_away": "put away {n} time|put away {n} times",
    "gaps.unlisted": "cause not listed {n} time|cause not listed {n} times",
    "gaps.more": "{n} more|{n} more",
    "gaps.none": "Nothing in this view.",
    "unconfirmed.title": "Never confirmed",
    "unconfirmed.how": "{n} entry without a job in this view.|{n} entries without a job in this view.",
    "unconfirmed.more": "{n} more|{n} more",
    "unconfirmed.none": "Every entry was confirmed in this view.",
    # library
    "library.title": "Library",
    "library.count": "{n} fault picture|{n} fault pictures",
    "library.found": "{n} fault picture found|{n} fault pictures found",
    "library.jobs": "{n} job|{n} jobs",
    "library.words": "Words in it",
    "library.show": "Show",
    "library.all": "all",
    "library.own": "this shop's own text",
    "library.mend": "with something to mend",
    "library.better": "that could be better",
    "library.new": "never confirmed here",
    "library.go": "Find",
    "library.unfold": "Unfold all areas",
    "library.is_own": "own text",
    "library.remarks": "{n} to mend|{n} to mend",
    "library.better_by": "{n} could be better|{n} could be better",
    "library.checks": "{n} thing to mend|{n} things to mend",
    "library.wishes": "{n} thing could be better|{n} things could be better",
    "library.broken": "Files that cannot be used",
    "checks.title": "Remarks on the entries",
    "checks.to_mend": "To mend",
    "checks.to_mend.how": "Something in the file is not read, or leads nowhere.",
    "checks.better": "Could be better",
    "checks.better.how": "Nothing is wrong here; with this the entry would tell more, or be found more easily.",
    "checks.none": "Nothing is to mend.",
    "checks.back": "To the library",
    # keys
    "keys.title": "Keys",
    "keys.lead": "Everything here works with the keyboard alone. Single keys count while no field has the focus.",
    "keys.tab": "on to the next thing, back to the last one",
    "keys.enter": "press what has the focus; in the search field: look it up",
    "keys.slash": "into the search field, from any page",
    "keys.tag": "into the field for the tag",
    "keys.digits": "the answer with that number in the next step",
    "keys.scanner": "With a scanner",
    "keys.scanner.how": (
        "Scan into the field for the tag, or while no field has the focus: the tag goes there by itself. The Enter "
        "that a scanner sends never saves a confirmed fix; only the button does."
    ),
    "keys.are_on": "Single keys are on in this browser.",
    "keys.are_off": "Single keys are off in this browser.",
    "keys.on": "Switch single keys on",
    "keys.off": "Switch single keys off",
    # tools
    "tools.title": "Tools",
    "tools.lead": (
        "Tick what this shop does not have. A test that needs it is not proposed then; a fix that needs it is, and "
        "says that it is missing."
    ),
    "tools.read": "What this shop does not have is ticked.",
    "tools.tests": "{n} test|{n} tests",
    "tools.fixes": "{n} fix|{n} fixes",
    "tools.save": "Save",
    "tools.enter": "Enter on any box saves too.",
    "tools.source": "Where the machines come from",
    "tools.source.why": "Some causes are likelier on machines from a pallet, others less likely.",
    "tools.source.counter": "over the counter, from their users",
    "tools.source.pallet": "by the pallet, as they are",
    "tools.none": "No entry asks for a tool.",
    # a new entry
    "new.title": "A new entry",
    "new.lead": "Write what you know; the rest can follow.",
    "new.slug": "Short name (lower-case words joined by hyphens)",
    "new.no_slug": "The short name must be lower-case words joined by hyphens, such as no-light-at-all.",
    "new.taken": "An entry of that name stands there already; choose another name, or edit that one:",
    # signing in and out
    "enter.title": "Sign in",
    "enter.passphrase": "The shop's passphrase",
    "enter.go": "Sign in",
    "enter.wrong": "That is not the passphrase. Type it again.",
    "enter.wait": "Too many tries. Type it again in {n} second.|Too many tries. Type it again in {n} seconds.",
    "enter.plain": "This connection is not encrypted: others on this network could read along.",
    "leave.go": "Sign out",
    "leave.reading": "Reading only",
    # failures
    "failure.again": "Send it again",
    "failure.kept": "What you sent is kept here:",
    "failure.home": "To the bench",
    "failure.busy": "The history is busy: nothing was saved",
    "failure.disk": "The disk did not take it: nothing was saved",
    "failure.history": "The history cannot be used",
    "failure.no_job": "There is no such job",
    "failure.closed": "This job is closed",
    "failure.closed.see": "See what was saved",
    "failure.clock": "The clock of the shop's computer looks wrong: nothing was saved yet",
    "failure.clock.right": "The clock is right: save it",
    "failure.refused": "That does not fit: nothing was saved",
    "failure.picture": "The picture was not taken: nothing was saved",
    "failure.stale": "This form was shown to another browser or is too old: nothing was saved",
    "failure.settings": "The shop's settings could not be changed: nothing was saved",
    "failure.door": "Nobody can be let in",
    "failure.reading": "This screen may only read: nothing was saved",
    "failure.reading.do": "Sign out here and sign in with the shop's passphrase; then send it again.",
    "failure.form": "This sign-in may only read",
    "failure.form.do": "To write here, sign out and sign in with the shop's passphrase.",
    "failure.400": "This address or form is not understood",
    "failure.400.do": "Go back to the bench and begin from there.",
    "failure.401": "Nobody is signed in here: nothing was saved",
    "failure.401.do": "Open the bench in another window and sign in there; then send this again.",
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
title: ...
area: power
---

## Symptom

- ...

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

- ...
"""

#: The heading over what was seen on the bench, with the machine or without.
SEEN_ON, SEEN = "Seen on {model}", "Seen at the bench"
