"""The life of a unit as one picture: burns as bars, what it was not fit for as spans, looks at it
as ticks. Drawn by hand as SVG, for it stands on a page that must be quick; page and print share it.
"""

from __future__ import annotations

import base64
import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString

from facility.look.charts import EMBER, QUIET, STEEL

WIDE, TALL = 760.0, 172.0
LEFT, RIGHT = 96.0, 12.0
BARS_TOP, BARS_FOOT = 14.0, 84.0
ROWS = {"out": 96.0, "restricted": 114.0, "inspected": 132.0}  # top of each row
ROW = 12.0


@dataclass(frozen=True, slots=True)
class Bar:
    """Something counted from a day (included) to a day (excluded)."""

    start: dt.date
    end: dt.date
    count: int


@dataclass(frozen=True, slots=True)
class Span:
    """How long a unit was out of service (``out``) or restricted."""

    row: str
    start: dt.datetime
    end: dt.datetime


@dataclass(frozen=True, slots=True)
class Timeline:
    """The picture from the start to the end; ``names`` are the words at the left of the rows."""

    start: dt.datetime
    end: dt.datetime
    bars: Sequence[Bar]
    spans: Sequence[Span]
    ticks: Sequence[dt.datetime]
    names: dict[str, str]

    def x(self, when: dt.date | dt.datetime) -> float:
        if not isinstance(when, dt.datetime):
            when = dt.datetime.combine(when, dt.time(), tzinfo=self.start.tzinfo)
        part = (when - self.start) / (self.end - self.start)
        return LEFT + min(max(part, 0.0), 1.0) * (WIDE - LEFT - RIGHT)


def svg(line: Timeline) -> str:
    """The picture as SVG text; the same facts give the same bytes."""
    parts = [*_years(line), *_bars(line), *_rows(line)]
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:.0f} {TALL:.0f}" '
        f'font-family="DejaVu Sans, sans-serif" font-size="10.5" fill="{QUIET}">'
        f"{''.join(parts)}</svg>"
    )


def image(line: Timeline, words: str) -> SafeString:
    """The picture as an image, as ``charts.image`` gives charts."""
    data = base64.b64encode(svg(line).encode()).decode()
    return format_html(
        '<img class="chart" alt="{}" src="data:image/svg+xml;base64,{}">', words, data
    )


def _rect(x: float, y: float, width: float, height: float, tone: str, opacity: float = 1) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(width, 0.8):.1f}" height="{height:.1f}" '
        f'fill="{tone}" fill-opacity="{opacity}"/>'
    )


def _text(x: float, y: float, words: object, anchor: str = "start") -> str:
    return format_html(
        '<text x="{}" y="{}" text-anchor="{}">{}</text>', f"{x:.1f}", f"{y:.1f}", anchor, words
    )


def _years(line: Timeline) -> Iterator[str]:
    """A fine line at each New Year, and its year where there is room."""
    first, last = line.start.year + 1, line.end.year
    step = max(1, round((last - first + 1) / 12))
    for year in range(first, last + 1):
        x = line.x(dt.date(year, 1, 1))
        yield f'<path d="M{x:.1f} {BARS_TOP}V{ROWS["inspected"] + ROW}" stroke="{QUIET}" stroke-opacity=".3"/>'
        if (last - year) % step == 0 and x < WIDE - RIGHT - 14:
            yield _text(x, TALL - 8, year, "middle")
    if first > last:
        yield _text(LEFT, TALL - 8, line.start.year)


def _bars(line: Timeline) -> Iterator[str]:
    most = max((bar.count for bar in line.bars), default=0)
    yield f'<path d="M{LEFT} {BARS_FOOT}H{WIDE - RIGHT}" stroke="{QUIET}"/>'
    yield _text(LEFT - 8, BARS_FOOT, line.names["burns"], "end")
    if not most:
        return
    yield _text(LEFT - 8, BARS_TOP + 6, most, "end")
    for bar in line.bars:
        x, tall = line.x(bar.start), (BARS_FOOT - BARS_TOP) * bar.count / most
        if bar.count:
            yield _rect(x + 0.8, BARS_FOOT - tall, line.x(bar.end) - x - 1.6, tall, STEEL)


def _rows(line: Timeline) -> Iterator[str]:
    for row, top in ROWS.items():
        yield _text(LEFT - 8, top + ROW - 2.5, line.names[row], "end")
        yield _rect(LEFT, top, WIDE - LEFT - RIGHT, ROW, QUIET, 0.14)
    for span in line.spans:
        x, opacity = line.x(span.start), 1 if span.row == "out" else 0.55
        yield _rect(x, ROWS[span.row], max(line.x(span.end) - x, 1.6), ROW, EMBER, opacity)
    for tick in line.ticks:
        x, top = line.x(tick), ROWS["inspected"]
        yield f'<path d="M{x:.1f} {top}v{ROW}" stroke="{STEEL}" stroke-width="1.2"/>'
