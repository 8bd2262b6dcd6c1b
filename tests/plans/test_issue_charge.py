"""Issuing the charge: what really leaves the store is judged again."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from facility.refusals import (
    AlreadyDone,
    LimitExceeded,
    StockNotAvailable,
    WrongState,
    WrongValue,
)
from records.plans import services as plans
from records.plans.models import ChargeIssue
from records.plans.selectors import plan_here
from records.stock import services as stock
from records.stock.models import LotBalance, Movement, ProductStock, Reservation
from records.stock.receiving import explain_density
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "plans.charge_issued"
LATER = NOW + dt.timedelta(hours=1)


@pytest.fixture
def plan(ground):
    ground.lot = builders.accepted_lot(ground)
    return builders.approved(ground)


def handout(plan, lot, quantity="3"):
    line = plan_here(plan.site, plan.public_id).version.charge.get()
    return plans.Handout(line, lot, Decimal(quantity))


def issue(ground, plan, *handouts, **changes):
    given = {"by": ground.stores, "at": NOW, **changes}
    return plans.issue_charge(plan, handouts or [handout(plan, ground.lot)], **given)


def test_boards_leave_the_store_for_the_plan(ground, plan):
    neighbour = builders.accepted_lot(ground)
    with writes(ACT, ChargeIssue, Movement, Reservation, alters=[LotBalance, ProductStock]):
        judgement = issue(ground, plan)
    assert judgement.dry_mass_kg == pytest.approx(75.0)
    assert LotBalance.objects.get(lot=ground.lot).on_hand == 37 == sum_of_movements(ground.lot)
    assert LotBalance.objects.get(lot=neighbour).on_hand == 40


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_issue(ground, plan, role):
    with refuses_role():
        issue(ground, plan, by=actor(ground, role))


def test_two_lots_may_make_up_a_line_and_less_may_be_issued(ground, plan):
    second = builders.accepted_lot(ground)
    parts = handout(plan, ground.lot, "1"), handout(plan, second, "1")
    with writes(ACT, ChargeIssue, Movement, Reservation, alters=[LotBalance, ProductStock]):
        issue(ground, plan, *parts, why_younger="the first pack is open")


@pytest.mark.parametrize("quantities", [["4"], ["2", "2"]])
def test_more_than_the_plan_says_is_refused(ground, plan, quantities):
    with refuses(WrongValue, "quantity"):
        issue(ground, plan, *(handout(plan, ground.lot, each) for each in quantities))


@pytest.mark.parametrize("quantity", ["0", "-1", "1.5", "NaN"])
def test_boards_are_issued_whole(ground, plan, quantity):
    with refuses(WrongValue, "quantity"):
        issue(ground, plan, handout(plan, ground.lot, quantity))


def test_nothing_is_not_issued(ground, plan):
    with refuses(WrongValue, "quantity"):
        plans.issue_charge(plan, [], by=ground.stores, at=NOW)


def test_more_than_is_on_hand_is_refused_and_the_other_lot_keeps_its_boards(ground):
    """The second hand-out fails; the first one is undone with it."""
    first, second = builders.accepted_lot(ground, 4), builders.accepted_lot(ground, 1)
    plan = builders.approved(ground)
    with refuses(StockNotAvailable):
        parts = handout(plan, first, "1"), handout(plan, second, "2")
        issue(ground, plan, *parts, why_younger="the first pack is open")


def test_a_lot_that_is_held_or_waits_is_not_issued(ground, plan):
    waiting = builders.deliver(ground)
    stock.hold_lot(ground.lot, reason="wet", by=ground.stores, at=NOW)
    for lot in (ground.lot, waiting):
        with refuses(WrongState):
            issue(ground, plan, handout(plan, lot))


def test_a_lot_of_another_product_or_ground_is_not_issued(ground, plan, other):
    for lot in (
        builders.accepted_lot(ground, product=ground.kindling),
        builders.accepted_lot(other),
    ):
        with refuses(WrongValue, "lot"):
            issue(ground, plan, handout(plan, lot))


def test_where_the_approved_plan_names_a_lot_no_other_lot_is_issued(ground):
    named, another = builders.accepted_lot(ground), builders.accepted_lot(ground)
    content = builders.content(ground)
    charge = (replace(content.charge[0], lot=named),)
    plan = builders.approved(ground, replace(content, charge=charge))
    with refuses(WrongValue, "lot"):
        issue(ground, plan, handout(plan, another))
    issue(ground, plan, handout(plan, named))


def test_a_line_of_another_plan_is_not_issued(ground, plan):
    second = builders.approved(
        ground, builders.content(ground, starts_at=NOW + dt.timedelta(days=3))
    )  # fmt: skip
    with refuses(WrongValue, "line"):
        issue(ground, plan, handout(second, ground.lot))


def test_a_charge_is_issued_once(ground, plan):
    issue(ground, plan)
    with refuses(WrongState):
        issue(ground, plan)


@pytest.mark.parametrize(("reading", "refused"), [("12", False), ("12.01", True)])
def test_boards_that_became_wet_since_the_approval_do_not_leave(ground, plan, reading, refused):
    next_round = NOW + dt.timedelta(hours=13)
    builders.read(ground, ground.lot, *[reading] * 5, at=next_round)
    if not refused:
        issue(ground, plan, at=next_round)
        return
    with refuses(LimitExceeded) as caught:
        issue(ground, plan, at=next_round)
    (wet,) = caught.value.findings
    assert (wet.rule.code, wet.known.value, wet.rule.limit) == ("F-15", 12.01, 12.0)
    assert wet.margin == pytest.approx(-0.01)
    assert wet.rule.clause == "T-1, test standard"


def test_one_reading_does_not_replace_a_round(ground, plan):
    """Until the newest round has five readings the moisture is not known, which is no pass."""
    alone = NOW + dt.timedelta(hours=13)
    builders.read(ground, ground.lot, "8", at=alone)
    with refuses(LimitExceeded) as caught:
        issue(ground, plan, at=alone)
    assert "F-15" in [each.rule.code for each in caught.value.findings]


@pytest.mark.parametrize(("mass", "refused"), [("36", False), ("36.01", True)])
def test_heavier_boards_than_planned_are_judged_by_their_own_weight(ground, plan, mass, refused):
    """Sheets weighed at 8 %: 36.00 / 1.08 = 33.33 kg dry, three make 100 kg, the cap."""
    heavy = builders.deliver(ground, sheet_mass_kg=Decimal(mass))
    builders.read(ground, heavy)
    explain_density(heavy, reason="a thicker mill run", by=ground.stores, at=NOW)
    stock.accept_lot(heavy, by=ground.stores, at=NOW)
    if not refused:
        issue(ground, plan, handout(plan, heavy), why_younger="the thick ones first")
        return
    with refuses(LimitExceeded) as caught:
        issue(ground, plan, handout(plan, heavy), why_younger="the thick ones first")
    (over,) = caught.value.findings
    assert (over.rule.code, over.rule.limit) == ("Q-1", 100.0)
    assert over.known.value == pytest.approx(3 * 36.01 / 1.08)


def test_the_same_form_sent_twice_issues_once(ground, plan):
    issue(ground, plan, once="form-1")
    with refuses(AlreadyDone):
        issue(ground, plan, once="form-1")
