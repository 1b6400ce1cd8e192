"""What a request asks: the bench it is for, and its fields within their limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, cast
from urllib.parse import quote, unquote, urlencode, urlsplit

from flask import current_app, g, request

from kb.base.trouble import Refusal
from kb.base.worded import worded
from kb.bench.front import Bench
from kb.library.album import LARGEST_FILE, PictureRefused
from kb.machines.typed_lists import decoded
from kb.machines.units import UnitLine, is_unknown

if TYPE_CHECKING:  # loaded by whoever asks for parts
    from kb.bench.parts import TurnedOut

#: Longest fields taken from an address, in characters (the history has limits of its own and says so).
WORDS_LIMIT, NAME_LIMIT = 500, 200
MODEL_COOKIE = "model"
#: The field in which somebody said which model is meant, where one that is new may be a known one.
SURE_OF_MODEL = "model_is"
INITIALS_COOKIE = "initials"
#: The job that was confirmed last in this browser, so that a wrong one is found again.
LAST_COOKIE = "last"
#: Why a part did not help, by what the form says.
TURNED_OUT: dict[str, TurnedOut] = {
    "misfit": "did not fit",
    "dead": "was dead",
    "other": "not the cause",
}


@dataclass(frozen=True, slots=True)
class TypedComplaint:
    """The words typed, the machine they are about, and the job if one is open."""

    words: str = ""
    model: str = ""
    unit: str = ""
    job: str = ""

    def address(self, path: str, **more: str) -> str:
        """The address of a page with this complaint in it."""
        given = {
            "q": self.words,
            "model": self.model,
            "unit": self.unit,
            "job": self.job,
        } | more
        return address_with(path, given)

    def on(self, model: str) -> TypedComplaint:
        """The same words on another model."""
        return replace(self, model=model)

    def saying(self, words: str) -> TypedComplaint:
        """The same machine with other words."""
        return replace(self, words=words)


def bench() -> Bench:
    """The bench of this application."""
    return cast(Bench, current_app.extensions["bench"])


def complaint() -> TypedComplaint:
    """The complaint in the address; where that says nothing at all, the model is the one this browser had last."""
    model = request.args.get("model", "")
    if request.path == "/" and not request.args:
        model = request.cookies.get(MODEL_COOKIE, "")
    return TypedComplaint(
        in_address("q", WORDS_LIMIT),
        model.strip()[:NAME_LIMIT],
        in_address("unit"),
        in_address("job"),
    )


def on_machine(complaint: TypedComplaint, known: UnitLine) -> TypedComplaint:
    """The complaint with tag and model of its machine as the floor has them, where the address says no model."""
    return replace(
        complaint, model=complaint.model or known_model(known.model), unit=known.tag
    )


def known_model(model: str) -> str:
    """The model of a machine, empty where nobody has read it yet.

    >>> known_model("Tern 13"), known_model("unknown")
    ('Tern 13', '')
    """
    return "" if is_unknown(model) else model


def address_with(path: str, given: Mapping[str, str]) -> str:
    """The address of a page with these fields in it, but for the empty ones.

    >>> address_with("/pile", {"lot": "P 7", "hours": ""}), address_with("/pile", {})
    ('/pile?lot=P+7', '/pile')
    """
    kept = {name: value for name, value in given.items() if value}
    return f"{path}?{urlencode(kept, errors='replace')}" if kept else path


def job_address(job: str) -> str:
    """The page of a job, whatever its id holds: one that came from elsewhere need not be one of ours.

    >>> job_address("7kq2m9xw4tdc"), job_address("a/b?c")
    ('/job/7kq2m9xw4tdc', '/job/a%2Fb%3Fc')
    """
    return f"/job/{quote(job, safe='', errors='replace')}"


def unit_address(tag: str) -> str:
    """The page of a machine, whatever its tag holds; a stroke would end the address and is written as a hyphen.

    >>> unit_address("P7-012"), unit_address("shelf 3")
    ('/u/P7-012', '/u/shelf%203')
    """
    return f"/u/{quote(' '.join(tag.split()).replace('/', '-'), safe='', errors='replace')}"


def tag_in(read: str) -> str:
    """The tag that a code says: the code itself, or what follows /u/ in an address.

    >>> tag_in(" P7-012 "), tag_in("HTTP://BENCH:8377/U/P7-012"), tag_in("http://bench/u/P7%2D012")
    ('P7-012', 'P7-012', 'P7-012')
    """
    text = " ".join(read.split())
    if not text.lower().startswith(("http://", "https://")):
        return text
    path = urlsplit(text).path
    return unquote(path[3:]) if path[:3].lower() == "/u/" else ""


def model_meant() -> str:
    """The model of the form: what somebody said when asked which one is meant, else as it was typed."""
    return in_form(SURE_OF_MODEL) or in_form("model")


def in_address(name: str, limit: int = NAME_LIMIT) -> str:
    """A field of the address without blanks around it, cut to its limit."""
    return request.args.get(name, "").strip()[:limit]


def in_form(name: str) -> str:
    """A field of the form without blanks around it; empty if it is not there."""
    return request.form.get(name, "").strip()


def text_in_form(name: str) -> str:
    """A field of the form as it was typed, blanks and all, with plain line ends; empty if it is not there."""
    return (
        request.form.get(name, "")
        .replace("\r\n", "\n")
        .replace("\r", "\n")
        .replace("\x00", "")
    )


def initials() -> str:
    """The initials that this browser has for whoever works here; empty before any were given."""
    return request.cookies.get(INITIALS_COOKIE, "")


def at_this_bench() -> str:
    """Who works here: the initials that this browser has, else a name for the browser itself, so that clocks differ."""
    return initials().strip()[:20] or f"bench {str(g.get('visitor', ''))[:6]}"


def turned_out() -> TurnedOut:
    """Why a part did not help, as the form says; Refusal for anything else."""
    shown = TURNED_OUT.get(in_form("shown"))
    if shown is None:
        raise Refusal(
            worded("say whether it did not fit, was dead, or was not the cause")
        )
    return shown


def form_fields() -> list[tuple[str, str]]:
    """Every field of the form as it was sent; none if the form could not be read."""
    if g.get("form_unread") or request.method == "GET":
        return []
    try:
        return list(request.form.items(multi=True))
    except Exception:  # a form too large or torn: there is nothing to give back
        return []


def sent_list() -> tuple[str, str]:
    """The list of the form and what to call it: the file that was sent, else what was pasted."""
    sent = request.files.get("file")
    if sent and sent.filename:
        return decoded(sent.read()), sent.filename
    return request.form.get("text", ""), "the list"


def sent_picture() -> bytes:
    """The picture of the form, of the first field that holds one; PictureRefused if none does."""
    sent = next((one for one in request.files.getlist("picture") if one.filename), None)
    if sent is None:
        raise PictureRefused(
            worded("no picture was chosen; take one or choose one, then send it")
        )
    picture: bytes = sent.read(LARGEST_FILE + 1)
    return picture


def number(name: str) -> float | None:
    """A number of the form, None if it is empty; a comma may stand for the point. ValueError if it is none."""
    given = in_form(name).replace(",", ".")
    return float(given) if given else None
