"""What every calculation of heat, layer and cooling must do with bad, odd and far-off inputs."""

import doctest
import math
import subprocess
import sys

import pytest

from facility.calc import cooling, heat, layer, two_zone
from facility.calc.unit import NothingOpen
from facility.calc.units import quantity
from facility.calc.working import (
    REGISTER,
    CalculationRefused,
    OutOfSense,
    UnitNeeded,
    UnknownInput,
    WrongDimension,
)

MODULES = {module.__name__: module for module in (heat, layer, cooling, two_zone)}
OURS = {
    name: each for name, each in REGISTER.items() if each.plain.__module__ in MODULES
}  # fmt: skip

UNIT = {"length": 5.9, "width": 2.35, "height": 2.39, "door_width": 1.1, "door_height": 2.2}
GOOD = {
    "ventilation_limit": {"width": 1.1, "height": 2.2},
    "flashover_heat_release": {"surface_area": 60.0, "width": 1.1, "height": 2.2},
    "growth": {"alpha": 0.0469, "time": 100.0},
    "heat_release_curve": {"dry_mass": 55.0, "exposed_area": 6.0, "heat_per_area": 200.0,
                           "alpha": 0.0469, "opening_width": 1.1, "opening_height": 2.2},
    "burning_duration": {"dry_mass": 55.0, "width": 1.1, "height": 2.2, "exposed_area": 6.0,
                         "heat_per_area": 200.0},
    "hot_layer_rise": {**UNIT, "heat_release": 800.0, "time": 300.0, "wall_thickness": 2.0},
    "neutral_plane": {"door_width": 1.1, "door_height": 2.2, "interface_height": 1.0,
                      "layer_temperature": 400.0},
    "overpressure": {"gas_temperature": 300.0, "leak_area": 0.02, "heat_to_gas": 200.0},
    "two_zone": {**UNIT, "time": [0.0, 60.0, 120.0], "heat_release": [0.0, 300.0, 300.0],
                 "wall_thickness": 2.0},
    "spray_cooling": {"water": 1.0, "gas_volume": 20.0, "gas_temperature": 500.0,
                      "share_in_gas": 40.0},
    "water_to_cool": {"gas_volume": 20.0, "from_temperature": 500.0, "to_temperature": 200.0},
    "spray_footprint": {"cone_angle": 40.0, "branch_angle": 60.0, "height": 1.5},
    "branch_flow": {"pressure": 7.0, "k_factor": 43.0},
}  # fmt: skip
QUANTITIES = [
    (name, each)
    for name, calculation in OURS.items()
    for each in calculation.inputs
    if not each.choices
]


def test_every_calculation_has_its_good_inputs_here():
    assert set(GOOD) == set(OURS)


def _quantities(name):
    """The good inputs with their units."""
    known = OURS[name].by_name
    return {key: quantity(value, known[key].unit) for key, value in GOOD[name].items()}


@pytest.mark.parametrize("name", sorted(GOOD))
def test_good_inputs_give_a_finite_result_in_range_that_can_be_written(name):
    working = OURS[name](**_quantities(name))
    assert working.in_range, working.notes
    written = working.as_dict()
    numbers = written["result"]["value"]
    assert all(math.isfinite(x) for x in (numbers if isinstance(numbers, list) else [numbers]))
    assert working.steps or written["source"]


@pytest.mark.parametrize("name", sorted(GOOD))
def test_typed_text_gives_the_same(name):
    known = OURS[name].by_name
    spelled = {"delta_degC": "delta_degC"}
    text = {
        key: " ".join(f"{item!r}" for item in (value if isinstance(value, list) else [value]))
        + f" {spelled.get(known[key].unit, known[key].unit)}"
        for key, value in GOOD[name].items()
    }
    typed, plain = OURS[name].from_text(text), OURS[name].of(**GOOD[name])
    assert typed.value() == pytest.approx(plain.value(), rel=1e-9)


@pytest.mark.parametrize(("name", "each"), QUANTITIES, ids=lambda x: getattr(x, "name", x))
def test_not_a_number_is_refused(name, each):
    bad = [math.nan, math.nan] if each.many else math.nan
    with pytest.raises(OutOfSense):
        OURS[name].of(**{**GOOD[name], each.name: bad})


@pytest.mark.parametrize(("name", "each"), QUANTITIES, ids=lambda x: getattr(x, "name", x))
def test_a_size_beyond_all_sense_is_refused(name, each):
    bad = [0.0, 1e12] if each.many else 1e12
    with pytest.raises(OutOfSense):
        OURS[name].of(**{**GOOD[name], each.name: bad})


