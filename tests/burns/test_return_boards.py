"""Boards that come back from a plan."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.burns import services as burns
from records.stock.models import LotBalance, Movement, ProductStock
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "burns.boards_returned"
LATER = NOW + dt.timedelta(days=2)


@pytest.fixture
def plan(ground):
    """40 boards in the store, three of them out for the plan."""
    ground.lot = builders.accepted_lot(ground, 40)
    return builders.issued(ground)


def give_back(ground, plan, boards=1, lot=None, **changes):
    given = {"returned_at": NOW, "by": ground.stores, "at": NOW, **changes}
    burns.return_boards(plan, lot or ground.lot, Decimal(boards), **given)


def test_boards_that_come_back_are_on_hand_again(ground, plan):
    with writes(ACT, Movement, alters=[LotBalance, ProductStock]):
        give_back(ground, plan, 2)
    assert LotBalance.objects.get(lot=ground.lot).on_hand == 39 == sum_of_movements(ground.lot)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_take_boards_back(ground, plan, role):
    with refuses_role():
        give_back(ground, plan, by=actor(ground, role))


@pytest.mark.parametrize("boards", ["0", "-1", "0.5", "4", "NaN"])
def test_no_more_comes_back_than_left(ground, plan, boards):
    with refuses(WrongValue, "quantity"):
        give_back(ground, plan, boards)


def test_what_came_back_does_not_come_back_again(ground, plan):
    give_back(ground, plan, 2)
    with refuses(WrongValue, "quantity"):
        give_back(ground, plan, 2)
    give_back(ground, plan, 1)


def test_what_burned_does_not_come_back(ground):
    """Three left, two burned, one is still out."""
    ground.lot = builders.accepted_lot(ground)
    burn = builders.closed(ground, used={ground.lot.public_id: Decimal(2)})
    with refuses(WrongValue, "quantity"):
        give_back(ground, burn.version.plan, 2, returned_at=LATER, at=LATER)
    give_back(ground, burn.version.plan, 1, returned_at=LATER, at=LATER)


def test_a_lot_that_did_not_leave_for_the_plan_does_not_come_back(ground, plan, other):
    for lot in (builders.accepted_lot(ground), builders.accepted_lot(other)):
        with refuses(WrongValue, "quantity"):
            give_back(ground, plan, lot=lot)


def test_what_has_not_come_back_yet_is_not_recorded(ground, plan):
    with refuses(WrongValue, "returned_at"):
        give_back(ground, plan, returned_at=NOW + dt.timedelta(minutes=3))


def test_the_same_form_sent_twice_returns_once(ground, plan):
    give_back(ground, plan, once="form-1")
    with refuses(AlreadyDone):
        give_back(ground, plan, once="form-1")
