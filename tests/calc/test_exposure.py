"""Heat dose and thermal classes against published values."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.exposure import exposure_class, heat_dose, hot_air_rate, radiant_rate
from facility.calc.units import quantity
from facility.calc.working import OutOfSense, UnitNeeded, WrongDimension


def test_dose_of_one_second_as_printed():
    """CFAST verification, "Heat Tenability" (Verification/Species/tenability.csv): clothed, 100
    degC and less than 2.5 kW/m2 add 0.000674629 in a second."""
    working = heat_dose.of(times=[0, 1 / 60], temperatures=[100], fluxes=[2.4], clothing="clothed")
    assert working.value() == pytest.approx(0.000674629, abs=1e-9)
    assert working.value("radiant_dose") == 0


@pytest.mark.parametrize(
    ("temperature", "clothed", "lightly_clothed"),
    [
        (60, 156.2, 45.0),
        (100, 24.70, 7.92),
        (120, 12.79, 4.26),
        (150, 5.72, 2.00),
        (200, 2.02, 0.75),
    ],
)
def test_minutes_borne_in_hot_air(temperature, clothed, lightly_clothed):
    """ISO 13571 from memory: 4.1e8 T^-3.61 and 5e7 T^-3.4 min; arithmetic of the two terms."""
    assert 1 / hot_air_rate(temperature, "clothed") == pytest.approx(clothed, rel=0.004)
    assert 1 / hot_air_rate(temperature, "lightly clothed") == pytest.approx(
        lightly_clothed, rel=0.006
    )


@pytest.mark.parametrize(
    ("flux", "burn", "pain"), [(2.5, 1.652, 0.736), (5, 0.560, 0.197), (10, 0.190, 0.053)]
)
def test_minutes_to_pain_and_burn(flux, burn, pain):
    """ISO 13571 from memory: 6.9 q^-1.56 and 4.2 q^-1.9 min; arithmetic of the two terms."""
    assert 1 / radiant_rate(flux, "second-degree burn") == pytest.approx(burn, abs=6e-4)
    assert 1 / radiant_rate(flux, "pain") == pytest.approx(pain, abs=6e-4)


def test_pain_is_near_the_printed_tolerance_limits():
    """PD 7974-6 Table I.4, read in a public note: 2.5 kW/m2 for 30 s and 10 kW/m2 for 4 s. Another
    family of curves, so only the order is compared: within half and double."""
    for flux, seconds in [(2.5, 30), (10, 4)]:
        assert 0.5 < 60 / radiant_rate(flux, "pain") / seconds < 2


@pytest.mark.parametrize(
    ("temperature", "flux", "name", "minutes"),
    [
        (100, 0, "I", 25),
        (160, 0, "II", 15),
        (260, 0, "III", 5),
        (261, 0, "IV", 1),
        (50, 1, "I", 25),
        (50, 2, "II", 15),
        (50, 10, "III", 5),
        (50, 10.1, "IV", 1),
        (140, 5, "III", 5),
    ],
)
def test_thermal_classes_of_the_note(temperature, flux, name, minutes):
    """NIST TN 1474: 100 degC for 25 min and 160 degC for 15 min read at nist.gov; 260 degC for
    5 min, class IV and the fluxes 1, 2 and 10 kW/m2 from memory."""
    working = exposure_class.of(temperature=temperature, flux=flux)
    assert working.words["class"] == name
    assert working.value("minutes") == minutes


def test_minutes_in_each_class_and_the_share_used():
    """Ten minutes at 120 degC use 10/15 of class II; one minute at 300 degC uses all of class IV:
    arithmetic of the class times above."""
    warm = heat_dose.of(times=[0, 10], temperatures=[120])
    assert warm.value("minutes_in_class_2") == 10
    assert warm.value("class_time_used") == pytest.approx(10 / 15)
    mixed = heat_dose.of(times=[0, 10, 11], temperatures=[120, 120, 200])
    assert mixed.value("class_time_used") == pytest.approx(11 / 15)
    hot = heat_dose.of(times=[0, 1, 2], temperatures=[300, 300, 20])
    assert hot.value("minutes_in_class_4") == 2  # the stretch down to 20 degC counts as hot
    assert hot.value("class_time_used") == pytest.approx(2.0)
    assert hot.words["worst_class"] == "IV"


TEMPERATURES = st.lists(st.floats(0, 200), min_size=3, max_size=3)


@given(TEMPERATURES, st.floats(0, 20))
def test_hotter_or_longer_never_lowers_the_dose(temperatures, more):
    cooler = heat_dose.of(times=[0, 5, 10], temperatures=temperatures).value()
    hotter = [min(200, each + more) for each in temperatures]
    assert heat_dose.of(times=[0, 5, 10], temperatures=hotter).value() >= cooler
    assert heat_dose.of(times=[0, 5, 20], temperatures=temperatures).value() >= cooler


@given(TEMPERATURES)
def test_doses_of_two_stretches_add_up(temperatures):
    whole = heat_dose.of(times=[0, 5, 10], temperatures=temperatures).value()
    first = heat_dose.of(times=[0, 5], temperatures=temperatures[:2]).value()
    second = heat_dose.of(times=[5, 10], temperatures=temperatures[1:]).value()
    assert whole == pytest.approx(first + second)


@given(st.floats(0, 2000), st.floats(0, 2000), st.floats(0, 100))
def test_the_class_never_falls_as_it_gets_hotter(one, other, flux):
    cool, hot = sorted((one, other))
    assert (
        exposure_class.of(temperature=cool, flux=flux).value()
        <= exposure_class.of(temperature=hot, flux=flux).value()
    )


def test_air_over_200_degrees_is_marked():
    working = heat_dose.of(times=[0, 1], temperatures=[250])
    assert not working.in_range
    assert "temperatures" in working.notes[0]


GOOD = {"times": quantity([0.0, 1.0], "min"), "temperatures": quantity([90.0, 95.0], "degC")}


@pytest.mark.parametrize(
    ("wrong", "refusal"),
    [
        ({"times": quantity([0.0, 0.0], "min")}, OutOfSense),
        ({"times": quantity([1.0, 0.0], "min")}, OutOfSense),
        ({"times": quantity([0.0], "min"), "temperatures": quantity([90.0], "degC")}, OutOfSense),
        ({"times": quantity([0.0, 1.0], "m")}, WrongDimension),
        ({"times": [0.0, 1.0]}, UnitNeeded),
        ({"temperatures": quantity([90.0, math.nan], "degC")}, OutOfSense),
        ({"temperatures": quantity([90.0, 1e5], "degC")}, OutOfSense),
        ({"temperatures": quantity([90.0, 91.0, 92.0], "degC")}, OutOfSense),
        ({"fluxes": quantity([-1.0], "kW/m2")}, OutOfSense),
        ({"fluxes": quantity([1.0], "kW")}, WrongDimension),
        ({"clothing": "armour"}, OutOfSense),
    ],
)
def test_exposures_that_cannot_be_are_refused(wrong, refusal):
    with pytest.raises(refusal):
        heat_dose(**{**GOOD, **wrong})


def test_a_curve_of_a_thousand_readings_is_taken():
    times = np.linspace(0, 30, 1000)
    working = heat_dose.of(times=list(times), temperatures=list(60 + 2 * times))
    assert working.value("minutes_in_class_1") == pytest.approx(20, abs=0.04)
