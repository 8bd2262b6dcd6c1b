"""The map of the walls: to scale, and nothing said by colour alone."""

from __future__ import annotations

import base64
import re

import pytest

from facility.sites.wall_map import _TONES, Gauged, _mark, level_of, wall_map

EXTENTS = {"rear": (2.4, 2.4), "left": (12.0, 2.4)}
NAMES = {"rear": "burn end", "left": "left wall"}


def drawn(*points):
    picture = wall_map(points, EXTENTS, NAMES)
    return base64.b64decode(re.search(r"base64,([^\"]+)", picture)[1]).decode(), picture


def test_walls_are_to_one_scale_and_those_without_points_left_out():
    svg, picture = drawn(
        Gauged("B1", "rear", 1.2, 1.2, 1.9, "sound"), Gauged("W1", "left", 6, 1.2, None, "unread")
    )
    boxes = re.findall(r'width="([\d.]+)" height="([\d.]+)" fill="#ffffff" stroke="#3f5560"', svg)
    (rear, high), (left, high_too) = [tuple(map(float, box)) for box in boxes]
    assert left / rear == pytest.approx(12 / 2.4, rel=0.01)
    assert rear == high == high_too
    assert "B1 1.90 mm" in picture  # in words for who cannot see it
    assert wall_map([], EXTENTS, NAMES) == ""
    assert "burn end" not in drawn(Gauged("W1", "left", 6, 1.2, 1.9, "sound"))[0]


def test_each_level_has_a_shape_of_its_own_and_its_figure():
    shapes = {re.sub(r'(fill|stroke)="#\w+"', "", _mark(level, 10, 10)) for level in _TONES}
    assert len(shapes) == len(_TONES) == 5
    svg, _picture = drawn(Gauged("W1", "left", 6, 1.2, 1.47, "under"))
    assert ">1.47<" in svg


def test_levels_between_built_and_required():
    """2.0 mm built, 1.2 mm required: a tenth lost at 1.8, a quarter left of 0.8 at 1.4."""
    levels = {mm: level_of(mm, 2.0, 1.2) for mm in (1.81, 1.80, 1.40, 1.39, 1.20)}
    assert list(levels.values()) == ["sound", "thinner", "thinner", "near", "under"]


def test_marks_typed_by_people_cannot_break_the_picture():
    svg, picture = drawn(Gauged("<b>", "left", 6, 1.2, 1.9, "sound"))
    assert "<b>" not in svg
    assert "<b>" not in picture
