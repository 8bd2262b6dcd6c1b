"""Lighting a burn: what the plan promised must be there, and every limit still be met."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, LimitExceeded, WrongState, WrongValue
from records.burns import services as burns
from records.burns.models import Attendance, Burn, CheckMark
from records.inspections import services as inspections
from records.inspections.checklists import PRE_BURN
from records.inspections.models import Inspection, InspectionItem
from records.plans import services as plans
from records.plans.content import Line
from records.plans.models import Finding, KnownAtIgnition, Plan, PlanState
from records.plans.selectors import plan_here
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "burns.burn_started"
START = NOW + dt.timedelta(days=1)


@pytest.fixture
def plan(ground):
    ground.lot = builders.accepted_lot(ground)
    return builders.issued(ground)


def start(ground, plan, **changes):
    at = changes.pop("at", changes.get("ignited_at", START))
    given = {"checks": {str(item): True for item in PRE_BURN}, "present": builders.everyone(plan),
             "ignition_method": "gas burner", "weather": "dry", "by": ground.instructor,
             "ignited_at": START, "at": at}  # fmt: skip
    return burns.start_burn(plan, **{**given, **changes})


def all_but(plan, person):
    return [key for key in builders.everyone(plan) if key != person.public_id]


def test_a_burn_is_lit_with_its_check_its_people_and_its_findings(ground, plan):
    with writes(
        ACT, Burn, Attendance, CheckMark, Inspection, InspectionItem, Finding, KnownAtIgnition,
        alters=[Plan],
    ):  # fmt: skip
        burn = start(ground, plan)
    assert (burn.nth_of_day, burn.ignited_at, burn.started_by) == (1, START, ground.instructor)
    assert burn.attendance.count() == 8
    assert burn.pre_check.items.count() == len(PRE_BURN)
    assert plan_here(ground.site, plan.public_id).state == PlanState.BURNING


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_light_a_burn(ground, plan, role):
    with refuses_role():
        start(ground, plan, by=actor(ground, role))


def test_an_instructor_who_is_not_on_the_plan_does_not_start_it(ground):
    builders.accepted_lot(ground)
    crew = tuple(p for p in builders.crew(ground) if p.person != ground.observer)
    plan = builders.issued(ground, builders.content(ground, crew=crew))
    with refuses(WrongState):
        start(ground, plan, by=ground.observer)


@pytest.mark.parametrize("checks", [{}, {"exits clear": True, "lines charged": False}])
def test_every_item_of_the_check_is_in_order(ground, plan, checks):
    with refuses(WrongValue, "checks"):
        start(ground, plan, checks=checks)


def test_a_fire_is_lit_after_approval_issue_and_the_burn_before(ground, plan):
    early = NOW + dt.timedelta(hours=21)
    builders.closed(ground, builders.content(ground, 1, starts_at=early))
    with refuses(WrongValue, "ignited_at"):  # that burn ended half an hour later
        start(ground, plan, ignited_at=early + dt.timedelta(minutes=10))


def test_nobody_is_at_two_fires(ground, plan):
    other = builders.commission(ground, "Unit 2")
    tomorrow = NOW.date() + dt.timedelta(days=1)
    builders.adopt(ground, "T-2", builders.rows(), at=NOW, day=tomorrow, units=[other])
    line = Line(other.positions.get(name="Ceiling"), ground.board, Decimal(1))
    whole = builders.content(ground, unit=other, charge=(line,))
    builders.lit(ground, whole)
    with refuses(WrongState):
        start(ground, plan)


def test_boards_issued_anew_are_all_judged(ground):
    """Three boards issued and returned, then five in the next version: 125 kg, the cap is 100."""
    lot = builders.accepted_lot(ground)
    plan = builders.issued(ground)
    burns.return_boards(plan, lot, Decimal(3), returned_at=NOW, by=ground.stores, at=NOW)
    plans.revise_plan(
        plan, builders.content(ground, 4), seen_version=1, by=ground.instructor, at=NOW
    )
    builders.approve(ground, plan)
    builders.issue(ground, plan)
    assert (
        start(ground, plan)
        .version.findings.get(stage="ignite", code="Q-1")
        .measured.startswith("100.0")
    )


def test_an_item_left_out_of_the_check_stops_the_burn(ground, plan):
    with refuses(WrongValue, "checks"):
        start(ground, plan, checks={str(PRE_BURN[0]): True})


def test_a_charge_that_was_not_issued_does_not_burn(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground)
    with refuses(WrongState):
        start(ground, plan)


def test_a_charge_that_went_back_to_the_store_does_not_burn(ground, plan):
    burns.return_boards(
        plan, ground.lot, Decimal(3), returned_at=NOW, by=ground.stores, at=NOW
    )  # fmt: skip
    with refuses(WrongState):
        start(ground, plan)


def test_one_burn_at_a_time_runs_in_a_unit(ground, plan):
    later = START + dt.timedelta(hours=2)
    second = builders.issued(ground, builders.content(ground, starts_at=later))
    start(ground, plan)
    with refuses(WrongState):
        start(ground, second, ignited_at=later)


@pytest.mark.parametrize(("hours", "passes"), [(4, True), (4.01, False), (-4, True), (-4.01, False)])  # fmt: skip
def test_a_burn_starts_within_four_hours_of_its_plan(ground, plan, hours, passes):
    when = START + dt.timedelta(hours=hours)
    if passes:
        assert start(ground, plan, ignited_at=when).ignited_at == when
        return
    with refuses(WrongValue, "ignited_at"):
        start(ground, plan, ignited_at=when)


def test_a_burn_that_has_not_started_is_not_recorded(ground, plan):
    with refuses(WrongValue, "ignited_at"):
        start(ground, plan, at=START - dt.timedelta(minutes=3))


@pytest.mark.parametrize(
    ("field", "text"),
    [("ignition_method", ""), ("ignition_method", "x" * 81), ("weather", ""), ("weather", "\0")],
)
def test_ignition_and_weather_are_plain_text(ground, plan, field, text):
    with refuses(WrongValue, field):
        start(ground, plan, **{field: text})


@pytest.mark.parametrize(
    ("missing", "code"),
    [("safety", "P-07"), ("instructor", "P-06"), ("instructor_two", "P-01")],
)
def test_who_is_missing_stops_the_burn(ground, plan, missing, code):
    """The plan was approved with them; the burn is judged by who is really there."""
    with refuses(LimitExceeded) as caught:
        start(ground, plan, present=all_but(plan, ground.cast[missing]), by=ground.setter)
    assert [each.rule.code for each in caught.value.findings] == [code]


def test_a_learner_who_stays_away_does_not_stop_the_burn(ground, plan):
    burn = start(ground, plan, present=all_but(plan, ground.learners[0]))
    assert burn.attendance.count() == 7


def test_a_unit_stopped_since_stops_the_burn(ground, plan):
    inspections.stop_unit(ground.unit, place="door", description="x", by=ground.safety, at=NOW)
    with refuses(LimitExceeded) as caught:
        start(ground, plan)
    assert [each.rule.code for each in caught.value.findings] == ["U-03"]


@pytest.mark.parametrize(("cap", "passes"), [("75", True), ("74.9", False)])
def test_the_cap_in_force_at_ignition_counts(ground, plan, cap, passes):
    builders.adopt(ground, "T-2", builders.rows(), at=NOW, day=NOW.date(), caps=(cap,))
    if passes:
        start(ground, plan)
        return
    with refuses(LimitExceeded) as caught:
        start(ground, plan)
    (over,) = caught.value.findings
    assert (over.rule.code, over.known.value, over.rule.limit) == ("Q-1", pytest.approx(75.0), 74.9)
    assert over.margin == pytest.approx(-0.1)
    assert over.rule.clause == "T-2, burn-sequence chart of Unit 1"


@pytest.mark.parametrize(("gap", "passes"), [(30, True), (29, False)])
def test_the_wait_after_the_burn_before_is_kept(ground, gap, passes):
    """The chart asks for 30 minutes between two burns."""
    builders.accepted_lot(ground)
    first = builders.closed(ground)  # lit at START, closed 30 minutes later
    planned = START + dt.timedelta(hours=2)
    second = builders.issued(ground, builders.content(ground, starts_at=planned))
    when = first.current.ended_at + dt.timedelta(minutes=gap)
    if passes:
        assert start(ground, second, ignited_at=when).nth_of_day == 2
        return
    with refuses(LimitExceeded) as caught:
        start(ground, second, ignited_at=when)
    (short,) = caught.value.findings
    assert (short.rule.code, short.margin) == ("Q-3", -1.0)


def test_the_same_form_sent_twice_lights_one_burn(ground, plan):
    first = start(ground, plan, once="form-1")
    with refuses(AlreadyDone) as caught:
        start(ground, plan, once="form-1")
    assert caught.value.public_id == first.public_id
