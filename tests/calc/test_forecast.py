"""Reorder point against published examples, the season's pattern, and the stock ahead."""

from __future__ import annotations

import datetime as dt
import math
import random

import numpy as np
import pytest

from facility.calc.forecast import (
    LEAST_WEEKS,
    SHRINK,
    Season,
    Supply,
    demand_ahead,
    lead_window,
    order_quantity,
    reorder_point,
    season_of,
    stock_ahead,
    week_of,
)
from facility.calc.working import OutOfSense

MONDAY = dt.date(2026, 3, 2)
WEEK = dt.timedelta(days=7)


# -- reorder point, published -------------------------------------------------------------


def test_stevenson_example_8():
    """Operations Management, 14th ed., ch. 12, Example 8: lead-time demand of 50 t with a standard
    deviation of 5 t, a risk of 3 %, z 1.88: safety stock 9.40, reorder point 59.40."""
    point = reorder_point.of(demand=50, demand_spread=5, lead_time=1, service_level=97)
    assert point.value("safety_stock") == pytest.approx(9.40, abs=0.01)
    assert point.value() == pytest.approx(59.40, abs=0.01)


def test_risk_of_one_in_a_hundred():
    """Lead-time demand 300, standard deviation 30, risk 1 %: printed 370, with z 2.33 (course
    notes, scribd 614283684)."""
    point = reorder_point.of(demand=300, demand_spread=30, lead_time=1, service_level=99)
    assert point.value() == pytest.approx(370, abs=0.5)


def test_risk_of_two_in_a_hundred():
    """The same at 2 %: safety stock 62, with z 2.06; the exact z is 2.05."""
    point = reorder_point.of(demand=300, demand_spread=30, lead_time=1, service_level=98)
    assert point.value("safety_stock") == pytest.approx(62, abs=0.5)


def test_demand_that_varies_by_the_day():
    """30 a day, spread 5, ten days, z 1.65 (inputs of flylib.com/books/en/3.287.1.225/1); printed
    326.1, from memory. The exact z for 95 % is 1.645."""
    point = reorder_point.of(demand=30, demand_spread=5, lead_time=10, service_level=95)
    assert point.value() == pytest.approx(326.1, abs=0.15)


def test_lead_time_that_varies():
    """Constant demand of 12,500 a day, lead time 4 days, spread 1 day, z 1.88 (inputs of
    brainmass.com 210800): 12,500 x 4 + 1.88 x 12,500 = 73,500."""
    point = reorder_point.of(
        demand=12500, demand_spread=0, lead_time=4, lead_time_spread=1, service_level=97
    )
    assert point.value() == pytest.approx(73_500, abs=15)


def test_half_the_orders_in_time_need_no_safety_stock():
    point = reorder_point.of(demand=3, demand_spread=2, lead_time=9, service_level=50)
    assert point.value("safety_stock") == pytest.approx(0, abs=1e-12)
    assert point.value() == pytest.approx(27)


WRONG = {
    "service level under a half": {"service_level": 49.9},
    "service level of certainty": {"service_level": 100},
    "negative lead time": {"lead_time": -1},
    "negative demand": {"demand": -1},
    "negative spread": {"demand_spread": -0.1},
    "no number": {"lead_time_spread": math.nan},
}


@pytest.mark.parametrize("wrong", WRONG.values(), ids=WRONG)
def test_what_cannot_be_is_refused(wrong):
    right = {"demand": 3, "demand_spread": 1, "lead_time": 10, "service_level": 95}
    with pytest.raises(OutOfSense):
        reorder_point.of(**{**right, **wrong})


# -- how much -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("ahead", "safety", "on_hand", "multiple", "order"),
    [
        (95, 12.5, 31, 20, 80),  # 76.5 short: four packs
        (100, 0, 60, 20, 40),  # exactly two packs
        (10, 0, 60, 20, 20),  # never less than one
        (10.5, 0, 0, 1, 11),
    ],
)
def test_orders_are_whole_packs(ahead, safety, on_hand, multiple, order):
    """By hand: short = ahead + safety - on hand, rounded up."""
    found = order_quantity.of(
        demand_ahead=ahead, safety_stock=safety, on_hand=on_hand, multiple=multiple
    )
    assert found.value() == order


