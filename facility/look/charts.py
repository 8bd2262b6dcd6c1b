"""What is drawn by matplotlib, as SVG that page and print share.

matplotlib is slow to import, so it is imported where it draws.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString

# Tones that can be read on the light and on the dark page alike.
EMBER, STEEL, QUIET = "#c25a2c", "#5f8296", "#7f8783"

# The names of so many curves find a place among them.
FEW = 3


@dataclass(frozen=True, slots=True)
class Curve:
    """One line of a chart; ``low`` and ``high`` draw a band around it."""

    x: tuple[float, ...]
    y: tuple[float, ...]
    label: str = ""
    low: tuple[float, ...] = ()
    high: tuple[float, ...] = ()
    colour: str = EMBER
    dashed: bool = False


@dataclass(frozen=True, slots=True)
class Chart:
    """A line chart with its axes named, units included; ``limits`` are (height, label) lines.

    ``marks`` are upright lines (x, label); ``ticks`` name places on the x axis, such as dates.
    """

    curves: tuple[Curve, ...]
    x_name: str
    y_name: str
    limits: tuple[tuple[float, str], ...] = ()
    marks: tuple[tuple[float, str], ...] = ()
    wide: float = 4.6
    tall: float = 2.3
    ticks: tuple[tuple[float, str], ...] = ()
    from_zero: bool = False


@lru_cache(maxsize=256)
def svg(chart: Chart) -> str:
    """The chart as SVG text; the same chart gives the same bytes."""
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    with mpl.rc_context(
        {"svg.hashsalt": "charline", "font.family": "DejaVu Sans", "font.size": 10.5}
    ):
        figure = Figure(figsize=(chart.wide, chart.tall), layout="constrained")
        axes = figure.add_subplot()
        for curve in chart.curves:
            if curve.low:
                axes.fill_between(
                    curve.x, curve.low, curve.high, color=curve.colour, alpha=0.22, lw=0
                )
            dashes = (0, (4, 3)) if curve.dashed else "solid"
            axes.plot(curve.x, curve.y, color=curve.colour, lw=1.6, ls=dashes, label=curve.label)
        _dress(axes, chart)
        figure.patch.set_alpha(0)
        written = io.StringIO()
        canvas: Any = FigureCanvasSVG(figure)
        canvas.print_svg(written, metadata={"Date": None})
    return written.getvalue()


def _dress(axes: Any, chart: Chart) -> None:
    for height, label in chart.limits:
        axes.axhline(height, color=STEEL, lw=1, ls=(0, (4, 3)))
        axes.annotate(
            label, (1, height), xycoords=("axes fraction", "data"), xytext=(-2, 2),
            textcoords="offset points", ha="right", color=QUIET,
        )  # fmt: skip
    for place, label in chart.marks:
        axes.axvline(place, color=QUIET, lw=0.8, ls=(0, (1, 2)))
        axes.annotate(
            label, (place, 1), xycoords=("data", "axes fraction"), xytext=(2, -2),
            textcoords="offset points", rotation=90, va="top", color=QUIET, size=8.5,
        )  # fmt: skip
    if chart.ticks:
        axes.set_xticks(
            [place for place, _label in chart.ticks], [label for _, label in chart.ticks]
        )
    axes.set_xlabel(chart.x_name, color=QUIET)
    axes.set_ylabel(chart.y_name, color=QUIET)
    axes.set_xlim(left=min(curve.x[0] for curve in chart.curves))
    axes.margins(x=0, y=0.12)
    if chart.from_zero:
        axes.set_ylim(bottom=0)
        axes.yaxis.get_major_locator().set_params(integer=True)
    axes.tick_params(colors=QUIET)
    axes.patch.set_alpha(0)
    for side in ("top", "right"):
        axes.spines[side].set_visible(False)
    for side in ("left", "bottom"):
        axes.spines[side].set_color(QUIET)
    named = sum(bool(curve.label) for curve in chart.curves)
    if named > FEW:
        _name_beside(axes)
    elif named > 1:
        axes.legend(frameon=False, labelcolor=QUIET)


def _name_beside(axes: Any) -> None:
    """Names of many curves beside the picture, in the order in which the curves end."""
    lines, names = axes.get_legend_handles_labels()
    ends = sorted(zip(lines, names, strict=True), key=lambda each: -each[0].get_ydata()[-1])
    axes.legend(
        *zip(*ends, strict=True), frameon=False, labelcolor=QUIET,
        loc="center left", bbox_to_anchor=(1.01, 0.5),
    )  # fmt: skip


def image(chart: Chart, words: str) -> SafeString:
    """The chart as an image; in an image the strict content policy allows the SVG its styles."""
    data = base64.b64encode(svg(chart).encode()).decode()
    return format_html(
        '<img class="chart" alt="{}" src="data:image/svg+xml;base64,{}">', words, data
    )


def thinned(values: Sequence[float], most: int = 160) -> tuple[float, ...]:
    """Every n-th value, the last one kept: enough for a chart of this size."""
    step = max(1, len(values) // most)
    kept = [float(value) for value in values[::step]]
    return tuple(kept if (len(values) - 1) % step == 0 else [*kept, float(values[-1])])


@lru_cache(maxsize=256)
def formula(text: str, size: float = 15.0) -> SafeString:
    """A formula in the TeX subset of matplotlib, as an SVG path in the colour of the text around it.

    A path, not text with styles: the strict content policy allows no inline style.
    """
    from matplotlib.path import Path
    from matplotlib.textpath import TextPath

    path = TextPath((0, 0), f"${text}$", size=size)
    box = path.get_extents()
    letters = {Path.MOVETO: "M", Path.LINETO: "L", Path.CURVE3: "Q", Path.CURVE4: "C"}
    parts = []
    for points, code in path.iter_segments(curves=True):
        if code == Path.CLOSEPOLY:
            parts.append("Z")
        else:
            numbers = [f"{value:.2f}" for value in points * ([1, -1] * (len(points) // 2))]
            parts.append(letters[code] + " ".join(numbers))
    pad = 2
    width, height = box.width + 2 * pad, box.height + 2 * pad
    view = f"{box.x0 - pad:.2f} {-box.y1 - pad:.2f} {width:.2f} {height:.2f}"
    return format_html(
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="{}" width="{}" height="{}" role="img" '
        'aria-label="{}"><path fill="currentColor" d="{}"/></svg>',
        view, f"{width * 1.35:.0f}", f"{height * 1.35:.0f}", text, "".join(parts),
    )  # fmt: skip
