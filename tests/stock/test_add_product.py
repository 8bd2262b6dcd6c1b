"""Adding a product to the store's list."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.stock import services as stock
from records.stock.models import Product, ProductStock
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.product_added"
SHEET = stock.Sheet(Decimal("2.44"), Decimal("1.22"), Decimal(18), Decimal(640), Decimal(8))


def add(ground, **changes):
    given = {"name": "New board", "kind": "osb", "calorific_dry_mj_kg": Decimal("17.5"),
             "calorific_source": "EN 1991-1-2 Table E.3, wood", "sheet": SHEET,
             "by": ground.stores, "at": NOW}  # fmt: skip
    return stock.add_product(ground.site, **{**given, **changes})


def test_a_board_is_added_with_its_sheet(ground):
    with writes(ACT, Product, ProductStock):
        product = add(ground)
    kept = Product.objects.get(pk=product.pk)
    assert (kept.length_m, kept.thickness_mm, kept.is_board) == (Decimal("2.44"), 18, True)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_add_a_product(ground, role):
    with refuses_role():
        add(ground, by=actor(ground, role))


@pytest.mark.parametrize(
    ("field", "value"),
    [("length_m", "0"), ("length_m", "6.1"), ("width_m", "-1"), ("width_m", "3.1"),
     ("thickness_mm", "1.9"), ("thickness_mm", "81"), ("density_kg_m3", "0"),
     ("density_kg_m3", "1201"), ("density_moisture_pct", "-0.1"), ("density_moisture_pct", "41")],
)  # fmt: skip
def test_a_sheet_has_the_size_and_density_of_a_board(ground, field, value):
    with refuses(WrongValue, field):
        add(ground, sheet=replace(SHEET, **{field: Decimal(value)}))


@pytest.mark.parametrize("value", ["0", "-17.5", "60.1", "NaN"])
def test_heat_content_is_that_of_a_fuel(ground, value):
    with refuses(WrongValue, "net_calorific_dry_mj_kg"):
        add(ground, calorific_dry_mj_kg=Decimal(value))


@pytest.mark.parametrize(
    ("field", "text"),
    [("name", ""), ("name", "x" * 61), ("name", "\0"), ("calorific_source", ""),
     ("calorific_source", "x" * 121), ("standard_class", "x" * 41), ("standard_class", "\a")],
)  # fmt: skip
def test_texts_are_plain_and_short_and_the_source_is_named(ground, field, text):
    with refuses(WrongValue, field):
        add(ground, **{field: text})


def test_an_unknown_kind_of_fuel_is_refused(ground):
    with refuses(WrongValue, "kind"):
        add(ground, kind="pallet")


def test_a_board_needs_a_sheet_and_loose_fuel_has_none(ground):
    with refuses(WrongValue, "length_m"):
        add(ground, sheet=None)
    with refuses(WrongValue, "length_m"):
        add(ground, kind="kindling")


def test_a_name_is_used_once_on_a_ground_and_free_on_another(ground, other):
    add(ground)
    with refuses(WrongValue, "name"):
        add(ground, name="NEW BOARD")
    with writes(ACT, Product, ProductStock):
        add(other)


def test_the_same_form_sent_twice_adds_one_product(ground):
    first = add(ground, once="form-1")
    with refuses(AlreadyDone) as caught:
        add(ground, name="Another", once="form-1")
    assert caught.value.public_id == first.public_id
