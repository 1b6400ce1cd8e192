"""The table's minutes as a picture: bars with their standard errors, in ink on paper, readable in light and dark."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from html import escape

from results import Mean

WIDTH, LABEL, ROW, TOP = 760, 310, 34, 58
_STYLE = """
  .paper { fill: #f6f3ea } .ink { fill: #23262b } .soft { fill: #5d6067 } .bar { fill: #8b8f86 } .own { fill: #0b6b6f }
  .rule { stroke: #c9c4b4 } .whisker { stroke: #23262b; stroke-width: 1.5 }
  text { font-family: system-ui, sans-serif; font-size: 15px; font-variant-numeric: tabular-nums }
  .head { font-size: 17px; font-weight: 600 } .small { font-size: 13px }
  @media (prefers-color-scheme: dark) {
    .paper { fill: #1d2023 } .ink { fill: #ece8dc } .soft { fill: #a9aca6 }
    .bar { fill: #777c78 } .own { fill: #3fa7a3 } .rule { stroke: #3c4044 } .whisker { stroke: #ece8dc }
  }
"""


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar: its label, the minutes with their standard error, and whether it is the program's."""

    label: str
    minutes: Mean
    own: bool


def picture(title: str, bars: Sequence[Bar], foot: str) -> str:
    """The bars as an SVG text."""
    height = TOP + ROW * len(bars) + 40
    longest = max(bar.minutes.value + 2 * bar.minutes.error for bar in bars)
    step = next(
        step for step in (5, 10, 20, 25, 50, 100, 200, 500, 1000) if longest / step <= 8
    )
    scale = (WIDTH - LABEL - 100) / longest
    said = "; ".join(f"{bar.label} {bar.minutes.value:.0f} min" for bar in bars)
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="t d">',
        f'<title id="t">{escape(title)}</title>',
        f'<desc id="d">{escape(said)}</desc>',
        f"<style>{_STYLE}</style>",
        f'<rect class="paper" width="{WIDTH}" height="{height}" rx="6"/>',
        f'<text class="ink head" x="16" y="28">{escape(title)}</text>',
    ]
    for minutes in range(0, int(longest) + 1, step):
        x = LABEL + minutes * scale
        parts.append(
            f'<line class="rule" x1="{x:.1f}" x2="{x:.1f}" y1="{TOP - 8}" y2="{height - 34}"/>'
        )
        parts.append(
            f'<text class="soft small" x="{x:.1f}" y="{TOP - 12}" text-anchor="middle">{minutes}</text>'
        )
    for place, bar in enumerate(bars):
        parts += _bar(bar, TOP + ROW * place, scale)
    parts.append(
        f'<text class="soft small" x="16" y="{height - 12}">{escape(foot)}</text>'
    )
    return "\n".join([*parts, "</svg>"]) + "\n"


def _bar(bar: Bar, y: int, scale: float) -> list[str]:
    end, reach = LABEL + bar.minutes.value * scale, 2 * bar.minutes.error * scale
    middle = y + ROW // 2 - 2
    weight = ' font-weight="600"' if bar.own else ""
    kind, length = "own" if bar.own else "bar", end - LABEL
    return [
        f'<text class="ink" x="{LABEL - 10}" y="{middle + 5}" text-anchor="end"{weight}>{escape(bar.label)}</text>',
        f'<rect class="{kind}" x="{LABEL}" y="{y + 3}" width="{length:.1f}" height="{ROW - 10}"/>',
        f'<line class="whisker" x1="{end - reach:.1f}" x2="{end + reach:.1f}" y1="{middle}" y2="{middle}"/>',
        f'<text class="ink" x="{end + reach + 6:.1f}" y="{middle + 5}"{weight}>{bar.minutes.value:.0f} min</text>',
    ]
