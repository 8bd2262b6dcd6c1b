"""Wall loss and remaining life against published sheets."""

import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.life import remaining_life, time_to_count, wall_loss_rate
from facility.calc.units import quantity
from facility.calc.working import OutOfSense, UnitNeeded, WrongDimension


def test_long_term_rate_as_printed():
    """Calculation sheet at ar.scribd.com/document/387358665: 7.8 to 3.24 mm in 15 years is
    0.304 mm a year."""
    working = wall_loss_rate.of(thicknesses=[7.8, 3.24], ages=[0, 15])
    assert working.value() == pytest.approx(0.304, abs=1e-9)


def test_remaining_life_as_printed():
    """The same sheet prints (3.24 - 0.37)/0.34 = 8.441 years or 101.3 months. It divides by 0.34,
    not by the 0.304 it has just worked out, so a reading that makes 0.34 the last year's loss is
    put in here; by its own 0.304 the life would be 9.441 years."""
    working = remaining_life.of(
        thicknesses=[7.8, 3.58, 3.24], ages=[0, 14, 15], required_thickness=0.37
    )
    assert working.words["governing"] == "short term"
    assert working.value() == pytest.approx(8.441, abs=0.001)
    assert working.value() * 12 == pytest.approx(101.3, abs=0.1)
    assert working.value("next_reading") == pytest.approx(8.441 / 2, abs=0.001)


def test_rates_and_life_of_a_second_sheet_in_inches():
    """Sheet to API 510 10th edition at pdfcoffee.com/api-510-corr-rate-amp-rem-life-cal-pdf-free:
    long term 0.413 to 0.352 in in 5 years is 0.012 in a year; short term 0.5 to 0.4 in in one year
    is 0.100, with 0.3 in required 1.00 year is left and 0.50 year to the next inspection."""
    long_term = wall_loss_rate(
        thicknesses=quantity([0.413, 0.352], "inch"), ages=quantity([0.0, 5.0], "year")
    )
    assert long_term.result.to("inch/year").magnitude == pytest.approx(0.012, abs=0.0005)
    life = remaining_life(
        thicknesses=quantity([0.5, 0.4], "inch"),
        ages=quantity([4.0, 5.0], "year"),
        required_thickness=quantity(0.3, "inch"),
    )
    assert life.value() == pytest.approx(1.00, abs=0.005)
    assert life.value("next_reading") == pytest.approx(0.50, abs=0.005)


def test_the_class_limit_holds_when_half_the_life_is_longer():
    """Half the remaining life or the limit, whichever is sooner: API 510 section 6.5.1.1."""
    working = remaining_life.of(thicknesses=[10, 9.9], ages=[0, 10], required_thickness=5)
    assert working.value() == pytest.approx(490)
    assert working.value("next_reading") == 10


def test_no_measured_loss_is_not_endless_life():
    working = remaining_life.of(thicknesses=[10, 10], ages=[0, 1], required_thickness=5)
    assert math.isnan(working.value())
    assert not working.in_range
    assert working.words["governing"] == "no loss measured"
    assert working.value("next_reading") == 10
    assert json.loads(json.dumps(working.as_dict(), allow_nan=False))["result"]["value"] is None


def test_a_wall_under_its_required_thickness_has_no_life():
    working = remaining_life.of(thicknesses=[10, 4.9], ages=[0, 1], required_thickness=5)
    assert working.value() == working.value("next_reading") == 0
    assert not working.in_range


def test_a_wall_that_reads_thicker_is_noted():
    working = wall_loss_rate.of(thicknesses=[10, 9, 9.2], ages=[0, 1, 2])
    assert working.value() == pytest.approx(0.4)
    assert "check the gauge" in working.notes[0]


WALLS = st.lists(st.floats(5, 12), min_size=3, max_size=3)


@given(WALLS)
def test_the_worse_rate_governs(walls):
    working = wall_loss_rate.of(thicknesses=walls, ages=[0, 3, 5])
    assert working.value() == max(working.value("long_term"), working.value("short_term"))


