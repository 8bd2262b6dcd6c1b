"""Use from before the first record here: counted once, for the whole life of the unit."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import WrongValue
from records.ground.models import UnitUse
from records.ground.selectors import earlier_use, use_of, uses_of
from records.ground.taking_over import take_over_use
from records.reports.history import rows_between
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "ground.use_taken_over"
DAY = dt.timedelta(days=1)
YEAR = {"first": dt.date(2024, 1, 1), "last": dt.date(2024, 12, 31)}


@pytest.fixture
def unit(ground):
    return builders.commission(ground, "Unit 9", days_old=1500)


def take(ground, unit, **changes):
    given = {**YEAR, "burns": 64, "dry_mass_kg": Decimal(5120), "energy_mj": Decimal(89600),
             "document": "paper log 3", "by": ground.inspector, "at": NOW}  # fmt: skip
    return take_over_use(unit, **{**given, **changes})


def test_it_counts_and_stands_at_the_end_of_its_last_day(ground, unit):
    with writes(ACT, UnitUse):
        row = take(ground, unit)
    zone = ground.site.zone
    assert row.ignited_at.astimezone(zone).replace(tzinfo=None) == dt.datetime.combine(
        YEAR["last"], dt.time(23, 59, 59)
    )
    assert use_of(unit).burns == 64
    assert [each.burns for each in earlier_use(unit)] == [64]


def test_it_is_no_single_burn(ground, unit):
    """It takes no place in the sequence of a day and no cool-down follows it."""
    take(ground, unit)
    assert uses_of(unit, NOW - 1000 * DAY, NOW) == []


def test_the_history_tells_it(ground, unit):
    take(ground, unit)
    (row,) = [
        each for each in rows_between(unit, YEAR["first"], YEAR["last"]) if each.kind == "earlier"
    ]
    assert "64 burns" in row.what
    assert "paper log 3" in row.what
    assert row.by == ground.inspector.name


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"last": dt.date(2023, 12, 31)}, "last"),
        ({"last": NOW.date() + DAY}, "last"),
        ({"first": dt.date(2019, 1, 1)}, "first"),
        ({"burns": 0}, "burns"),
        ({"burns": 5001}, "burns"),
        ({"dry_mass_kg": Decimal(0)}, "dry_mass_kg"),
        ({"dry_mass_kg": Decimal(64 * 500 + 1)}, "dry_mass_kg"),
        ({"energy_mj": Decimal(896)}, "energy_mj"),
        ({"energy_mj": Decimal("8.96e6")}, "energy_mj"),
        ({"document": " "}, "document"),
    ],
)
def test_what_makes_no_sense_is_refused(ground, unit, changes, field):
    with refuses(WrongValue, field):
        take(ground, unit, **changes)


@pytest.mark.parametrize("first", [dt.date(2023, 6, 1), dt.date(2024, 12, 31)])
def test_the_same_days_are_not_taken_over_twice(ground, unit, first):
    take(ground, unit)
    with refuses(WrongValue, "first"):
        take(ground, unit, first=first, last=first + 300 * DAY)


def test_days_with_burns_of_their_own_are_not_taken_over(ground):
    ground.lot = builders.accepted_lot(ground)
    burn = builders.closed(ground)
    day = burn.ignited_at.astimezone(ground.site.zone).date()
    with refuses(WrongValue, "last"):
        take(ground, ground.unit, first=day, last=day, at=NOW + 30 * DAY)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_who_may_not(ground, unit, role):
    with refuses_role():
        take(ground, unit, by=actor(ground, role))
