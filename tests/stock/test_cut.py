"""Cutting sheets: whole counts, the wood within the kerf, the value to the cent."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, StockNotAvailable, WrongState, WrongValue
from records.plans.content import Line
from records.stock import cutting, selectors
from records.stock import services as stock
from records.stock.models import (
    Cutting,
    Lot,
    LotBalance,
    LotVerdict,
    Movement,
    Product,
    ProductStock,
)
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.lot_cut"
# The sheet of the test ground is 2.5 x 1 m, 20 mm, 500 kg/m3 dry: 25 kg. In pieces of 1.2 x 0.45 m
# with 5 mm: 2 along (2.5 = 2.4 + 2 x 0.005 + 0.09), 2 across (1 = 0.9 + 2 x 0.005 + 0.09).
PATTERN = cutting.Pattern(Decimal("1.2"), Decimal("0.45"), Decimal(5))
# 0.6 x 0.45 m: 4 along (2.5 = 2.4 + 4 x 0.005 + 0.08), 2 across; the side strips are 0.09 m.
# 1.0 x 0.45 m: 2 along, end strip 2.5 - 2 x 1.005 = 0.49 m by 1 m.
WITH_END = cutting.Pattern(Decimal(1), Decimal("0.45"), Decimal(5))


def cut(ground, lot, sheets="3", **changes):
    given = {"sheets": Decimal(sheets), "pattern": PATTERN, "code": "L-C", "keep_offcuts": False,
             "by": ground.stores, "at": NOW}  # fmt: skip
    return cutting.cut_sheets(lot, **{**given, **changes})


def test_sheets_become_a_lot_of_pieces_with_docket_verdict_and_moisture(ground):
    lot = builders.accepted_lot(ground, 10)
    added = (Lot, LotBalance, LotVerdict, Movement, Product, ProductStock, Cutting)
    with writes(ACT, *added, alters=[LotBalance, ProductStock]):
        pieces = cut(ground, lot)
    here = selectors.lot_here(ground.site, pieces.public_id)
    assert (here.balance.on_hand, LotBalance.objects.get(lot=lot).on_hand) == (12, 7)
    assert here.product.name == "Test board, 1200 x 450"
    assert (here.product.kind, here.product.piece_of) == (ground.board.kind, ground.board)
    assert (here.verdict, here.moisture_pct, here.delivery) == ("accepted", 8, lot.delivery)
    assert here.cut_from == lot


def test_the_same_size_is_the_same_product_next_time(ground):
    lot = builders.accepted_lot(ground, 10)
    first = cut(ground, lot, "1")
    with writes(
        ACT, Lot, LotBalance, LotVerdict, Movement, Cutting, alters=[LotBalance, ProductStock]
    ):
        second = cut(ground, lot, "1", code="L-D")
    assert first.product == second.product


@pytest.mark.parametrize("weighed", [None, Decimal("27.40")])
def test_the_dry_wood_of_the_sheets_is_that_of_pieces_offcuts_and_kerf(ground, weighed):
    """Four pieces are 2.16 m2 of 2.5, the kerf as the pattern says; a weighed mass is kept to 10 g,
    so a piece may be 5 g off."""
    lot = builders.accepted_lot(ground, 10, sheet_mass_kg=weighed)
    pieces = cut(ground, lot)
    sheet = selectors.figures_for(lot.product, selectors.lot_here(ground.site, lot.public_id))
    piece = selectors.figures_for(pieces.product, selectors.lot_here(ground.site, pieces.public_id))
    row = Cutting.objects.get()
    kerf = float(row.kerf_share) * 3 * sheet.dry_mass_kg
    whole = 12 * piece.dry_mass_kg + float(row.scrapped_kg) + kerf
    assert whole == pytest.approx(3 * sheet.dry_mass_kg, abs=12 * 0.005 + 0.01)
    assert 12 * piece.dry_mass_kg == pytest.approx(
        3 * sheet.dry_mass_kg * 2.16 / 2.5, abs=12 * 0.005
    )
    assert row.offcuts == 3 * 3  # an end strip and two side strips each


def test_offcuts_that_are_kept_are_counted_lots_with_their_size_and_share_of_the_value(ground):
    """By hand: 2 sheets at 10.00; the end strip is 0.49 of 2.5 m2, so 1.96 of each 10.00."""
    lot = builders.accepted_lot(ground, 10, unit_cost=Decimal(10))
    pieces = cut(ground, lot, "2", pattern=WITH_END, keep_offcuts=True)
    end = Lot.objects.get(code="L-C-E")
    assert (end.received, end.product.name) == (2, "Test board, 490 x 1000")
    values = {each.lot.code: each.value for each in Movement.objects.filter(kind="pieces")}
    assert values == {"L-C": Decimal("16.08"), "L-C-E": Decimal("3.92")}
    assert pieces.received == 8
    # the side strips are 0.09 m wide, too narrow to be kept, and are on record as thrown away
    row = Cutting.objects.get()
    assert row.scrapped_kg == pytest.approx(
        Decimal(2 * 25 * 2 * 0.09 * 1.0 / 2.5), abs=Decimal("0.01")
    )


@pytest.mark.parametrize("cost", ["0.01", "3.33", "9.99", "101.07"])
def test_the_value_is_kept_to_the_cent_whatever_the_price(ground, cost):
    lot = builders.accepted_lot(ground, 7, unit_cost=Decimal(cost))
    cut(ground, lot, "3", pattern=WITH_END, keep_offcuts=True)
    total = sum(each.value for each in ProductStock.objects.all())
    assert total == Decimal(cost) * 7


def test_pieces_are_issued_like_any_board(ground):
    lot = builders.accepted_lot(ground, 10)
    pieces = cut(ground, lot)
    position = ground.unit.positions.get(name="Ceiling")
    whole = builders.content(ground)
    charge = (Line(position, pieces.product, Decimal(12)),)
    builders.issued(ground, replace(whole, charge=charge))
    assert LotBalance.objects.get(lot=pieces).on_hand == 0


def test_a_piece_can_be_cut_again_and_stays_a_piece_of_the_first_sheet(ground):
    lot = builders.accepted_lot(ground, 10, unit_cost=Decimal(4))
    pieces = cut(ground, lot)
    half = cutting.Pattern(Decimal("0.5"), Decimal("0.45"), Decimal(5))
    smaller = cut(ground, pieces, "2", pattern=half, code="L-CC")
    assert smaller.product.name == "Test board, 500 x 450"
    assert smaller.product.piece_of == ground.board
    assert selectors.moisture_of(smaller).mean_pct == 8


def test_holding_the_sheet_holds_the_pieces(ground):
    lot = builders.accepted_lot(ground, 10)
    pieces = cut(ground, lot)
    stock.hold_lot(lot, reason="x", by=ground.stores, at=NOW)
    assert selectors.verdict_of(pieces) == "held"


def test_a_held_lot_is_not_cut(ground):
    lot = builders.accepted_lot(ground, 10)
    stock.hold_lot(lot, reason="x", by=ground.stores, at=NOW)
    with refuses(WrongState):
        cut(ground, lot)


def test_no_more_sheets_than_there_are(ground):
    lot = builders.accepted_lot(ground, 2)
    with refuses(StockNotAvailable, "quantity"):
        cut(ground, lot)


@pytest.mark.parametrize(
    ("length", "width", "kerf", "field"),
    [
        ("2.6", "0.5", "3", "piece_length_m"), ("2.5", "1", "3", "piece_length_m"),
        ("0.09", "0.5", "3", "piece_length_m"), ("1", "0.09", "3", "piece_width_m"),
        ("1", "0.5", "-1", "kerf_mm"), ("1", "0.5", "21", "kerf_mm"),
    ],
)  # fmt: skip
def test_a_pattern_that_cannot_be_is_refused(ground, length, width, kerf, field):
    lot = builders.accepted_lot(ground, 10)
    pattern = cutting.Pattern(Decimal(length), Decimal(width), Decimal(kerf))
    with refuses(WrongValue, field):
        cut(ground, lot, pattern=pattern)


@pytest.mark.parametrize("sheets", ["0", "-1", "1.5", "5001"])
def test_sheets_are_cut_whole(ground, sheets):
    lot = builders.accepted_lot(ground, 10)
    with refuses(WrongValue, "sheets"):
        cut(ground, lot, sheets)


def test_loose_fuel_is_not_cut(ground):
    lot = builders.accepted_lot(ground, 10, product=ground.kindling)
    with refuses(WrongValue, "piece_length_m"):
        cut(ground, lot)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_cut(ground, role):
    lot = builders.accepted_lot(ground, 10)
    with refuses_role():
        cut(ground, lot, by=actor(ground, role))


def test_the_same_form_sent_twice_cuts_once(ground):
    lot = builders.accepted_lot(ground, 10)
    cut(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        cut(ground, lot, once="form-1", code="L-D")
