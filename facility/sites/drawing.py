"""A unit drawn to scale from its own geometry, as SVG: long section and plan.

Colours come by class names, from the stylesheet on screen and from ``PRINT_STYLE`` on paper. What
is drawn may be a unit, or a make-up that nobody has stored yet.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe
from django.utils.translation import gettext as _

from facility.calc.units import show
from facility.look.reader import current_system
from facility.sites.makeup import MakeUp, across, floor_of, make_up_of, named_parts, runs_across
from facility.sites.models import IN_THE_ROOF, Side, Surface, Unit

WIDTH = 700.0  # of the drawing, in its own units
MARGIN = 26.0
THIN = 24.0  # in drawing units
BOARD_M = 1.22  # a board on a side wall stands this high
EDGE = 7.0  # half the width of a wall's target

# Paper knows no stylesheet of the page: a printed drawing carries its own.
PRINT_STYLE = """
text { font: 11px "DejaVu Sans"; fill: #5b625e }
.shell { fill: #fff; stroke: #3f5560; stroke-width: 2 }
.room { fill: none; stroke: #3f5560; stroke-width: 1.5 }
.opening { stroke: #fff; stroke-width: 5 }
.baffle { stroke: #3f5560; stroke-width: 4 }
.lining { fill: #d9d5cc; stroke: #5b625e; stroke-width: .5 }
.vent { fill: #fff; stroke: #3f5560 }
.place { fill: none; stroke: #5b625e; stroke-dasharray: 4 3 }
.filled { fill: #cdb68d; stroke: #84683a; stroke-dasharray: none }
.sensor { fill: #fff; stroke: #3f5560 }
.hot { fill: #f0dcd2 }
.layer { stroke: #a93f14; stroke-dasharray: 5 3 }
.hit { fill: none }
.marked .hit { stroke: #8a1c10; stroke-width: 2.5 }
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


@dataclass(frozen=True, slots=True)
class _Sheet:
    """What one drawing is made with: the make-up, its scale, and which parts are targets."""

    made: MakeUp
    scale: _Scale
    parts: bool  # each part is a target, which a form listens to
    marked: Collection[str]  # keys of parts that stand out
    names: Mapping[str, str]

    def target(self, key: str, drawn: SafeString, hit: SafeString) -> SafeString:
        """A part with its target, where the drawing has any; else the part alone."""
        stands_out = key in self.marked
        if not self.parts and not stands_out:
            return drawn
        if not self.parts:
            return format_html('<g class="marked">{}{}</g>', drawn, hit)
        return format_html(
            '<g class="spot{}" tabindex="0" role="button" data-part="{}" aria-label="{}">{}{}</g>',
            " marked" if stands_out else "", key, self.names.get(key, key), drawn, hit,
        )  # fmt: skip


def _sheet(unit: Unit | MakeUp, up: int, parts: bool, marked: Collection[str]) -> _Sheet:
    made = unit if isinstance(unit, MakeUp) else make_up_of(unit)
    scale = _Scale((WIDTH - 2 * MARGIN) / made.size[0], made.size[up])
    names = dict(named_parts(made)) if parts else {}
    return _Sheet(made, scale, parts, marked, names)


def long_section(
    unit: Unit | MakeUp,
    filled: Mapping[str, str] | None = None,
    *,
    tap: bool = False,
    layer_m: float | None = None,
    printed: bool = False,
    parts: bool = False,
    marked: Collection[str] = (),
) -> SafeString:
    """The unit from its side. ``filled`` maps a position's public id to what hangs there.

    With ``tap`` each position is a target that the plan form listens to, with ``parts`` each part
    is one for whoever says where a defect is. ``layer_m`` is how far down, in metres above the
    floor, the hot layer is forecast to come.
    """
    sheet = _sheet(unit, 2, parts, marked)
    made, scale = sheet.made, sheet.scale
    length, _width, height = made.size
    drawn = [
        _rect("shell", scale.x(0), scale.y(height), length * scale.factor, height * scale.factor),
        *_layer(layer_m, made, scale),
        *_edges(sheet, {"roof": (0, height, length, height), "floor": (0, 0, length, 0),
                        "rear": (0, 0, 0, height), "front": (length, 0, length, height)}),
        *_covers_in_section(sheet),
        *_walls_in_section(sheet),
        *(_opening_in_section(opening, sheet) for opening in made.openings),
        *(_position(place, height, scale, filled or {}, tap) for place in made.positions),
        *_baffles_in_section(sheet),
        *_sensors(sheet, lambda sensor: float(sensor.z_m), heights=True),
        _text(MARGIN, scale.y(0) + 18, _("burn end")),
        _text(WIDTH - MARGIN, scale.y(0) + 18, f"{_metres(length)} × {_metres(height)}", "end"),
    ]  # fmt: skip
    label = _("{unit}, long section to scale").format(unit=made.name)
    return _svg(drawn, scale.y(0) + MARGIN, label, printed=printed, tap=tap or parts)


def plan_view(
    unit: Unit | MakeUp,
    *,
    printed: bool = False,
    parts: bool = False,
    marked: Collection[str] = (),
) -> SafeString:
    """The unit from above; the left-hand wall, seen from the burn end, is the upper one."""
    sheet = _sheet(unit, 1, parts, marked)
    made, scale = sheet.made, sheet.scale
    length, width, _height = made.size
    drawn = [
        _rect("shell", scale.x(0), scale.y(width), length * scale.factor, width * scale.factor),
        *_edges(sheet, {"left": (0, width, length, width), "right": (0, 0, length, 0),
                        "rear": (0, 0, 0, width), "front": (length, 0, length, width)}),
        *_covers_in_plan(sheet),
        *_rooms_in_plan(sheet),
        *(_opening_in_plan(opening, sheet) for opening in made.openings),
        *_baffles_in_plan(sheet),
        *_sensors(sheet, lambda sensor: across(sensor, made), heights=False),
        _text(MARGIN, scale.y(0) + 18, _("burn end")),
        _text(WIDTH - MARGIN, scale.y(0) + 18, f"{_metres(length)} × {_metres(width)}", "end"),
    ]  # fmt: skip
    label = _("{unit}, plan to scale").format(unit=made.name)
    return _svg(drawn, scale.y(0) + MARGIN, label, printed=printed, tap=parts)


def _layer(layer_m: float | None, made: MakeUp, scale: _Scale) -> Iterable[SafeString]:
    if layer_m is None:
        return
    length, _width, height = made.size
    top, low = scale.y(height), scale.y(layer_m)
    yield _rect("hot", scale.x(0) + 1, top + 1, length * scale.factor - 2, low - top)
    yield _line("layer", scale.x(0), low, scale.x(length), low)
    words = _("hot layer down to {height}").format(height=_metres(layer_m))
    yield _text(scale.x(length) - 6, low + 13, words, "end")


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


def _hit(x1: float, y1: float, x2: float, y2: float) -> SafeString:
    """A target around two corners, wide enough for a finger."""
    left, top = min(x1, x2) - EDGE, min(y1, y2) - EDGE
    return _rect("hit", left, top, abs(x2 - x1) + 2 * EDGE, abs(y2 - y1) + 2 * EDGE)


def _edges(
    sheet: _Sheet, ends: Mapping[str, tuple[float, float, float, float]]
) -> Iterator[SafeString]:
    """The walls, roof and floor as targets; nothing is drawn where there are none."""
    at = sheet.scale
    for key, (x1, z1, x2, z2) in ends.items():
        if sheet.parts or key in sheet.marked:
            hit = _hit(at.x(x1), at.y(z1), at.x(x2), at.y(z2))
            yield sheet.target(key, SafeString(""), hit)


def _covers_in_section(sheet: _Sheet) -> Iterator[SafeString]:
    length, _width, height = sheet.made.size
    for cover in sheet.made.linings:
        thick, x = _shown_thick(cover), float(cover.x_m)
        boxes = {
            "ceiling": (x, height, x + float(cover.length_m), height - thick),
            "floor": (x, thick, x + float(cover.length_m), 0.0),
            "rear": (0.0, height, thick, 0.0),
            "front": (length - thick, height, length, 0.0),
        }
        if cover.surface in boxes:
            yield _cover(sheet, cover, *boxes[cover.surface])


def _covers_in_plan(sheet: _Sheet) -> Iterator[SafeString]:
    length, width, _height = sheet.made.size
    for cover in sheet.made.linings:
        thick, x = _shown_thick(cover), float(cover.x_m)
        boxes = {
            "left": (x, width, x + float(cover.length_m), width - thick),
            "right": (x, thick, x + float(cover.length_m), 0.0),
            "rear": (0.0, width, thick, 0.0),
            "front": (length - thick, width, length, 0.0),
        }
        if cover.surface in boxes:
            yield _cover(sheet, cover, *boxes[cover.surface])


def _shown_thick(cover: Any) -> float:
    return float(cover.thickness_mm) / 1000


def _cover(sheet: _Sheet, cover: Any, x1: float, up: float, x2: float, down: float) -> SafeString:
    """A lining to scale, from its upper left corner to its lower right one [m]."""
    at = sheet.scale
    left, top, right, low = at.x(x1), at.y(up), at.x(x2), at.y(down)
    words = f"{cover.name}, {cover.get_surface_display()}, {float(cover.thickness_mm):g} mm"
    drawn = format_html(
        "<title>{}</title>{}", words, _rect("lining", left, top, right - left, low - top)
    )
    return sheet.target(cover.public_id, drawn, _hit(left, top, right, low))


def _walls_in_section(sheet: _Sheet) -> Iterator[SafeString]:
    """The edges of compartments across the unit, each once, and the names over the rooms."""
    length, _width, height = sheet.made.size
    at, edges = sheet.scale, set()
    for room in sheet.made.compartments:
        x1, _y1, x2, _y2 = floor_of(room)
        edges |= {round(edge, 2) for edge in (x1, x2) if 0.01 < edge < length - 0.01}
    for edge in sorted(edges):
        yield _line("room", at.x(edge), at.y(0), at.x(edge), at.y(height))


def _rooms_in_plan(sheet: _Sheet) -> Iterator[SafeString]:
    at = sheet.scale
    for room in sheet.made.compartments:
        x1, y1, x2, y2 = floor_of(room)
        box = _rect("room", at.x(x1), at.y(y2), (x2 - x1) * at.factor, (y2 - y1) * at.factor)
        name = _text(at.x(x1) + 10, at.y(y2) + 28, room.name)
        hit = _rect(
            "hit", at.x(x1) + 2 * EDGE, at.y(y2) + 2 * EDGE, (x2 - x1) * at.factor - 4 * EDGE,
            (y2 - y1) * at.factor - 4 * EDGE,
        )  # fmt: skip
        yield sheet.target(room.public_id, box + name, hit)


def _baffles_in_section(sheet: _Sheet) -> Iterator[SafeString]:
    at = sheet.scale
    for plate in sheet.made.baffles:
        x, low = at.x(float(plate.x_m)), at.y(float(plate.z_m))
        top = at.y(float(plate.z_m) + float(plate.height_m))
        drawn = _line("baffle", x, low, x, top) + _text(x, low + 13, plate.name, "middle")
        yield sheet.target(plate.public_id, drawn, _hit(x, top, x, low))


def _baffles_in_plan(sheet: _Sheet) -> Iterator[SafeString]:
    at = sheet.scale
    for plate in sheet.made.baffles:
        x, y = at.x(float(plate.x_m)), float(plate.y_m)
        low, high = at.y(y), at.y(y + float(plate.width_m))
        drawn = _line("baffle", x, low, x, high)
        yield sheet.target(plate.public_id, drawn, _hit(x, low, x, high))


def _opening_in_section(opening: Any, sheet: _Sheet) -> SafeString:
    at, made = sheet.scale, sheet.made
    x, wide = float(opening.x_m), float(opening.width_m)
    low, high = float(opening.sill_m), float(opening.sill_m) + float(opening.height_m)
    if opening.kind in IN_THE_ROOF:
        left, right, top = at.x(x - wide / 2), at.x(x + wide / 2), at.y(made.size[2]) - 6
        drawn = _rect("vent", left, top, right - left, 6)
        drawn += _text(at.x(x), top - 5, opening.name, "middle")
        return sheet.target(opening.public_id, drawn, _hit(left, top, right, top + 6))
    if runs_across(opening, made):  # seen from its edge, as a gap in the wall
        gap = _line("opening", at.x(x), at.y(low), at.x(x), at.y(high))
        at_burn_end = x < made.size[0] / 2 and opening.side != Side.INNER
        word = _text(
            at.x(x) + (6 if at_burn_end else -6), at.y(high) + 12, opening.name,
            "start" if at_burn_end else "end",
        )  # fmt: skip
        return sheet.target(
            opening.public_id, gap + word, _hit(at.x(x), at.y(high), at.x(x), at.y(low))
        )
    left = at.x(x - wide / 2)
    box = _rect("place", left, at.y(high), wide * at.factor, (high - low) * at.factor)
    inner = opening.side == Side.INNER  # its name stands higher than those of the side walls
    drawn = box + _text(
        at.x(x), (at.y(high) - 4) if inner else (at.y(low) - 6), opening.name, "middle"
    )
    hit = _rect("hit", left, at.y(high), wide * at.factor, (high - low) * at.factor)
    return sheet.target(opening.public_id, drawn, hit)


def _opening_in_plan(opening: Any, sheet: _Sheet) -> SafeString:
    at, made = sheet.scale, sheet.made
    x, half, width = float(opening.x_m), float(opening.width_m) / 2, made.size[1]
    y = across(opening, made)
    if opening.side == Side.ROOF:
        deep = float(opening.height_m) / 2
        left, top, right, low = at.x(x - half), at.y(y + deep), at.x(x + half), at.y(y - deep)
        box = _rect("vent", left, top, right - left, low - top)
        drawn = format_html("<title>{}</title>{}", opening.name, box)
        return sheet.target(
            opening.public_id, drawn, _rect("hit", left, top, right - left, low - top)
        )
    if runs_across(opening, made):
        x = {Side.FRONT: made.size[0], Side.REAR: 0.0}.get(opening.side, x)
        low, high = at.y(y - half), at.y(y + half)
        gap = _line("opening", at.x(x), low, at.x(x), high)
        return sheet.target(opening.public_id, gap, _hit(at.x(x), high, at.x(x), low))
    y = {Side.LEFT: width, Side.RIGHT: 0.0}.get(opening.side, y)
    left, right = at.x(x - half), at.x(x + half)
    below = 14 if opening.side == Side.LEFT else -6
    drawn = _line("opening", left, at.y(y), right, at.y(y)) + _text(
        at.x(x), at.y(y) + below, opening.name, "middle"
    )
    return sheet.target(opening.public_id, drawn, _hit(left, at.y(y), right, at.y(y)))


def _position(
    place: Any, height: float, scale: _Scale, filled: Mapping[str, str], tap: bool
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


def _sensors(sheet: _Sheet, place: Any, *, heights: bool) -> Iterator[SafeString]:
    at = sheet.scale
    for sensor in sheet.made.sensors:
        x, y = at.x(float(sensor.x_m)), at.y(place(sensor))
        dot = format_html(
            '<circle class="sensor" cx="{}" cy="{}" r="3.5"/>', f"{x:.1f}", f"{y:.1f}"
        )
        words = f"{sensor.name}, {_metres(float(sensor.z_m))}" if heights else ""
        drawn = dot + _text(x + 7, y + 4, words) if words else dot
        yield sheet.target(sensor.public_id, drawn, _hit(x, y, x, y))
