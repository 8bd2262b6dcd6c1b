"""The working itself: what it refuses, and how words and unknown numbers leave it."""

import json

import pytest

from facility.calc.boards import moisture_content
from facility.calc.units import quantity, show
from facility.calc.working import (
    Calculation,
    Input,
    Outcome,
    OutOfSense,
    Source,
    UnitNeeded,
    UnknownInput,
    WrongDimension,
    check_increasing,
    check_parallel,
    check_whole,
)


def made_up(plain, *inputs):
    """A calculation outside the register."""
    return Calculation("made_up", "", "", "", inputs, {"total": ""}, Source("none"), (), plain)


def total_of(parts):
    return Outcome({"total": sum(parts)}, words={"size": "large" if sum(parts) > 5 else "small"})


SERIES = made_up(total_of, Input("parts", "kg", "some masses", low=0, many=True))


def test_a_result_in_words_leaves_beside_the_numbers():
    working = SERIES(parts=quantity([2.0, 4.0], "kg"))
    assert working.words == {"size": "large"}
    assert working.as_dict()["words"] == {"size": "large"}


@pytest.mark.parametrize(
    "typed",
    [
        "1 2.5 3 kg",
        "1 kg; 2.5 kg; 3 kg",
        "1kg 2,5kg 3kg",
        "1, 2.5, 3 kg",
        "1\n2.5\n3 kg",
        "1000 g 2.5 kg 3 kg",
        "1\u202f000 g 2\u00a0500 g 3\u202fkg",
        "1e0 2.5e0 3 kg",
    ],
)
def test_a_series_is_read_however_its_units_are_written(typed):
    assert SERIES.from_text({"parts": typed}).inputs["parts"].magnitude.tolist() == [1, 2.5, 3]


def test_a_series_takes_a_true_minus_sign():
    signed = made_up(total_of, Input("parts", "kg", "some masses", many=True))
    assert signed.from_text({"parts": "\u22121 2 kg"}).value() == 1


@pytest.mark.parametrize(
    ("typed", "refusal"),
    [
        ("1 2 3", UnitNeeded),
        ("1 kg 2", UnitNeeded),
        ("kg", WrongDimension),
        ("1 m", WrongDimension),
    ],
)
def test_a_series_without_its_unit_is_refused(typed, refusal):
    with pytest.raises(refusal):
        SERIES.from_text({"parts": typed})


def test_one_quantity_is_a_series_of_one():
    assert SERIES(parts=quantity(2.0, "kg")).value() == 2.0


@pytest.mark.parametrize(
    "given", [{"parts": quantity([], "kg")}, {"parts": quantity([1, -1], "kg")}]
)
def test_an_empty_series_and_a_senseless_member_are_refused(given):
    with pytest.raises(OutOfSense, match="parts"):
        SERIES(**given)


def test_a_series_where_one_value_belongs_is_refused():
    with pytest.raises(OutOfSense, match="2 values was given; one value is allowed"):
        moisture_content(wet_mass=quantity([1.2, 1.3], "kg"), dry_mass=quantity(1, "kg"))


@pytest.mark.parametrize("bare", ["12", "1e1", "1 200", "\u221212", "1.5e1", "0,5"])
def test_a_typed_number_without_a_unit_is_refused(bare):
    with pytest.raises(UnitNeeded, match="a unit is needed, such as kg"):
        moisture_content.from_text({"wet_mass": "1.2 kg", "dry_mass": bare})


@pytest.mark.parametrize(
    ("given", "refusal"),
    [
        ({"wet_mass": 1.2}, UnitNeeded),
        ({"wet_mass": quantity(1.2, "m")}, WrongDimension),
        ({"wet_mass": quantity(float("nan"), "kg")}, OutOfSense),
        ({"wet_mass": quantity(-1, "kg")}, OutOfSense),
        ({"mass": quantity(1, "kg")}, UnknownInput),
    ],
)
def test_refusals_have_names(given, refusal):
    with pytest.raises(refusal):
        moisture_content(**{"wet_mass": quantity(1, "kg"), "dry_mass": quantity(1, "kg"), **given})


def test_a_number_that_is_not_known_prints_so_and_becomes_null():
    unknown = made_up(lambda parts: Outcome({"total": float("nan")}), *SERIES.inputs)
    printed = unknown.of(parts=[1.0]).as_dict()
    assert json.loads(json.dumps(printed, allow_nan=False))["result"]["value"] is None
    assert str(show(float("nan"), "kg")) == "not known"


def test_parallel_series_counts_and_times_are_checked():
    check_parallel(times=[1, 2], values=[3, 4])
    check_increasing("times", [1, 2])
    assert check_whole("cylinders", 2.0) == 2
    with pytest.raises(OutOfSense, match="values: 1 values was given; as many as in times"):
        check_parallel(times=[1, 2], values=[3])
    with pytest.raises(OutOfSense, match="times: 1 after 2 was given"):
        check_increasing("times", [1, 2, 1])
    with pytest.raises(OutOfSense, match=r"cylinders: 1\.5 was given"):
        check_whole("cylinders", 1.5)
