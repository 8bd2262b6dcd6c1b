"""Writing a plan and writing it anew: the same checks at both entrances."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.kinds import Duty
from facility.people.models import RoleHeld
from facility.refusals import AlreadyDone, StaleVersion, WrongState, WrongValue
from records.plans import services as plans
from records.plans.content import Line, Place
from records.plans.models import ChargeLine, CrewPlace, Plan, PlanState, PlanVersion
from records.plans.selectors import plan_here, versions_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

DAY = dt.timedelta(days=1)


def draft(ground, content=None, **changes):
    given = {"by": ground.instructor, "at": NOW, **changes}
    return plans.draft_plan(ground.site, content or builders.content(ground), **given)


def revise(ground, plan, content=None, **changes):
    given = {"seen_version": 1, "by": ground.instructor, "at": NOW, **changes}
    plans.revise_plan(plan, content or builders.content(ground, 2), **given)


def refuses_content(ground, content, field):
    """Refused when drafted, and as a revision just the same."""
    with refuses(WrongValue, field):
        draft(ground, content)
    plan = builders.drafted(ground)
    with refuses(WrongValue, field):
        revise(ground, plan, content)


def test_a_plan_is_drafted_as_version_one(ground):
    with writes("plans.plan_drafted", Plan, PlanVersion, ChargeLine, CrewPlace):
        plan = draft(ground)
    kept = plan_here(ground.site, plan.public_id)
    assert (kept.state, kept.version.number, kept.version.written_by) == (
        PlanState.DRAFT, 1, ground.instructor,
    )  # fmt: skip


def test_a_revision_is_a_new_version_and_the_old_one_stays(ground):
    plan = builders.drafted(ground)
    with writes("plans.plan_revised", PlanVersion, ChargeLine, CrewPlace, alters=[Plan]):
        revise(ground, plan, by=ground.manager)
    newest, first = versions_of(plan)
    assert (newest.number, newest.charge.get().quantity) == (2, 2)
    assert (first.number, first.charge.get().quantity) == (1, 3)


@pytest.mark.parametrize("role", refused_roles("plans.plan_drafted"))
def test_other_roles_may_not_draft(ground, role):
    with refuses_role():
        draft(ground, by=actor(ground, role))


@pytest.mark.parametrize("role", refused_roles("plans.plan_revised"))
def test_other_roles_may_not_revise(ground, role):
    plan = builders.drafted(ground)
    with refuses_role():
        revise(ground, plan, by=actor(ground, role))


def test_an_instructor_of_another_ground_may_not(ground, other):
    plan = builders.drafted(ground)
    with refuses_role():
        draft(ground, by=other.instructor)
    with refuses_role():
        revise(ground, plan, by=other.instructor)


@pytest.mark.parametrize("seen", [0, 1, 3])
def test_a_revision_of_a_version_that_is_not_the_newest_is_refused(ground, seen):
    plan = builders.drafted(ground)
    revise(ground, plan)
    with refuses(StaleVersion):
        revise(ground, plan, seen_version=seen)


def test_what_was_approved_is_kept_and_the_new_version_needs_a_new_approval(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground)
    revise(ground, plan)
    newest, first = versions_of(plan)
    assert plan_here(ground.site, plan.public_id).state == PlanState.DRAFT
    assert first.decision.approved and first.decision.content_hash == first.content_hash
    assert not hasattr(newest, "decision")


def test_a_plan_whose_boards_are_out_is_not_changed(ground):
    builders.accepted_lot(ground)
    plan = builders.issued(ground)
    with refuses(WrongState):
        revise(ground, plan)


@pytest.mark.parametrize("quantity", ["-1", "0", "0.5", "5001", "NaN"])
def test_boards_are_planned_whole(ground, quantity):
    content = builders.content(ground)
    line = replace(content.charge[0], quantity=Decimal(quantity))
    refuses_content(ground, replace(content, charge=(line,)), "charge")


def test_a_plan_holds_at_most_thirty_lines_and_sixty_places(ground):
    content = builders.content(ground)
    refuses_content(ground, replace(content, charge=content.charge * 31), "charge")
    refuses_content(ground, replace(content, crew=content.crew * 8), "crew")


@pytest.mark.parametrize("what", ["unit", "position", "product", "lot", "person"])
def test_things_of_another_ground_are_not_here(ground, other, what):
    content, theirs = builders.content(ground), builders.content(other)
    line, their_line = content.charge[0], theirs.charge[0]
    foreign = {
        "unit": {"unit": other.unit},
        "position": {"charge": (replace(line, position=their_line.position),)},
        "product": {"charge": (replace(line, product=other.board),)},
        "lot": {"charge": (replace(line, lot=builders.accepted_lot(other)),)},
        "person": {"crew": (*content.crew, Place(other.observer, Duty.PUMP))},
    }[what]
    field = {"unit": "unit", "person": "crew"}.get(what, "charge")
    refuses_content(ground, replace(content, **foreign), field)


def test_a_position_of_another_unit_and_a_lot_of_another_product_are_refused(ground):
    content, second = builders.content(ground), builders.commission(ground, "Unit 2")
    line = content.charge[0]
    moved = replace(line, position=second.positions.get(name="Ceiling"))
    refuses_content(ground, replace(content, charge=(moved,)), "charge")
    wrong = replace(line, lot=builders.accepted_lot(ground, product=ground.kindling))
    refuses_content(ground, replace(content, charge=(wrong,)), "charge")


@pytest.mark.parametrize(
    ("field", "text"),
    [("objective", ""), ("objective", "x" * 301), ("objective", "\0"), ("abort_criteria", " "),
     ("abort_criteria", "x" * 501), ("abort_criteria", "\a")],
)  # fmt: skip
def test_objective_and_abort_criteria_are_plain_text(ground, field, text):
    refuses_content(ground, builders.content(ground, **{field: text}), field)


@pytest.mark.parametrize("litres", ["-1", "500001", "NaN"])
def test_water_is_an_amount_a_ground_can_hold(ground, litres):
    refuses_content(ground, builders.content(ground, water_l=Decimal(litres)), "water_l")


@pytest.mark.parametrize(
    ("starts", "lasts", "field"),
    [(DAY, dt.timedelta(0), "ends_at"), (DAY, -DAY, "ends_at"),
     (DAY, dt.timedelta(hours=12, seconds=1), "ends_at"),
     (-DAY - dt.timedelta(seconds=1), dt.timedelta(hours=1), "starts_at"),
     (731 * DAY, dt.timedelta(hours=1), "starts_at")],
)  # fmt: skip
def test_a_plan_is_for_a_burn_to_come_of_at_most_twelve_hours(ground, starts, lasts, field):
    content = builders.content(ground, starts_at=NOW + starts)
    refuses_content(ground, replace(content, ends_at=NOW + starts + lasts), field)


def test_an_unknown_exercise_and_a_backdraught_outside_a_window_unit_are_refused(ground):
    for exercise in ("barbecue", "window"):
        refuses_content(ground, builders.content(ground, exercise=exercise), "exercise")


@pytest.mark.parametrize("duty", [duty for duty in Duty if duty != Duty.LEARNER])
def test_a_learner_holds_no_duty_in_the_crew(ground, duty):
    content = builders.content(ground)
    crew = (*content.crew, Place(ground.learners[6], duty))
    refuses_content(ground, replace(content, crew=crew), "crew")


@pytest.mark.parametrize("role", ["auditor", "admin"])
def test_who_only_looks_on_holds_no_duty_in_the_crew(ground, role):
    content = builders.content(ground)
    crew = (*content.crew, Place(ground.cast[role], Duty.PUMP))
    refuses_content(ground, replace(content, crew=crew), "crew")


def test_the_same_person_stands_once_in_a_duty(ground):
    content = builders.content(ground)
    refuses_content(ground, replace(content, crew=(*content.crew, content.crew[0])), "crew")


def test_who_has_left_by_the_day_of_the_burn_is_not_planned(ground):
    day = builders.content(ground).starts_at.astimezone(ground.site.zone).date()
    held = RoleHeld.objects.get(person=ground.observer)
    with opened():
        held.until = day
        held.save()
    builders.drafted(ground)
    with opened():
        held.until = day - DAY
        held.save()
    with refuses(WrongValue, "crew"):
        draft(ground)


def test_the_same_form_sent_twice_is_written_once(ground):
    first = draft(ground, once="form-1")
    with refuses(AlreadyDone):
        draft(ground, once="form-1")
    revise(ground, first, once="form-2")
    with refuses(AlreadyDone):
        revise(ground, first, seen_version=2, once="form-2")


def test_a_draft_may_be_over_a_limit_or_half_written(ground):
    """Limits speak when a plan is handed in; until then it is paper."""
    content = builders.content(ground, 40, crew=(), charge=())
    with writes("plans.plan_drafted", Plan, PlanVersion):
        draft(ground, content)
    line = Line(ground.unit.positions.get(name="Crib"), ground.board, Decimal(40))
    with writes("plans.plan_drafted", Plan, PlanVersion, ChargeLine):
        draft(ground, replace(content, charge=(line,)))


def test_revising_leaves_the_plan_beside_it_alone(ground):
    plan, neighbour = builders.drafted(ground), builders.drafted(ground)
    revise(ground, plan)
    assert [version.number for version in versions_of(neighbour)] == [1]
