"""The guard of the ledger itself; ``test_store_machine`` tries it in any order of acts."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.db import IntegrityError

from facility.guarded import opened
from facility.refusals import StockNotAvailable, WrongState
from records.stock import ledger
from records.stock import services as stock
from records.stock.models import LotBalance, Movement, MovementKind
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.builders import NOW


def test_more_than_is_on_hand_cannot_leave(ground):
    lot = builders.accepted_lot(ground, 3)
    with opened(), pytest.raises(StockNotAvailable, match="4 asked for, 3 on hand"):
        ledger.move(
            lot, MovementKind.ISSUE, Decimal(4), by=ground.stores, happened_at=NOW, recorded_at=NOW
        )
    assert LotBalance.objects.get(lot=lot).on_hand == 3 == sum_of_movements(lot)


def test_the_database_itself_refuses_a_negative_balance(ground):
    lot = builders.accepted_lot(ground, 3)
    with opened(), pytest.raises(IntegrityError):
        LotBalance.objects.filter(lot=lot).update(on_hand=Decimal(-1))


@pytest.mark.parametrize("wrong", [{"quantity": 0}, {"quantity": -1}, {"sign": 0}, {"sign": 2}])
def test_the_database_itself_refuses_a_movement_of_nothing_or_without_direction(ground, wrong):
    lot = builders.accepted_lot(ground, 3)
    whole = {"lot": lot, "kind": "receive", "sign": 1, "quantity": 1, "happened_at": NOW,
             "recorded_at": NOW, "moved_by": ground.stores}  # fmt: skip
    with opened(), pytest.raises(IntegrityError):
        Movement(**{**whole, **wrong}).save()


LEAVING = [MovementKind.ISSUE, MovementKind.CUT, MovementKind.MOVED_OUT, MovementKind.SCRAP]


@pytest.mark.parametrize("kind", LEAVING)
def test_nothing_of_a_held_lot_leaves_by_any_movement(ground, kind):
    lot = builders.accepted_lot(ground, 3)
    stock.hold_lot(lot, reason="wet", by=ground.stores, at=NOW)
    with opened(), pytest.raises(WrongState):
        ledger.move(lot, kind, Decimal(1), by=ground.stores, happened_at=NOW, recorded_at=NOW)


def test_a_count_of_a_held_lot_is_written(ground):
    lot = builders.accepted_lot(ground, 3)
    stock.hold_lot(lot, reason="wet", by=ground.stores, at=NOW)
    given = {"by": ground.stores, "happened_at": NOW, "recorded_at": NOW}
    with opened():
        ledger.move(lot, MovementKind.ADJUST_DOWN, Decimal(1), **given)
    assert LotBalance.objects.get(lot=lot).on_hand == 2
