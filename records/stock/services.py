"""What can happen in the store. Stock on hand is the sum of movements, never less than zero."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F
from django.db.models.functions import Round
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.kinds import BOARD_KINDS, ProductKind
from facility.people.models import Person
from facility.refusals import (
    StockNotAvailable,
    WrongState,
    not_future,
    number_between,
    plain_number,
    refuse_if,
    text_within,
)
from facility.sites.models import Bay, Site
from records.audit.door import door
from records.stock import selectors
from records.stock.models import (
    INTO_STORE,
    Delivery,
    Lot,
    LotBalance,
    LotVerdict,
    MoistureReading,
    Movement,
    MovementKind,
    Product,
    Supplier,
    Verdict,
)
from records.stock.recalling import refuse_recalled

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
    at: dt.datetime | None = None, once: str = "",
) -> Product:  # fmt: skip
    """Add a product. A board needs its sheet; loose fuel and liquid have none."""
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
    with door("stock.product_added", by=by, site=site, on=product, at=at, once=once) as entry:
        product.save()
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
    """One line of a docket. ``received`` counts boards, kg or litres, as the product does."""

    product: Product
    code: str
    received: Decimal
    bay: Bay | None = None
    sheet_mass_kg: Decimal | None = None


def receive_delivery(
    site: Site, *, supplier: str, docket: str, delivered_at: dt.datetime, untreated: bool,
    lots: Sequence[LotReceived], by: Person, at: dt.datetime | None = None, once: str = "",
) -> Delivery:  # fmt: skip
    """Take a delivery into the store; its lots wait for readings before they may burn."""
    now = at or timezone.now()
    docket = text_within("docket", docket, 40)
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
            Delivery.objects.filter(supplier=vendor, docket=docket).exists(),
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
        for line in lots:
            _receive_lot(delivery, line, by, entry.at)
        entry.on(delivery)
        entry.changed(
            supplier=vendor.name, docket=docket, lots={line.code: line.received for line in lots}
        )
    return delivery


def _supplier(site: Site, name: str) -> Supplier:
    name = text_within("supplier", name, 80)
    found = Supplier.objects.filter(site=site, name__iexact=name).first()
    if found is None:
        found = Supplier(site=site, name=name)
        found.save()
    return found


def _receive_lot(delivery: Delivery, line: LotReceived, by: Person, at: dt.datetime) -> None:
    code = text_within("code", line.code, 20)
    refuse_if(
        Lot.objects.filter(site=delivery.site, code__iexact=code).exists(),
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
    if line.sheet_mass_kg is not None:
        number_between("sheet_mass_kg", line.sheet_mass_kg, 0.5, 200, "kg")
    lot = Lot(
        site=delivery.site, delivery=delivery, product=line.product, bay=line.bay, code=code,
        received=quantity, sheet_mass_kg=line.sheet_mass_kg,
    )  # fmt: skip
    lot.save()
    LotBalance(lot=lot, on_hand=0).save()
    move(
        lot,
        MovementKind.RECEIVE,
        quantity,
        by=by,
        happened_at=delivery.delivered_at,
        recorded_at=at,
    )


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


def record_readings(
    lot: Lot, *, readings: Sequence[Decimal], meter: str, read_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> None:  # fmt: skip
    """Record meter readings, one per board, in percent of dry mass."""
    now = at or timezone.now()
    refuse_if(not readings, "readings", _("Give at least one reading."))
    refuse_if(len(readings) > 200, "readings", _("At most 200 readings are taken at once."))
    for reading in readings:
        number_between("readings", reading, 0, 200, "%")
    not_future("read_at", read_at, now)
    refuse_if(
        read_at < lot.delivery.delivered_at,
        "read_at",
        _("The lot was not here yet: it was delivered later than this reading."),
    )
    meter = text_within("meter", meter, 40)
    with door("stock.reading_recorded", by=by, site=lot.site, on=lot, at=at, once=once) as entry:
        MoistureReading.objects.bulk_create(
            MoistureReading(
                lot=lot, moisture_pct=reading, meter=meter, read_at=read_at,
                recorded_at=entry.at, read_by=by,
            )
            for reading in readings
        )  # fmt: skip
        entry.changed(readings=[str(reading) for reading in readings], meter=meter)


def accept_lot(
    lot: Lot, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> LotVerdict:
    """Accept a lot for burning; boards need a whole round of readings first.

    How moist it may be is for the rows of the standard to say, each time it is planned or issued.
    """
    moisture = selectors.moisture_of(lot)
    if lot.product.is_board and moisture.count < selectors.LEAST_READINGS:
        raise WrongState(
            _("{count} readings were taken; {least} are needed before a lot is accepted.").format(
                count=moisture.count, least=selectors.LEAST_READINGS
            )
        )
    return _decide(lot, Verdict.ACCEPTED, "", by, at, once)


def hold_lot(
    lot: Lot, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> LotVerdict:
    """Hold a lot: it cannot be planned, issued or burned until it is accepted again."""
    return _decide(lot, Verdict.HELD, text_within("reason", reason, 300), by, at, once)


def _decide(
    lot: Lot, verdict: Verdict, reason: str, by: Person, at: dt.datetime | None, once: str
) -> LotVerdict:
    act = "stock.lot_accepted" if verdict == Verdict.ACCEPTED else "stock.lot_held"
    with door(act, by=by, site=lot.site, on=lot, at=at, why=reason, once=once) as entry:
        before = selectors.verdict_of(lot)
        if verdict != Verdict.HELD:
            refuse_recalled(lot)
        if before == verdict:
            raise WrongState(_("The lot is {verdict} already.").format(verdict=verdict.label))
        moisture = selectors.moisture_of(lot)
        row = LotVerdict(
            lot=lot, verdict=verdict, reason=reason, readings=moisture.count,
            moisture_mean_pct=moisture.mean_pct, moisture_highest_pct=moisture.highest_pct,
            decided_at=entry.at, decided_by=by,
        )  # fmt: skip
        row.save()
        entry.changed({"verdict": before}, verdict=verdict, readings=moisture.count)
    return row


def adjust_stock(
    lot: Lot, *, counted_now: Decimal, reason: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> Movement:  # fmt: skip
    """Set the stock to what was counted, by a movement that says why."""
    reason = text_within("reason", reason, 300)
    number_between("counted", counted_now, 0, MOST_BOARDS)
    refuse_if(
        lot.product.is_board and counted_now != counted_now.to_integral_value(),
        "counted",
        _("Boards are counted whole; {given} was given.").format(given=counted_now),
    )
    refuse_finer_than_kept("counted", counted_now)
    with door(
        "stock.stock_adjusted", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        balance = LotBalance.objects.select_for_update().get(lot=lot)
        change = counted_now - balance.on_hand
        refuse_if(change == 0, "counted", _("The count agrees with the record; nothing to adjust."))
        kind = MovementKind.ADJUST_UP if change > 0 else MovementKind.ADJUST_DOWN
        movement = move(
            lot, kind, abs(change), by=by, happened_at=entry.at, recorded_at=entry.at, reason=reason
        )
        entry.changed({"on_hand": balance.on_hand}, on_hand=counted_now)
    return movement


def move(
    lot: Lot, kind: MovementKind, quantity: Decimal, *, by: Person, happened_at: dt.datetime,
    recorded_at: dt.datetime, plan: str = "", reason: str = "",
) -> Movement:  # fmt: skip
    """Append one movement and its effect on the balance. Called behind an open door.

    The conditional update is what keeps sixteen people from issuing the same last board: the
    database decides, in one statement, whether there is enough.

    Raises
    ------
    StockNotAvailable
        when less is on hand than is to leave.
    """
    assert door_is_open()
    sign = 1 if kind in INTO_STORE else -1
    need = Decimal(0) if sign > 0 else quantity
    changed = LotBalance.objects.filter(lot=lot, on_hand__gte=need).update(
        # rounded, because SQLite reckons decimals in floating point
        on_hand=Round(F("on_hand") + sign * quantity, precision=2)
    )
    if not changed:
        on_hand = LotBalance.objects.values_list("on_hand", flat=True).get(lot=lot)
        raise StockNotAvailable(
            _("Lot {lot}: {given} asked for, {on_hand} on hand.").format(
                lot=lot.code, given=plain_number(quantity), on_hand=plain_number(on_hand)
            ),
            field="quantity",
        )
    movement = Movement(
        lot=lot, kind=kind, sign=sign, quantity=quantity, plan=plan, reason=reason,
        happened_at=happened_at, recorded_at=recorded_at, moved_by=by,
    )  # fmt: skip
    movement.save()
    return movement
