"""What a unit can be made of, and what it cannot. The cases are plain geometry of a box of
12 x 2.4 x 2.4 m, done by hand."""

from __future__ import annotations

from typing import Any

import pytest

from facility.sites.drawing import long_section, plan_view
from facility.sites.makeup import as_data, described, faults, from_data, named_parts

SIZE = {"length_m": 12, "width_m": 2.4, "height_m": 2.4}
DOOR = {
    "name": "door",
    "kind": "door",
    "side": "right",
    "x_m": 6,
    "width_m": 1,
    "height_m": 2,
    "sill_m": 0,
}
HATCH = {
    "name": "hatch",
    "kind": "hatch",
    "side": "roof",
    "x_m": 3,
    "width_m": 0.8,
    "height_m": 0.8,
    "sill_m": 0,
}
ROOM = {"name": "burn room", "x_m": 0, "y_m": 0, "length_m": 5, "width_m": 2.4}
BAFFLE = {"name": "baffle", "x_m": 4, "y_m": 0, "width_m": 2.4, "z_m": 1.4, "height_m": 1}
LINING = {"name": "board", "surface": "ceiling", "thickness_mm": 25, "x_m": 0, "length_m": 5}
PLACE = {"name": "crib", "surface": "floor", "x_m": 0.4, "length_m": 0.6}
SENSOR = {"name": "T1", "x_m": 5, "z_m": 1.2}
WHOLE = {"compartments": [ROOM], "openings": [DOOR, HATCH], "baffles": [BAFFLE],
         "linings": [LINING], "positions": [PLACE], "sensors": [SENSOR]}  # fmt: skip


def made(rows: dict[str, Any] | None = None, **size: float):
    return described("Unit", {**SIZE, **size}, WHOLE if rows is None else rows)


def said(rows: dict[str, Any] | None = None, **size: float) -> set[tuple[str, int, str]]:
    return {(each.kind, each.row, each.field) for each in faults(made(rows, **size))}


def test_a_whole_make_up_can_be_built():
    assert said() == set()


CANNOT = [
    ("a door higher than the wall", "openings", {**DOOR, "height_m": 2.5}, "height_m"),
    ("a sill that lifts it over the wall", "openings", {**DOOR, "sill_m": 0.5}, "height_m"),
    ("a door past the end", "openings", {**DOOR, "x_m": 11.6}, "x_m"),
    ("a door before the burn end", "openings", {**DOOR, "x_m": 0.4}, "x_m"),
    ("an end door wider than the end", "openings", {**DOOR, "side": "front", "x_m": 12, "width_m": 2.5}, "y_m"),
    ("a hatch past the side", "openings", {**HATCH, "y_m": 2.2}, "y_m"),
    ("a hatch in a wall", "openings", {**HATCH, "side": "left"}, "side"),
    ("a door in the roof", "openings", {**DOOR, "side": "roof"}, "side"),
    ("an inner door where no wall is", "openings", {**DOOR, "side": "inner"}, "side"),
    ("a door of no width", "openings", {**DOOR, "width_m": 0}, "width_m"),
    ("a door in millimetres", "openings", {**DOOR, "height_m": 2400}, "height_m"),
    ("a door of a strange kind", "openings", {**DOOR, "kind": "gate"}, "kind"),
    ("a part without a name", "openings", {**DOOR, "name": " "}, "name"),
    ("a name with a bell in it", "sensors", {**SENSOR, "name": "T\x07"}, "name"),
    ("a charge position past the end", "positions", {**PLACE, "x_m": 11.8}, "x_m"),
    ("a charge position of no length", "positions", {**PLACE, "length_m": 0}, "length_m"),
    ("a sensor above the roof", "sensors", {**SENSOR, "z_m": 2.5}, "z_m"),
    ("a sensor past the end", "sensors", {**SENSOR, "x_m": 12.5}, "x_m"),
    ("a sensor under the floor", "sensors", {**SENSOR, "z_m": -0.1}, "z_m"),
    ("a compartment past the side", "compartments", {**ROOM, "y_m": 0.5}, "y_m"),
    ("a baffle through the roof", "baffles", {**BAFFLE, "height_m": 1.2}, "height_m"),
    ("a baffle wider than the unit", "baffles", {**BAFFLE, "width_m": 3}, "y_m"),
    ("a lining half a metre thick and more", "linings", {**LINING, "thickness_mm": 501}, "thickness_mm"),
    ("a lining of no thickness", "linings", {**LINING, "thickness_mm": 0}, "thickness_mm"),
    ("a lining past the end", "linings", {**LINING, "length_m": 13}, "x_m"),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "row", "field"), [case[1:] for case in CANNOT], ids=[case[0] for case in CANNOT])  # fmt: skip
