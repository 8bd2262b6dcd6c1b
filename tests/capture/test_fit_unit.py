"""Factors of a unit are fitted to its recorded burns, kept, and used beside the raw forecast."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.calc.fitting import Factors
from facility.guarded import opened
from facility.refusals import WrongState
from records.audit.models import Entry
from records.burns.models import TimelineEvent
from records.capture.fitting import evidence_of, fit_after, fit_unit
from records.ground.fitted import newest_fit
from records.ground.models import UnitFit, UnitVersion
from records.plans.content import content_of
from records.plans.forecast import forecast, room_of
from records.plans.judging import judge_plan
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.capture.burning import column, recorded_burn

ACT = "capture.unit_fitted"
DAY = dt.timedelta(days=1)


@pytest.fixture
def sensors(ground):
    builders.accepted_lot(ground)
    return column(ground)


def test_a_fit_is_kept_with_the_burns_it_rests_on(ground, sensors):
    burn = recorded_burn(ground, sensors, factors=Factors(0.6, 1.0, 1.0))
    with writes(ACT, UnitFit):
        kept = fit_unit(ground.unit, by=ground.instructor, at=NOW + DAY)
    assert [each["burn"] for each in kept.rests_on] == [burn.public_id]
    found = newest_fit(ground.unit)
    assert found.burns == 1
    assert found.weak
    assert 0.6 < found.factors.heat < 0.9  # towards what the fire had, held back by the prior
    assert '"growth"' in Entry.objects.latest("seq").body


def test_each_fit_is_a_row_of_its_own(ground, sensors):
    recorded_burn(ground, sensors)
    fit_unit(ground.unit, by=ground.instructor, at=NOW + DAY)
    fit_unit(ground.unit, by=ground.manager, at=NOW + 2 * DAY)
    assert UnitFit.objects.count() == 2


def test_without_a_recorded_burn_there_is_nothing_to_fit(ground, sensors):
    builders.closed(ground)
    with refuses(WrongState):
        fit_unit(ground.unit, by=ground.instructor)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_who_may_not(ground, sensors, role):
    recorded_burn(ground, sensors)
    with refuses_role():
        fit_unit(ground.unit, by=actor(ground, role), at=NOW + DAY)


def test_a_burn_with_two_thermocouples_is_left_out_and_says_why(ground, sensors, signed_in):
    builders.logged(ground, builders.closed(ground), sensors={2: sensors[0], 3: sensors[4]})
    (told,) = evidence_of(ground.unit)
    assert told.seen is None
    assert "fewer than three" in told.left_out
    page = signed_in(ground.instructor).get(f"/burns/units/{ground.unit.public_id}/fires/")
    assert page.status_code == 200
    assert "fewer than three" in page.text


def test_a_burn_stopped_early_is_left_out(ground, sensors):
    burn = recorded_burn(ground, sensors)
    with opened():
        TimelineEvent(
            burn=burn, kind="stop", happened_at=burn.ignited_at, recorded_at=burn.ignited_at,
            noted_by=ground.instructor, note="x",
        ).save()  # fmt: skip
    assert "stopped" in evidence_of(ground.unit)[0].left_out


def test_while_the_burn_runs_nothing_is_fitted(ground, sensors):
    burn = builders.lit(ground)
    assert fit_after(burn, by=ground.instructor) is None


def test_the_next_plan_shows_both_and_the_raw_one_is_as_before(ground, sensors):
    for day in range(2):
        recorded_burn(
            ground, sensors, at=NOW + day * DAY, factors=Factors(1.0, 1.0, 0.4), seed=day, noise=1.0
        )
    plan = builders.drafted(ground, builders.content(ground, 2, starts_at=NOW + 5 * DAY))
    content = content_of(plan.version)
    judged = judge_plan(content, site=ground.site, at=NOW + 4 * DAY, plan=plan)
    before = forecast(content.unit, judged.figures, judged.dry_mass_kg)
    assert before.fitted is None
    fit_unit(ground.unit, by=ground.instructor, at=NOW + 3 * DAY)
    after = forecast(content.unit, judged.figures, judged.dry_mass_kg)
    assert after.heat.value("peak") == before.heat.value("peak")
    assert after.hottest_c == before.hottest_c
    own = after.fitted
    assert own.fit.burns == 2
    slower = {each.key: each.seconds for each in own.moments}
    assert slower["full"] > {each.key: each.seconds for each in after.moments}["full"]
    low, high = own.peaks
    assert low <= own.heat.value("peak") <= high


def test_a_unit_modified_since_has_no_factors(ground, sensors):
    recorded_burn(ground, sensors)
    fit_unit(ground.unit, by=ground.instructor, at=NOW + DAY)
    with opened():
        UnitVersion(
            unit=ground.unit, number=99, kind="relined", since=NOW + 2 * DAY, make_up={}, limits={},
            recorded_at=NOW + 2 * DAY,
        ).save()  # fmt: skip
    assert newest_fit(ground.unit) is None
    assert "changed" in evidence_of(ground.unit)[0].left_out


def test_the_plan_page_says_what_the_factors_rest_on(ground, sensors, signed_in):
    recorded_burn(ground, sensors)
    fit_unit(ground.unit, by=ground.instructor, at=NOW + DAY)
    plan = builders.drafted(ground, builders.content(ground, 2, starts_at=NOW + 5 * DAY))
    page = signed_in(ground.instructor).get(f"/plans/{plan.public_id}/").text
    assert "As it burned here" in page
    assert "fewer than 5 burns" in page


def test_a_lined_wall_is_told_from_an_unlined_one(ground):
    ground.unit.wall = "steel 2 mm, unlined"
    assert room_of(ground.unit).lined is False
    ground.unit.wall = "steel 2 mm, lined in the burn end"
    assert room_of(ground.unit).lined is True
