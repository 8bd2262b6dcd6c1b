"""Accepting a lot for burning."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongState
from records.stock import services as stock
from records.stock.models import LotVerdict
from records.stock.selectors import verdict_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.lot_accepted"


def read_lot(ground, *readings):
    lot = builders.deliver(ground)
    builders.read(ground, lot, *readings)
    return lot


def accept(ground, lot, **changes):
    return stock.accept_lot(lot, **{"by": ground.stores, "at": NOW, **changes})


def test_a_lot_with_five_readings_is_accepted_at_their_mean(ground):
    lot = read_lot(ground, "8", "9", "10", "11", "12")
    with writes(ACT, LotVerdict):
        accept(ground, lot)
    kept = lot.verdicts.get()
    assert (kept.readings, kept.moisture_mean_pct, kept.moisture_highest_pct) == (5, 10, 12)
    assert verdict_of(lot) == "accepted"


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_accept(ground, role):
    lot = read_lot(ground)
    with refuses_role():
        accept(ground, lot, by=actor(ground, role))


def test_four_readings_of_forty_boards_are_too_few(ground):
    lot = read_lot(ground, "8", "8", "8", "8")
    with refuses(WrongState):
        accept(ground, lot)


def test_loose_fuel_needs_no_readings(ground):
    lot = builders.deliver(ground, product=ground.kindling)
    with writes(ACT, LotVerdict):
        accept(ground, lot)


def test_an_accepted_lot_is_not_accepted_again_but_a_held_one_is(ground):
    lot = read_lot(ground)
    accept(ground, lot)
    with refuses(WrongState):
        accept(ground, lot)
    stock.hold_lot(lot, reason="wet corner", by=ground.stores, at=NOW)
    with writes(ACT, LotVerdict):
        accept(ground, lot)


def test_the_stores_officer_of_another_ground_may_not(ground, other):
    lot = read_lot(ground)
    with refuses_role():
        accept(ground, lot, by=other.stores)


def test_the_same_form_sent_twice_gives_one_verdict(ground):
    lot = read_lot(ground)
    accept(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        accept(ground, lot, once="form-1")


def test_a_wet_board_is_kept_beside_the_mean(ground):
    """The mean is what the mass rests on; the highest is kept beside it."""
    lot = read_lot(ground, "5", "5", "5", "6", "9")
    verdict = accept(ground, lot)
    assert (verdict.moisture_mean_pct, verdict.moisture_highest_pct) == (Decimal(6), Decimal(9))
