"""Cutting sheets into pieces: whole counts, the wood and its value kept together."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.calc.cutting import pieces_from_sheet
from facility.calc.working import Working
from facility.people.models import Person
from facility.refusals import number_between, plain_number, refuse_if, text_within
from facility.sites.models import Bay
from records.audit.door import door
from records.stock import selectors
from records.stock.families import make_child
from records.stock.ledger import lock_stock, move, to_cents
from records.stock.models import (
    Cutting,
    Lot,
    LotBalance,
    Movement,
    MovementKind,
    Product,
    ProductStock,
)
from records.stock.services import counted

SMALLEST_M = 0.1  # a strip narrower than this is waste; products begin there too


@dataclass(frozen=True, slots=True)
class Pattern:
    """The size of a piece and the saw's kerf."""

    length_m: Decimal
    width_m: Decimal
    kerf_mm: Decimal = Decimal(3)


@dataclass(frozen=True, slots=True)
class _Part:
    """What one sheet gives of one size."""

    length_m: Decimal
    width_m: Decimal
    each: int
    suffix: str = ""


def pattern_of(product: Product, pattern: Pattern) -> Working:
    """How a pattern falls on a sheet of the product."""
    refuse_if(not product.is_board, "piece_length_m", _("Only boards are cut."))
    number_between("piece_length_m", pattern.length_m, SMALLEST_M, 6, "m")
    number_between("piece_width_m", pattern.width_m, SMALLEST_M, 3, "m")
    number_between("kerf_mm", pattern.kerf_mm, 0, 20, "mm")
    return pieces_from_sheet.of(
        sheet_length=float(product.length_m or 0), sheet_width=float(product.width_m or 0),
        piece_length=float(pattern.length_m), piece_width=float(pattern.width_m),
        kerf=float(pattern.kerf_mm),
    )  # fmt: skip


def cut_sheets(
    lot: Lot, *, sheets: Decimal, pattern: Pattern, code: str, keep_offcuts: bool, by: Person,
    bay: Bay | None = None, at: dt.datetime | None = None, once: str = "",
) -> Lot:  # fmt: skip
    """Cut sheets of a lot into a lot of pieces; off-cuts become lots of their own, or are scrapped.

    The value of the sheets goes with the area: off-cuts that are kept take their share, and the
    pieces carry the rest, the kerf and what is thrown away included.
    """
    code = text_within("code", code, 18)  # two characters more mark the off-cuts
    counted("sheets", lot.product, sheets)
    refuse_if(
        bay is not None and bay.site_id != lot.site_id, "bay", _("No such bay on this ground.")
    )
    working = pattern_of(lot.product, pattern)
    per_sheet = int(working.value())
    refuse_if(
        not per_sheet,
        "piece_length_m",
        _("A piece of {length} x {width} m does not fit on a sheet of {sheet}.").format(
            length=plain_number(pattern.length_m), width=plain_number(pattern.width_m),
            sheet=lot.product,
        ),
    )  # fmt: skip
    refuse_if(
        (pattern.length_m, pattern.width_m) == (lot.product.length_m, lot.product.width_m),
        "piece_length_m",
        _("This is the whole sheet; nothing would be cut."),
    )
    with door("stock.lot_cut", by=by, site=lot.site, at=at, once=once) as entry:
        (lot.product.piece_of or lot.product).fresh()  # one at a time makes a product of a size
        parts = [_Part(pattern.length_m, pattern.width_m, per_sheet)]
        kept = _offcuts(lot.product, pattern, working) if keep_offcuts else []
        products = [_product_of(lot.product, part) for part in (*parts, *kept)]
        lock_stock([lot], products)
        out = move(
            lot, MovementKind.CUT, sheets, by=by, happened_at=entry.at, recorded_at=entry.at,
            reason=code,
        )  # fmt: skip
        place = bay or LotBalance.objects.select_related("bay").get(lot=lot).bay
        lots = [
            _take_in(lot, part, product, code, sheets, place, by, entry.at)
            for part, product in zip((*parts, *kept), products, strict=True)
        ]
        _share_value(lot, [*parts, *kept], lots, out, sheets, by, entry.at)
        _write_down(lot, lots[0], pattern, working, sheets, kept, by, entry.at)
        entry.on(lots[0])
        entry.changed(lot=lot.code, sheets=sheets, lots={each.code: each.received for each in lots})
    return lots[0]


