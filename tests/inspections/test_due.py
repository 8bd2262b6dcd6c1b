"""When inspections come due: by date and by burns, from rows, at this season's rate."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.calc.units import magnitude
from facility.rulebook.selectors import editions_in_force
from records.inspections.due import dues, season_of
from records.inspections.models import InspectionKind
from tests import builders
from tests.builders import NOW

DAY = dt.timedelta(days=1)
BLOCKS = {"severity": "block", "clause": "test standard", "basis": "local"}


def due_of(ground, now, kind="structural"):
    day = now.astimezone(ground.site.zone).date()
    found = dues(ground.site, [ground.unit], editions_in_force(ground.site, day), now)
    return next(each for each in found[ground.unit.pk] if each.kind == kind)


def in_force(ground, *rows):
    day = NOW.astimezone(ground.site.zone).date()
    every = [
        {**BLOCKS, "code": f"Z-{number}", "title": "z", **row} for number, row in enumerate(rows)
    ]
    builders.adopt(ground, "T-2", [*builders.rows(), *every], at=NOW, day=day)


def test_by_date_it_is_the_last_one_and_the_days_of_the_row(ground):
    """Inspected when the ground was founded, with 365 days and 3 burns allowed."""
    due = due_of(ground, NOW)
    inspected = ground.unit.inspections.get(kind="structural").done_at
    assert due.on == (inspected + 365 * DAY).astimezone(ground.site.zone).date()
    assert (due.burns, due.burns_allowed, due.burns_left) == (0, 3, 3)
    assert (due.overdue, due.state) == (False, "inspection_ahead")


def test_no_burn_this_season_gives_no_rate_and_no_guess(ground):
    due = due_of(ground, NOW)
    assert (due.reach, due.about, due.early, due.late) == (None, None, None, None)
    assert due.first == due.on


def test_burns_of_this_season_project_when_the_count_is_reached(ground):
    builders.accepted_lot(ground)
    burn = builders.closed(ground, builders.content(ground, 1))
    now = burn.ignited_at + DAY
    due = due_of(ground, now)
    assert (due.burns, due.burns_left, due.by_burns) == (1, 2, True)
    assert due.today < due.early < due.about < due.late
    given = due.reach.inputs
    assert (given["events_left"], given["events_seen"]) == (2, 1)
    days = (now - season_of(ground.site, now)).total_seconds() / 86400
    assert magnitude(given["days_seen"], "day") == pytest.approx(days, abs=0.01)


def test_it_is_overdue_the_day_after_and_when_no_burn_is_left(ground):
    last = due_of(ground, NOW).on
    at = dt.datetime.combine(last, dt.time(12), tzinfo=ground.site.zone)
    assert not due_of(ground, at).overdue
    assert due_of(ground, at + DAY).overdue
    in_force(
        ground, {"fact": "unit.burns_since_inspection", "comparison": "<=", "limit": Decimal(0)}
    )
    assert due_of(ground, NOW).overdue


@pytest.mark.parametrize("kind", ["periodic", "engineer", "lining"])
def test_each_kind_of_inspection_comes_due_by_rows_of_its_own(ground, kind):
    in_force(
        ground,
        {"fact": f"unit.days_since_{kind}", "comparison": "<=", "limit": Decimal(30)},
        {"fact": f"unit.burns_since_{kind}", "comparison": "<=", "limit": Decimal(8)},
    )
    never = due_of(ground, NOW, kind)
    assert (never.last, never.overdue) == (None, True)
    builders.inspect(ground, ground.unit, at=NOW, kind=kind)
    due = due_of(ground, NOW, kind)
    assert due.on == (NOW + 30 * DAY).astimezone(ground.site.zone).date()
    assert (due.burns_left, due.label) == (8, InspectionKind(kind).label)


def test_the_stricter_of_two_rows_counts_and_one_that_is_off_does_not(ground):
    fact = {"fact": "unit.days_since_periodic", "comparison": "<="}
    in_force(
        ground,
        {**fact, "limit": Decimal(30)},
        {**fact, "limit": Decimal(90)},
        {**fact, "limit": Decimal(10), "on": False},
    )
    assert due_of(ground, NOW, "periodic").days_allowed == 30
