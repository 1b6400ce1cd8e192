"""What a shop looks back on: failures with how sure their rates are, trend, parts to keep, models compared, gaps."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from flask import Blueprint, Response, render_template

from kb.base.csvtext import to_csv
from kb.base.trouble import NotThere
from kb.base.worded import worded
from kb.history.same import Merge
from kb.review.demand import AHEAD_DAYS
from kb.review.failures import Failure
from kb.review.overview import Overview
from kb.review.tables import TABLES
from kb.review.trend import Quarters, filled, not_whole
from webui import fields
from webui.serving.replies import as_file

pages = Blueprint("review", __name__)

#: Rows of a list before the rest is folded away: each list in sight on a phone within a few swipes.
FEW = 5
#: Failures with their bars, bars of the picture to take along, and quarters of a small trend.
ROWS, BARS, QUARTERS = 20, 20, 12
#: Rows of a table on the page at the most; the file has all.
MOST_ROWS = 200
PICTURES = ("failures", "quarters")


@dataclass(frozen=True, slots=True)
class ReviewLook:
    """What is looked at: a model or all, and the days; it stands in the address, so that a view can be shared."""

    model: str
    since: str
    until: str

    def address(self, path: str) -> str:
        """The address of a page with the same filters."""
        return fields.address_with(
            path, {"model": self.model, "since": self.since, "until": self.until}
        )


@dataclass(frozen=True, slots=True)
class ModelNames:
    """Names that are counted as another one, groups of names that differ in spelling alone, and every model known."""

    merges: tuple[Merge, ...]
    alike: tuple[tuple[str, ...], ...]
    known: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ReviewBoard:
    """An overview as the page and the pictures need it; `reach` is the end of the scale of rates."""

    look: ReviewLook
    seen: Overview
    reach: float

    @property
    def quarters(self) -> Quarters:
        """All jobs by quarter, without gaps."""
        return filled(
            self.seen.review.quarters, self.seen.span.first, self.seen.span.last
        )

    @property
    def not_whole(self) -> frozenset[str]:
        """The quarters that are not counted whole."""
        return not_whole(self.seen.span.first, self.seen.span.last)

    def trend(self, failure: Failure) -> Quarters:
        """A failure's jobs in the last quarters of the view."""
        return filled(failure.quarters, self.seen.span.first, self.seen.span.last)[
            -QUARTERS:
        ]


@pages.get("/review")
def review() -> str:
    """The overview of the model in the address, or of all, between two days."""
    board = _board()
    return render_template(
        "review.html",
        board=board,
        models=fields.bench().asking.models(),
        names=_names(board.seen.review.model),
        ahead=AHEAD_DAYS,
        few=FEW,
        rows=ROWS,
        most=MOST_ROWS,
    )


@pages.get("/review/<name>.csv")
def table(name: str) -> Response:
    """One of its tables, whole, for a spreadsheet."""
    if name not in TABLES:
        raise NotThere(
            worded(
                "there is no table {name}; the tables are {tables}",
                name=name[:40],
                tables=", ".join(TABLES),
            )
        )
    return as_file(
        to_csv(TABLES[name](_board().seen)), "text/csv", f"benchlore-{name}.csv"
    )


@pages.get("/review/<name>.svg")
def picture(name: str) -> Response:
    """One of its pictures to take along, with all its words in it."""
    if name not in PICTURES:
        raise NotThere(
            worded(
                "there is no picture {name}; the pictures are {pictures}",
                name=name[:40],
                pictures=", ".join(PICTURES),
            )
        )
    drawn = render_template(f"{name}.svg", board=_board(), bars=BARS)
    return as_file(drawn, "image/svg+xml", f"benchlore-{name}.svg")


def _board() -> ReviewBoard:
    model = _as_known(fields.in_address("model"))
    look = ReviewLook(
        model, _day(fields.in_address("since")), _day(fields.in_address("until"))
    )
    seen = fields.bench().looking_back.overview(look.model, look.since, look.until)
    top = max((failure.high for failure in seen.review.failures[:BARS]), default=1.0)
    return ReviewBoard(look, seen, _round_up(top))


def _as_known(model: str) -> str:
    """A model as it is written here, whatever its case; names that differ in spaces are two until they are merged."""
    known = fields.bench().asking.models()
    return next(
        (name for name in known if name.casefold() == model.strip().casefold()), model
    )


def _names(model: str) -> ModelNames:
    """What is known of the names of a model, or of all: those counted as another, and those written two ways."""
    desk = fields.bench().models
    known = desk.known()
    alike = [
        group
        for group in desk.alike(known)
        if not model or model.casefold() in map(str.casefold, group)
    ]
    return ModelNames(
        desk.others(model) if model else desk.merges(), tuple(alike), known
    )


def _day(given: str) -> str:
    """A day as YYYY-MM-DD, empty for anything else."""
    try:
        return date.fromisoformat(given).isoformat()
    except ValueError:
        return ""


def _round_up(share: float) -> float:
    """The end of the scale: the next of 2, 5, 10, 20, 30, 50 and 100 %.

    >>> _round_up(0.13), _round_up(0.7)
    (0.2, 1.0)
    """
    return next((end for end in (0.02, 0.05, 0.1, 0.2, 0.3, 0.5) if share <= end), 1.0)
