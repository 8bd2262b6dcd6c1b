"""Adjusting the stock to a count."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.stock import counting
from records.stock.models import (
    CountState,
    LotBalance,
    Movement,
    ProductStock,
    Stocktake,
    StocktakeLine,
)
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.stock_adjusted"


def adjust(ground, lot, counted="38", **changes):
    given = {"counted_now": Decimal(counted), "reason": "two broken", "by": ground.stores,
             "at": NOW}  # fmt: skip
    return counting.adjust_stock(lot, **{**given, **changes})


@pytest.mark.parametrize(
    ("counted", "kind", "moved"), [("38", "adjust_down", 2), ("41", "adjust_up", 1)]
)
def test_the_difference_is_written_as_a_movement(ground, counted, kind, moved):
    lot = builders.deliver(ground, 40)
    with writes(ACT, Movement, Stocktake, StocktakeLine, alters=[LotBalance, ProductStock]):
        adjust(ground, lot, counted)
    movement = Movement.objects.last()
    assert (movement.kind, movement.quantity) == (kind, moved)
    assert LotBalance.objects.get(lot=lot).on_hand == Decimal(counted) == sum_of_movements(lot)


def test_a_count_far_off_waits_for_a_second_person_and_moves_nothing(ground):
    """The threshold is 10 % of the record: 36 of 40 is within, 35 is not."""
    lot = builders.deliver(ground, 40)
    with writes(ACT, Stocktake, StocktakeLine):
        adjust(ground, lot, "35")
    assert LotBalance.objects.get(lot=lot).on_hand == 40
    assert StocktakeLine.objects.get().state == CountState.SIGNED
    adjust(ground, lot, "36")
    assert LotBalance.objects.get(lot=lot).on_hand == 36


def test_the_lot_beside_it_keeps_its_stock(ground):
    lot, neighbour = builders.deliver(ground, 40), builders.deliver(ground, 40)
    adjust(ground, lot)
    assert LotBalance.objects.get(lot=neighbour).on_hand == 40


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_adjust(ground, role):
    lot = builders.deliver(ground)
    with refuses_role():
        adjust(ground, lot, by=actor(ground, role))


@pytest.mark.parametrize("counted", ["-1", "37.5", "5001", "NaN"])
def test_a_count_is_a_whole_number_of_boards(ground, counted):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "counted"):
        adjust(ground, lot, counted)


def test_kindling_is_weighed_to_hundredths_at_the_finest(ground):
    lot = builders.deliver(ground, 40, product=ground.kindling)
    with refuses(WrongValue, "counted"):
        adjust(ground, lot, "38.123")


@pytest.mark.parametrize("reason", ["", " ", "x" * 301, "\0"])
def test_the_reason_is_given_in_plain_text(ground, reason):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "reason"):
        adjust(ground, lot, reason=reason)


def test_a_count_that_agrees_adjusts_nothing(ground):
    lot = builders.deliver(ground, 40)
    with refuses(WrongValue, "counted"):
        adjust(ground, lot, "40")


def test_the_same_form_sent_twice_adjusts_once(ground):
    lot = builders.deliver(ground)
    adjust(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        adjust(ground, lot, "30", once="form-1")
