"""The intake of text, numbers and times: what the history takes in, and in which form it keeps them.

Each reader takes one value as it was typed or sent and gives it in the form that is kept: text without blanks around
it, minutes as a number, cents as a whole number, times in UTC (ISO 8601, a trailing Z). What does not fit raises
NotAccepted, with what is wrong and what to write instead.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from datetime import date, datetime

from kb.base.clock import WORKING_MONTH, stamp
from kb.base.worded import worded
from kb.history.trouble import NotAccepted
from kb.model import Finding

#: Longest texts, in characters.
NAME_LIMIT, WORDS_LIMIT, NOTE_LIMIT = 200, 500, 20_000

#: Most test outcomes on one job.
OUTCOMES_LIMIT = 200
#: Most bench minutes of one job; a number read by a scanner is far above it.
MOST_MINUTES = WORKING_MONTH

#: The names that pictures have in the album.
PICTURE = re.compile(r"[a-z0-9]+(?:-[a-z0-9]+)*-[1-9][0-9]{0,5}\.jpg")
_CAUSE = re.compile(r"[a-z0-9-]+/[a-z0-9-]+")
_UNSTORABLE = re.compile("[\x00\ud800-\udfff]")


def clean(text: object) -> str:
    r"""The text with NUL and lone surrogates, which cannot be stored, replaced by U+FFFD; NotAccepted for no text.

    >>> clean("a\x00b") == "a\ufffdb"
    True
    """
    if not isinstance(text, str):
        raise NotAccepted(f"{str(text)[:20]} is not a text", "write it in quotes")
    if text.isascii() and "\x00" not in text:
        return text
    return _UNSTORABLE.sub("\ufffd", text)


def name(text: str, what: str) -> str:
    """A model, tag, part or other name: cleaned, without blanks around it, 200 characters at most."""
    return _within(clean(text).strip(), what, NAME_LIMIT)


def required(text: str, what: str) -> str:
    """A name that may not be empty."""
    given = name(text, what)
    if not given:
        raise NotAccepted(
            worded("{what} is missing", what=what), worded("give the {what}", what=what)
        )
    return given


def words(text: str, what: str = "words") -> str:
    """A symptom as typed: cleaned, 500 characters at most."""
    return _within(clean(text), what, WORDS_LIMIT)


def note(text: str, what: str = "note") -> str:
    """A longer text: cleaned, 20,000 characters at most."""
    return _within(clean(text), what, NOTE_LIMIT)


def reason(text: str) -> str:
    """A note that may not be empty: why something was retracted."""
    given = note(text, "reason").strip()
    if not given:
        raise NotAccepted(
            worded("the reason is missing"), worded("say why in a few words")
        )
    return given


def cause(text: str) -> str:
    """A cause written `entry/cause`, in lower-case letters, digits and hyphens.

    >>> cause("no-light/dc-jack")
    'no-light/dc-jack'
    """
    given = name(text, "cause")
    if not _CAUSE.fullmatch(given):
        raise NotAccepted(
            worded("cause `{given}` is not written entry/cause", given=given[:60]),
            worded(
                "write it as in no-light/dc-jack: lower-case letters, digits, hyphens, one slash"
            ),
        )
    return given


def minutes(value: float | None) -> float | None:
    """Bench minutes: a number from 0 to `MOST_MINUTES`, or None if nobody counted."""
    if value is None:
        return None
    try:
        given = float(value)
    except OverflowError:
        given = math.inf
    if isinstance(value, bool) or not 0 <= given <= MOST_MINUTES:
        raise NotAccepted(
            worded("minutes cannot be {value}", value=str(value)[:20]),
            worded(
                "write a number of 0 or more, {most_minutes} at most",
                most_minutes=MOST_MINUTES,
            ),
        )
    return given + 0.0


def count(value: object, what: str = "count", most: int = 1_000_000) -> int:
    """A whole number of 0 or more.

    >>> count("12"), count(3)
    (12, 3)
    """
    text = str(value).strip()
    if (
        isinstance(value, bool)
        or not re.fullmatch(r"\d{1,15}", text)
        or int(text) > most
    ):
        raise NotAccepted(
            worded("{what} cannot be {text}", what=what, text=clean(text)[:20]),
            worded("write a whole number from 0 to {most}", most=most),
        )
    return int(text)


def cents(value: object, what: str = "price") -> int:
    """An amount of money in whole cents (hundredths, or the smallest coin of the shop's currency), 0 or more."""
    return count(value, what, most=10**11)


def tag(text: str) -> str:
    """The tag of a machine as it is written on its label: cleaned, single blanks, required."""
    return " ".join(required(text, "tag").split())


def picture(text: str) -> str:
    """The name of a picture in the album, such as `job-0a1b-1.jpg`: it leads to no other folder.

    >>> picture("job-0a1b2c3d4e5f6071-1.jpg")
    'job-0a1b2c3d4e5f6071-1.jpg'
    """
    given = name(text, "picture")
    if not PICTURE.fullmatch(given):
        raise NotAccepted(
            worded("picture `{given}` is no name of a picture here", given=given[:60]),
            worded("name a file of entries/pictures, as in job-0a1b2c3d4e5f6071-1.jpg"),
        )
    return given


def tag_key(text: str) -> str:
    """What two spellings of one tag have in common: neither case nor blanks.

    >>> tag_key(" p7-012 ") == tag_key("P7 - 012") == "p7-012"
    True
    """
    return "".join(text.split()).casefold()


def day(text: str, what: str = "day") -> str:
    """A day as YYYY-MM-DD, or empty."""
    given = clean(text).strip()
    if not given:
        return ""
    try:
        return date.fromisoformat(given).isoformat()
    except ValueError:
        raise NotAccepted(
            worded("{what} `{given}` is no day", what=what, given=given[:20]),
            worded("write it as YYYY-MM-DD"),
        ) from None


def one_of(*choices: str) -> Callable[[str], str]:
    """A reader that takes one of these words alone."""

    def chosen(text: str) -> str:
        if text not in choices:
            raise NotAccepted(
                worded(
                    "`{text}` is none of {choices}",
                    text=clean(str(text))[:40],
                    choices=", ".join(choices),
                ),
                worded("write one of these"),
            )
        return text

    return chosen


def moment(text: str) -> str:
    """A point in time as UTC to the second with a trailing Z, from any ISO 8601 time with an offset.

    One hour east of Greenwich is one hour ahead of UTC (ISO 8601).

    >>> moment("2026-11-24T10:15:30.5+01:00")
    '2026-11-24T09:15:30Z'
    """
    wrong = NotAccepted(
        worded("`{text}` is not a time in UTC", text=clean(text)[:40]),
        worded("write it as in 2026-11-24T10:15:00Z"),
    )
    if len(text) > 40 or "T" not in text.upper().replace(" ", "T"):
        raise wrong
    try:
        given = datetime.fromisoformat(text.strip())
        if given.tzinfo is None:
            raise wrong
        return stamp(given)
    except (ValueError, OverflowError):
        raise wrong from None


def findings(given: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """What tests showed: each test is named, each outcome has 500 characters at most, and there are not too many."""
    if len(given) > OUTCOMES_LIMIT:
        raise NotAccepted(
            worded("{given} outcomes are too many", given=len(given)),
            worded(
                "keep the {outcomes_limit} that matter", outcomes_limit=OUTCOMES_LIMIT
            ),
        )
    return tuple(
        Finding(required(shown.test, "test"), words(shown.outcome, "outcome"))
        for shown in given
    )


def _within(text: str, what: str, limit: int) -> str:
    if len(text) > limit:
        raise NotAccepted(
            worded("{what}: {text} characters are too many", what=what, text=len(text)),
            worded("shorten it to {limit}", limit=limit),
        )
    return text
