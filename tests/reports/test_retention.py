"""What is kept how long, and what falls due when."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.guarded import opened
from facility.sites.models import Unit
from records.reports.retention import CLASSES, class_of, falls_due, held_here, latest_due
from tests import builders
from tests.builders import NOW


def row(ground, title: str, today: dt.date):
    (found,) = [each for each in held_here(ground.site, today) if title in str(each.kind.title)]
    return found


def test_exposures_are_kept_forty_years_from_the_burn(ground):
    """COSHH 2002 regulation 10(5): 40 years where the exposure is that of named employees."""
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    day = burn.ignited_at.astimezone(ground.site.zone).date()
    found = row(ground, "exposed", NOW.date())
    assert found.count > 0
    assert found.first_due == found.last_due == day.replace(year=day.year + 40)
    assert not found.due_now
    assert row(ground, "exposed", day.replace(year=day.year + 40)).due_now
    assert not row(
        ground, "exposed", day.replace(year=day.year + 40) - dt.timedelta(days=1)
    ).due_now


def test_a_unit_in_use_starts_no_clock_and_a_retired_one_does(ground):
    assert row(ground, "file of a unit", NOW.date()).first_due is None
    with opened():
        Unit.objects.filter(pk=ground.unit.pk).update(retired_on=dt.date(2026, 2, 4))
    assert row(ground, "file of a unit", NOW.date()).first_due == dt.date(2032, 2, 4)


def test_a_leap_day_falls_due_on_the_first_of_march():
    plans = class_of("plans")
    assert plans.years == 6
    assert falls_due(plans, dt.date(2024, 2, 29)) == dt.date(2030, 3, 1)


@pytest.mark.parametrize("kind", CLASSES, ids=lambda kind: kind.key)
def test_the_latest_day_due_is_due_and_the_day_after_is_not(kind):
    day = dt.timedelta(days=1)
    for number in range(5 * 366):
        today = dt.date(2063, 1, 1) + number * day
        latest = latest_due(kind, today)
        assert falls_due(kind, latest) <= today < falls_due(kind, latest + day)


def test_nothing_of_another_ground_is_counted(ground, other):
    builders.accepted_lot(other)
    assert [each.count for each in held_here(ground.site, NOW.date())] == [0] * len(CLASSES)


@pytest.mark.parametrize("role", ["auditor", "admin"])
def test_the_page_names_source_and_basis_of_each_class(ground, signed_in, role):
    text = signed_in(ground.cast[role]).get("/audit/retention/").text
    for each in CLASSES:
        assert str(each.source) in text
        assert str(each.basis) in text
