"""Numbers in and out: what is shown can be typed back, and each reader gets their own units."""

from __future__ import annotations

import pytest
from django.test import Client
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.units import THIN, QuantityRefused, parse, show
from tests import builders
from tests.pages import Things

# Exact by definition of the units (international pound and inch, 1959; US gallon of 231 cubic
# inches): what one of ours is in theirs.
DEFINED = [
    (0.45359237, "kg", "1.0", "lb"),
    (25.4, "mm", "1.000", "in"),
    (0.3048, "m", "1.00", "ft"),
    (3.785411784, "L", "1.00", "gal"),
    (100, "degC", "212", "°F"),
]


@pytest.mark.parametrize(("value", "unit", "number", "us_unit"), DEFINED)
def test_us_readers_get_the_defined_value(value, unit, number, us_unit):
    shown = show(value, unit, "US")
    assert (shown.number, shown.unit) == (number, us_unit)


@given(
    st.decimals(min_value=-999_999, max_value=999_999, places=2),
    st.sampled_from(["kg", "mm", "m", "MJ", "L", "%", ""]),
)
def test_what_is_shown_can_be_typed_back(value, unit):
    """Thin spaces, the true minus sign and the unit included."""
    assert parse(str(show(float(value), unit, decimals=2)), unit) == float(value)


@given(st.decimals(min_value=0, max_value=9999, places=2), st.sampled_from(["kg", "mm", "m", "L"]))
def test_a_us_figure_typed_back_means_the_same_within_its_last_place(value, unit):
    typed = str(show(float(value), unit, "US", decimals=6))
    assert parse(typed, unit) == pytest.approx(float(value), abs=1e-4)


@given(st.integers(1, 999), st.integers(0, 999))
def test_a_comma_before_three_digits_is_never_guessed(whole, rest):
    with pytest.raises(QuantityRefused, match="could mean either"):
        parse(f"{whole},{rest:03d}", "kg")


@pytest.mark.parametrize("typed", ["18 kg", "64 °F", "18 seconds", "18 18", "1;8", "", "18 nosuch"])
def test_another_kind_of_unit_is_refused_for_a_thickness(typed):
    with pytest.raises(QuantityRefused):
        parse(typed, "mm")


def test_a_person_who_chose_us_units_reads_pounds_and_another_kilograms(db):
    """A board of the small ground holds 25 kg of dry wood: 55.1 lb."""
    things = Things()
    ours, theirs = Client(), Client()
    ours.force_login(things.ground.stores)
    theirs.force_login(things.ground.stores_two)
    theirs.post("/choose-units/", {"units": "US"})
    page = f"/store/lots/{things.lot.public_id}/"
    metric = f'<span class="n">{builders.DRY_MASS_KG:.1f}</span>{THIN}<span class="u">kg</span>'
    pounds = f'<span class="n">55.1</span>{THIN}<span class="u">lb</span>'
    assert metric in ours.get(page).text
    assert pounds not in ours.get(page).text
    assert pounds in theirs.get(page).text
    assert metric not in theirs.get(page).text