@pytest.mark.parametrize(("name", "each"), QUANTITIES, ids=lambda x: getattr(x, "name", x))
def test_a_bare_number_and_a_wrong_dimension_are_refused(name, each):
    with pytest.raises(UnitNeeded):
        OURS[name](**{**_quantities(name), each.name: 1.0})
    with pytest.raises(WrongDimension):
        OURS[name](**{**_quantities(name), each.name: quantity(1.0, "candela")})


@pytest.mark.parametrize("name", sorted(GOOD))
def test_a_missing_input_is_refused(name):
    for key in GOOD[name]:
        if OURS[name].by_name[key].default is None:
            left = {k: v for k, v in GOOD[name].items() if k != key}
            with pytest.raises(UnknownInput):
                OURS[name].of(**left)


@pytest.mark.parametrize(
    ("name", "opening"),
    [("ventilation_limit", "width"), ("ventilation_limit", "height"),
     ("flashover_heat_release", "width"), ("heat_release_curve", "opening_width"),
     ("burning_duration", "height"), ("hot_layer_rise", "door_width"),
     ("neutral_plane", "door_height"), ("two_zone", "door_width")],
)  # fmt: skip
def test_no_opening_is_refused(name, opening):
    with pytest.raises(OutOfSense, match=opening):
        OURS[name].of(**{**GOOD[name], opening: 0.0})


@pytest.mark.parametrize(
    ("name", "odd", "words"),
    [
        ("flashover_heat_release", {"surface_area": 900.0}, "surface_area"),
        ("growth", {"alpha": 0.5}, "alpha"),
        ("heat_release_curve", {"heat_per_area": 900.0}, "heat_per_area"),
        ("burning_duration", {"energy_per_kg": 40.0}, "energy_per_kg"),
        ("hot_layer_rise", {"heat_release": 5000.0}, "600 K"),
        ("neutral_plane", {"interface_height": 2.3}, "above the opening"),
        ("neutral_plane", {"layer_temperature": 20.0}, "no warmer"),
        ("two_zone", {"length": 18.0}, "not level"),
        ("spray_cooling", {"water": 40.0}, "more water"),
        ("spray_cooling", {"gas_temperature": 900.0}, "gas_temperature"),
        ("water_to_cool", {"from_temperature": 1100.0}, "from_temperature"),
        ("spray_footprint", {"height": 12.0}, "height"),
        ("branch_flow", {"pressure": 50.0}, "pressure"),
    ],
)
def test_outside_the_source_it_computes_and_says_so(name, odd, words):
    working = OURS[name].of(**{**GOOD[name], **odd})
    assert not working.in_range
    assert any(words in note for note in working.notes)


def test_a_layer_hotter_than_any_test_is_marked():
    """6 MW in a small unit of insulating board."""
    working = OURS["two_zone"].of(
        **{**GOOD["two_zone"], "time": [0, 60, 900], "heat_release": [0, 6000, 6000],
           "wall": "lined", "wall_thickness": 25}
    )  # fmt: skip
    assert not working.in_range
    assert any("1200" in note for note in working.notes)


@pytest.mark.parametrize(
    "bad",
    [
        {"time": [0.0, 100.0, 50.0]},
        {"time": [0.0, 100.0]},
        {"time": [0.0], "heat_release": [100.0]},
        {"door_height": 3.0},
        {"door_sill": 0.5},
    ],
)
def test_a_curve_or_a_door_that_cannot_be_is_refused(bad):
    with pytest.raises(OutOfSense):
        OURS["two_zone"].of(**{**GOOD["two_zone"], **bad})


def test_a_unit_shut_tight_is_refused():
    with pytest.raises(NothingOpen):
        OURS["two_zone"].of(**{**GOOD["two_zone"], "door_opens": 60.0})
    working = OURS["two_zone"].of(**{**GOOD["two_zone"], "door_opens": 60.0, "leak_area": 0.02})
    assert working.in_range


@pytest.mark.parametrize("name", sorted(OURS))
def test_the_example_in_the_docstring_is_true(name):
    plain = OURS[name].plain
    found = doctest.DocTestParser().get_doctest(
        plain.__doc__ or "", dict(vars(MODULES[plain.__module__])), name, None, 0
    )
    assert found.examples, "a formula shows how it is called"
    report: list[str] = []
    result = doctest.DocTestRunner(verbose=False).run(found, out=report.append)
    assert result.failed == 0, "".join(report)


def test_registering_loads_no_framework_and_no_solver():
    """pint looks at the top of scipy by itself; its parts must stay unloaded."""
    heavy = ("django", "scipy.integrate", "scipy.optimize", "scipy.stats", "matplotlib")
    code = f"import sys, facility.calc.two_zone; print([n for n in {heavy} if n in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], check=True, capture_output=True, text=True)
    assert done.stdout.strip() == "[]"


def test_every_refusal_is_one_kind():
    for each in (layer.WallTooConductive, NothingOpen):
        assert issubclass(each, CalculationRefused)
