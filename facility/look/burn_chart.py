"""A burn as one picture: panels over one axis of time, phases shaded, events as numbered marks.

Drawn by hand as SVG, for every zoom asks the server for it; page and print share it. Tones can be
read on the light and on the dark page alike, and no line is told by its tone alone.
"""

from __future__ import annotations

import base64
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.utils.html import format_html
from django.utils.safestring import SafeString

from facility.look.charts import EMBER, QUIET, STEEL

WIDE, LEFT, RIGHT = 860.0, 52.0, 142.0
TOP, BETWEEN, FOOT = 40.0, 26.0, 34.0
HEAD, LETTER = 12.0, 6.2  # where the phases are named, and about how wide a letter is
PLAIN, DASHED, DOTTED = "", "7 4", "2 3"


@dataclass(frozen=True, slots=True)
class Trace:
    """One line: minutes and values, arrays with NaN for gaps. ``label`` stands beside the panel."""

    minutes: Any
    values: Any
    colour: str = EMBER
    dashes: str = PLAIN
    label: str = ""
    width: float = 1.4


@dataclass(frozen=True, slots=True)
class Spot:
    """One thing seen, as a ring."""

    minute: float
    value: float


@dataclass(frozen=True, slots=True)
class Panel:
    """One set of axes; ``floor`` and ``top`` are the least that the axis shows."""

    name: str
    tall: float
    traces: Sequence[Trace]
    spots: Sequence[Spot] = ()
    floor: float | None = None
    top: float | None = None


@dataclass(frozen=True, slots=True)
class Phase:
    """A stage of the fire from a minute to a minute."""

    start: float
    end: float
    name: str


@dataclass(frozen=True, slots=True)
class Picture:
    """The panels from ``start`` to ``end`` [min], with phases and numbered marks (minute, number)."""

    start: float
    end: float
    panels: Sequence[Panel]
    phases: Sequence[Phase] = ()
    marks: Sequence[tuple[float, str]] = ()
    x_name: str = ""

    def x(self, minute: float) -> float:
        part = (minute - self.start) / max(self.end - self.start, 1e-9)
        return LEFT + min(max(part, 0.0), 1.0) * (WIDE - LEFT - RIGHT)


def image(picture: Picture, words: str) -> SafeString:
    """The picture as an image; in an image the strict content policy allows the SVG its styles."""
    data = base64.b64encode(svg(picture).encode()).decode()
    return format_html(
        '<img class="chart" alt="{}" src="data:image/svg+xml;base64,{}">', words, data
    )


def svg(picture: Picture) -> str:
    """The picture as SVG text; the same facts give the same bytes."""
    tall = TOP + sum(panel.tall + BETWEEN for panel in picture.panels) - BETWEEN + FOOT
    foot = tall - FOOT
    parts = [*_phases(picture, foot), *_marks(picture, foot)]
    top = TOP
    for panel in picture.panels:
        parts += _panel(picture, panel, top)
        top += panel.tall + BETWEEN
    parts += _minutes(picture, foot)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:.0f} {tall:.0f}" '
        f'font-family="DejaVu Sans, sans-serif" font-size="11" fill="{QUIET}">'
        f"{''.join(parts)}</svg>"
    )


def _text(x: float, y: float, words: object, anchor: str = "start", more: str = "") -> str:
    shown = format_html("{}", words)
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}"{more}>{shown}</text>'


def _phases(picture: Picture, foot: float) -> Iterator[str]:
    """Every other phase is shaded, so that the border shows without colour."""
    taken = 4 + LETTER * (len(picture.panels[0].name) + 1)
    for place, phase in enumerate(picture.phases):
        start, end = max(phase.start, picture.start), min(phase.end, picture.end)
        if end <= start:
            continue
        x, wide = picture.x(start), picture.x(end) - picture.x(start)
        shade = 0.16 if place % 2 == 0 else 0.07
        yield (
            f'<rect x="{x:.1f}" y="{TOP}" width="{wide:.1f}" height="{foot - TOP:.1f}" '
            f'fill="{QUIET}" fill-opacity="{shade}"/>'
        )
        half = LETTER * len(phase.name) / 2
        middle = max(x + wide / 2, taken + half)
        if middle + half < x + wide:
            yield _text(middle, HEAD, phase.name, "middle")


def _marks(picture: Picture, foot: float) -> Iterator[str]:
    """A fine upright line for each event with its number in a ring; close ones are put higher."""
    last, raised = -99.0, False
    for minute, number in picture.marks:
        if not picture.start <= minute <= picture.end:
            continue
        x = picture.x(minute)
        raised = x - last < 15 and not raised
        last, y = x, 20.0 if raised else 31.0
        yield (
            f'<path d="M{x:.1f} {y + 7:.1f}V{foot:.1f}" stroke="{QUIET}" stroke-width=".8" '
            f'stroke-dasharray="1 3"/><circle cx="{x:.1f}" cy="{y:.1f}" r="7" fill="none" '
            f'stroke="{QUIET}"/>'
        ) + _text(x, y + 3.4, number, "middle", ' font-size="9.5"')


