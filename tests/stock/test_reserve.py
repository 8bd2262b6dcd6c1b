"""Boards set aside for approved plans."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import IntegrityError
from django.db.models import F, Sum

from facility.guarded import opened
from facility.refusals import NotHere, StockNotAvailable, WrongState
from records.plans import services as plans
from records.plans.selectors import plan_here
from records.stock import counting, moving, selectors
from records.stock.models import LotBalance, Reservation
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.boards_released"
DAY = dt.timedelta(days=1)


def later(ground, days, boards=3):
    return builders.content(ground, boards, starts_at=NOW + days * DAY)


def reserved(lot):
    """By the balance, which must be the sum of the rows."""
    total = Reservation.objects.filter(lot=lot).aggregate(t=Sum(F("sign") * F("quantity")))["t"]
    balance = LotBalance.objects.get(lot=lot)
    assert balance.reserved == (total or 0)
    return balance.reserved


def approve(ground, plan):
    plans.approve_plan(
        plan, meaning="approval to burn as planned", shown_hash=builders.hash_of(plan),
        by=ground.manager, at=NOW,
    )  # fmt: skip


def test_approving_sets_the_boards_of_the_charge_aside_oldest_lot_first(ground):
    old = builders.accepted_lot(ground, 2, at=NOW - DAY)
    new = builders.accepted_lot(ground, 5)
    builders.approved(ground, later(ground, 1, boards=3))
    assert (reserved(old), reserved(new)) == (2, 1)
    assert LotBalance.objects.get(lot=new).available == 4


def test_a_plan_over_what_is_free_is_refused_with_the_numbers_and_stays_submitted(ground):
    lot = builders.accepted_lot(ground, 5)
    builders.approved(ground, later(ground, 1, boards=3))
    plan = builders.submitted(ground, later(ground, 2, boards=3))
    with refuses(StockNotAvailable) as caught:
        approve(ground, plan)
    assert "3 of Test board asked for, 2 accepted and not reserved" in caught.value.sentence
    assert plan_here(ground.site, plan.public_id).state == "submitted"
    assert reserved(lot) == 3


def test_boards_reserved_for_one_plan_do_not_leave_for_another(ground):
    lot = builders.accepted_lot(ground, 5)
    other_plan = builders.approved(ground, later(ground, 2, boards=2))
    builders.approved(ground, later(ground, 1, boards=3))
    line = plan_here(ground.site, other_plan.public_id).version.charge.get()
    builders.issue(ground, other_plan)
    assert line.quantity == 2
    assert reserved(lot) == LotBalance.objects.get(lot=lot).on_hand == 3
    with refuses(StockNotAvailable, "quantity") as caught:
        moving.scrap(lot, quantity=Decimal(1), reason="x", by=ground.stores, at=NOW)
    assert "1 asked for, 3 on hand, 3 of them reserved" in caught.value.sentence


def test_issuing_takes_the_plans_own_boards_and_leaves_no_claim(ground):
    lot = builders.accepted_lot(ground, 5)
    builders.issued(ground, later(ground, 1, boards=3))
    assert (reserved(lot), LotBalance.objects.get(lot=lot).on_hand) == (0, 2)


def test_fewer_handed_out_than_approved_frees_the_rest(ground):
    lot = builders.accepted_lot(ground, 5)
    plan = builders.approved(ground, later(ground, 1, boards=3))
    line = plan_here(ground.site, plan.public_id).version.charge.get()
    plans.issue_charge(plan, [plans.Handout(line, lot, Decimal(2))], by=ground.stores, at=NOW)
    assert (reserved(lot), LotBalance.objects.get(lot=lot).on_hand) == (0, 3)


def test_withdrawing_or_revising_frees_the_boards(ground):
    lot = builders.accepted_lot(ground, 9)
    withdrawn = builders.approved(ground, later(ground, 1))
    revised = builders.approved(ground, later(ground, 2))
    assert reserved(lot) == 6
    plans.withdraw_plan(withdrawn, reason="rain", by=ground.manager, at=NOW)
    assert reserved(lot) == 3
    content = replace(later(ground, 2), objective="Another objective")
    plans.revise_plan(revised, content, seen_version=1, by=ground.instructor, at=NOW)
    assert reserved(lot) == 0


def test_a_count_that_finds_fewer_frees_the_newest_claim_first(ground):
    counting.set_count_limits(
        ground.site, over_pct=Decimal(100), over_value=Decimal(1000), by=ground.manager, at=NOW
    )
    lot = builders.accepted_lot(ground, 20)
    first = builders.approved(ground, later(ground, 1, boards=3))
    second = builders.approved(ground, later(ground, 2, boards=3))
    counting.adjust_stock(lot, counted_now=Decimal(4), reason="gone", by=ground.stores, at=NOW)
    held = {each.plan: each.quantity for each in selectors.reservations_on(ground.site)}
    assert held == {first.public_id: 3, second.public_id: 1}
    assert reserved(lot) == LotBalance.objects.get(lot=lot).on_hand == 4


def lapsed(ground):
    """Approved for yesterday, and not burned."""
    lot = builders.accepted_lot(ground, 9, at=NOW - 4 * DAY)
    return lot, builders.approved(ground, later(ground, -1), at=NOW - 3 * DAY)


def test_the_store_frees_the_boards_of_a_plan_whose_day_has_passed(ground):
    lot, plan = lapsed(ground)
    with writes(ACT, Reservation, alters=[LotBalance]):
        moving.release_boards(ground.site, plan.public_id, by=ground.stores, at=NOW)
    assert reserved(lot) == 0
    assert selectors.reservations_on(ground.site) == []


def test_a_burn_still_ahead_keeps_its_boards(ground):
    builders.accepted_lot(ground, 9)
    plan = builders.approved(ground, later(ground, 1))
    with refuses(WrongState):
        moving.release_boards(ground.site, plan.public_id, by=ground.stores, at=NOW)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_release(ground, role):
    _lot, plan = lapsed(ground)
    with refuses_role():
        moving.release_boards(ground.site, plan.public_id, by=actor(ground, role), at=NOW)


def test_another_grounds_reservation_is_not_there(ground, other):
    _lot, plan = lapsed(ground)
    with refuses(NotHere):
        moving.release_boards(other.site, plan.public_id, by=other.stores, at=NOW)


@pytest.mark.parametrize("wrong", [Decimal(-1), Decimal(4)])
def test_the_database_itself_refuses_a_reservation_below_nothing_or_above_the_stock(ground, wrong):
    lot = builders.accepted_lot(ground, 3)
    with opened(), pytest.raises(IntegrityError):
        LotBalance.objects.filter(lot=lot).update(reserved=wrong)