@given(WALLS, st.floats(0, 4.9), st.floats(0, 4.9))
def test_a_thicker_requirement_never_lengthens_the_life(walls, one, other):
    lower, higher = sorted((one, other))
    lives = [
        remaining_life.of(thicknesses=walls, ages=[0, 3, 5], required_thickness=each).value()
        for each in (lower, higher)
    ]
    assert all(math.isnan(each) for each in lives) or lives[0] >= lives[1]


@given(st.floats(6, 12), st.floats(0.01, 1), st.floats(0.1, 20))
def test_a_steady_loss_is_found_again(first, rate, years):
    working = wall_loss_rate.of(
        thicknesses=[first + rate * years, first + rate * years / 2, first],
        ages=[0, years / 2, years],
    )
    assert working.value("long_term") == pytest.approx(rate, rel=1e-6)
    assert working.value("short_term") == pytest.approx(rate, rel=1e-6)


@pytest.mark.parametrize(
    ("wrong", "refusal"),
    [
        ({"thicknesses": quantity([8.0], "mm"), "ages": quantity([1.0], "year")}, OutOfSense),
        ({"thicknesses": quantity([8.0, 7.0, 6.0], "mm")}, OutOfSense),
        ({"thicknesses": quantity([8.0, -1.0], "mm")}, OutOfSense),
        ({"thicknesses": quantity([8.0, 1e6], "mm")}, OutOfSense),
        ({"thicknesses": quantity([8.0, math.nan], "mm")}, OutOfSense),
        ({"thicknesses": quantity([8.0, 7.0], "kg")}, WrongDimension),
        ({"thicknesses": [8.0, 7.0]}, UnitNeeded),
        ({"ages": quantity([5.0, 5.0], "year")}, OutOfSense),
        ({"ages": quantity([5.0, 1.0], "year")}, OutOfSense),
    ],
)
def test_readings_that_cannot_be_are_refused(wrong, refusal):
    good = {"thicknesses": quantity([8.0, 7.0], "mm"), "ages": quantity([0.0, 5.0], "year")}
    with pytest.raises(refusal):
        wall_loss_rate(**{**good, **wrong})
    with pytest.raises(refusal):
        remaining_life(**{**good, **wrong}, required_thickness=quantity(3, "mm"))


def test_the_band_of_a_count_is_that_of_the_f_distribution():
    """5 events left, 7 seen in 150 days, band of 90 %: T k/(n+1/2) = 100 days, times the quantiles
    of F(10, 15). The upper 5 % points F(10, 15) = 2.544 and F(15, 10) = 2.845 are those of the
    usual tables, from memory; the lower one is the reciprocal of the second."""
    found = time_to_count.of(events_left=5, events_seen=7, days_seen=150, share=90)
    assert found.value("late") == pytest.approx(254.4, abs=0.1)
    assert found.value("early") == pytest.approx(100 / 2.845, abs=0.05)


@pytest.mark.parametrize(("seen", "days"), [(1, 30.0), (12, 100.0), (400, 365.0)])
def test_the_time_to_the_next_event_is_lomax(seen, days):
    """A gamma rate makes the wait for one event Lomax: its median is T (2^(1/(n+1/2)) - 1)."""
    found = time_to_count.of(events_left=1, events_seen=seen, days_seen=days)
    assert found.value() == pytest.approx(days * (2 ** (1 / (seen + 0.5)) - 1), rel=1e-9)


def test_many_events_seen_narrow_the_band_around_the_rate():
    found = time_to_count.of(events_left=1000, events_seen=100_000, days_seen=36_500)
    assert found.value() == pytest.approx(365, rel=0.01)
    assert found.value("late") / found.value("early") < 1.1


@pytest.mark.parametrize(
    "given", [{"events_seen": 0}, {"events_left": 0}, {"events_left": 1.5}, {"days_seen": 0}]
)
def test_without_a_rate_or_a_count_it_is_refused(given):
    with pytest.raises(OutOfSense):
        time_to_count.of(**{"events_left": 5, "events_seen": 7, "days_seen": 150, **given})
