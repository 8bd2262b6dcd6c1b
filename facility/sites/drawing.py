"""A unit drawn to scale from its own geometry, as SVG: long section and plan.

Colours come by class names, from the stylesheet on screen and from ``PRINT_STYLE`` on paper.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from facility.calc.units import show
from facility.look.reader import current_system
from facility.sites.models import ChargePosition, Opening, OpeningKind, Sensor, Surface, Unit

WIDTH = 700.0  # of the drawing, in its own units
MARGIN = 26.0
THIN = 24.0  # in drawing units
BOARD_M = 1.22  # a board on a side wall stands this high

# Paper knows no stylesheet of the page: a printed drawing carries its own.
PRINT_STYLE = """
text { font: 11px "DejaVu Sans"; fill: #5b625e }
.shell { fill: #fff; stroke: #3f5560; stroke-width: 2 }
.opening { stroke: #fff; stroke-width: 5 }
.vent { fill: #fff; stroke: #3f5560 }
.place { fill: none; stroke: #5b625e; stroke-dasharray: 4 3 }
.filled { fill: #cdb68d; stroke: #84683a; stroke-dasharray: none }
.sensor { fill: #fff; stroke: #3f5560 }
.hot { fill: #f0dcd2 }
.layer { stroke: #a93f14; stroke-dasharray: 5 3 }
"""


@dataclass(frozen=True, slots=True)
class _Scale:
    """Metres to drawing units; ``up`` is the height in metres that the drawing spans."""

    factor: float
    up: float

    def x(self, metres: float) -> float:
        return MARGIN + metres * self.factor

    def y(self, metres: float) -> float:
        return MARGIN + (self.up - metres) * self.factor


def long_section(
    unit: Unit,
    filled: Mapping[str, str] | None = None,
    *,
    tap: bool = False,
    layer_m: float | None = None,
    printed: bool = False,
) -> SafeString:
    """The unit from its side. ``filled`` maps a position's public id to what hangs there.

    With ``tap`` each position is a target that the plan form listens to. ``layer_m`` is how far
    down, in metres above the floor, the hot layer is forecast to come.
    """
    filled = filled or {}
    length, height = float(unit.length_m), float(unit.height_m)
    scale = _Scale((WIDTH - 2 * MARGIN) / length, height)
    shell = _rect(
        "shell", scale.x(0), scale.y(height), length * scale.factor, height * scale.factor
    )
    parts = [
        shell,
        *_layer(layer_m, unit, scale),
        *(_opening_in_section(opening, unit, scale) for opening in unit.openings.all()),
        *(_position(place, height, scale, filled, tap) for place in unit.positions.all()),
        *_sensors(unit.sensors.all(), scale),
        _text(MARGIN, scale.y(0) + 18, _("burn end")),
        _text(WIDTH - MARGIN, scale.y(0) + 18, f"{_metres(length)} × {_metres(height)}", "end"),
    ]
    label = _("{unit}, long section to scale").format(unit=unit.name)
    return _svg(parts, scale.y(0) + MARGIN, label, printed=printed, tap=tap)


def _layer(layer_m: float | None, unit: Unit, scale: _Scale) -> Iterable[SafeString]:
    if layer_m is None:
        return
    height, length = float(unit.height_m), float(unit.length_m)
    top, low = scale.y(height), scale.y(layer_m)
    yield _rect("hot", scale.x(0) + 1, top + 1, length * scale.factor - 2, low - top)
    yield _line("layer", scale.x(0), low, scale.x(length), low)
    words = _("hot layer down to {height}").format(height=_metres(layer_m))
    yield _text(scale.x(length) - 6, low + 13, words, "end")


def plan_view(unit: Unit) -> SafeString:
    """The unit from above."""
    length, width = float(unit.length_m), float(unit.width_m)
    scale = _Scale((WIDTH - 2 * MARGIN) / length, width)
    parts = [
        _rect("shell", scale.x(0), scale.y(width), length * scale.factor, width * scale.factor),
        *(_opening_in_plan(opening, unit, scale) for opening in unit.openings.all()),
        _text(WIDTH - MARGIN, scale.y(0) + 18, f"{_metres(length)} × {_metres(width)}", "end"),
    ]
    return _svg(parts, scale.y(0) + MARGIN, _("{unit}, plan to scale").format(unit=unit.name))


def _svg(
    parts: Iterable[SafeString], height: float, label: str, *, printed: bool = False,
    tap: bool = False,
) -> SafeString:  # fmt: skip
    """``tap``: it holds targets of its own, which a plain image would hide from a screen reader."""
    style = f"<style>{PRINT_STYLE}</style>" if printed else ""
    body = mark_safe(style + "".join(parts))
    return format_html(
        '<svg class="drawing" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {} {}" role="{}" '
        'aria-label="{}">{}</svg>',
        f"{WIDTH:.0f}", f"{height:.0f}", "group" if tap else "img", label, body,
    )  # fmt: skip


def _metres(length: float) -> str:
    return str(show(length, "m", current_system()))


def _rect(kind: str, x: float, y: float, width: float, height: float) -> SafeString:
    return format_html(
        '<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>',
        kind, f"{x:.1f}", f"{y:.1f}", f"{max(width, 2):.1f}", f"{max(height, 2):.1f}",
    )  # fmt: skip


def _text(x: float, y: float, words: str, anchor: str = "start") -> SafeString:
    return format_html(
        '<text x="{}" y="{}" text-anchor="{}">{}</text>', f"{x:.1f}", f"{y:.1f}", anchor, words
    )


def _line(kind: str, x1: float, y1: float, x2: float, y2: float) -> SafeString:
    return format_html(
        '<line class="{}" x1="{}" y1="{}" x2="{}" y2="{}"/>',
        kind, f"{x1:.1f}", f"{y1:.1f}", f"{x2:.1f}", f"{y2:.1f}",
    )  # fmt: skip


def _opening_in_section(opening: Opening, unit: Unit, scale: _Scale) -> SafeString:
    x, wide = float(opening.x_m), float(opening.width_m)
    low, high = float(opening.sill_m), float(opening.sill_m) + float(opening.height_m)
    if opening.kind == OpeningKind.VENT:
        top = scale.y(float(unit.height_m)) - 6
        box = _rect("vent", scale.x(x - wide / 2), top, wide * scale.factor, 6)
        return box + _text(scale.x(x), top - 5, opening.name, "middle")
    if x >= float(unit.length_m):  # an end door shows as a gap in the end wall
        gap = _line("opening", scale.x(x), scale.y(low), scale.x(x), scale.y(high))
        return gap + _text(scale.x(x) - 6, scale.y(high) + 12, opening.name, "end")
    left = scale.x(x - wide / 2)
    box = _rect("place", left, scale.y(high), wide * scale.factor, (high - low) * scale.factor)
    return box + _text(scale.x(x), scale.y(low) - 6, opening.name, "middle")


def _opening_in_plan(opening: Opening, unit: Unit, scale: _Scale) -> SafeString:
    x, wide = float(opening.x_m), float(opening.width_m)
    width = float(unit.width_m)
    if opening.kind == OpeningKind.VENT:
        return _rect(
            "vent", scale.x(x - wide / 2), scale.y(width / 2 + wide / 2), wide * scale.factor,
            float(opening.height_m) * scale.factor,
        )  # fmt: skip
    if x >= float(unit.length_m):
        low = scale.y(width / 2 - wide / 2)
        return _line("opening", scale.x(x), low, scale.x(x), low - wide * scale.factor)
    left, right = scale.x(x - wide / 2), scale.x(x + wide / 2)
    return _line("opening", left, scale.y(0), right, scale.y(0)) + _text(
        scale.x(x), scale.y(0) - 6, opening.name, "middle"
    )


def _position(
    place: ChargePosition, height: float, scale: _Scale, filled: Mapping[str, str], tap: bool
) -> SafeString:
    what = filled.get(place.public_id, "")
    kind = "place filled" if what else "place"
    x, long = float(place.x_m), float(place.length_m)
    tops = {
        Surface.CEILING: 0.12,
        Surface.SIDE: 0.35,
        Surface.REAR: 0.3,
        Surface.FLOOR: height - 0.45,
    }
    talls = {
        Surface.CEILING: 0.1,
        Surface.SIDE: BOARD_M,
        Surface.REAR: height - 0.5,
        Surface.FLOOR: 0.4,
    }
    surface = Surface(place.surface)
    y = scale.y(height - tops[surface])
    box = _rect(kind, scale.x(x), y, long * scale.factor, talls[surface] * scale.factor)
    words = f"{place.name}: {what}" if what else place.name
    titled = format_html("<title>{}</title>{}", words, box)
    if not tap:
        return titled
    # A thin board is hard to hit: its target reaches outward, where no other position is.
    wide, tall = long * scale.factor, talls[surface] * scale.factor
    up, left = (14 if tall < THIN else 0), (16 if wide < THIN else 0)
    target = _rect("hit", scale.x(x) - left, y - up, wide + left, tall + up)
    return format_html(
        '<g class="spot" tabindex="0" role="button" data-position="{}" aria-label="{}">{}{}</g>',
        place.public_id, words, titled, target,
    )  # fmt: skip


def _sensors(sensors: Iterable[Sensor], scale: _Scale) -> Iterable[SafeString]:
    for sensor in sensors:
        x, y = scale.x(float(sensor.x_m)), scale.y(float(sensor.z_m))
        dot = format_html(
            '<circle class="sensor" cx="{}" cy="{}" r="3.5"/>', f"{x:.1f}", f"{y:.1f}"
        )
        yield dot + _text(x + 7, y + 4, f"{sensor.name}, {_metres(float(sensor.z_m))}")
