"""The make-up of a unit as one thing: its size and parts, stored, typed or read back alike.

``faults`` says what cannot be built. It refuses nothing itself; the services do.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.sites.models import (
    IN_THE_ROOF,
    Baffle,
    ChargePosition,
    Compartment,
    Lining,
    Opening,
    Part,
    Sensor,
    Side,
    Unit,
)

# The kinds of part by the name of their rows in a unit, in the order they are described.
PARTS: dict[str, type[Part]] = {
    "compartments": Compartment, "openings": Opening, "baffles": Baffle, "linings": Lining,
    "positions": ChargePosition, "sensors": Sensor,
}  # fmt: skip
SIZES = ("length_m", "width_m", "height_m")
SMALLEST_M, LONGEST_M, HIGHEST_M = 0.5, 60.0, 10.0
THICKEST_MM = 500.0
SLACK_M = 0.005  # sizes are kept to the centimetre


@dataclass(frozen=True, slots=True)
class MakeUp:
    """A unit's inside dimensions and its parts, which are rows that need not be stored."""

    name: str
    length_m: Any
    width_m: Any
    height_m: Any
    parts: Mapping[str, Sequence[Any]] = field(default_factory=dict)

    def __getattr__(self, name: str) -> Sequence[Any]:
        if name in PARTS:
            return self.parts.get(name, ())
        raise AttributeError(name)

    @property
    def size(self) -> tuple[float, float, float]:
        return float(self.length_m), float(self.width_m), float(self.height_m)


def make_up_of(unit: Unit) -> MakeUp:
    """The make-up as it stands; fetch the parts along for constant queries."""
    parts = {kind: list(getattr(unit, kind).all()) for kind in PARTS}
    return MakeUp(unit.name, unit.length_m, unit.width_m, unit.height_m, parts)


def described(
    name: str, sizes: Mapping[str, Any], rows: Mapping[str, Sequence[Mapping[str, Any]]]
) -> MakeUp:
    """A make-up from plain values: each row the fields of one part, with its ``key`` if it has one.

    An opening that does not say in which wall it is has it by its kind and place.
    """
    parts = {
        kind: [_part(PARTS[kind], row, float(sizes["length_m"])) for row in rows.get(kind, ())]
        for kind in PARTS
    }
    return MakeUp(name, sizes["length_m"], sizes["width_m"], sizes["height_m"], parts)


def _part(model: type[Part], row: Mapping[str, Any], length: float) -> Part:
    values = {key: value for key, value in row.items() if key in model.DESCRIBED}
    if model is Opening and not values.get("side"):
        values["side"] = side_of(values["kind"], float(values["x_m"]), length)
    if row.get("key"):
        values["public_id"] = row["key"]
    return model(**values)


def side_of(kind: str, x: float, length: float) -> Side:
    """Where openings were before they said so: at the door end, in the right wall, in the roof."""
    if kind in IN_THE_ROOF:
        return Side.ROOF
    return Side.FRONT if x >= length - SLACK_M else Side.RIGHT


def as_data(make_up: MakeUp) -> dict[str, Any]:
    """The make-up as it is kept for good: sizes as text, parts with their key."""
    return {
        **{size: _text(getattr(make_up, size)) for size in SIZES},
        **{
            kind: [
                {"key": part.public_id, **{f: _text(getattr(part, f)) for f in part.DESCRIBED}}
                for part in getattr(make_up, kind)
            ]
            for kind in PARTS
        },
    }


def _text(value: Any) -> str | None:
    if value is None:
        return None
    return str(value) if isinstance(value, str) else f"{Decimal(str(value)):.2f}"


def from_data(name: str, data: Mapping[str, Any]) -> MakeUp:
    """A make-up read back as it was kept."""
    rows = {
        kind: [{f: _number(f, value) for f, value in row.items()} for row in data.get(kind, ())]
        for kind in PARTS
    }
    return described(name, {size: Decimal(data[size]) for size in SIZES}, rows)


