"""What can happen in the store. Stock on hand is the sum of movements, never less than zero."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet, Value
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.kinds import BOARD_KINDS, ProductKind
from facility.people.models import Person
from facility.refusals import (
    Refused,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sites.models import Bay, Site
from records.audit.door import door
from records.pictures.reading import Photograph
from records.stock import receiving
from records.stock.deciding import accept_lot, hold_lot
from records.stock.ledger import lock_stock, move
from records.stock.measuring import record_readings
from records.stock.models import (
    Delivery,
    Lot,
    LotBalance,
    MovementKind,
    Product,
    ProductStock,
    Supplier,
    spelt_alike,
)
from records.stock.receiving import MeasuredSheet

# Verbs with a module of their own that are called as the store's.
__all__ = [
    "LotReceived", "Sheet", "accept_lot", "add_product", "counted", "hold_lot",
    "receive_delivery", "record_readings", "refuse_finer_than_kept",
]  # fmt: skip

MOST_COST = 100_000  # of one board, kg or litre, in any currency: our choice
MOST_BOARDS = 5000  # on one docket; a lorry carries fewer: common practice, no source


@dataclass(frozen=True, slots=True)
class Sheet:
    """The size and density of a board product, and the moisture the density was found at."""

    length_m: Decimal
    width_m: Decimal
    thickness_mm: Decimal
    density_kg_m3: Decimal
    density_moisture_pct: Decimal


def add_product(
    site: Site, *, name: str, kind: str, calorific_dry_mj_kg: Decimal, calorific_source: str,
    by: Person, sheet: Sheet | None = None, standard_class: str = "",
    density_band_pct: Decimal | None = None, at: dt.datetime | None = None, once: str = "",
) -> Product:  # fmt: skip
    """Add a product. A board needs its sheet; loose fuel and liquid have none.

    ``density_band_pct`` is how far a weighed sheet may lie from its density; None means our own.
    """
    name = text_within("name", name, 60)
    refuse_if(kind not in ProductKind.values, "kind", _("This kind of fuel is not known."))
    refuse_if(
        Product.objects.filter(site=site, name__iexact=name).exists(),
        "name",
        _("The store has a product of that name."),
    )
    refuse_if(
        (kind in BOARD_KINDS) != (sheet is not None),
        "length_m",
        _("A board needs its length, width, thickness and density; other fuel has none of them."),
    )
    number_between("net_calorific_dry_mj_kg", calorific_dry_mj_kg, 5, 60, "MJ/kg")
    product = Product(
        site=site, name=name, kind=kind,
        standard_class=text_within("standard_class", standard_class, 40, needed=False),
        net_calorific_dry_mj_kg=calorific_dry_mj_kg,
        calorific_source=text_within("calorific_source", calorific_source, 120),
    )  # fmt: skip
    if sheet is not None:
        _set_sheet(product, sheet)
    if density_band_pct is not None:
        number_between("density_band_pct", density_band_pct, 0, 50, "%", above=True)
        refuse_if(sheet is None, "density_band_pct", _("Only boards have a density to be kept to."))
        product.density_band_pct = density_band_pct
    with door("stock.product_added", by=by, site=site, on=product, at=at, once=once) as entry:
        product.save()
        ProductStock(product=product).save()
        entry.changed(name=name, kind=kind, net_calorific_dry_mj_kg=calorific_dry_mj_kg)
    return product


def _set_sheet(product: Product, sheet: Sheet) -> None:
    product.length_m = number_between("length_m", sheet.length_m, 0.1, 6, "m")
    product.width_m = number_between("width_m", sheet.width_m, 0.1, 3, "m")
    product.thickness_mm = number_between("thickness_mm", sheet.thickness_mm, 2, 80, "mm")
    product.density_kg_m3 = number_between("density_kg_m3", sheet.density_kg_m3, 100, 1200, "kg/m³")
    product.density_moisture_pct = number_between(
        "density_moisture_pct", sheet.density_moisture_pct, 0, 40, "%"
    )


@dataclass(frozen=True, slots=True)
class LotReceived:
    """One line of a docket. ``received`` counts boards, kg or litres, as the product does.

    A sheet that was weighed but not measured (``sheet_mass_kg`` alone) is taken to have the
    product's size. ``marks`` answers for each of ``marks.CODES`` whether it was seen; None when
    nobody has looked yet, and then the lot cannot be accepted.
    """

    product: Product
    code: str
    received: Decimal
    bay: Bay | None = None
    sheet_mass_kg: Decimal | None = None
    sheet: MeasuredSheet | None = None
    unit_cost: Decimal | None = None
    mill_mark: str = ""
    emission_class: str = ""
    marks: Mapping[str, bool] | None = None


def receive_delivery(
    site: Site, *, supplier: str, docket: str, delivered_at: dt.datetime, untreated: bool,
    lots: Sequence[LotReceived], by: Person, picture: Photograph | None = None,
    at: dt.datetime | None = None, once: str = "",
) -> Delivery:  # fmt: skip
    """Take a delivery into the store; its lots wait for readings before they may burn.

    A lot with a prohibited mark is taken too, and held at once. ``Refused.line`` says which of
    the lots was refused.
    """
    now = at or timezone.now()
    docket = one_spaced(text_within("docket", docket, 40))
    not_future("delivered_at", delivered_at, now)
    refuse_if(
        not untreated,
        "untreated",
        _("The docket must state new, untreated material; other fuel may not enter the store."),
    )
    refuse_if(not lots, "lots", _("A delivery has at least one lot."))
    with door("stock.delivery_received", by=by, site=site, at=at, once=once) as entry:
        vendor = _supplier(site, supplier)
        refuse_if(
            _spelt_so(Delivery.objects.filter(supplier=vendor), "docket", docket),
            "docket",
            _("Docket {docket} of {supplier} was received before.").format(
                docket=docket, supplier=vendor
            ),
        )
        delivery = Delivery(
            site=site, supplier=vendor, docket=docket, delivered_at=delivered_at,
            recorded_at=entry.at, received_by=by, untreated=untreated,
        )  # fmt: skip
        delivery.save()
        lock_stock((), (line.product for line in lots))
        held = {}
        for number, line in enumerate(lots):
            try:
                lot = _receive_lot(delivery, line, by, entry.at)
            except Refused as refused:
                refused.line = number
                raise
            if reason := receiving.reason_to_hold(line.marks or {}):
                held[lot.code] = reason
        entry.on(delivery)
        entry.changed(
            supplier=vendor.name, docket=docket, lots={line.code: line.received for line in lots}
        )
        if held:
            entry.changed(held=held)
        if picture is not None:
            kept = receiving.keep_docket(delivery, picture, by=by, at=entry.at)
            entry.changed(picture_sha256=kept.kept_sha256)
    return delivery


def one_spaced(text: str) -> str:
    """The text with one blank wherever there is any space."""
    return " ".join(text.split())


def _spelt_so(rows: QuerySet[Any], field: str, text: str) -> bool:
    """Whether a row has this text, case and blanks aside."""
    alike = rows.alias(alike=spelt_alike(field))
    return bool(alike.filter(alike=Lower(Value(text.replace(" ", "")))).exists())


def _supplier(site: Site, name: str) -> Supplier:
    name = one_spaced(text_within("supplier", name, 80))
    found = Supplier.objects.filter(site=site, name__iexact=name).first()
    if found is None:
        found = Supplier(site=site, name=name)
        found.save()
    return found


def _receive_lot(delivery: Delivery, line: LotReceived, by: Person, at: dt.datetime) -> Lot:
    code = one_spaced(text_within("code", line.code, 20))
    refuse_if(
        _spelt_so(Lot.objects.filter(site=delivery.site), "code", code),
        "code",
        _("Lot {code} is in the store already; a lot mark is used once.").format(code=code),
    )
    refuse_if(
        line.product.site_id != delivery.site_id, "product", _("No such product on this ground.")
    )
    refuse_if(
        line.bay is not None and line.bay.site_id != delivery.site_id,
        "bay",
        _("No such bay on this ground."),
    )
    quantity = counted("received", line.product, line.received)
    sheet = _sheet_of(line)
    lot = Lot(
        site=delivery.site, delivery=delivery, product=line.product, bay=line.bay, code=code,
        received=quantity, sheet_mass_kg=sheet.mass_kg if sheet else None,
        unit_cost=_cost_of(line),
        mill_mark=text_within("mill_mark", line.mill_mark, 60, needed=False),
        emission_class=text_within("emission_class", line.emission_class, 10, needed=False),
    )  # fmt: skip
    lot.save()
    if sheet is not None:
        receiving.keep_weighing(lot, sheet, by=by, at=at)
    if line.marks is not None:
        receiving.keep_check(lot, line.marks, by=by, at=at)
    LotBalance(lot=lot, on_hand=0, bay=line.bay).save()
    move(
        lot,
        MovementKind.RECEIVE,
        quantity,
        by=by,
        happened_at=delivery.delivered_at,
        recorded_at=at,
    )
    return lot


def _sheet_of(line: LotReceived) -> MeasuredSheet | None:
    """The sheet as measured, or of the product's size when it was only weighed."""
    mass, product = line.sheet_mass_kg, line.product
    if line.sheet is None and mass is None:
        return None
    refuse_if(not product.is_board, "sheet_mass_kg", _("Only boards are weighed by the sheet."))
    if line.sheet is not None:
        return line.sheet
    size = (product.length_m, product.width_m, product.thickness_mm)
    return MeasuredSheet(*size, mass)  # type: ignore[arg-type]


def _cost_of(line: LotReceived) -> Decimal | None:
    if line.unit_cost is not None:
        number_between("unit_cost", line.unit_cost, 0, MOST_COST)
        refuse_finer_than_kept("unit_cost", line.unit_cost)
    return line.unit_cost


def counted(field: str, product: Product, quantity: Decimal) -> Decimal:
    """Give a quantity as the product is counted; boards come in whole numbers."""
    number_between(field, quantity, 0, MOST_BOARDS, product.counted_in or _("boards"), above=True)
    refuse_if(
        product.is_board and quantity != quantity.to_integral_value(),
        field,
        _("Boards are counted whole; {given} was given.").format(given=quantity),
    )
    refuse_finer_than_kept(field, quantity)
    return quantity


def refuse_finer_than_kept(field: str, quantity: Decimal) -> None:
    """The store keeps hundredths; anything finer would make the sums of movements disagree."""
    refuse_if(
        quantity != round(quantity, 2),
        field,
        _("Two decimals are kept; {given} was given.").format(given=quantity),
    )
