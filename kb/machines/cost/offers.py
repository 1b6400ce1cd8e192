"""Offers of pallets read from CSV: how many of each model, and what a good one of each is sold for."""

from __future__ import annotations

import csv
import io
from collections import Counter
from collections.abc import Callable, Iterator

from kb.base.trouble import Refusal
from kb.base.worded import listed, worded
from kb.machines.cost.bids import PalletOffer
from kb.machines.cost.money import cents_of

HEADINGS = ("model", "count", "sale")
LIKE = "model,count,sale and, for example, Tern 13,12,90.00"


def offer_of(
    text: str,
    hourly_cents: int,
    freight_cents: int = 0,
    currency: str = "",
    kept: Callable[[str], str] = str,
) -> PalletOffer:
    r"""The offer that CSV with the headings model, count and sale tells of; Refusal with every problem by its line.

    `kept` gives the name under which a model is counted.

    >>> offer = offer_of("model,count,sale\nTern 13,12,90.00\nSkua 14,4,120\n", 3600)
    >>> offer.counts, offer.sale_cents
    ({'Tern 13': 12, 'Skua 14': 4}, {'Tern 13': 9000, 'Skua 14': 12000})
    """
    counts: Counter[str] = Counter()
    sales: dict[str, int] = {}
    wrong = []
    for line, written, count, sale in _rows(text):
        model = kept(written)
        try:
            sales[model] = cents_of(sale, currency)
            counts[model] += _count(count)
            if not model:
                raise Refusal(worded("no model is named; write one"))
        except Refusal as refusal:
            wrong.append(
                worded("line {line}: {problem}", line=line, problem=refusal.sentence)
            )
    if wrong:
        raise Refusal(listed(wrong))
    if not sum(counts.values()):
        raise Refusal(worded("the offer names no machine; write {like}", like=LIKE))
    return PalletOffer(
        counts=dict(counts),
        sale_cents=sales,
        hourly_cents=hourly_cents,
        freight_cents=freight_cents,
    )


def _rows(text: str) -> Iterator[tuple[int, str, str, str]]:
    """Each row that is not blank: its last line's number, model, count and sale; Refusal where a heading is missing."""
    reader = csv.DictReader(
        io.StringIO(text.lstrip("\ufeff")), delimiter=_delimiter(text)
    )
    headings = [_trimmed(name).casefold() for name in reader.fieldnames or ()]
    missing = [name for name in HEADINGS if name not in headings]
    if missing:
        raise Refusal(
            worded(
                "the offer has no column {missing}; write {like}",
                missing=", ".join(missing),
                like=LIKE,
            )
        )
    reader.fieldnames = headings
    for row in reader:
        cells = [_trimmed(row.get(name)) for name in HEADINGS]
        if any(cells):
            model, count, sale = cells
            yield reader.line_num, model, count, sale


def _trimmed(field: str | None) -> str:
    """A field of a row without blanks around it, empty where the row is too short for it."""
    return (field or "").strip()


def _count(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) <= 6):
        raise Refusal(
            worded(
                "`{text}` is no number of machines; write one such as 12",
                text=text[:40],
            )
        )
    return int(text)


def _delimiter(text: str) -> str:
    """The sign between cells: a semicolon or a tab where the headings have one, else a comma."""
    headings = text.split("\n", 1)[0]
    return next((sign for sign in ";\t" if sign in headings), ",")
