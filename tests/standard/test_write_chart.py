"""Writing a unit's burn-sequence chart into a draft."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import WrongState, WrongValue
from facility.rulebook.models import BurnSequence, BurnSequenceStep
from records.standard import services
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.standard.drafts import chart, draft, proposed

ACT = "ground.chart_written"
DAY = dt.timedelta(days=1)


def write(ground, edition, **changes):
    at = {"by": ground.manager, "at": NOW, "unit": ground.unit}
    return services.write_chart(edition, **{**chart(), **at, **changes})


def caps(edition):
    steps = BurnSequenceStep.objects.filter(chart__edition=edition, dropped=False)
    return list(steps.order_by("nth").values_list("nth", "cap_dry_kg"))


def test_a_chart_is_written_with_its_steps_and_its_trial(ground):
    edition = draft(ground)
    with writes(ACT, BurnSequence, BurnSequenceStep):
        made = write(ground, edition)
    assert caps(edition) == [(1, 90), (2, 60)]
    assert (made.wait_min, made.cooling_min, made.burns_before_cooling) == (30, 60, 2)
    assert (made.trial_on, made.trial_note, made.changed_by) == (NOW.date(), "trial burn", ground.manager)  # fmt: skip


def test_a_chart_written_anew_drops_the_steps_it_no_longer_has_and_takes_them_up_again(ground):
    edition = draft(ground)
    write(ground, edition)
    with writes(ACT, alters=[BurnSequence, BurnSequenceStep]):
        write(ground, edition, caps_dry_kg=[Decimal(80)], wait_min=20)
    assert caps(edition) == [(1, 80)]
    with writes(ACT, BurnSequenceStep, alters=[BurnSequenceStep]):
        write(ground, edition, caps_dry_kg=[Decimal(80), Decimal(70), Decimal(50)], wait_min=20)
    assert caps(edition) == [(1, 80), (2, 70), (3, 50)]


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_write_a_chart(ground, role):
    edition = draft(ground)
    with refuses_role():
        write(ground, edition, by=actor(ground, role))


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("caps_dry_kg", []), ("caps_dry_kg", [Decimal(0)]), ("caps_dry_kg", [Decimal(-1)]),
        ("caps_dry_kg", [Decimal(50)] * 13), ("caps_dry_kg", [Decimal(5001)]),
        ("caps_dry_kg", [Decimal("NaN")]),
        ("burns_before_cooling", 0), ("burns_before_cooling", 51), ("cooling_min", -1),
        ("cooling_min", 1441), ("wait_min", -1), ("wait_min", 1441), ("trial_note", "  "),
        ("trial_note", "x" * 201), ("trial_on", NOW.date() + DAY),
    ],
)  # fmt: skip
def test_a_chart_out_of_bounds_is_refused_by_its_field(ground, field, value):
    edition = draft(ground)
    with refuses(WrongValue, field):
        write(ground, edition, **{field: value})


def test_the_trial_may_be_of_today_on_the_ground_though_utc_is_a_day_behind(ground):
    """At 20:00 UTC on the 4th it is 09:00 on the 5th on the ground."""
    evening = NOW.replace(hour=20)
    edition = draft(ground)
    with writes(ACT, BurnSequence, BurnSequenceStep):
        write(ground, edition, at=evening, trial_on=dt.date(2026, 2, 5))
    with refuses(WrongValue, "trial_on"):
        write(ground, edition, at=evening, trial_on=dt.date(2026, 2, 6))


def test_the_unit_of_another_ground_gets_no_chart_here(ground, other):
    edition = draft(ground)
    with refuses(WrongValue, "unit"):
        write(ground, edition, unit=other.unit)


def test_a_chart_in_force_or_proposed_is_never_edited(ground):
    for edition in (ground.edition, proposed(ground)):
        with refuses(WrongState):
            write(ground, edition)
