"""Receiving a delivery."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.stock import services as stock
from records.stock.models import Delivery, Lot, LotBalance, Movement, ProductStock, Supplier
from records.stock.selectors import sum_of_movements, verdict_of
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.delivery_received"


def lot(ground, received="40", code="L-A", **more):
    return stock.LotReceived(
        **{"product": ground.board, "code": code, "received": Decimal(received),
           "bay": ground.bay, **more},
    )  # fmt: skip


def receive(ground, *lots, **changes):
    given = {"supplier": "Board yard", "docket": "D-1", "delivered_at": NOW, "untreated": True,
             "lots": lots or [lot(ground)], "by": ground.stores, "at": NOW}  # fmt: skip
    return stock.receive_delivery(ground.site, **{**given, **changes})


def test_a_delivery_brings_its_boards_into_the_store(ground):
    added = (Supplier, Delivery, Lot, LotBalance, Movement)
    with writes(ACT, *added, alters=[ProductStock]):
        delivery = receive(ground)
    arrived = delivery.lots.get()
    assert LotBalance.objects.get(lot=arrived).on_hand == 40 == sum_of_movements(arrived)
    assert verdict_of(arrived) == "waiting"


def test_a_known_supplier_is_not_written_twice(ground):
    receive(ground)
    with writes(ACT, Delivery, Lot, LotBalance, Movement, alters=[ProductStock]):
        receive(ground, lot(ground, code="L-B"), supplier="BOARD YARD", docket="D-2")


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_receive(ground, role):
    with refuses_role():
        receive(ground, by=actor(ground, role))


@pytest.mark.parametrize("received", ["-1", "0", "2.5", "5001", "NaN", "Infinity"])
def test_boards_come_in_whole_positive_numbers_a_lorry_can_carry(ground, received):
    with refuses(WrongValue, "received"):
        receive(ground, lot(ground, received))


def test_kindling_comes_in_hundredths_of_a_kilogram_at_the_finest(ground):
    """The store keeps two decimals; a finer amount would be lost in rounding."""
    receive(ground, lot(ground, "2.25", product=ground.kindling))
    with refuses(WrongValue, "received"):
        receive(ground, lot(ground, "0.004", "L-B", product=ground.kindling), docket="D-2")


@pytest.mark.parametrize("text", ["", "   ", "x" * 81, "bell\a"])
def test_supplier_is_named_in_plain_text(ground, text):
    with refuses(WrongValue, "supplier"):
        receive(ground, supplier=text)


@pytest.mark.parametrize("text", ["", "x" * 41, "null\0"])
def test_docket_is_named_in_plain_text(ground, text):
    with refuses(WrongValue, "docket"):
        receive(ground, docket=text)


@pytest.mark.parametrize("text", ["", "x" * 21, "null\0"])
def test_lot_mark_is_plain_text(ground, text):
    with refuses(WrongValue, "code"):
        receive(ground, lot(ground, code=text))


def test_what_has_not_arrived_cannot_be_received(ground):
    with refuses(WrongValue, "delivered_at"):
        receive(ground, delivered_at=NOW + dt.timedelta(minutes=3))


def test_treated_material_never_enters_the_store(ground):
    with refuses(WrongValue, "untreated"):
        receive(ground, untreated=False)


def test_a_delivery_has_a_lot(ground):
    with refuses(WrongValue, "lots"):
        receive(ground, lots=[])


@pytest.mark.parametrize("mass", ["0", "-3", "201"])
def test_a_weighed_sheet_has_a_mass_a_person_can_lift(ground, mass):
    with refuses(WrongValue, "sheet_mass_kg"):
        receive(ground, lot(ground, sheet_mass_kg=Decimal(mass)))


def test_a_docket_is_received_once_and_a_lot_mark_used_once(ground):
    receive(ground)
    with refuses(WrongValue, "docket"):
        receive(ground, lot(ground, code="L-B"))
    with refuses(WrongValue, "code"):
        receive(ground, lot(ground, code="l-a"), docket="D-2")
    with refuses(WrongValue, "code"):
        receive(ground, lot(ground, code="L-C"), lot(ground, code="L-C"), docket="D-3")


def test_product_and_bay_of_another_ground_are_not_here(ground, other):
    with refuses(WrongValue, "product"):
        receive(ground, lot(ground, product=other.board))
    with refuses(WrongValue, "bay"):
        receive(ground, lot(ground, bay=other.bay))


def test_a_second_good_lot_does_not_save_a_bad_one(ground):
    """One transaction: either the whole docket or nothing."""
    with refuses(WrongValue, "received"):
        receive(ground, lot(ground), lot(ground, "0", "L-B"))


def test_the_same_form_sent_twice_is_received_once(ground):
    first = receive(ground, once="form-1")
    with refuses(AlreadyDone) as caught:
        receive(ground, once="form-1")
    assert caught.value.public_id == first.public_id