def _number(name: str, value: Any) -> Any:
    is_number = name.endswith(("_m", "_mm")) and value is not None
    return Decimal(value) if is_number else value


def named_parts(make_up: MakeUp) -> list[tuple[str, str]]:
    """What a defect can be at: the shell's own surfaces, then every part; key and name."""
    shell = [
        ("rear", _("burn end")), ("front", _("door end")), ("left", _("left wall")),
        ("right", _("right wall")), ("roof", _("roof")), ("floor", _("floor")),
    ]  # fmt: skip
    parts = [
        (part.public_id, _lining_name(part) if kind == "linings" else part.name)
        for kind in PARTS
        for part in getattr(make_up, kind)
        if kind != "positions"
    ]
    return shell + parts


def _lining_name(lining: Any) -> str:
    return f"{lining.name}, {lining.get_surface_display()}"


# -- what cannot be ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Fault:
    """Why a make-up cannot be: the kind of part (empty: the unit itself), its row, its field."""

    kind: str
    row: int
    field: str
    sentence: str


def faults(make_up: MakeUp) -> list[Fault]:
    """Everything that cannot be built, part by part; a unit of a wrong size alone is said first."""
    wrong = list(_wrong_size(make_up))
    if wrong:
        return wrong
    found: dict[tuple[str, int, str], Fault] = {}  # one of each field says enough
    for kind, asked in _ASKED.items():
        for fault in (
            *_wrong_words(make_up, kind),
            *_wrong_numbers(make_up, kind),
            *asked(make_up),
        ):
            found.setdefault((fault.kind, fault.row, fault.field), fault)
    return list(found.values())


def _metres(value: float) -> str:
    return f"{value:g} m"


def _bounded(value: float, low: float, high: float) -> str:
    """Why a length will not do; empty when it does."""
    if low <= value <= high:
        return ""
    sentence = _("{given} was given; {low} to {high} is allowed.").format(
        given=_metres(value), low=_metres(low), high=_metres(high)
    )
    if value > LONGEST_M:
        sentence += " " + _("If millimetres are meant, write {mm} mm.").format(mm=f"{value:g}")
    return sentence


def _wrong_size(make_up: MakeUp) -> Iterator[Fault]:
    for size, value in zip(SIZES, make_up.size, strict=True):
        highest = HIGHEST_M if size == "height_m" else LONGEST_M
        if sentence := _bounded(value, SMALLEST_M, highest):
            yield Fault("", 0, size, sentence)


MAY_BE_ZERO = frozenset({"x_m", "y_m", "z_m", "sill_m"})


def _wrong_numbers(make_up: MakeUp, kind: str) -> Iterator[Fault]:
    """Lengths of no length, below zero, or in another unit."""
    for row, part in enumerate(getattr(make_up, kind)):
        for name in part.DESCRIBED:
            value = getattr(part, name)
            if value is None or not name.endswith(("_m", "_mm")):
                continue
            number, unit = float(value), name.rpartition("_")[2]
            if number < 0 or (number == 0 and name not in MAY_BE_ZERO):
                sentence = _("{given} was given; it must be {sense}.").format(
                    given=f"{number:g} {unit}",
                    sense=_("0 or more") if name in MAY_BE_ZERO else _("more than 0"),
                )
                yield Fault(kind, row, name, sentence)
            elif unit == "m" and number > LONGEST_M:
                yield Fault(kind, row, name, _bounded(number, 0, LONGEST_M))


def _wrong_words(make_up: MakeUp, kind: str) -> Iterator[Fault]:
    """Names that cannot be kept, or that stand there twice, and choices that are none.

    Linings are named for what they are made of, and so may share a name.
    """
    seen: set[str] = set()
    for row, part in enumerate(getattr(make_up, kind)):
        name = str(part.name).strip()
        longest = part._meta.get_field("name").max_length
        if not name or len(name) > longest or not name.isprintable():
            words = _("A name of 1 to {longest} plain characters is needed.")
            yield Fault(kind, row, "name", words.format(longest=longest))
        elif name.casefold() in seen and kind != "linings":
            yield Fault(kind, row, "name", _("{name} stands there twice.").format(name=name))
        seen.add(name.casefold())
        for column in map(part._meta.get_field, part.DESCRIBED):
            if column.choices and getattr(part, column.name) not in dict(column.flatchoices):
                yield Fault(kind, row, column.name, _("Choose one of the list."))


