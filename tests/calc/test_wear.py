"""Wear against published counts, sums and tables."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.units import quantity
from facility.calc.wear import cycle_life, damage_sum, steel_strength_factor, thermal_cycles
from facility.calc.working import OutOfSense, UnitNeeded, WrongDimension

STANDARD_HISTORY = [-2, 1, -3, 5, -1, 3, -4, 4, -2]


def test_rainflow_count_of_the_standards_own_history():
    """ASTM E1049-85 section 5.4.4, Figure 6, as in iamlikeme/rainflow test case 1: ranges and
    counts 3: 0.5, 4: 1.5, 6: 0.5, 8: 1.0, 9: 0.5."""
    working = thermal_cycles.of(temperatures=STANDARD_HISTORY)
    assert working.value("ranges").tolist() == [3, 4, 6, 8, 9]
    assert working.value("counts").tolist() == [0.5, 1.5, 0.5, 1.0, 0.5]
    assert working.value() == 4.0
    assert working.value("largest_range") == 9


def test_small_swings_can_be_left_out():
    working = thermal_cycles.of(temperatures=STANDARD_HISTORY, smallest_range=5)
    assert working.value("ranges").tolist() == [6, 8, 9]


@pytest.mark.parametrize("history", [[20.0], [20.0, 20.0, 20.0]])
def test_a_unit_kept_at_one_temperature_has_no_cycle(history):
    working = thermal_cycles.of(temperatures=history)
    assert working.value() == working.value("largest_range") == 0
    assert working.as_dict()["results"]["ranges"]["value"] == []


# Tenths of a degree, as a logger writes them.
HISTORIES = st.lists(
    st.integers(-200, 10_000).map(lambda tenths: tenths / 10), min_size=2, max_size=30
)


@given(HISTORIES, st.floats(-100, 100))
def test_cycles_do_not_depend_on_the_level(history, shift):
    as_met = thermal_cycles.of(temperatures=history).value("largest_range")
    shifted = [each + shift for each in history]
    assert thermal_cycles.of(temperatures=shifted).value("largest_range") == pytest.approx(as_met)


@given(HISTORIES)
def test_the_largest_range_is_the_span_of_the_history(history):
    """A property of the rainflow method: the widest swing is always counted."""
    largest = thermal_cycles.of(temperatures=history).value("largest_range")
    assert largest == pytest.approx(max(history) - min(history))


def test_life_falls_with_the_swing_as_printed():
    """Acceleration factor (80/25)^2.5 = 18.3, read in a public note on solder joints; it tests the
    arithmetic only."""
    working = cycle_life.of(ranges=[80, 25], reference_range=25, reference_life=1000, exponent=2.5)
    assert working.value()[1] / working.value()[0] == pytest.approx(18.3, abs=0.05)
    assert working.value()[1] == pytest.approx(1000)


def test_damage_sum_as_printed():
    """10000/20000 + 5000/10000 + 2000/5000 = 1.4, fails: worked example at engineeringniche.com."""
    working = damage_sum.of(cycles=[10_000, 5_000, 2_000], lives=[20_000, 10_000, 5_000])
    assert working.value() == pytest.approx(1.4)
    assert working.value("left") == 0
    assert working.notes == ("the life by this sum is used up",)


def test_damage_of_the_standard_history():
    """Counts of ASTM E1049 against N = 1e6 (10/range)^3: the sum of range^3 times count is 1094,
    arithmetic on the standard's own counts."""
    count = thermal_cycles.of(temperatures=STANDARD_HISTORY)
    life = cycle_life.of(
        ranges=count.value("ranges"), reference_range=10, reference_life=1e6, exponent=3
    )
    working = damage_sum.of(cycles=count.value("counts"), lives=life.value())
    assert working.value() == pytest.approx(1094e-9)


LEVELS = st.lists(st.tuples(st.floats(0, 1e6), st.floats(1, 1e9)), min_size=1, max_size=10)