# -- the season ---------------------------------------------------------------------------


def years(count: int, weekly) -> dict[dt.date, float]:
    """A record of whole years of weeks; ``weekly`` gives the use of a week of the year."""
    first = dt.date(2023, 1, 2)
    mondays = [first + n * WEEK for n in range(52 * count)]
    return {day: weekly(week_of(day)) for day in mondays}


UNTIL = dt.date(2025, 12, 31)


def test_too_little_history_tells_no_season():
    few = {MONDAY + n * WEEK: 5.0 for n in range(LEAST_WEEKS - 1)}
    assert season_of(few, MONDAY + (LEAST_WEEKS - 1) * WEEK) is None
    assert season_of({}, MONDAY) is None
    assert season_of(few | {MONDAY + (LEAST_WEEKS - 1) * WEEK: 5.0}, MONDAY + LEAST_WEEKS * WEEK)


def test_the_week_that_is_not_over_tells_nothing():
    record = {MONDAY + n * WEEK: 5.0 for n in range(10)}
    running = MONDAY + 10 * WEEK
    assert season_of(record | {running: 99.0}, running + dt.timedelta(days=3)) == season_of(
        record, running
    )


def test_even_use_is_expected_evenly_and_strays_not_at_all():
    season = season_of(years(3, lambda _week: 12.0), UNTIL)
    assert season.weekly == pytest.approx([12.0] * 52)
    assert season.dispersion == pytest.approx(0)


def test_a_season_is_found_and_shrunk_toward_the_mean():
    """Half of the weeks 10, half 0, three years: nine samples of 10 about week 30, one of the
    mean, 5: (90 + 5) / 10 = 9.5; in winter (0 + 5) / 10 = 0.5."""
    season = season_of(years(3, lambda week: 10.0 * (13 <= week < 39)), dt.date(2025, 12, 29))
    assert SHRINK == 1
    assert season.weekly[29] == pytest.approx(9.5, abs=0.06)
    assert season.weekly[2] == pytest.approx(0.5, abs=0.06)


def test_one_year_leans_more_on_the_mean_than_three():
    def summer(week: int) -> float:
        return 10.0 * (13 <= week < 39)

    one = season_of(years(1, summer), dt.date(2024, 1, 1))
    three = season_of(years(3, summer), dt.date(2025, 12, 29))
    assert one.weekly[29] < three.weekly[29]


def test_weeks_without_an_issue_count_as_nothing():
    """Ten weeks on record, of which five took 4: the mean is 2, whatever the season."""
    record = {MONDAY + 2 * n * WEEK: 4.0 for n in range(5)}
    season = season_of(record, MONDAY + 10 * WEEK)
    assert season.weeks_seen == 10
    assert season.weekly[week_of(MONDAY + 30 * WEEK)] == pytest.approx(2.0)


def test_dispersion_of_counts_is_near_one():
    """Poisson counts have their mean as variance; seeded, a hundred and fifty weeks."""
    chance = np.random.default_rng(3)
    season = season_of(years(3, lambda _week: float(chance.poisson(9))), UNTIL)
    assert season.dispersion == pytest.approx(1, abs=0.35)


# -- the days ahead -----------------------------------------------------------------------

FLAT = Season((7.0,) * 52, 2.0, 52)


def test_without_season_only_plans_count():
    demand = demand_ahead({MONDAY + WEEK: 6.0}, None, MONDAY, 20)
    assert demand.total[7] == 0
    assert demand.total[8] == 6
    assert demand.total[-1] == 6
    assert not demand.variance.any()


