"""Carrying lots between bays, splitting them, and scrapping."""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.refusals import AlreadyDone, StockNotAvailable, WrongState, WrongValue
from records.ground import services as ground_services
from records.stock import families, moving, selectors
from records.stock import services as stock
from records.stock.models import (
    Lot,
    LotBalance,
    LotPlace,
    LotVerdict,
    Movement,
    ProductStock,
)
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW


@pytest.fixture
def yard(ground):
    return ground_services.add_bay(ground.site, name="Yard rack", by=ground.stores, at=NOW)


def carry(ground, lot, bay, **changes):
    given = {"bay": bay, "reason": "dry corner", "by": ground.stores, "at": NOW}
    return moving.carry_lot(lot, **{**given, **changes})


def split(ground, lot, quantity="3", **changes):
    given = {"quantity": Decimal(quantity), "code": "L-S", "bay": ground.bay, "by": ground.stores,
             "at": NOW}  # fmt: skip
    return moving.split_lot(lot, **{**given, **changes})


def scrap(ground, lot, quantity="3", **changes):
    given = {"quantity": Decimal(quantity), "reason": "soaked", "by": ground.stores, "at": NOW}
    return moving.scrap(lot, **{**given, **changes})


def test_the_newest_place_is_where_a_lot_lies(ground, yard):
    lot = builders.accepted_lot(ground)
    with writes("stock.lot_moved", LotPlace, alters=[LotBalance]):
        carry(ground, lot, yard)
    carry(ground, lot, ground.bay)
    assert [each.bay for each in selectors.places_of(lot)] == [ground.bay, yard]
    assert LotBalance.objects.get(lot=lot).bay == ground.bay
    with refuses(WrongValue, "bay"):
        carry(ground, lot, ground.bay)


def test_a_held_lot_may_be_carried_aside(ground, yard):
    lot = builders.accepted_lot(ground)
    stock.hold_lot(lot, reason="wet", by=ground.stores, at=NOW)
    carry(ground, lot, yard)
    assert LotBalance.objects.get(lot=lot).bay == yard


def test_a_bay_of_another_ground_is_none(ground, other):
    lot = builders.accepted_lot(ground)
    for verb in (carry, split):
        with refuses(WrongValue, "bay"):
            verb(ground, lot, bay=other.bay, **({"quantity": 3} if verb is split else {}))


def test_a_part_split_off_keeps_docket_verdict_and_moisture(ground):
    lot = builders.accepted_lot(ground, 8, sheet_mass_kg=Decimal("25.4"))
    added = (Lot, LotBalance, LotVerdict, Movement)
    with writes("stock.lot_split", *added, alters=[LotBalance]):
        child = split(ground, lot)
    here = selectors.lot_here(ground.site, child.public_id)
    parent = selectors.lot_here(ground.site, lot.public_id)
    assert (here.verdict, here.moisture_pct) == ("accepted", parent.moisture_pct)
    assert here.weighed_moisture_pct == parent.weighed_moisture_pct == 8
    assert here.delivery == lot.delivery
    assert (here.balance.on_hand, parent.balance.on_hand) == (3, 5)
    assert selectors.rounds_of([here], NOW)[here.pk].count == 3  # plan of 8 boards: 3 readings
    assert "carried over from lot" in selectors.verdicts_of(child)[0].reason


def test_a_child_goes_by_its_own_readings_once_it_has_some(ground):
    lot = builders.accepted_lot(ground, 8)
    child = split(ground, lot)
    assert selectors.moisture_of(child).mean_pct == 8
    builders.read(ground, child, "11", "11", "11", "11", "11")
    assert selectors.moisture_of(child).mean_pct == 11
    assert selectors.lot_here(ground.site, child.public_id).moisture_pct == 11
    assert selectors.lot_here(ground.site, lot.public_id).moisture_pct == 8
    assert selectors.lot_here(ground.site, child.public_id).weighed_moisture_pct == 8
    grandchild = split(ground, child, "1", code="L-SS")
    assert selectors.moisture_of(grandchild).mean_pct == 11


def test_holding_a_lot_holds_what_was_made_of_it_however_often(ground):
    lot = builders.accepted_lot(ground, 8)
    child = split(ground, lot)
    grandchild = split(ground, child, "1", code="L-SS")
    stock.hold_lot(lot, reason="glue smells", by=ground.stores, at=NOW)
    verdicts = [selectors.verdict_of(each) for each in (lot, child, grandchild)]
    assert verdicts == ["held"] * 3
    with refuses(WrongState):
        scrap(ground, grandchild, "1")


def test_a_rejected_child_is_not_made_held_again(ground):
    lot = builders.accepted_lot(ground, 8)
    child = split(ground, lot)
    with opened():
        LotVerdict(
            lot=child, verdict="rejected", decided_at=NOW, decided_by=ground.manager, reason="mould"
        ).save()
        marks = families.decide_children(lot, "held", "x", by=ground.stores, at=NOW)
    assert marks == []
    assert selectors.verdict_of(child) == "rejected"
    scrap(ground, child, "3")


@pytest.mark.parametrize("verb", [split, scrap])
def test_nothing_of_a_held_lot_leaves(ground, verb):
    lot = builders.accepted_lot(ground)
    stock.hold_lot(lot, reason="wet", by=ground.stores, at=NOW)
    with refuses(WrongState):
        verb(ground, lot)


@pytest.mark.parametrize("verb", [split, scrap])
@pytest.mark.parametrize("quantity", ["0", "-1", "2.5", "NaN", "5001"])
def test_boards_are_split_and_scrapped_whole(ground, verb, quantity):
    lot = builders.accepted_lot(ground)
    with refuses(WrongValue, "quantity"):
        verb(ground, lot, quantity)


@pytest.mark.parametrize("verb", [split, scrap])
def test_no_more_than_there_is(ground, verb):
    lot = builders.accepted_lot(ground, 2)
    with refuses(StockNotAvailable, "quantity"):
        verb(ground, lot)


def test_scrapping_takes_boards_and_their_value_out(ground):
    lot = builders.accepted_lot(ground, 8, unit_cost=Decimal("2.50"))
    with writes("stock.boards_scrapped", Movement, alters=[LotBalance, ProductStock]):
        scrap(ground, lot)
    assert Movement.objects.last().value == Decimal("7.50")
    assert LotBalance.objects.get(lot=lot).on_hand == 5


@pytest.mark.parametrize("reason", ["", " ", "x" * 301, "\0"])
def test_scrap_needs_a_reason_in_plain_text(ground, reason):
    lot = builders.accepted_lot(ground)
    with refuses(WrongValue, "reason"):
        scrap(ground, lot, reason=reason)


def test_a_mark_is_used_once(ground):
    lot = builders.accepted_lot(ground)
    with refuses(WrongValue, "code"):
        split(ground, lot, code=lot.code.lower())


ACTS = {"stock.lot_moved": carry, "stock.lot_split": split, "stock.boards_scrapped": scrap}


@pytest.mark.parametrize(
    ("act", "role"), [(act, role) for act in ACTS for role in refused_roles(act)]
)
def test_other_roles_may_not(ground, yard, act, role):
    lot = builders.accepted_lot(ground)
    more = {"bay": yard} if act == "stock.lot_moved" else {}
    with refuses_role():
        ACTS[act](ground, lot, by=actor(ground, role), **more)


def test_the_same_form_sent_twice_scraps_once(ground):
    lot = builders.accepted_lot(ground)
    scrap(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        scrap(ground, lot, once="form-1")
