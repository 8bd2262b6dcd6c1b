"""Pieces cut from a lot, laid down as rows: what a trace must follow, whoever cuts them."""

from __future__ import annotations

from decimal import Decimal

from facility.guarded import opened
from records.stock import services as stock
from records.stock.models import Lot, LotBalance, MovementKind
from tests import builders
from tests.builders import NOW, Ground


def cut(ground: Ground, lot: Lot, boards: int, code: str, *, accept: bool = True) -> Lot:
    """A lot of as many pieces as boards were cut up."""
    moved = {"by": ground.stores, "happened_at": NOW, "recorded_at": NOW}
    with opened():
        pieces = Lot(
            site=lot.site, delivery=lot.delivery, product=lot.product, bay=lot.bay, code=code,
            received=boards, cut_from=lot,
        )  # fmt: skip
        pieces.save()
        LotBalance(lot=pieces, on_hand=0).save()
        stock.move(lot, MovementKind.CUT, Decimal(boards), **moved)
        stock.move(pieces, MovementKind.PIECES, Decimal(boards), **moved)
    if accept:
        builders.read(ground, pieces)
        stock.accept_lot(pieces, by=ground.stores, at=NOW)
    return pieces