def test_a_week_takes_the_larger_of_plans_and_season():
    tuesday = MONDAY + dt.timedelta(days=1)
    demand = demand_ahead({tuesday: 3.0, tuesday + WEEK: 11.0}, FLAT, MONDAY, 21)
    assert [demand.between(n, n + 7)[0] for n in (0, 7, 14)] == pytest.approx([7, 11, 7])


def test_only_what_the_season_adds_strays():
    tuesday = MONDAY + dt.timedelta(days=1)
    demand = demand_ahead({tuesday: 3.0, tuesday + WEEK: 11.0}, FLAT, MONDAY, 14)
    assert demand.between(0, 7)[1] == pytest.approx(2.0 * 4)
    assert demand.between(7, 14)[1] == 0


def test_a_week_under_way_takes_the_share_of_its_days_left():
    friday = MONDAY + dt.timedelta(days=4)
    assert demand_ahead({}, FLAT, friday, 3).total[-1] == pytest.approx(3.0)


SUPPLY = Supply(lead_time=10, lead_time_spread=0, service_level=95, multiple=20, lasts=28)


def test_stock_runs_out_where_the_sum_of_demand_reaches_it():
    """One a day from 30: the thirtieth morning finds the store empty, and ten days before that
    an order must be on its way, when demand is certain."""
    certain = Season((7.0,) * 52, 0.0, 52)
    ahead = stock_ahead(30, demand_ahead({}, certain, MONDAY, 80), SUPPLY, 60)
    assert ahead.dry_on == ahead.dry_earliest == ahead.dry_latest == 30
    assert ahead.order_on == 20
    assert ahead.middle[29] == pytest.approx(1)
    assert ahead.middle[-1] == 0


def test_uncertain_demand_orders_earlier_and_widens_the_band():
    demand = demand_ahead({}, FLAT, MONDAY, 80)
    ahead = stock_ahead(30, demand, SUPPLY, 60)
    assert ahead.order_on < 20
    assert ahead.dry_earliest < ahead.dry_on == 30 < ahead.dry_latest
    safety = reorder_point.of(demand=1, demand_spread=math.sqrt(2), lead_time=10, service_level=95)
    assert ahead.level[5] == pytest.approx(safety.value())


def test_the_level_of_each_day_is_the_reorder_point_of_its_lead_time():
    """The series and the calculation are two spellings of one formula."""
    season = season_of(years(2, lambda week: float(week % 9)), dt.date(2025, 1, 1))
    supply = Supply(lead_time=12.5, lead_time_spread=4, service_level=97, multiple=1, lasts=9)
    demand = demand_ahead({MONDAY + 2 * WEEK: 30.0}, season, MONDAY, 120)
    ahead = stock_ahead(500, demand, supply, 80)
    for day in (0, 5, 33, 80):
        point = reorder_point.of(**lead_window(demand, supply, day))
        assert ahead.level[day] == pytest.approx(point.value())


def test_the_band_holds_four_of_five_runs():
    """Simulated: demand drawn as the season says; the band of the thirtieth day holds 80 %."""
    demand = demand_ahead({}, FLAT, MONDAY, 80)
    ahead = stock_ahead(200, demand, None, 60)
    chance = random.Random(8)
    mean, variance = demand.between(0, 28)
    ends = [200 - chance.gauss(mean, math.sqrt(variance)) for _run in range(4000)]
    inside = sum(ahead.low[28] <= end <= ahead.high[28] for end in ends) / len(ends)
    assert inside == pytest.approx(0.8, abs=0.03)


@pytest.mark.parametrize("on_hand", [0, 5])
def test_without_demand_nothing_runs_out(on_hand):
    ahead = stock_ahead(on_hand, demand_ahead({}, None, MONDAY, 80), SUPPLY, 60)
    assert ahead.dry_on is None
    assert ahead.order_on is None


def test_an_empty_store_is_dry_today_and_orders_today():
    ahead = stock_ahead(0, demand_ahead({}, FLAT, MONDAY, 80), SUPPLY, 60)
    assert ahead.dry_on == ahead.order_on == 0
