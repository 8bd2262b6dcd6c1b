"""The register of what may be recorded at the unit, and what each kind refuses."""

from decimal import Decimal

import pytest

from facility.yard.kinds import KINDS, Unit, faults_of

UNIT = Unit(Decimal("2.39"), frozenset({"door00000a", "vent00000b"}), frozenset({"rear00000c"}))

RIGHT = {
    "ignition": {}, "stage": {"stage": "growth_late"}, "flames_ceiling": {}, "flame_overhead": {},
    "alight": {"positions": ["rear00000c"]}, "not_alight": {"positions": ["rear00000c"]},
    "fuel_added": {"boards": 2, "note": "left wall"}, "neutral_plane": {"height_m": "1.10"},
    "layers": {"count": 2}, "air_track": {"direction": "both", "speed": "slow", "flow": "pulsing"},
    "smoke": {"colour": "black", "volume": "much", "velocity": "fast"},
    "vent_opened": {"opening": "vent00000b"}, "vent_closed": {"opening": "door00000a"},
    "water": {"manner": "pulse", "where": "layer"}, "steam": {}, "knock_down": {}, "out": {},
    "stop": {"reason": "a learner felt faint"}, "undo": {},
    "person_in": {"who": "T-04", "name": "trainee four", "bar": 300},
    "person_out": {"who": "T-04", "bar": 160}, "pressure": {"who": "T-04", "bar": 210},
    "roll_call": {"missing": []}, "air_numbers": {"cylinder_l": "6.8", "nominal_bar": 300},
}  # fmt: skip

WRONG = [
    ("stage", {"stage": "growth"}, "stage"),
    ("stage", {"stage": "Decay"}, "stage"),
    ("stage", {"stage": ["decay"]}, "stage"),
    ("stage", {}, "stage"),
    ("stage", None, "value"),
    ("stage", {"stage": "decay", "also": 1}, "also"),
    ("neutral_plane", {"height_m": "2.40"}, "height_m"),
    ("neutral_plane", {"height_m": "11"}, "height_m"),
    ("neutral_plane", {"height_m": "-0.1"}, "height_m"),
    ("neutral_plane", {"height_m": "1.105"}, "height_m"),
    ("neutral_plane", {"height_m": 1}, "height_m"),
    ("neutral_plane", {"height_m": ""}, "height_m"),
    ("neutral_plane", {"height_m": "NaN"}, "height_m"),
    ("neutral_plane", {"height_m": "\u0661"}, "height_m"),
    ("neutral_plane", {"height_m": None}, "height_m"),
    ("layers", {"count": "2"}, "count"),
    ("layers", {"count": True}, "count"),
    ("layers", {"count": 0}, "count"),
    ("layers", {"count": 6}, "count"),
    ("alight", {"positions": []}, "positions"),
    ("alight", {"positions": ["rear00000c", "rear00000c"]}, "positions"),
    ("alight", {"positions": ["door00000a"]}, "positions"),
    ("alight", {"positions": "rear00000c"}, "positions"),
    ("vent_opened", {"opening": "of another unit"}, "opening"),
    ("stop", {"reason": "  "}, "reason"),
    ("stop", {"reason": "x" * 201}, "reason"),
    ("stop", {"reason": "bell\x07"}, "reason"),
    ("person_in", {"who": "", "name": "n", "bar": 300}, "who"),
    ("person_in", {"who": "T-04", "name": "n", "bar": 351}, "bar"),
    ("person_in", {"who": "T-04", "name": "n", "bar": -1}, "bar"),
    ("roll_call", {"missing": [4]}, "missing"),
    ("flashover", {}, "kind"),
]


def test_every_kind_takes_its_value():
    assert set(RIGHT) == set(KINDS)
    for kind, value in RIGHT.items():
        assert faults_of(kind, value, UNIT) == [], kind


@pytest.mark.parametrize(("kind", "value", "field"), WRONG)
def test_what_does_not_fit_is_named_by_its_field(kind, value, field):
    (fault,) = faults_of(kind, value, UNIT)
    assert fault.field == field
    assert fault.sentence.format(**fault.given)


def test_just_at_the_ceiling_is_allowed():
    assert faults_of("neutral_plane", {"height_m": "2.39"}, UNIT) == []


def test_all_faults_are_told_not_only_the_first():
    assert len(faults_of("smoke", {"colour": "pink", "volume": 3}, UNIT)) == 3
