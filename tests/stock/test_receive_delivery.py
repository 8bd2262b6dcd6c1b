"""Receiving a delivery."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from facility.guarded import opened
from facility.refusals import AlreadyDone, WrongValue
from records.stock import services as stock
from records.stock.models import (
    Delivery,
    Lot,
    LotBalance,
    MarkCheck,
    Movement,
    ProductStock,
    SheetWeighing,
    Supplier,
)
from records.stock.receipts import density_of
from records.stock.selectors import sum_of_movements, verdict_of
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NONE_SEEN, NOW
from tests.forms_table import looked

ACT = "stock.delivery_received"


def lot(ground, received="40", code="L-A", **more):
    return stock.LotReceived(
        **{"product": ground.board, "code": code, "received": Decimal(received),
           "bay": ground.bay, "marks": NONE_SEEN, **more},
    )  # fmt: skip


def receive(ground, *lots, **changes):
    given = {"supplier": "Board yard", "docket": "D-1", "delivered_at": NOW, "untreated": True,
             "lots": lots or [lot(ground)], "by": ground.stores, "at": NOW}  # fmt: skip
    return stock.receive_delivery(ground.site, **{**given, **changes})


def test_a_delivery_brings_its_boards_into_the_store(ground):
    added = (Supplier, Delivery, Lot, LotBalance, MarkCheck, Movement)
    with writes(ACT, *added, alters=[ProductStock]):
        delivery = receive(ground)
    arrived = delivery.lots.get()
    assert LotBalance.objects.get(lot=arrived).on_hand == 40 == sum_of_movements(arrived)
    assert verdict_of(arrived) == "waiting"


def test_a_known_supplier_is_not_written_twice(ground):
    receive(ground)
    with writes(ACT, Delivery, Lot, LotBalance, MarkCheck, Movement, alters=[ProductStock]):
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


# -- what stands on the docket and the bundle ------------------------------------------------


def weighed(mass, thickness="20"):
    return stock.MeasuredSheet(Decimal("2.5"), Decimal(1), Decimal(thickness), Decimal(mass))


def test_cost_marks_of_the_mill_class_and_sheet_are_kept_with_the_lot(ground):
    line = lot(
        ground, unit_cost=Decimal("11.50"), mill_mark="Mill 7", emission_class="E1",
        sheet=weighed("26"),
    )  # fmt: skip
    added = (Supplier, Delivery, Lot, LotBalance, MarkCheck, SheetWeighing, Movement)
    with writes(ACT, *added, alters=[ProductStock]):
        arrived = receive(ground, line).lots.get()
    assert (arrived.unit_cost, arrived.mill_mark, arrived.emission_class) == (
        Decimal("11.50"), "Mill 7", "E1",
    )  # fmt: skip
    assert arrived.sheet_mass_kg == 26
    assert density_of(arrived).sheets[0].row.density_kg_m3 == 520


def test_a_sheet_weighed_but_not_measured_has_the_size_of_its_product(ground):
    arrived = receive(ground, lot(ground, sheet_mass_kg=Decimal(30))).lots.get()
    assert density_of(arrived).sheets[0].row.density_kg_m3 == 600
    assert density_of(arrived).outside


@pytest.mark.parametrize(
    ("field", "more"),
    [
        ("unit_cost", {"unit_cost": Decimal("-0.01")}),
        ("unit_cost", {"unit_cost": Decimal("1.005")}),
        ("unit_cost", {"unit_cost": Decimal("1e6")}),
        ("mill_mark", {"mill_mark": "x" * 61}), ("mill_mark", {"mill_mark": "bell\a"}),
        ("emission_class", {"emission_class": "x" * 11}),
        ("thickness_mm", {"sheet": weighed("25", "18000")}),
        ("sheet_mass_kg", {"sheet": weighed("199")}),
        ("mark_mb", {"marks": {}}),
    ],
)  # fmt: skip
def test_a_lot_with_nonsense_is_refused_by_field_and_by_its_place(ground, field, more):
    with refuses(WrongValue, field) as caught:
        receive(ground, lot(ground), lot(ground, code="L-B", **more))
    assert caught.value.line == 1


def test_a_lot_with_a_prohibited_mark_is_received_and_held_the_others_wait(ground):
    bad = lot(ground, code="L-B", marks=NONE_SEEN | {"cca": True})
    delivery = receive(ground, lot(ground), bad)
    good, held = delivery.lots.order_by("code")
    assert (verdict_of(good), verdict_of(held)) == ("waiting", "held")
    assert LotBalance.objects.get(lot=held).on_hand == 40
    assert "Stamp CCA" in held.verdicts.get().reason


@pytest.mark.parametrize("again", ["D-1", "d-1", " D-1 ", "D -1", "d  -  1", "D\t-1"])
def test_a_docket_spelt_another_way_is_the_same_docket(ground, again):
    receive(ground)
    with refuses(WrongValue, "docket"):
        receive(ground, lot(ground, code="L-B"), docket=again, supplier="board  YARD")


@pytest.mark.parametrize("again", ["L-A", "l-a", " L - A ", "L\t-A"])
def test_a_lot_mark_spelt_another_way_is_the_same_mark(ground, again):
    receive(ground)
    with refuses(WrongValue, "code"):
        receive(ground, lot(ground, code=again), docket="D-2")


def test_the_database_itself_refuses_a_docket_spelt_another_way(ground):
    first = receive(ground)
    second = Delivery(
        site=ground.site, supplier=first.supplier, docket="d - 1", delivered_at=NOW,
        recorded_at=NOW, received_by=ground.stores, untreated=True,
    )  # fmt: skip
    with pytest.raises(IntegrityError), transaction.atomic(), opened():
        second.save()


def test_loose_fuel_has_no_sheet(ground):
    with refuses(WrongValue, "sheet_mass_kg"):
        receive(ground, lot(ground, product=ground.kindling, sheet_mass_kg=Decimal(20)))


def test_the_page_shows_a_refusal_beside_the_lot_it_is_about(ground, signed_in):
    given = {
        "supplier": "Board yard", "docket": "D-1", "untreated": "on",
        "delivered_at": "2026-02-04T21:00",  # in the zone of the ground
    }  # fmt: skip
    for row, code in (("_0", "L-A"), ("_2", "L-A")):  # the row between is left empty
        given |= {f"product{row}": ground.board.public_id, f"code{row}": code,
                  f"received{row}": "40", **looked(row)}  # fmt: skip
    answer = signed_in(ground.stores).post("/store/deliveries/new/", given)
    assert answer.status_code == 400
    assert list(answer.context["form"].errors) == ["code_2"]
