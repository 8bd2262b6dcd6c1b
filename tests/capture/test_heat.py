"""The recorded heat of a unit: counted once when a logger's file is taken, summed from then on."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import numpy as np
import pytest

from facility.loggers.summing import MOST_TURNS, cycles_of
from facility.rulebook.selectors import editions_in_force
from records.ground.heat_selectors import heat_by_burn, heats_of
from records.ground.models import UnitHeat
from records.inspections.due import dues
from records.plans.content import content_of
from records.plans.facts import sheet_of
from tests import builders
from tests.builders import NOW

BLOCKS = {"severity": "block", "clause": "test standard", "basis": "local"}
# Up to 600, down to 100, up to 500, down to 20: by hand two swings up and two down. Rainflow takes
# 100-500-... whole: the inner swing 100-500 of 400 K is one cycle, the outer 20-600-20 is two
# halves; 15 K of flicker at the top is left out.
SWINGS = [20.0, 600.0, 585.0, 600.0, 100.0, 500.0, 20.0]


def file(values, begun=0):
    rows = "".join(f"{begun + second * 10},{value}\n" for second, value in enumerate(values))
    return ("Time,Ceiling\ns,C\n" + rows).encode()


@pytest.fixture
def burn(ground):
    builders.accepted_lot(ground)
    return builders.closed(ground)


def heat_of(unit):
    return heats_of(unit, [None])[0]


def test_swings_are_counted_by_rainflow_and_flicker_is_not():
    assert cycles_of(np.array(SWINGS)).value() == 2.0


def test_gaps_and_single_readings_count_nothing():
    assert cycles_of(np.array([np.nan])) is None
    assert cycles_of(np.array([20.0])).value() == 0.0
    assert cycles_of(np.array([20.0, np.nan, 620.0, np.nan, 20.0])).value() == 1.0


def test_a_long_series_keeps_its_large_swings():
    """A hundred slow swings of 600 K under 200,000 readings of noise: each is one cycle."""
    steps = np.linspace(0, 100 * 2 * np.pi, 40 * MOST_TURNS // 2)
    slow = 320 - 300 * np.cos(steps) + np.random.default_rng(5).normal(0, 5, steps.size)
    assert cycles_of(slow).value() == pytest.approx(100, abs=0.5)


def test_a_file_adds_its_hottest_reading_its_hours_and_its_cycles(ground, burn):
    assert heat_of(ground.unit).burns == 0
    builders.logged(ground, burn, data=file(SWINGS))
    heat = heat_of(ground.unit)
    assert (heat.burns, heat.hottest_c, heat.cycles) == (1, 600.0, 2.0)
    # by hand: above 400 from 20-600 (10 s * 200/580), the top 20 s, 600-100 (10 * 200/500), and
    # both flanks of 500 (10 * 100/400 and 10 * 100/480)
    assert heat.above_400_h * 3600 == pytest.approx(
        10 * 200 / 580 + 20 + 4 + 2.5 + 10 * 100 / 480, abs=0.2
    )


def test_a_second_file_of_the_same_time_adds_only_what_it_has_more(ground, burn):
    builders.logged(ground, burn, data=file(SWINGS))
    builders.logged(ground, burn, data=file([20.0, 300.0, 20.0, 300.0, 20.0, 300.0, 20.0]))
    heat = heat_of(ground.unit)
    assert (heat.burns, heat.hottest_c, heat.cycles) == (1, 600.0, 3.0)


def test_a_file_of_another_time_adds_its_own(ground, burn):
    builders.logged(ground, burn, data=file(SWINGS))
    builders.logged(ground, burn, data=file([20.0, 300.0, 20.0], begun=600))
    assert heat_of(ground.unit).cycles == 3.0
    told = heat_by_burn(ground.unit, NOW - dt.timedelta(days=3), NOW + dt.timedelta(days=3))
    assert told[burn.public_id].cycles == 3.0
    assert told[burn.public_id].hottest_c == 600.0


def test_a_file_without_temperatures_adds_nothing(ground, burn):
    builders.logged(ground, burn, data=b"Time,Flow\ns,L/min\n0,1\n10,2\n20,3\n")
    assert not UnitHeat.objects.exists()


def cycles_fact(ground, at):
    plan = builders.drafted(ground, builders.content(ground, 2, starts_at=at))
    sheet = sheet_of(
        content_of(plan.version), site=ground.site, at=at, figures=(), plan=plan, planned=True,
        noted={},
    )  # fmt: skip
    return sheet.cases[0].facts["unit.cycles_since_inspection"]


def test_cycles_are_known_only_when_every_burn_is_recorded(ground, burn):
    at = burn.ignited_at + dt.timedelta(hours=4)
    unknown = cycles_fact(ground, at)
    assert unknown.value is None
    assert "0 of 1 burns" in unknown.why
    builders.logged(ground, burn, data=file(SWINGS))
    assert cycles_fact(ground, at).value == 2.0


def test_an_inspection_is_overdue_by_cycles_even_when_some_burns_are_not_recorded(ground, burn):
    day = NOW.astimezone(ground.site.zone).date()
    row = {**BLOCKS, "code": "Z-1", "title": "z", "fact": "unit.cycles_since_inspection",
           "comparison": "<=", "limit": Decimal(1)}  # fmt: skip
    builders.adopt(ground, "T-2", [*builders.rows(), row], at=NOW, day=day)
    at = burn.ignited_at + dt.timedelta(hours=4)

    def due():
        found = dues(ground.site, [ground.unit], editions_in_force(ground.site, day), at)
        return next(each for each in found[ground.unit.pk] if each.kind == "structural")

    assert (due().overdue, due().cycles_known) == (False, False)
    builders.logged(ground, burn, data=file(SWINGS))
    assert (due().overdue, due().cycles_known, due().cycles) == (True, True, 2.0)


def test_the_page_says_for_how_many_burns(ground, burn, signed_in):
    page = f"/units/{ground.unit.public_id}/"
    reader = signed_in(ground.inspector)
    assert "not recorded" in reader.get(page).text
    builders.logged(ground, burn, data=file(SWINGS))
    text = reader.get(page).text
    assert "of 1 of 1 burns" in text
    assert "EN 1993-1-2" in text