def _offcuts(product: Product, pattern: Pattern, working: Working) -> list[_Part]:
    """The strips that are wide enough to be kept, rounded down to a millimetre."""
    end, side = (_millimetres(working.value(name)) for name in ("end_strip", "side_strip"))
    parts = [
        _Part(end, product.width_m or Decimal(0), 1, "-E"),
        _Part(pattern.length_m, side, int(working.value("along")), "-S"),
    ]
    return [part for part in parts if min(part.length_m, part.width_m) >= Decimal("0.1")]


def _millimetres(metres: float) -> Decimal:
    return Decimal(int(metres * 1000 + 1e-6)) / 1000


def _product_of(product: Product, part: _Part) -> Product:
    """The product of that size, made when it is cut for the first time."""
    sheet = product.piece_of or product
    found = Product.objects.filter(
        piece_of=sheet, length_m=part.length_m, width_m=part.width_m
    ).first()
    if found is not None:
        return found
    size = f", {_mm(part.length_m)} x {_mm(part.width_m)}"
    made = Product(
        site=sheet.site, name=f"{sheet.name[: 60 - len(size)]}{size}", kind=sheet.kind,
        standard_class=sheet.standard_class, length_m=part.length_m, width_m=part.width_m,
        thickness_mm=sheet.thickness_mm, density_kg_m3=sheet.density_kg_m3,
        density_moisture_pct=sheet.density_moisture_pct,
        net_calorific_dry_mj_kg=sheet.net_calorific_dry_mj_kg,
        calorific_source=sheet.calorific_source, piece_of=sheet,
    )  # fmt: skip
    refuse_if(
        Product.objects.filter(site=sheet.site, name__iexact=made.name).exists(),
        "piece_length_m",
        _("Another product is called {name}; it would be taken for the pieces.").format(
            name=made.name
        ),
    )
    made.save()
    ProductStock(product=made).save()
    return made


def _mm(metres: Decimal) -> str:
    return plain_number(metres * 1000)


def _take_in(
    lot: Lot, part: _Part, product: Product, code: str, sheets: Decimal, bay: Bay | None,
    by: Person, at: dt.datetime,
) -> Lot:  # fmt: skip
    mass = None
    if lot.sheet_mass_kg is not None:
        mass = to_cents(lot.sheet_mass_kg * _area_share(lot.product, part)) or None
    return make_child(
        lot, code=f"{code}{part.suffix}", product=product, count=sheets * part.each, bay=bay,
        sheet_mass_kg=mass, by=by, at=at,
    )  # fmt: skip


def _area_share(product: Product, part: _Part) -> Decimal:
    """The area of one part in the area of a sheet."""
    return part.length_m * part.width_m / ((product.length_m or 1) * (product.width_m or 1))


def _share_value(
    lot: Lot, parts: list[_Part], lots: list[Lot], out: Movement, sheets: Decimal, by: Person,
    at: dt.datetime,
) -> None:  # fmt: skip
    """Bring each lot in with its share of the value; the pieces, first in the list, take the rest."""
    shares = [
        to_cents(out.value * _area_share(lot.product, part) * part.each) for part in parts[1:]
    ]
    values = [out.value - sum(shares, Decimal(0)), *shares]
    for each, value in zip(lots, values, strict=True):
        move(
            each, MovementKind.PIECES, each.received, by=by, happened_at=at, recorded_at=at,
            reason=lot.code, value=value,
        )  # fmt: skip


def _write_down(
    lot: Lot, pieces: Lot, pattern: Pattern, working: Working, sheets: Decimal,
    kept: list[_Part], by: Person, at: dt.datetime,
) -> None:  # fmt: skip
    """Keep the pattern, how many off-cuts fell, and the dry wood that was thrown away."""
    fallen = int(working.value("offcuts")) * int(sheets)
    stays = sum((_area_share(lot.product, part) * part.each for part in kept), Decimal(0))
    share = Decimal(working.value("offcut_share")) / 100 - stays
    standing = selectors.with_standing(Lot.objects.filter(pk=lot.pk)).get()
    figures = selectors.figures_for(lot.product, standing)
    scrapped = None
    if figures is not None:
        scrapped = to_cents(Decimal(figures.dry_mass_kg) * max(share, Decimal(0)) * sheets)
    Cutting(
        lot=lot, pieces=pieces, sheets=int(sheets), per_sheet=int(working.value()),
        kerf_mm=pattern.kerf_mm, offcuts=fallen, offcuts_kept=bool(kept), scrapped_kg=scrapped,
        pieces_share=round(Decimal(working.value("pieces_share")) / 100, 6),
        kerf_share=round(Decimal(working.value("kerf_share")) / 100, 6), cut_at=at, cut_by=by,
    ).save()  # fmt: skip