@given(LEVELS)
def test_damage_does_not_depend_on_the_order_and_adds_up(levels):
    cycles, lives = zip(*levels, strict=True)
    whole = damage_sum.of(cycles=cycles, lives=lives).value()
    turned = damage_sum.of(cycles=cycles[::-1], lives=lives[::-1]).value()
    parts = sum(damage_sum.of(cycles=[met], lives=[life]).value() for met, life in levels)
    assert whole == turned
    assert whole == pytest.approx(parts)


@pytest.mark.parametrize(
    ("temperature", "yield_strength", "proportional_limit", "stiffness"),
    [
        (20, 1, 1, 1),
        (100, 1, 1, 1),
        (200, 1, 0.807, 0.9),
        (300, 1, 0.613, 0.8),
        (400, 1, 0.42, 0.7),
        (500, 0.78, 0.36, 0.6),
        (600, 0.47, 0.18, 0.31),
        (700, 0.23, 0.075, 0.13),
        (800, 0.11, 0.05, 0.09),
        (900, 0.06, 0.0375, 0.0675),
        (1000, 0.04, 0.025, 0.045),
        (1100, 0.02, 0.0125, 0.0225),
        (1200, 0, 0, 0),
        (450, 0.89, 0.39, 0.65),
        (550, 0.625, 0.27, 0.455),
        (750, 0.17, 0.0625, 0.11),
    ],
)
def test_hot_steel_of_the_table(temperature, yield_strength, proportional_limit, stiffness):
    """EN 1993-1-2:2005 Table 3.1, read in fsepy/fsetools and kuisidu/metku; the last three rows
    are halfway between printed ones."""
    working = steel_strength_factor.of(temperature=temperature)
    assert working.in_range
    assert working.value() == pytest.approx(yield_strength, abs=1e-9)
    assert working.value("proportional_limit") == pytest.approx(proportional_limit, abs=1e-9)
    assert working.value("stiffness") == pytest.approx(stiffness, abs=1e-9)


@given(st.floats(20, 1200), st.floats(20, 1200))
def test_hotter_steel_is_never_stronger(one, other):
    cool, hot = sorted((one, other))
    for name in ("yield_strength", "proportional_limit", "stiffness"):
        warm_share = steel_strength_factor.of(temperature=hot).value(name)
        assert 0 <= warm_share <= steel_strength_factor.of(temperature=cool).value(name)


@pytest.mark.parametrize(("temperature", "share"), [(-30, 1), (1300, 0)])
def test_steel_beyond_the_table_is_marked(temperature, share):
    working = steel_strength_factor.of(temperature=temperature)
    assert working.value() == share
    assert not working.in_range


@pytest.mark.parametrize(
    ("calculation", "given", "refusal"),
    [
        (thermal_cycles, {"temperatures": quantity([20.0, math.nan], "degC")}, OutOfSense),
        (thermal_cycles, {"temperatures": quantity([], "degC")}, OutOfSense),
        (thermal_cycles, {"temperatures": quantity([-300.0], "degC")}, OutOfSense),
        (thermal_cycles, {"temperatures": quantity([20.0], "kg")}, WrongDimension),
        (thermal_cycles, {"temperatures": [20.0, 300.0]}, UnitNeeded),
        (
            damage_sum,
            {"cycles": quantity([1.0, 2.0], ""), "lives": quantity([9.0], "")},
            OutOfSense,
        ),
        (damage_sum, {"cycles": quantity([-1.0], ""), "lives": quantity([9.0], "")}, OutOfSense),
        (damage_sum, {"cycles": quantity([1.0], ""), "lives": quantity([0.0], "")}, OutOfSense),
        (
            damage_sum,
            {"cycles": quantity([1.0], "kg"), "lives": quantity([9.0], "")},
            WrongDimension,
        ),
        (steel_strength_factor, {"temperature": quantity(5000, "degC")}, OutOfSense),
        (steel_strength_factor, {"temperature": 400}, UnitNeeded),
    ],
)
def test_wear_that_cannot_be_is_refused(calculation, given, refusal):
    with pytest.raises(refusal):
        calculation(**given)
