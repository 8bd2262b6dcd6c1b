"""Factors of a unit: recovered from burns made by the forward model, as surely as they say."""

import math

import numpy as np
import pytest

from facility.calc.fitting import (
    AS_CALCULATED,
    NAMES,
    PRIOR_SD,
    SHARED_SD,
    STRAY_SD,
    Z_80,
    Charge,
    Factors,
    Room,
    Seen,
    Traits,
    fit,
    forward_in,
    heat_band,
    traits_of,
)

ROOM = Room(5.9, 2.35, 2.39, 0.9, 2.0, False)
MODEL = forward_in(ROOM)


def like_the_model(charge: Charge, factors: Factors) -> Traits:
    """A quick stand-in with slopes near the model's: rise by MQH's powers (2/3 of the heat, 1/3 of
    the walls), time hot by energy over heat, growth by the square root of t-squared growth."""
    heat = charge.area * 230 * factors.heat
    return Traits(
        5.5 * heat ** (2 / 3) * factors.loss ** (-1 / 3),
        3.2 * math.sqrt(heat / factors.growth),
        14_200 * charge.dry_mass / heat * factors.growth**-0.05,
    )


def burns(chance, forward, factors, count, spread=0.2, stray=STRAY_SD):
    """Burns with charges of their own, each straying from the model as burns do, and all of them
    off by what the model has wrong in all alike."""
    found, shared = [], np.exp(chance.normal(0, SHARED_SD))
    for _burn in range(count):
        off = np.exp(chance.normal(0, spread, 2))
        charge = Charge(60 * off[0], 9 * off[1])
        traits = np.array(forward(charge, factors)) * shared * np.exp(chance.normal(0, stray))
        found.append(Seen(charge, Traits(*traits)))
    return found


def drawn(chance):
    return Factors(*np.exp(chance.normal(0, PRIOR_SD)).tolist())


def off_by(found, true):
    """How many of its own standard deviations each factor is off."""
    return (np.log(found.factors) - np.log(true)) / found.sd


@pytest.mark.parametrize("count", [3, 12])
def test_what_is_called_80_percent_holds_about_80_percent(count):
    """Over 300 units with factors from the prior: 80 % is 720 of 900 ranges, standard deviation 12
    if all were independent; the three of one unit are not."""
    chance = np.random.default_rng(8)
    held = 0
    for _unit in range(300):
        true = drawn(chance)
        found = fit(burns(chance, like_the_model, true, count), like_the_model)
        held += int((np.abs(off_by(found, true)) < Z_80).sum())
    assert 0.75 < held / 900 < 0.87


def test_the_forward_model_is_recovered_within_what_is_stated():
    """Sixteen units whose burns are made by the two-zone forecast itself. 48 figures in standard
    deviations: none may be beyond 4, and their mean square is near 1."""
    chance = np.random.default_rng(3)
    away = []
    for _unit in range(16):
        true = drawn(chance)
        away.append(off_by(fit(burns(chance, MODEL, true, 6, spread=0.03), MODEL), true))
    square = float(np.square(away).mean())
    print(
        f"\n16 units, 6 burns each: mean square {square:.2f}, largest {np.abs(away).max():.1f} sd"
    )
    assert np.abs(away).max() < 4.0
    assert 0.5 < square < 1.8


def test_more_burns_make_it_surer():
    chance = np.random.default_rng(4)
    true = Factors(1.2, 0.9, 0.6)
    few = fit(burns(chance, like_the_model, true, 3), like_the_model)
    many = fit(burns(chance, like_the_model, true, 60), like_the_model)
    assert all(after < 0.9 * before for before, after in zip(few.sd, many.sd, strict=True))
    alike = fit(burns(chance, like_the_model, true, 2000), like_the_model)
    assert alike.sd[0] > 0.04  # the time hot goes with the heat, and is sure to 5 % at best
    assert few.weak
    assert not many.weak


def test_without_burns_it_is_the_prior():
    found = fit([], like_the_model)
    assert found.factors == AS_CALCULATED
    assert found.sd == pytest.approx(PRIOR_SD)
    assert found.weak


def test_burns_that_scatter_more_leave_a_wider_range():
    true, wild = AS_CALCULATED, tuple(3 * each for each in STRAY_SD)
    calm_fit = fit(burns(np.random.default_rng(5), like_the_model, true, 20), like_the_model)
    wild_fit = fit(
        burns(np.random.default_rng(5), like_the_model, true, 20, stray=wild), like_the_model
    )
    assert all(a > 1.1 * b for a, b in zip(wild_fit.sd, calm_fit.sd, strict=True))
    assert heat_band(wild_fit)[1] > heat_band(calm_fit)[1]


def test_runs_of_the_model_hang_on_kinds_of_charge_not_on_burns():
    chance = np.random.default_rng(6)
    found = fit(burns(chance, like_the_model, AS_CALCULATED, 200), like_the_model)
    assert found.runs <= 200
    assert found.burns == 200


def test_where_the_opening_limits_the_fire_the_heat_stays_as_supposed():
    """More heat of the boards changes nothing inside then, so burns cannot tell the factor."""
    limited = Charge(90.0, 30.0)
    found = fit([Seen(limited, MODEL(limited, AS_CALCULATED))] * 10, MODEL)
    assert found.sd[NAMES.index("heat")] > 0.9 * PRIOR_SD[0]
    assert found.sd[NAMES.index("growth")] < 0.5 * PRIOR_SD[2]


def test_traits_of_a_triangle_by_hand():
    """Up to 500 K in 500 s and down in 500 s: from 100 to 400 takes 300 s, 500 s above 250; the
    smoothing over 30 s takes 7.5 K off the peak."""
    seconds = np.arange(0.0, 1001.0, 5.0)
    found = traits_of(seconds, 500.0 - np.abs(seconds - 500.0))
    assert found is not None
    assert found.rise == pytest.approx(492.5, abs=1)
    assert found.growing == pytest.approx(0.6 * found.rise, abs=4)
    assert found.hot == pytest.approx(1000 - found.rise, abs=6)


@pytest.mark.parametrize(
    "rise", [np.zeros(100), np.full(100, 300.0), np.full(100, np.nan), np.linspace(0, 30, 100)]
)
def test_what_shows_no_fire_has_no_traits(rise):
    assert traits_of(np.arange(0.0, 1000.0, 10.0), rise) is None


def test_a_later_ignition_changes_no_trait():
    seconds = np.arange(0.0, 1001.0, 5.0)
    rise = 500.0 - np.abs(seconds - 500.0)
    late = np.concatenate([np.zeros(60), rise])
    assert traits_of(np.arange(len(late)) * 5.0, late) == pytest.approx(
        traits_of(seconds, rise), rel=0.02
    )


def test_more_wall_makes_a_colder_layer_and_less_growth_a_slower_one():
    charge = Charge(60.0, 9.0)
    usual = MODEL(charge, AS_CALCULATED)
    assert MODEL(charge, Factors(loss=1.4)).rise < 0.97 * usual.rise
    assert MODEL(charge, Factors(growth=0.5)).growing > 1.2 * usual.growing
    assert MODEL(charge, Factors(heat=1.3)).hot < 0.9 * usual.hot
