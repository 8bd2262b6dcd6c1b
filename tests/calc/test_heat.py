"""Heat release, growth and flashover against published values; the source stands at each."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.heat import (
    burning_duration,
    flashover_heat_release,
    growth,
    heat_release_curve,
    ventilation_limit,
)
from facility.calc.working import OutOfSense
from tests.calc.measured import columns, folder

CHARGE = {
    "dry_mass": 55.0, "exposed_area": 6.0, "heat_per_area": 200.0, "alpha": 0.0469,
    "opening_width": 1.1, "opening_height": 2.2,
}  # fmt: skip


@pytest.mark.parametrize(("width", "height", "heat"), [(1 / 3, 9.0, 13_500.0), (0.8, 2.0, 3394.0)])
def test_ventilation_limit(width, height, heat):
    """PD 7974-1 equation 33: the first as tested in an open fire-engineering library (read), the
    second by hand."""
    assert ventilation_limit.of(width=width, height=height).value() == pytest.approx(heat, abs=0.5)


def test_burning_rate_of_a_door():
    """0.09 A sqrt(H): Fire Technology 2022, doi 10.1007/s10694-022-01218-1, equation 1 (read);
    0.8 x 2.0 m by hand."""
    working = ventilation_limit.of(width=0.8, height=2.0)
    assert working.value("burning_rate") == pytest.approx(0.2036, abs=5e-5)


@pytest.mark.parametrize(
    ("method", "area", "width", "height", "transfer", "heat"),
    [
        ("thomas", 1.0, 2 / 9, 9.0, 0.0, 2275.8),
        ("mqh", 10.0, 0.5, 1.0, 0.01, 136.400147),
    ],
)
def test_flashover_as_tested_elsewhere(method, area, width, height, transfer, heat):
    """PD 7974-1 equations 28 and 29: unit tests of an open fire-engineering library (read)."""
    working = flashover_heat_release.of(
        method=method, surface_area=area, width=width, height=height, wall_transfer=transfer
    )
    assert working.value() == pytest.approx(heat, rel=1e-6)


@pytest.mark.parametrize(("method", "heat"), [("mqh", 642), ("babrauskas", 1696), ("thomas", 1140)])
def test_flashover_of_the_gypsum_room(method, heat):
    """Room 8 x 10 x 7 ft, door 3 x 6 ft, 12.7 mm gypsum of NUREG-1805 chapter 13; equations read,
    the numbers are hand arithmetic: no published value found."""
    working = flashover_heat_release.of(
        method=method, surface_area=36.604, width=0.9144, height=1.8288, wall_transfer=0.013386
    )
    assert working.value() == pytest.approx(heat, abs=0.6)


def test_growth_as_printed():
    """PD 7974-1 equation 22 as tested in fsepy/fsetools (read): 1053 kW after 300 s."""
    assert growth.of(alpha=0.0117, time=300).value() == pytest.approx(1053, abs=0.5)


@pytest.mark.parametrize(
    ("alpha", "seconds"), [(0.002931, 600), (0.011722, 300), (0.046889, 150), (0.187556, 75)]
)
def test_growth_classes_reach_their_reference_in_time(alpha, seconds):
    """NFPA classes, 1055/tg^2 (read in a fire-modelling repository)."""
    working = growth.of(alpha=alpha, time=1)
    assert working.value("time_to_reference") == pytest.approx(seconds, rel=2e-4)


@pytest.mark.parametrize(("mass", "energy"), [(15.0, 213.0), (114.0, 1619.0)])
def test_curve_holds_the_energy_of_training_packages(mass, energy):
    """Fire Technology 57 (2021) no. 4, abstract: 14.2 MJ per kg burned, 210 to 1615 MJ in
    packages; 15 to 114 kg follow from it."""
    working = heat_release_curve.of(**{**CHARGE, "dry_mass": mass})
    assert working.value("energy") == pytest.approx(energy, abs=1)
    released = np.trapezoid(working.value("heat_release"), working.value("time")) / 1000
    assert released == pytest.approx(energy, rel=0.01)


def test_band_is_as_wide_as_laboratories_differ():
    """High over low 1.8 where the surface limits: the spread between laboratories (read)."""
    working = heat_release_curve.of(**CHARGE)
    ratio = working.value("peak_high") / working.value("peak_low")
    assert ratio == pytest.approx(1.8, rel=1e-9)


def test_band_covers_laboratories_that_burned_one_wood():
    """Pine of the MaCFP group at 50 kW/m2, two laboratories (matl-db, MIT): each mean over the
    first minutes lies within the band about their middle."""
    path = folder("cone_wood_mass_hrr")
    files = ("FPL_Wood_Cone_50kW_hor_R1", "FSRI_Wood_Cone_50kW_hor_Parallel_R1")
    means = []
    for name in files:
        header, values = columns(path / f"{name}.csv")
        heat = values[:, next(i for i, text in enumerate(header) if "HRR" in text)]
        time = values[:, 0]
        lit = time[heat > 50.0][0]
        means.append(float(np.nanmean(heat[(time >= lit) & (time <= lit + 180.0)])))
    middle = math.sqrt(means[0] * means[1])
    spread = math.sqrt(1.8)
    assert all(middle / spread <= mean <= middle * spread for mean in means)


def test_burning_duration_where_a_small_vent_limits():
    """Crib fire 6 of British Steel and FRS, 1993: 20 kg/m2 on 22.9 x 5.6 m, vent 5.6 x 0.35 m.
    Kawagoe's time lies within 10 % of the time over half the peak rise; the record ends first,
    so the measured time is a lower bound."""
    _, values = columns(folder("wood_crib_compartment") / "BST_FRS_6.csv")
    measured = _over_half_peak(values)
    working = burning_duration.of(
        dry_mass=20 * 22.9 * 5.6, width=5.6, height=0.35, exposed_area=2000, heat_per_area=200
    )
    assert working.value("by_opening") == pytest.approx(measured, rel=0.10)


def test_kawagoe_alone_is_far_too_short_with_a_full_opening():
    """Crib fire 1: 40 kg/m2, the whole end open. Known not to reproduce: three times too short;
    which is why the surface is reckoned as well."""
    _, values = columns(folder("wood_crib_compartment") / "BST_FRS_1.csv")
    working = burning_duration.of(
        dry_mass=40 * 22.9 * 5.6, width=5.6, height=2.8, exposed_area=300, heat_per_area=100
    )
    assert _over_half_peak(values) / working.value("by_opening") > 2.5
    assert working.value() == working.value("by_surface")


def _over_half_peak(values):
    """Minutes over half of the peak rise, mean of the three stations."""
    mean = np.nanmean(values[:, 1:4], axis=1)
    over = values[mean > 0.5 * (mean.max() + mean[0]), 0]
    return (over[-1] - over[0]) / 60


def test_mqh_flashover_needs_the_wall():
    with pytest.raises(OutOfSense, match="wall_transfer"):
        flashover_heat_release.of(method="mqh", surface_area=36, width=0.9, height=1.8)


masses = st.floats(1, 500)
areas = st.floats(0.5, 60)


@given(mass=masses, area=areas, per_area=st.floats(60, 450), alpha=st.floats(0.002, 0.19))
def test_every_curve_of_the_band_releases_the_same_energy(mass, area, per_area, alpha):
    working = heat_release_curve.of(
        **{**CHARGE, "dry_mass": mass, "exposed_area": area, "heat_per_area": per_area,
           "alpha": alpha}
    )  # fmt: skip
    time = working.value("time")
    for name in ("heat_release", "heat_release_low", "heat_release_high"):
        released = np.trapezoid(working.value(name), time) / 1000
        assert released == pytest.approx(working.value("energy"), rel=0.02)


@given(area=areas, more=st.floats(1, 5))
def test_more_surface_never_lowers_the_peak_and_the_opening_caps_it(area, more):
    one = heat_release_curve.of(**{**CHARGE, "exposed_area": area})
    two = heat_release_curve.of(**{**CHARGE, "exposed_area": area * more})
    assert two.value("peak") >= one.value("peak") * (1 - 1e-12)
    assert two.value("peak_high") <= ventilation_limit.of(width=1.1, height=2.2).value() + 1e-6


@given(width=st.floats(0.1, 5), height=st.floats(0.1, 3), factor=st.floats(1.01, 3))
def test_a_larger_opening_feeds_a_larger_fire(width, height, factor):
    small = ventilation_limit.of(width=width, height=height).value()
    assert ventilation_limit.of(width=width * factor, height=height).value() > small
    assert ventilation_limit.of(width=width, height=height * factor).value() > small * factor


@given(mass=masses, width=st.floats(0.2, 4))
def test_duration_is_the_slower_of_both_and_grows_with_the_charge(mass, width):
    known = {"width": width, "height": 2.0, "exposed_area": 8.0, "heat_per_area": 180.0}
    one = burning_duration.of(dry_mass=mass, **known)
    assert one.value() == max(one.value("by_opening"), one.value("by_surface"))
    assert burning_duration.of(dry_mass=mass * 1.5, **known).value() > one.value()