def _past(low: float, high: float, most: float) -> bool:
    return low < -SLACK_M or high > most + SLACK_M


def _span(fault: tuple[str, int, str], low: float, high: float, most: float) -> Iterator[Fault]:
    """A stretch that leaves the unit, said at the field that places it."""
    if _past(low, high, most):
        sentence = _("It reaches from {low} to {high}; the unit ends at {most}.").format(
            low=_metres(round(low, 3)), high=_metres(round(high, 3)), most=_metres(most)
        )
        yield Fault(*fault, sentence)


def _rooms(make_up: MakeUp) -> Iterator[Fault]:
    length, width, _height = make_up.size
    boxes = [floor_of(room) for room in make_up.compartments]
    for row, (x1, y1, x2, y2) in enumerate(boxes):
        yield from _span(("compartments", row, "x_m"), x1, x2, length)
        yield from _span(("compartments", row, "y_m"), y1, y2, width)
    for one, two in itertools.combinations(range(len(boxes)), 2):
        if _overlap(boxes[one], boxes[two]):
            sentence = _("It overlaps {other}.").format(other=make_up.compartments[one].name)
            yield Fault("compartments", two, "x_m", sentence)


Box = tuple[float, float, float, float]


def floor_of(room: Any) -> Box:
    """A compartment's corners: x and y of the one, x and y of the other [m]."""
    x, y = float(room.x_m), float(room.y_m)
    return x, y, x + float(room.length_m), y + float(room.width_m)


def _overlap(one: Box, two: Box) -> bool:
    return (
        one[0] < two[2] - SLACK_M
        and two[0] < one[2] - SLACK_M
        and one[1] < two[3] - SLACK_M
        and two[1] < one[3] - SLACK_M
    )


def across(part: Any, make_up: MakeUp) -> float:
    """Where an opening or a sensor is across the unit [m]."""
    return float(make_up.width_m) / 2 if part.y_m is None else float(part.y_m)


def runs_across(opening: Any, make_up: MakeUp) -> bool:
    """Whether the wall that an opening is in runs across the unit."""
    if opening.side in (Side.FRONT, Side.REAR):
        return True
    return opening.side == Side.INNER and _inner_edge(opening, make_up) == "across"


def _inner_edge(opening: Any, make_up: MakeUp) -> str:
    """Which way the compartment wall runs that an inner opening is in; empty when in none."""
    x, y, near = float(opening.x_m), across(opening, make_up), 0.15
    length, width, _height = make_up.size
    for x1, y1, x2, y2 in map(floor_of, make_up.compartments):
        inside_x = [edge for edge in (x1, x2) if SLACK_M < edge < length - SLACK_M]
        inside_y = [edge for edge in (y1, y2) if SLACK_M < edge < width - SLACK_M]
        if y1 <= y <= y2 and any(abs(x - edge) <= near for edge in inside_x):
            return "across"
        if x1 <= x <= x2 and any(abs(y - edge) <= near for edge in inside_y):
            return "along"
    return ""


def _wall_face(opening: Any, make_up: MakeUp) -> tuple[tuple[Any, ...], Box]:
    """The wall an opening is in, and its rectangle on it: along the wall, then up (or across)."""
    half = float(opening.width_m) / 2
    middle = float(opening.x_m)
    low, high = float(opening.sill_m), float(opening.sill_m) + float(opening.height_m)
    wall: tuple[Any, ...] = (opening.side,)
    if opening.side == Side.ROOF:
        deep = float(opening.height_m) / 2
        low, high = across(opening, make_up) - deep, across(opening, make_up) + deep
    elif runs_across(opening, make_up):
        middle = across(opening, make_up)
        wall = (opening.side, float(opening.x_m) if opening.side == Side.INNER else None)
    elif opening.side == Side.INNER:
        wall = (opening.side, "along", across(opening, make_up))
    return wall, (middle - half, low, middle + half, high)


