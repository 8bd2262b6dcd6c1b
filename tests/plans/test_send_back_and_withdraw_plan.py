"""Sending a plan back to its author, and withdrawing one."""

from __future__ import annotations

import pytest

from facility.refusals import AlreadyDone, StaleVersion, WrongState, WrongValue
from records.audit.models import Entry
from records.plans import services as plans
from records.plans.models import Approval, Plan, PlanState
from records.plans.selectors import plan_here
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW, hash_of


def send_back(ground, plan, **changes):
    given = {"reason": "too few learners", "shown_hash": hash_of(plan), "by": ground.manager}
    plans.send_back_plan(plan, **{**given, "at": NOW, **changes})


def withdraw(ground, plan, **changes):
    given = {"reason": "the course is off", "by": ground.instructor, "at": NOW}
    plans.withdraw_plan(plan, **{**given, **changes})


@pytest.fixture
def plan(ground):
    builders.accepted_lot(ground)
    return builders.submitted(ground)


def test_a_plan_goes_back_with_its_reason(ground, plan):
    with writes("plans.plan_sent_back", Approval, alters=[Plan]):
        send_back(ground, plan)
    whole = plan_here(ground.site, plan.public_id)
    assert whole.state == PlanState.SENT_BACK
    assert (whole.version.decision.approved, whole.version.decision.reason) == (
        False, "too few learners",
    )  # fmt: skip
    assert Entry.objects.first().why == "too few learners"


def test_a_plan_is_withdrawn_with_its_reason(ground, plan):
    neighbour = builders.submitted(ground)
    with writes("plans.plan_withdrawn", alters=[Plan]):
        withdraw(ground, plan)
    assert plan_here(ground.site, plan.public_id).state == PlanState.WITHDRAWN
    assert plan_here(ground.site, neighbour.public_id).state == PlanState.SUBMITTED
    assert Entry.objects.first().why == "the course is off"


@pytest.mark.parametrize("role", refused_roles("plans.plan_sent_back"))
def test_other_roles_may_not_send_back(ground, plan, role):
    with refuses_role():
        send_back(ground, plan, by=actor(ground, role))


@pytest.mark.parametrize("role", refused_roles("plans.plan_withdrawn"))
def test_other_roles_may_not_withdraw(ground, plan, role):
    with refuses_role():
        withdraw(ground, plan, by=actor(ground, role))


@pytest.mark.parametrize("act", [send_back, withdraw])
@pytest.mark.parametrize("reason", ["", "  ", "x" * 501, "bell\a"])
def test_the_reason_is_plain_text(ground, plan, act, reason):
    with refuses(WrongValue, "reason"):
        act(ground, plan, reason=reason)


def test_only_the_content_that_was_shown_is_sent_back(ground, plan):
    with refuses(StaleVersion):
        send_back(ground, plan, shown_hash="0" * 64)


def test_a_plan_whose_boards_are_out_is_not_withdrawn(ground):
    builders.accepted_lot(ground)
    plan = builders.issued(ground)
    with refuses(WrongState):
        withdraw(ground, plan)


@pytest.mark.parametrize("act", [send_back, withdraw])
def test_the_same_form_sent_twice_is_done_once(ground, plan, act):
    act(ground, plan, once="form-1")
    with refuses(AlreadyDone):
        act(ground, plan, once="form-1")
