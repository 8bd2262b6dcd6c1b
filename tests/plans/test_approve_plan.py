"""Approving a plan: by another person, exactly what was shown, under the limits of that day."""

from __future__ import annotations

import pytest

from facility.refusals import AlreadyDone, LimitExceeded, StaleVersion, WrongValue
from records.plans import services as plans
from records.plans.models import Approval, Finding, Plan, PlanState
from records.plans.selectors import plan_here
from records.stock import services as stock
from records.stock.models import LotBalance, Reservation
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW, hash_of

ACT = "plans.plan_approved"


@pytest.fixture
def plan(ground):
    ground.lot = builders.accepted_lot(ground)
    return builders.submitted(ground)


def approve(ground, plan, **changes):
    given = {"meaning": "approval to burn", "shown_hash": hash_of(plan), "by": ground.manager}
    return plans.approve_plan(plan, **{**given, "at": NOW, **changes})


def test_the_signature_keeps_meaning_content_and_edition(ground, plan):
    with writes(ACT, Approval, Finding, Reservation, alters=[Plan, LotBalance]):
        approve(ground, plan)
    whole = plan_here(ground.site, plan.public_id)
    signed = whole.version.decision
    assert whole.state == PlanState.APPROVED
    assert (signed.approved, signed.meaning) == (True, "approval to burn")
    assert (signed.signed_by, signed.signed_at) == (ground.manager, NOW)
    assert (signed.content_hash, signed.edition.code) == (whole.version.content_hash, "T-1")


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_approve(ground, plan, role):
    with refuses_role():
        approve(ground, plan, by=actor(ground, role))


def test_the_manager_of_another_ground_may_not(ground, plan, other):
    with refuses_role():
        approve(ground, plan, by=other.manager)


def test_an_author_never_approves_even_of_an_old_version_only(ground):
    """The manager wrote version 2 of 3; another manager may approve, this one never."""
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    for seen, author in ((1, ground.manager), (2, ground.instructor)):
        plans.revise_plan(
            plan, builders.content(ground), seen_version=seen, by=author, at=NOW
        )  # fmt: skip
    plans.submit_plan(plan, seen_hash=hash_of(plan), by=ground.instructor, at=NOW)
    with refuses_own_work():
        approve(ground, plan)
    with writes(ACT, Approval, Finding, Reservation, alters=[Plan, LotBalance]):
        approve(ground, plan, by=ground.manager_two)


@pytest.mark.parametrize("shown", ["", "0" * 64])
def test_only_the_content_that_was_shown_is_approved(ground, plan, shown):
    with refuses(StaleVersion):
        approve(ground, plan, shown_hash=shown)


def test_a_plan_revised_meanwhile_is_not_approved(ground, plan):
    shown = hash_of(plan)
    plans.revise_plan(
        plan, builders.content(ground, 2), seen_version=1, by=ground.instructor, at=NOW
    )  # fmt: skip
    with refuses(StaleVersion):
        approve(ground, plan, shown_hash=shown)


@pytest.mark.parametrize("meaning", ["", " ", "x" * 121, "\0"])
def test_the_meaning_of_the_signature_is_plain_text(ground, plan, meaning):
    with refuses(WrongValue, "meaning"):
        approve(ground, plan, meaning=meaning)


def test_a_lot_held_since_it_was_submitted_stops_the_approval(ground, plan):
    stock.hold_lot(ground.lot, reason="wet", by=ground.stores, at=NOW)
    with refuses(LimitExceeded) as caught:
        approve(ground, plan)
    assert "F-03" in {each.rule.code for each in caught.value.findings}


@pytest.mark.parametrize(("cap", "passes"), [("75", True), ("74.9", False)])
def test_the_cap_in_force_at_approval_counts(ground, plan, cap, passes):
    """75 kg were submitted under a cap of 100 kg; a stricter edition came since."""
    builders.adopt(ground, "T-2", builders.rows(), at=NOW, day=NOW.date(), caps=(cap,))
    if passes:
        approve(ground, plan)
        return
    with refuses(LimitExceeded) as caught:
        approve(ground, plan)
    (over,) = caught.value.findings
    assert (over.known.value, over.rule.limit) == (75.0, 74.9)
    assert over.margin == pytest.approx(-0.1)
    assert over.rule.clause == "T-2, burn-sequence chart of Unit 1"


def test_the_same_form_sent_twice_signs_once(ground, plan):
    approve(ground, plan, once="form-1")
    with refuses(AlreadyDone):
        approve(ground, plan, once="form-1")


def test_approving_leaves_the_plan_beside_it_alone(ground, plan):
    neighbour = builders.submitted(ground)
    approve(ground, plan)
    assert plan_here(ground.site, neighbour.public_id).state == PlanState.SUBMITTED
    assert not hasattr(plan_here(ground.site, neighbour.public_id).version, "decision")