def _holes(make_up: MakeUp) -> Iterator[Fault]:
    length, width, height = make_up.size
    faces: list[tuple[int, tuple[Any, ...], Box]] = []
    for row, opening in enumerate(make_up.openings):
        at = ("openings", row)
        if (opening.kind in IN_THE_ROOF) != (opening.side == Side.ROOF):
            yield Fault(*at, "side", _("Roof vents and hatches are in the roof, and only they."))
            continue
        if opening.side == Side.INNER and not _inner_edge(opening, make_up):
            yield Fault(*at, "side", _("No wall between compartments is there."))
            continue
        wall, box = _wall_face(opening, make_up)
        crosswise = runs_across(opening, make_up)
        yield from _span((*at, "y_m" if crosswise else "x_m"), box[0], box[2],
                         width if crosswise else length)  # fmt: skip
        if opening.side == Side.ROOF:
            yield from _span((*at, "y_m"), box[1], box[3], width)
        elif box[3] > height + SLACK_M:
            sentence = _("Its upper edge is {top} above the floor; the wall is {height} high.")
            yield Fault(*at, "height_m", sentence.format(
                top=_metres(round(box[3], 3)), height=_metres(height)))  # fmt: skip
        for other, other_wall, other_box in faces:
            if wall == other_wall and _overlap(box, other_box):
                name = make_up.openings[other].name
                words = _("It overlaps {other} in the same wall.").format(other=name)
                yield Fault(*at, "y_m" if crosswise else "x_m", words)
        faces.append((row, wall, box))


def _plates(make_up: MakeUp) -> Iterator[Fault]:
    length, width, height = make_up.size
    for row, plate in enumerate(make_up.baffles):
        x, y, z = float(plate.x_m), float(plate.y_m), float(plate.z_m)
        yield from _span(("baffles", row, "x_m"), x, x, length)
        yield from _span(("baffles", row, "y_m"), y, y + float(plate.width_m), width)
        yield from _span(("baffles", row, "height_m"), z, z + float(plate.height_m), height)


def _covers(make_up: MakeUp) -> Iterator[Fault]:
    length = make_up.size[0]
    for row, cover in enumerate(make_up.linings):
        if cover.surface not in ("rear", "front"):  # an end is lined from side to side
            x = float(cover.x_m)
            yield from _span(("linings", row, "x_m"), x, x + float(cover.length_m), length)
        if float(cover.thickness_mm) > THICKEST_MM:
            sentence = _("{given:g} mm was given; at most {most:g} mm is allowed.")
            yield Fault("linings", row, "thickness_mm", sentence.format(
                given=float(cover.thickness_mm), most=THICKEST_MM))  # fmt: skip


def _places(make_up: MakeUp) -> Iterator[Fault]:
    length = make_up.size[0]
    for row, place in enumerate(make_up.positions):
        x = float(place.x_m)
        yield from _span(("positions", row, "x_m"), x, x + float(place.length_m), length)


def _probes(make_up: MakeUp) -> Iterator[Fault]:
    length, width, height = make_up.size
    for row, probe in enumerate(make_up.sensors):
        x, y, z = float(probe.x_m), across(probe, make_up), float(probe.z_m)
        yield from _span(("sensors", row, "x_m"), x, x, length)
        yield from _span(("sensors", row, "y_m"), y, y, width)
        if z > height + SLACK_M:
            sentence = _("{given} is above the roof, which is {height} up.")
            yield Fault("sensors", row, "z_m", sentence.format(
                given=_metres(z), height=_metres(height)))  # fmt: skip


_ASKED = {
    "compartments": _rooms, "openings": _holes, "baffles": _plates, "linings": _covers,
    "positions": _places, "sensors": _probes,
}  # fmt: skip
