"""The lists of the store for a spreadsheet, each with the head of the log that covers it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator, Sequence
from decimal import Decimal
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.refusals import NotHere, Refused
from facility.sheets.writing import MEDIA, csv_lines, xlsx_file
from facility.sites.models import Site
from records.audit.heads import head_now
from records.stock import selectors
from records.stock.models import Lot, MoistureReading, Movement

MOST_IN_A_WORKBOOK = 100_000  # rows; it is made in one piece, a CSV file line by line

LISTS = {
    "on_hand": gettext_lazy("on hand"),
    "movements": gettext_lazy("movements"),
    "deliveries": gettext_lazy("deliveries"),
    "readings": gettext_lazy("moisture readings"),
}
PERIODIC = ("movements", "deliveries", "readings")


class TooLong(Refused):
    """The list has more rows than a workbook is made of here."""

    status = 413


def written(
    site: Site, what: str, form: str, start: dt.datetime, end: dt.datetime
) -> Iterator[str] | bytes:
    """The list as lines of a CSV file, or as a whole workbook."""
    if what not in LISTS or form not in MEDIA:
        raise NotHere(_("CSV and XLSX can be had, of: {names}.").format(names=", ".join(LISTS)))
    heading, rows, row_of = _LISTS[what](site, start, end)
    foot = _foot()
    if form == "csv":
        return csv_lines(heading, (row_of(each) for each in rows.iterator(2000)), foot)
    count = rows.count()
    if count > MOST_IN_A_WORKBOOK:
        raise TooLong(
            _("{count} rows; a workbook takes {most}. Choose a shorter period, or CSV.").format(
                count=count, most=MOST_IN_A_WORKBOOK
            )
        )
    return xlsx_file(heading, (row_of(each) for each in rows.iterator(2000)), title=what, foot=foot, foot_title="log head")  # fmt: skip


def _foot() -> Sequence[Sequence[Any]]:
    """The head of the log from before the list was read: it covers every entry behind it."""
    head = head_now()
    return [
        ["log", head.origin], ["entries", head.size], ["root", head.root_text],
        ["head of", f"{head.at:%Y-%m-%d %H:%M:%S} UTC"],
    ]  # fmt: skip


Export = tuple[tuple[str, ...], QuerySet[Any], Callable[[Any], list[Any]]]


def _time(at: dt.datetime, site: Site) -> str:
    return at.astimezone(site.zone).strftime("%Y-%m-%d %H:%M")


def _on_hand(site: Site, start: dt.datetime, end: dt.datetime) -> Export:
    heading = ("lot", "product", "state", "moisture_pct", "on_hand", "unit", "received", "bay", "docket", "supplier", "delivered")  # fmt: skip

    def row(lot: Any) -> list[Any]:
        mean = None if lot.moisture_pct is None else round(Decimal(lot.moisture_pct), 2)
        return [
            lot.code, lot.product.name, lot.verdict or selectors.WAITING, mean, lot.balance.on_hand,
            lot.product.counted_in or "boards", lot.received, lot.balance.bay and lot.balance.bay.name,
            lot.delivery.docket, lot.delivery.supplier.name, _time(lot.delivery.delivered_at, site),
        ]  # fmt: skip

    return heading, selectors.lots_of(site).filter(balance__on_hand__gt=0), row


def _movements(site: Site, start: dt.datetime, end: dt.datetime) -> Export:
    heading = ("when", "lot", "product", "what", "in", "out", "unit", "plan", "reason", "by")
    rows = Movement.objects.filter(
        lot__site=site, happened_at__gte=start, happened_at__lt=end
    ).select_related("lot__product", "moved_by__details")

    def row(each: Movement) -> list[Any]:
        into, out = (each.quantity, None) if each.sign > 0 else (None, each.quantity)
        return [
            _time(each.happened_at, site), each.lot.code, each.lot.product.name, each.kind, into,
            out, each.lot.product.counted_in or "boards", each.plan, each.reason, each.moved_by.name,
        ]  # fmt: skip

    return heading, rows.order_by("happened_at", "id"), row


def _deliveries(site: Site, start: dt.datetime, end: dt.datetime) -> Export:
    heading = ("supplier", "docket", "delivered", "untreated", "lot", "product", "received", "unit", "bay", "sheet_mass_kg")  # fmt: skip
    rows = Lot.objects.filter(
        site=site, cut_from=None, delivery__delivered_at__gte=start, delivery__delivered_at__lt=end
    ).select_related("delivery__supplier", "product", "balance__bay")

    def row(lot: Lot) -> list[Any]:
        came = lot.delivery
        return [
            came.supplier.name, came.docket, _time(came.delivered_at, site), came.untreated,
            lot.code, lot.product.name, lot.received, lot.product.counted_in or "boards",
            lot.balance.bay and lot.balance.bay.name, lot.sheet_mass_kg,
        ]  # fmt: skip

    return heading, rows.order_by("delivery__delivered_at", "id"), row


def _readings(site: Site, start: dt.datetime, end: dt.datetime) -> Export:
    heading = ("lot", "moisture_pct", "meter", "read_at", "product", "by")
    rows = MoistureReading.objects.filter(
        lot__site=site, read_at__gte=start, read_at__lt=end
    ).select_related("lot__product", "read_by__details")

    def row(each: MoistureReading) -> list[Any]:
        return [
            each.lot.code, each.moisture_pct, each.meter, _time(each.read_at, site),
            each.lot.product.name, each.read_by.name,
        ]  # fmt: skip

    return heading, rows.order_by("read_at", "id"), row


_LISTS = {
    "on_hand": _on_hand, "movements": _movements, "deliveries": _deliveries, "readings": _readings,
}  # fmt: skip
