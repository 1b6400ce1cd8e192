"""Labels: the tag of a machine as a code that any reader reads, small enough for a corner of the lid."""

from __future__ import annotations

from dataclasses import dataclass

from kb.base.trouble import Refusal

#: A module of the code, in millimetres, and the blank modules around it (ISO/IEC 18004 asks for four).
MODULE_MM, QUIET = 0.5, 4
#: Levels of correction, best first, and the versions that are tried with all of them before a larger one.
LEVELS = ("Q", "M", "L")
LARGEST = 6


@dataclass(frozen=True, slots=True)
class LabelCode:
    """A code: what it says, its modules with the blank ones around them a side, and its dark modules as an SVG path."""

    says: str
    modules: int
    path: str

    @property
    def side_mm(self) -> float:
        """The length of a side in millimetres, blank modules and all."""
        return self.modules * MODULE_MM


def tag_code(tag: str) -> LabelCode:
    """The code of a tag alone: any scanner types it, and it stays good whatever address the pages have.

    Case folds in tags, so that it is written in capitals, which take half the room.

    >>> code = tag_code("p7-0032")
    >>> code.says, code.modules, code.side_mm
    ('P7-0032', 29, 14.5)
    """
    return _code(" ".join(tag.split()).upper())


def address_code(tag: str, address: str) -> LabelCode:
    """The code of the machine's page under an address such as `http://bench.local:8377`, for a phone's camera.

    >>> code = address_code("P7-0032", "http://bench.local:8377/")
    >>> code.says, code.side_mm
    ('HTTP://BENCH.LOCAL:8377/U/P7-0032', 16.5)
    """
    from urllib.parse import quote

    place = f"{address.rstrip('/')}/u/{quote(' '.join(tag.split()), safe='')}"
    return _code(place.upper() if quote(tag, safe="-. ") == tag else place)


def _code(text: str) -> LabelCode:
    """The code of a text in the smallest version that takes it, there with the best correction that fits."""
    import segno
    from segno.encoder import DataOverflowError

    for version in range(1, LARGEST + 1):
        for level in LEVELS:
            try:
                made = segno.make_qr(
                    text, error=level, version=version, boost_error=False
                )
            except DataOverflowError:
                continue
            rows = [bytes(row) for row in made.matrix]
            return LabelCode(text, len(rows) + 2 * QUIET, _path(rows))
    raise Refusal(f"{text[:40]} is too long for the code of a label; shorten it")


def _path(rows: list[bytes]) -> str:
    """The dark modules, each run of a row as one bar."""
    bars = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            run = 0
            while x + run < len(row) and row[x + run]:
                run += 1
            if run:
                bars.append(f"M{x + QUIET} {y + QUIET}h{run}v1h-{run}z")
            x += run or 1
    return "".join(bars)


@dataclass(frozen=True, slots=True, kw_only=True)
class LabelSheet:
    """The geometry of a sheet of labels, in millimetres: paper, one label, the first one's place, gaps between them."""

    paper_width: float = 210.0
    paper_height: float = 297.0
    width: float = 48.0
    height: float = 20.0
    left: float = 7.0
    top: float = 10.0
    gap_across: float = 1.0
    gap_down: float = 1.0

    @property
    def across(self) -> int:
        """Labels beside each other.

        >>> LabelSheet().across, LabelSheet().down
        (4, 13)
        """
        return _fitting(self.paper_width - self.left, self.width, self.gap_across)

    @property
    def down(self) -> int:
        """Labels below each other."""
        return _fitting(self.paper_height - self.top, self.height, self.gap_down)

    def checked(self) -> LabelSheet:
        """The same; raises Refusal if no label of that size fits the paper, or its code does not fit the label."""
        if self.across < 1 or self.down < 1:
            raise Refusal(
                "no label of that size fits the paper; make it smaller, or the margins"
            )
        if min(self.width, self.height) < 15:
            raise Refusal(
                "the code of a tag needs 15 mm; make the labels at least so wide and high"
            )
        return self


def _fitting(room: float, size: float, gap: float) -> int:
    return int((room + gap + 1e-9) // (size + gap)) if size > 0 else 0


def style(sheet: LabelSheet) -> str:
    """The style sheet that lays labels out on paper, all in millimetres."""
    return (
        f"@page {{ size: {sheet.paper_width:g}mm {sheet.paper_height:g}mm; margin: 0; }}\n"
        f".labels {{ display: grid; grid-template-columns: repeat({sheet.across}, {sheet.width:g}mm); "
        f"grid-auto-rows: {sheet.height:g}mm; gap: {sheet.gap_down:g}mm {sheet.gap_across:g}mm; "
        f"padding: {sheet.top:g}mm 0 0 {sheet.left:g}mm; width: {sheet.paper_width:g}mm; "
        f"height: {sheet.paper_height:g}mm; box-sizing: border-box; overflow: hidden; break-after: page; "
        "background: #fff; color: #000; font: 8pt/1.2 sans-serif; }\n"
        ".labels:last-of-type { break-after: auto; }\n"
        ".labels > * { display: flex; align-items: center; gap: 1mm; overflow: hidden; }\n"
        ".labels svg { flex: none; }\n"
        ".labels b { display: block; font-size: 14pt; line-height: 1.1; overflow-wrap: anywhere; }\n"
    )


@dataclass(frozen=True, slots=True)
class Label:
    """One label: tag, model, lot, and the code beside them."""

    tag: str
    model: str
    lot: str
    code: LabelCode


def sheets(labels: list[Label], sheet: LabelSheet) -> list[list[Label]]:
    """The labels sheet by sheet."""
    each = sheet.across * sheet.down
    return [labels[start : start + each] for start in range(0, len(labels), each)]


def to_html(labels: list[Label], sheet: LabelSheet) -> str:
    """The labels as one file that any browser prints at full size."""
    from html import escape

    pages = []
    for one in sheets(labels, sheet):
        shown = [
            f"<div>{svg(label.code)}<span><b>{escape(label.tag)}</b>{escape(label.model)}<br>{escape(label.lot)}</span></div>"
            for label in one
        ]
        pages.append(f'<div class="labels">{"".join(shown)}</div>')
    head = f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Labels</title><style>{style(sheet)}'
    return f"{head}body {{ margin: 0; }}</style></head><body>{''.join(pages)}</body></html>\n"


def svg(code: LabelCode) -> str:
    """A code as SVG in its true size."""
    side = f"{code.side_mm:g}mm"
    return (
        f'<svg width="{side}" height="{side}" viewBox="0 0 {code.modules} {code.modules}" role="img" '
        f'aria-label="code"><path d="{code.path}"/></svg>'
    )
