"""Points of the walls, and readings of the gauge that cannot be as they are."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.inspections.gauging import Gauge, mark_points
from records.inspections.gauging_selectors import point_states
from records.inspections.inspecting_forms import ReadingsField
from records.inspections.models import (
    GaugeCheck,
    Inspection,
    InspectionItem,
    ThicknessReading,
    WallPoint,
)
from records.inspections.selectors import wall_lives
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

DAY = dt.timedelta(days=1)
TODAY = NOW.date()
ACT = "inspections.points_marked"
GAUGE = Gauge("UT-1", Decimal(5), Decimal("5.03"), TODAY)


def mark(ground, **changes):
    given = {"wall": "left", "letters": "W", "nominal_mm": Decimal(2), "columns": 3, "rows": 2,
             "by": ground.inspector, "at": NOW}  # fmt: skip
    return mark_points(ground.unit, **{**given, **changes})


def gauge(ground, at=NOW, **changes):
    readings = {key: [Decimal(each) for each in text.split()]
                for key, text in changes.pop("read", {"W1": "1.90 1.94"}).items()}  # fmt: skip
    used = changes.pop("gauge", GAUGE)
    return builders.inspect(ground, ground.unit, at=at, readings=readings, gauge=used, **changes)


def test_a_grid_is_spread_evenly_and_numbered_on(ground):
    """12 m by 2.4 m in 3 columns and 2 rows: middles at 2, 6, 10 m and 0.6, 1.8 m."""
    with writes(ACT, WallPoint):
        made = mark(ground)
    assert [each.mark for each in made] == ["W1", "W2", "W3", "W4", "W5", "W6"]
    assert [(float(each.along_m), float(each.up_m)) for each in made] == [
        (2.0, 0.6), (6.0, 0.6), (10.0, 0.6), (2.0, 1.8), (6.0, 1.8), (10.0, 1.8),
    ]  # fmt: skip
    (one,) = mark(ground, columns=1, rows=1, along_m=Decimal("0.4"), up_m=Decimal("0.3"))
    assert (one.mark, one.along_m) == ("W7", Decimal("0.4"))


@pytest.mark.parametrize(
    ("field", "given"),
    [("wall", {"wall": "cellar"}), ("letters", {"letters": "W-1"}), ("letters", {"letters": " "}),
     ("nominal_mm", {"nominal_mm": Decimal("0.078")}), ("columns", {"columns": 0}),
     ("rows", {"rows": 5}), ("along_m", {"along_m": Decimal(1)}),
     ("along_m", {"columns": 1, "rows": 1, "along_m": Decimal(13), "up_m": Decimal(1)}),
     ("up_m", {"columns": 1, "rows": 1, "along_m": Decimal(1), "up_m": Decimal("2.5")}),
     ("along_m", {"columns": 1, "rows": 1, "along_m": Decimal(1)})],
)  # fmt: skip
def test_points_lie_on_the_wall(ground, field, given):
    with refuses(WrongValue, field):
        mark(ground, **given)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_mark(ground, role):
    with refuses_role():
        mark(ground, by=actor(ground, role))


def test_marked_twice_by_the_same_form_is_marked_once(ground):
    mark(ground, once="k")
    with refuses(AlreadyDone):
        mark(ground, once="k")


def test_the_mean_of_repeated_readings_counts_and_the_spread_is_shown(ground):
    mark(ground)
    with writes(
        "inspections.unit_inspected", Inspection, InspectionItem, GaugeCheck, ThicknessReading
    ):
        gauge(ground, read={"W1": "1.90 1.94 1.95"})
    state = point_states(ground.unit)[0]
    assert (state.reading.thickness_mm, state.reading.repeats) == (Decimal("1.93"), 3)
    assert state.spread_mm == pytest.approx(0.05)
    assert state.level == "sound"


@pytest.mark.parametrize(
    ("field", "given"),
    [
        ("thickness", {"read": {"W9": "1.9"}}),
        ("thickness", {"read": {"W1": "0"}}),
        ("thickness", {"read": {"W1": "51"}}),
        ("thickness", {"read": {"W1": "1.9 " * 11}}),
        ("thickness_why", {"read": {"W1": "2.25"}}),  # over nominal by more than a tenth
        ("thickness_why", {"read": {"W1": "0.075"}}),  # inches for millimetres
        ("thickness_why", {"read": {"W1": "48.3"}}),  # millimetres for inches
        ("thickness_why", {"read": {"W1": "0.9"}}),  # under half
        ("gauge", {"gauge": None}),
        ("gauge", {"gauge": Gauge(" ", Decimal(5), Decimal(5), TODAY)}),
        ("block_read_mm", {"gauge": Gauge("UT", Decimal(5), Decimal("5.11"), TODAY)}),
        ("block_mm", {"gauge": Gauge("UT", Decimal(0), Decimal(0), TODAY)}),
        ("checked_on", {"gauge": Gauge("UT", Decimal(5), Decimal(5), TODAY + 2 * DAY)}),
        ("checked_on", {"gauge": Gauge("UT", Decimal(5), Decimal(5), TODAY - 400 * DAY)}),
    ],
)
def test_readings_that_cannot_be_are_refused_whole(ground, field, given):
    mark(ground)
    with refuses(WrongValue, field):
        gauge(ground, **given)


def test_a_unit_without_points_takes_no_readings(ground):
    with refuses(WrongValue, "thickness"):
        gauge(ground)


def test_what_is_doubtful_is_kept_with_the_reason(ground):
    mark(ground)
    kept = gauge(ground, read={"W1": "2.25"}, readings_why="plate welded over it")
    assert kept.thickness_why == "plate welded over it"


def test_a_wall_that_grows_is_asked_about(ground):
    mark(ground)
    gauge(ground, read={"W1": "1.80"})
    with refuses(WrongValue, "thickness_why") as caught:
        gauge(ground, at=NOW + DAY, read={"W1": "1.95"})
    assert "thicker than the 1.80 mm" in caught.value.sentence
    gauge(ground, at=NOW + DAY, read={"W1": "1.88"})  # within what a gauge strays


def test_inches_are_named_as_the_likely_cause(ground):
    mark(ground)
    with refuses(WrongValue, "thickness_why") as caught:
        gauge(ground, read={"W1": "0.075"})
    assert "looks like inches" in caught.value.sentence


@pytest.mark.parametrize(
    ("typed", "read"),
    [("1.85 1.84", ["1.85", "1.84"]), ("1,85; 1.84 mm", ["1.85", "1.84"]), ("0.073 in", ["1.85"]),
     ("", [])],
)  # fmt: skip
def test_readings_as_they_are_typed(typed, read):
    assert ReadingsField().clean(typed) == [Decimal(each) for each in read]


def test_long_and_short_term_rates_by_point(ground):
    """API 570 7.1.1: long term (2.0 - 1.7) / 2 years, short term (1.9 - 1.7) / 1 year."""
    mark(ground)
    for age, thickness in enumerate(("2.00", "1.90", "1.70")):
        at = NOW + age * dt.timedelta(days=365.25)
        check = Gauge("UT-1", Decimal(5), Decimal(5), at.date())
        gauge(ground, at=at, gauge=check, read={"W1": thickness})
    rates = wall_lives(ground.unit)[0].rates
    assert rates.value("long_term") == pytest.approx(0.15, abs=0.001)
    assert rates.value("short_term") == pytest.approx(0.20, abs=0.001)


def test_two_gaugings_of_one_day_tell_no_rate_and_the_newer_counts(ground):
    mark(ground)
    gauge(ground, read={"W1": "1.90"})
    gauge(ground, at=NOW + dt.timedelta(minutes=9), read={"W1": "1.88"})
    (life,) = wall_lives(ground.unit)
    assert (life.rates, life.thickness_mm) == (None, 1.88)