def _panel(picture: Picture, panel: Panel, top: float) -> Iterator[str]:
    low, high = _range(picture, panel)
    step = _nice((high - low) / max(2.0, panel.tall / 42))
    low = 0.0 if -0.5 * step < low < 0.0 else low  # a little under nought is noise
    low, high = math.floor(low / step + 1e-9) * step, math.ceil(high / step - 1e-9) * step
    foot = top + panel.tall

    def y(value: Any) -> Any:
        return foot - (value - low) / (high - low) * panel.tall

    # Above the rings of the first events, which may stand at the very left.
    yield _text(4, HEAD if top == TOP else top - 8, panel.name)
    for place in range(round((high - low) / step) + 1):
        value = low + place * step
        line = y(value)
        yield f'<path d="M{LEFT} {line:.1f}H{WIDE - RIGHT}" stroke="{QUIET}" stroke-opacity=".3"/>'
        yield _text(LEFT - 6, line + 4, f"{value:g}", "end")
    for trace in panel.traces:
        path = _path(picture, trace, y, top, foot)
        if path:
            dashes = f' stroke-dasharray="{trace.dashes}"' if trace.dashes else ""
            yield (
                f'<path d="{path}" fill="none" stroke="{trace.colour}" '
                f'stroke-width="{trace.width}" stroke-linejoin="round"{dashes}/>'
            )
    yield from _names(panel, top)
    for spot in panel.spots:
        if picture.start <= spot.minute <= picture.end:
            yield (
                f'<circle cx="{picture.x(spot.minute):.1f}" cy="{min(max(y(spot.value), top), foot):.1f}" r="4.5" '
                f'fill="none" stroke="{EMBER}" stroke-width="2"/>'
            )


def _names(panel: Panel, top: float) -> Iterator[str]:
    """The names of the lines beside the panel, each with a piece of its line."""
    x, named = WIDE - RIGHT + 10, [trace for trace in panel.traces if trace.label]
    for place, trace in enumerate(named):
        y = top + 8 + 14 * place
        dashes = f' stroke-dasharray="{trace.dashes}"' if trace.dashes else ""
        yield (
            f'<path d="M{x:.1f} {y:.1f}h18" stroke="{trace.colour}" stroke-width="2"{dashes}/>'
        ) + _text(x + 23, y + 4, trace.label, "start", ' font-size="10.5"')


def _path(picture: Picture, trace: Trace, y: Any, top: float, foot: float) -> str:
    """The line in tenths of a unit, broken at its gaps."""
    minutes, values = np.asarray(trace.minutes, float), np.asarray(trace.values, float)
    inside = (minutes >= picture.start) & (minutes <= picture.end)
    minutes, values = minutes[inside], values[inside]
    if not len(minutes):
        return ""
    known = np.isfinite(values)
    across = LEFT + (minutes - picture.start) / max(picture.end - picture.start, 1e-9) * (
        WIDE - LEFT - RIGHT
    )
    up = np.clip(y(np.where(known, values, 0.0)), top, foot)
    points = list(
        zip(np.round(across, 1).tolist(), np.round(up, 1).tolist(), known.tolist(), strict=True)
    )
    parts, drawn = [], False
    for px, py, there in points:
        if there:
            parts.append(f"{'L' if drawn else 'M'}{px} {py}")
        drawn = there
    return "".join(parts)


def _range(picture: Picture, panel: Panel) -> tuple[float, float]:
    low = [] if panel.floor is None else [panel.floor]
    high = [] if panel.top is None else [panel.top]
    for trace in panel.traces:
        minutes, values = np.asarray(trace.minutes), np.asarray(trace.values, float)
        there = values[np.isfinite(values) & (minutes >= picture.start) & (minutes <= picture.end)]
        if there.size:
            low.append(float(there.min()))
            high.append(float(there.max()))
    bottom, top = min(low, default=0.0), max(high, default=1.0)
    return bottom, top if top > bottom else bottom + 1.0


def _nice(rough: float) -> float:
    """The next of 1, 2 or 5 times a power of ten."""
    size = 10.0 ** math.floor(math.log10(max(rough, 1e-9)))
    return next(size * each for each in (1.0, 2.0, 5.0, 10.0) if size * each >= rough - 1e-12)


def _minutes(picture: Picture, foot: float) -> Iterator[str]:
    step = _nice((picture.end - picture.start) / 10)
    first = math.ceil(picture.start / step - 1e-9)
    for place in range(first, math.floor(picture.end / step + 1e-9) + 1):
        minute = place * step
        x = picture.x(minute)
        yield f'<path d="M{x:.1f} {foot:.1f}v4" stroke="{QUIET}"/>'
        yield _text(x, foot + 15, f"{minute:g}", "middle")
    yield f'<path d="M{LEFT} {foot:.1f}H{WIDE - RIGHT}" stroke="{QUIET}"/>'
    yield _text(WIDE - RIGHT, foot + 29, picture.x_name, "end")


__all__ = [
    "DASHED", "DOTTED", "EMBER", "PLAIN", "QUIET", "STEEL", "Panel", "Phase", "Picture", "Spot",
    "Trace", "image", "svg",
]  # fmt: skip