def test_what_cannot_be_is_said_at_its_row_and_field(kind, row, field):
    assert (kind, 0, field) in said({kind: [row]})


@pytest.mark.parametrize(
    ("size", "value"),
    [("length_m", 0), ("length_m", 2400), ("width_m", 0.4), ("height_m", 10.1)],
)
def test_a_wrong_size_is_said_and_nothing_else(size, value):
    assert said(**{size: value}) == {("", 0, size)}


def test_a_length_in_millimetres_says_how_to_write_it():
    (fault,) = faults(made(height_m=2400))
    assert "2400 mm" in fault.sentence


def test_doors_overlap_on_one_wall_only():
    beside = {**DOOR, "name": "second", "x_m": 6.9}
    assert ("openings", 1, "x_m") in said({"openings": [DOOR, beside]})
    assert said({"openings": [DOOR, {**beside, "x_m": 7.0}]}) == set()  # they touch
    assert said({"openings": [DOOR, {**beside, "side": "left"}]}) == set()


def test_a_window_above_a_door_does_not_overlap_it():
    window = {**DOOR, "name": "light", "kind": "window", "sill_m": 2, "height_m": 0.3}
    assert said({"openings": [DOOR, window]}) == set()


def test_compartments_share_a_wall_and_no_floor():
    second = {**ROOM, "name": "second", "x_m": 5, "length_m": 7}
    assert said({"compartments": [ROOM, second]}) == set()
    assert ("compartments", 1, "x_m") in said({"compartments": [ROOM, {**second, "x_m": 4}]})


@pytest.mark.parametrize(("x", "fits"), [(5.0, True), (7.0, False)])
def test_an_inner_door_is_in_the_wall_of_a_compartment(x, fits):
    inner = {**DOOR, "side": "inner", "x_m": x}
    found = said({"compartments": [ROOM], "openings": [inner]})
    assert (found == set()) is fits


def test_two_parts_of_one_kind_have_two_names():
    assert ("sensors", 1, "name") in said({"sensors": [SENSOR, {**SENSOR, "name": "t1 "}]})
    assert said({"linings": [LINING, {**LINING, "surface": "left"}]}) == set()


@pytest.mark.parametrize(
    ("kind", "x", "side"), [("door", 12, "front"), ("door", 7, "right"), ("vent", 3, "roof")]
)
def test_an_opening_that_does_not_say_its_wall_has_it_by_its_place(kind, x, side):
    row = {"name": "a", "kind": kind, "x_m": x, "width_m": 1, "height_m": 1}
    (opening,) = made({"openings": [row]}).openings
    assert opening.side == side


def test_what_is_kept_is_read_back_the_same():
    kept = as_data(made())
    again = from_data("Unit", kept)
    assert as_data(again) == kept
    assert faults(again) == []


def test_every_part_is_on_the_drawings_and_can_be_tapped():
    whole = made()
    drawn = long_section(whole, parts=True) + plan_view(whole, parts=True)
    for key, name in named_parts(whole):
        assert f'data-part="{key}"' in drawn, name


def test_a_marked_part_stands_out_and_the_others_do_not():
    whole = made()
    door = whole.openings[0]
    assert long_section(whole, marked={door.public_id}).count('class="marked"') == 1
    assert 'class="marked"' not in long_section(whole)


def test_a_text_that_is_markup_is_drawn_as_text():
    drawn = long_section(made({"openings": [{**DOOR, "name": "<script>"}]}))
    assert "<script>" not in drawn
    assert "&lt;script&gt;" in drawn
