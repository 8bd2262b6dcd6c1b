"""No step is skipped: every act from every state, and only the listed pairs pass."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.refusals import WrongState
from records.burns import services as burns
from records.inspections.checklists import PRE_BURN
from records.plans import services as plans
from records.plans.models import PlanState
from records.plans.selectors import plan_here
from tests import builders
from tests.asking import refuses
from tests.builders import NOW, hash_of


def revise(ground, plan):
    plans.revise_plan(
        plan, builders.content(ground), seen_version=1, by=ground.instructor, at=NOW
    )  # fmt: skip


def submit(ground, plan):
    plans.submit_plan(plan, seen_hash=hash_of(plan), by=ground.instructor, at=NOW)


def approve(ground, plan):
    plans.approve_plan(plan, meaning="m", shown_hash=hash_of(plan), by=ground.manager, at=NOW)


def send_back(ground, plan):
    plans.send_back_plan(plan, reason="r", shown_hash=hash_of(plan), by=ground.manager, at=NOW)


def withdraw(ground, plan):
    plans.withdraw_plan(plan, reason="r", by=ground.instructor, at=NOW)


def issue(ground, plan):
    line = plan_here(ground.site, plan.public_id).version.charge.get()
    handout = plans.Handout(line, ground.lot, Decimal(3))
    plans.issue_charge(plan, [handout], by=ground.stores, at=NOW)


def start(ground, plan):
    starts_at = plan_here(ground.site, plan.public_id).version.starts_at
    burns.start_burn(
        plan, checks=dict.fromkeys(PRE_BURN, True), present=builders.everyone(plan),
        ignition_method="gas", weather="dry", by=ground.instructor, ignited_at=starts_at,
        at=starts_at,
    )  # fmt: skip


def give_back(ground, plan):
    burns.return_boards(plan, ground.lot, Decimal(1), returned_at=NOW, by=ground.stores, at=NOW)


ACTS = {"revise": revise, "submit": submit, "approve": approve, "send_back": send_back,
        "withdraw": withdraw, "issue": issue, "start": start, "return": give_back}  # fmt: skip
MAY = {
    "revise": {"draft", "sent_back", "submitted", "approved"}, "submit": {"draft"},
    "approve": {"submitted"}, "send_back": {"submitted"}, "issue": {"approved"},
    "withdraw": {"draft", "sent_back", "submitted", "approved"}, "start": {"approved"},
    "return": {"approved", "burned"},
}  # fmt: skip


def test_the_table_names_every_act_and_no_other():
    assert plans.MAY_START_FROM == MAY
    assert set(ACTS) == set(MAY)


@pytest.mark.parametrize("act", sorted(ACTS))
def test_an_act_starts_only_from_the_states_listed(ground, act):
    ground.lot = builders.accepted_lot(ground)
    needs_boards = act in ("start", "return")
    for state in PlanState:
        plan = builders.issued(ground) if needs_boards else builders.drafted(ground)
        with opened():
            plan.state = state
            plan.save()
        if state in MAY[act]:
            ACTS[act](ground, plan)
        else:
            with refuses(WrongState):
                ACTS[act](ground, plan)
        with opened():  # out of the way of the next one
            plan.state = PlanState.WITHDRAWN
            plan.save()
