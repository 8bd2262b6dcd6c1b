"""Breathing air against printed durations."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.air import air_time
from facility.calc.units import quantity
from facility.calc.working import OutOfSense, UnitNeeded, WrongDimension


@pytest.mark.parametrize(
    ("volume", "pressure", "air", "full", "working_time"),
    [(9, 180, 1620, 40.5, 30.5), (6, 300, 1800, 45.0, 35.0), (6, 200, 1200, 30.0, 20.0)],
)
def test_working_time_as_printed(volume, pressure, air, full, working_time):
    """Duration at 40 L/min less 10 min: 9 L at 180 bar at id.scribd.com/presentation/229048849,
    6 L at 300 bar at foka.com.tr/f7.html, 1200 L at marinegyaan.com. The ten minutes are 400 L,
    put in here as the reserve; the sheets take no account of how real air is squeezed."""
    working = air_time.of(
        cylinder_volume=volume, start_pressure=pressure, reserve_pressure=400 / volume, gas="ideal"
    )
    assert working.value("air_held") == pytest.approx(air)
    assert working.value("to_empty") == pytest.approx(full)
    assert working.value("to_whistle") == pytest.approx(working_time)


def test_hard_work_as_printed():
    """The first sheet prints 12.5 min for 1620 L at 130 L/min. It calls that working time, but it
    is the time to empty: no margin is taken off."""
    working = air_time.of(cylinder_volume=9, start_pressure=180, consumption=130, gas="ideal")
    assert working.value("to_empty") == pytest.approx(12.5, abs=0.05)


@pytest.mark.parametrize(("pressure", "factor"), [(200, 0.96), (300, 0.92)])
def test_real_air_fills_a_cylinder_less(pressure, factor):
    """Factors printed in a breathesafety.com post on long-duration sets."""
    working = air_time.of(cylinder_volume=6, start_pressure=pressure)
    assert working.value("air_held") == pytest.approx(6 * pressure * factor)


def test_a_way_out_ratio_of_two_keeps_two_thirds():
    """The rule of atemschutzlexikon.com: air for the way out is twice that of the way in. From
    300 to 55 bar that turns at 300 - 245/3 bar; arithmetic of the rule."""
    working = air_time.of(cylinder_volume=6, start_pressure=300, gas="ideal")
    assert working.value("turnaround_pressure") == pytest.approx(300 - 245 / 3, abs=0.01)
    assert working.value() == pytest.approx(working.value("to_whistle") / 3)


PRESSURES = st.floats(60, 300)


@given(PRESSURES, st.floats(10, 200), st.sampled_from(["real", "ideal"]))
def test_turnaround_comes_first_and_empty_last(pressure, consumption, gas):
    working = air_time.of(
        cylinder_volume=6, start_pressure=pressure, consumption=consumption, gas=gas
    )
    assert 0 < working.value() < working.value("to_whistle") < working.value("to_empty")
    assert 55 < working.value("turnaround_pressure") < pressure + 0.01


@given(PRESSURES, st.floats(10, 199), st.floats(0.1, 50))
def test_breathing_harder_or_starting_lower_shortens_the_time(pressure, consumption, more):
    def minutes(pressure, consumption):
        return air_time.of(
            cylinder_volume=6, start_pressure=pressure, consumption=consumption
        ).value()

    assert minutes(pressure, consumption + more) < minutes(pressure, consumption)
    assert minutes(pressure - 3, consumption) < minutes(pressure, consumption)


@given(PRESSURES)
def test_real_air_never_lasts_longer_than_the_plain_product(pressure):
    real, ideal = (
        air_time.of(cylinder_volume=6, start_pressure=pressure, gas=gas).value("to_whistle")
        for gas in ("real", "ideal")
    )
    assert real < ideal


def test_two_cylinders_last_twice_as_long():
    one = air_time.of(cylinder_volume=4, start_pressure=200)
    two = air_time.of(cylinder_volume=4, start_pressure=200, cylinders=2)
    assert two.value() == pytest.approx(2 * one.value())
    assert two.value("turnaround_pressure") == pytest.approx(one.value("turnaround_pressure"))


def test_under_the_whistle_there_is_no_time_left():
    working = air_time.of(cylinder_volume=6, start_pressure=50)
    assert working.value() == working.value("to_whistle") == 0
    assert working.notes == ("the gauge is already at or under the whistle",)


def test_over_300_bar_is_beyond_the_factors():
    working = air_time.of(cylinder_volume=6, start_pressure=310)
    assert not working.in_range
    assert "start_pressure" in working.notes[0]


def test_pounds_per_square_inch_are_taken():
    """4500 psi is 310.264 bar: the definition of the pound-force per square inch."""
    working = air_time(
        cylinder_volume=quantity(6, "L"), start_pressure=quantity(4500, "psi"), gas="ideal"
    )
    assert working.value("air_held") == pytest.approx(6 * 310.264, abs=0.01)


@pytest.mark.parametrize(
    ("wrong", "refusal"),
    [
        ({"cylinder_volume": quantity(-6, "L")}, OutOfSense),
        ({"cylinder_volume": quantity(600, "L")}, OutOfSense),
        ({"cylinder_volume": 6}, UnitNeeded),
        ({"cylinder_volume": quantity(6, "kg")}, WrongDimension),
        ({"start_pressure": quantity(math.nan, "bar")}, OutOfSense),
        ({"start_pressure": quantity(3000, "bar")}, OutOfSense),
        ({"consumption": quantity(0, "L/min")}, OutOfSense),
        ({"consumption": quantity(40, "L")}, WrongDimension),
        ({"reserve_pressure": quantity(-1, "bar")}, OutOfSense),
        ({"cylinders": quantity(1.5, "")}, OutOfSense),
        ({"cylinders": quantity(40, "")}, OutOfSense),
        ({"gas": "helium"}, OutOfSense),
    ],
)
def test_sets_that_cannot_be_are_refused(wrong, refusal):
    good = {"cylinder_volume": quantity(6, "L"), "start_pressure": quantity(300, "bar")}
    with pytest.raises(refusal):
        air_time(**{**good, **wrong})
