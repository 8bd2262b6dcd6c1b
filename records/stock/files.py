"""Deliveries, readings and counts from a file: judged whole first, then taken whole or not at all.

``judge`` writes nothing and is the dry run: it names every bad row. ``taking`` carries out one verb
after the other in one transaction, each with its entry in the log, and keeps the hash of the file,
by which it is known again.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cache, partial
from typing import Any

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import (
    WrongState,
    WrongValue,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sheets.cells import Cell, RowFault, Unreadable, says_something, sentence
from facility.sheets.opening import Limits, Opened, open_lines
from facility.sites.models import Bay, Site
from records.audit.door import door
from records.stock import services
from records.stock.cells import RowReader
from records.stock.columns import (
    COLUMNS,
    LEFT_OUT,
    Heading,
    heading_faults,
    headings_of,
    is_ragged,
    row_by_column,
)
from records.stock.counting import Count, enter_counts, start_stocktake
from records.stock.measuring import meter_named, refuse_uncalibrated
from records.stock.models import (
    ColumnMapping,
    Delivery,
    FileKind,
    Lot,
    Meter,
    MoistureReading,
    Product,
    StoreFile,
    Supplier,
)
from records.stock.rounds import mark_read
from records.stock.services import LotReceived

KINDS = FileKind.choices
LIMITS = Limits(
    bytes=10_000_000, unpacked=100_000_000, tags=6_000_000, columns=100, lines=100_000
)  # 100,000 rows of deliveries take about 5 million tags
MOST_AT_ONCE = 200  # readings that ``record_readings`` takes
FAULTS_ENOUGH = 20_000  # beyond, listing faults helps nobody


class FileKnown(WrongState):
    """The same file was taken before; ``taken`` is that taking."""

    def __init__(self, taken: StoreFile) -> None:
        self.taken = taken
        super().__init__(_("This very file was taken before; it was not taken twice."))


@dataclass(frozen=True, slots=True)
class DeliveryRows:
    """One docket with its lots."""

    supplier: str
    docket: str
    delivered_at: dt.datetime
    lots: tuple[LotReceived, ...]
    row: int

    @property
    def rows(self) -> int:
        return len(self.lots)


@dataclass(frozen=True, slots=True)
class ReadingRows:
    """Readings of one lot with one meter at one time."""

    lot: Lot
    meter: Meter
    read_at: dt.datetime
    readings: tuple[Decimal, ...]
    row: int

    @property
    def rows(self) -> int:
        return len(self.readings)


@dataclass(frozen=True, slots=True)
class CountsOfFile:
    """Every lot that was counted, with the name of the file."""

    counts: tuple[Count, ...]
    title: str

    @property
    def rows(self) -> int:
        return len(self.counts)


Item = DeliveryRows | ReadingRows | CountsOfFile


@dataclass(slots=True)
class Judged:
    """What a file says: how its columns are understood, what it would do, all that is wrong."""

    kind: str
    name: str
    sha256: str
    supplier: str = ""
    headings: list[Heading] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    items: list[Any] = field(default_factory=list)
    count: int = 0
    status: int = 422  # that of the answer, where there are faults

    @property
    def mapping(self) -> dict[str, str]:
        return {each.text: each.key for each in self.headings if each.key}

    def refuse_faults(self) -> None:
        """Nothing of a file is taken while anything in it is wrong."""
        if self.faults:
            raise WrongValue(sentence([self.faults[0]]), field=self.faults[0].column)


def judge(
    site: Site, kind: str, data: bytes, name: str, *, supplier: str = "", reason: str = "",
    chosen: Mapping[str, str] | None = None, now: dt.datetime | None = None,
) -> Judged:  # fmt: skip
    """Read a file and name every fault in it; write nothing, raise nothing but ``FileKnown``.

    ``chosen`` says of headings what they are; ``supplier`` and ``reason`` stand for a column.
    """
    judged = Judged(kind, name[-120:], hashlib.sha256(data).hexdigest(), supplier.strip())
    taken = StoreFile.objects.filter(site=site, kind=kind, sha256=judged.sha256).first()
    if taken is not None:
        raise FileKnown(taken)
    try:
        opened = open_lines(data, name, LIMITS)
        remembered = remembered_columns(site, kind, judged.supplier)
        rows = _rows(judged, opened, chosen or {}, remembered, site)
        if judged.headings and not judged.faults:
            _READ[kind](judged, rows, site, reason.strip(), now or timezone.now())
    except Unreadable as wrong:
        judged.faults, judged.status = [*judged.faults, wrong.fault], wrong.status
    if judged.faults:
        judged.items = []
    elif not judged.count:
        judged.faults.append(RowFault(0, "", "", _("at least one row is needed")))
    judged.faults.sort(key=lambda fault: fault.row)
    return judged


def _rows(
    judged: Judged, opened: Opened, chosen: Mapping[str, str], remembered: Mapping[str, str],
    site: Site,
) -> Iterator[RowReader]:  # fmt: skip
    """The heading at once, then each row as it is asked for; blank rows count and say nothing."""
    lines = ((n, cells) for n, cells in opened.lines if any(map(says_something, cells)))
    first = next(lines, None)
    if first is None:
        raise Unreadable(_("the file is empty"))
    number, cells = first
    judged.headings = headings_of(judged.kind, cells, chosen, remembered)
    if not any(each.key for each in judged.headings):
        raise Unreadable(
            _("the first row names the columns, such as {names}").format(
                names=", ".join(str(column.label) for column in COLUMNS[judged.kind])
            ),
            value=", ".join(each.text for each in judged.headings),
        )
    given = ["supplier"] if judged.supplier else []
    judged.faults += heading_faults(judged.kind, number, judged.headings, given)
    return _read_rows(judged, lines, opened, site)


def _read_rows(
    judged: Judged, lines: Iterator[tuple[int, list[Cell]]], opened: Opened, site: Site
) -> Iterator[RowReader]:
    times: dict[str, dt.datetime] = {}
    for number, cells in lines:
        judged.count += 1
        if len(judged.faults) > FAULTS_ENOUGH:
            raise Unreadable(_("too much is wrong to go on"), row=number)
        if is_ragged(judged.headings, cells, opened.even):
            judged.faults.append(RowFault(
                number, "", _("{count} cells").format(count=len(cells)),
                _("a cell for each of the {count} columns of the heading").format(
                    count=len(judged.headings)
                ),
            ))  # fmt: skip
            continue
        row = RowReader(number, row_by_column(judged.headings, cells), opened.decimal, site.zone, times)  # fmt: skip
        yield row
        judged.faults += row.faults


class _Once:
    """Things that stand in a file once, with the row each stands in."""

    def __init__(self) -> None:
        self.rows: dict[Any, int] = {}

    def refuse(self, row: RowReader, column: str, key: Any) -> None:
        first = self.rows.setdefault(key, row.number)
        if first != row.number:
            row.fault(column, _("stands in row {row} already").format(row=first))


def _lots_by_mark(site: Site) -> dict[str, int]:
    return {code.casefold(): key for code, key in Lot.objects.filter(site=site).values_list("code", "pk")}  # fmt: skip


# Deliveries


def _read_deliveries(
    judged: Judged, rows: Iterator[RowReader], site: Site, _reason: str, now: dt.datetime
) -> None:
    products = {product.name.casefold(): product for product in Product.objects.filter(site=site)}
    bays = {bay.name.casefold(): bay for bay in Bay.objects.filter(site=site)}
    marks, stored, lots = _lots_by_mark(site), _dockets(site), _Once()
    dockets: dict[tuple[str, str], tuple[dt.datetime | None, int]] = {}
    last: tuple[str, str] | None = None
    for row in rows:
        if judged.supplier:
            row.cells = {**row.cells, "supplier": judged.supplier}
        supplier = row.checked("supplier", text_within, row.text("supplier") or "", 80)
        docket = row.checked("docket", text_within, row.text("docket") or "", 40)
        at = row.time("delivered")
        if at is not None:
            row.checked("delivered", not_future, at, now)
        if row.yes("untreated") is False:
            row.fault("untreated", _("the docket must state new, untreated material; other fuel may not enter the store"))  # fmt: skip
        line = _lot_line(row, products, bays, marks, lots)
        key = ((supplier or "").casefold(), docket or "")
        if key in stored:
            row.fault("docket", _("this docket was received before"))
        before = dockets.setdefault(key, (at, row.number))
        if before[0] != at or (key != last and before[1] != row.number):
            row.fault("docket", _("stands in row {row} already; the lots of a docket stand under each other, with one date").format(row=before[1]))  # fmt: skip
        if not row.faults and line and at:
            _add_line(judged.items, supplier, docket, at, line, row.number, key == last)
        last = key


def _dockets(site: Site) -> set[tuple[str, str]]:
    rows = Delivery.objects.filter(site=site).values_list("supplier__name", "docket")
    return {(supplier.casefold(), docket) for supplier, docket in rows}


def _lot_line(
    row: RowReader, products: Mapping[str, Product], bays: Mapping[str, Bay],
    marks: Mapping[str, int], lots: _Once,
) -> LotReceived | None:  # fmt: skip
    code = row.checked("lot", text_within, row.text("lot") or "", 20)
    if code:
        lots.refuse(row, "lot", code.casefold())
        if code.casefold() in marks:
            row.fault("lot", _("is in the store already; a lot mark is used once"))
    name, place = row.text("product"), row.text("bay", needed=False)
    product = products.get((name or "").casefold())
    if name and product is None:
        row.fault("product", _("no such product; known are: {names}").format(names=", ".join(each.name for each in list(products.values())[:12])))  # fmt: skip
    bay = bays.get((place or "").casefold())
    if place and bay is None:
        row.fault("bay", _("no such bay; known are: {names}").format(names=", ".join(each.name for each in list(bays.values())[:12])))  # fmt: skip
    received = row.number_in("received", product.counted_in if product else "", 2)
    if product and received is not None:
        row.checked("received", services.counted, product, received)
    mass = row.number_in("sheet_mass_kg", "kg", 2, needed=False)
    if mass is not None:
        row.checked("sheet_mass_kg", number_between, mass, 0.5, 200, "kg")
    if product is None or received is None or not code:
        return None
    return LotReceived(product, code, received, bay, mass)


def _add_line(
    items: list[DeliveryRows], supplier: str, docket: str, at: dt.datetime, line: LotReceived,
    number: int, more: bool,
) -> None:  # fmt: skip
    if more and items:
        before = items.pop()
        items.append(DeliveryRows(before.supplier, before.docket, before.delivered_at, (*before.lots, line), before.row))  # fmt: skip
    else:
        items.append(DeliveryRows(supplier, docket, at, (line,), number))


def _take_delivery(
    site: Site, item: DeliveryRows, by: Person, at: dt.datetime | None, _gathered: list[Any]
) -> None:
    services.receive_delivery(
        site, supplier=item.supplier, docket=item.docket, delivered_at=item.delivered_at,
        untreated=True, lots=item.lots, by=by, at=at,
    )  # fmt: skip


# Readings


def _read_readings(
    judged: Judged, rows: Iterator[RowReader], site: Site, _reason: str, now: dt.datetime
) -> None:
    lots, meters = _LotsOfFile(site), _MetersOfFile(site)
    groups: dict[tuple[int, Meter, dt.datetime], tuple[int, list[Decimal]]] = {}
    for row in rows:
        key = lots.key_of(row)
        moisture = row.number_in("moisture_pct", "%", 2)
        if moisture is not None:
            row.checked("moisture_pct", number_between, moisture, 0, 200, "%")
        meter: Meter | None = row.checked("meter", meters.named, row.text("meter") or "")
        at = row.time("read_at")
        if at is not None:
            row.checked("read_at", not_future, at, now)
        if meter and at:
            row.checked("meter", meters.calibrated, meter, at.astimezone(site.zone).date())
        if key and at and lots.delivered[key] > at:
            row.fault("read_at", _("the lot was not here yet"))
        if not row.faults and key and at and meter and moisture is not None:
            groups.setdefault((key, meter, at), (row.number, []))[1].append(moisture)
    if judged.faults:
        return
    found = lots.whole({key for key, _meter, _at in groups})
    for (key, meter, at), (number, readings) in groups.items():
        for start in range(0, len(readings), MOST_AT_ONCE):
            part = tuple(readings[start : start + MOST_AT_ONCE])
            judged.items.append(ReadingRows(found[key], meter, at, part, number))


class _MetersOfFile:
    """The meters that a file names, each asked about once."""

    def __init__(self, site: Site) -> None:
        self.found: Callable[[str], Meter] = cache(partial(meter_named, site))

    def named(self, _field: str, name: str) -> Meter:
        return self.found(name)

    def calibrated(self, _field: str, meter: Meter, day: dt.date) -> None:
        refuse_uncalibrated(meter, day)


class _LotsOfFile:
    """The lots that a file names, found in two queries however many there are."""

    def __init__(self, site: Site) -> None:
        rows = Lot.objects.filter(site=site).values_list("code", "pk", "delivery__delivered_at")
        self.marks, self.delivered = {}, {}
        for code, key, at in rows:
            self.marks[code.casefold()], self.delivered[key] = key, at

    def key_of(self, row: RowReader) -> int | None:
        code = row.text("lot")
        key = self.marks.get((code or "").casefold())
        if code and key is None:
            row.fault("lot", _("no lot of that mark is in the store"))
        return key

    def whole(self, keys: set[int]) -> dict[int, Lot]:
        return dict(Lot.objects.select_related("product", "delivery", "site").in_bulk(list(keys)))


def _take_readings(
    _site: Site, item: ReadingRows, by: Person, at: dt.datetime | None, gathered: list[Any]
) -> None:
    services.record_readings(
        item.lot, readings=item.readings, meter=item.meter, read_at=item.read_at, by=by, at=at,
        gathered=gathered,
    )  # fmt: skip


# Counts


def _read_counts(
    judged: Judged, rows: Iterator[RowReader], site: Site, reason: str, now: dt.datetime
) -> None:
    lots, once = _LotsOfFile(site), _Once()
    units = _board_lots(site)
    found: list[tuple[int, Decimal, str]] = []
    for row in rows:
        key = lots.key_of(row)
        if key:
            once.refuse(row, "lot", key)
        counted = row.number_in("counted", "", 2)
        if counted is not None:
            row.checked("counted", number_between, counted, 0, services.MOST_BOARDS)
            if key in units and counted != counted.to_integral_value():
                row.fault("counted", _("boards are counted whole"))
        said = row.text("reason", needed=False) or reason
        why = row.checked("reason", text_within, said, 300, needed=False)
        if not row.faults and key and counted is not None:
            found.append((key, counted, why))
    if not judged.faults:
        whole = lots.whole({key for key, *_more in found})
        counts = tuple(Count(whole[key], counted, why) for key, counted, why in found)
        judged.items = [CountsOfFile(counts, judged.name)]


def _board_lots(site: Site) -> set[int]:
    rows = Lot.objects.filter(site=site).select_related("product")
    return {lot.pk for lot in rows.only("pk", "product__kind") if lot.product.is_board}


def _take_counts(
    site: Site, item: CountsOfFile, by: Person, at: dt.datetime | None, _gathered: list[Any]
) -> None:
    """A stocktake of the lots that were counted. It waits to be signed like any other."""
    stocktake = start_stocktake(
        site, lots=[count.lot for count in item.counts], title=item.title, by=by, at=at
    )
    enter_counts(stocktake, item.counts, counted_at=stocktake.started_at, by=by, at=at)


_READ: dict[str, Callable[..., None]] = {
    "deliveries": _read_deliveries, "readings": _read_readings, "counts": _read_counts,
}  # fmt: skip
_TAKE: dict[str, Callable[..., None]] = {
    "deliveries": _take_delivery, "readings": _take_readings, "counts": _take_counts,
}  # fmt: skip


# Taking


def taking(
    site: Site, judged: Judged, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> Iterator[int]:
    """Take a judged file, all or nothing, and give how many rows are in after each step.

    Whoever stops drawing before the end takes nothing. The doors of the verbs open inside this
    one, so that each thing has its entry and the file has the last.

    Raises
    ------
    Refused
        of whatever became wrong since the file was judged; nothing is taken then.
    """
    judged.refuse_faults()
    done, readings = 0, list[MoistureReading]()
    with door("stock.file_taken", by=by, site=site, at=at, once=once) as entry:
        for item in judged.items:
            _TAKE[judged.kind](site, item, by, at, readings)
            done += item.rows
            yield done
        MoistureReading.objects.bulk_create(readings)
        mark_read({each.lot_id for each in readings})
        if judged.mapping != remembered_columns(site, judged.kind, judged.supplier):
            remember_columns(site, judged, by=by, at=at)
        file = StoreFile(
            site=site, kind=judged.kind, name=judged.name, sha256=judged.sha256,
            rows=judged.count, taken_at=entry.at, taken_by=by,
        )  # fmt: skip
        file.save()
        entry.on(file)
        entry.changed(kind=judged.kind, hash=judged.sha256, name=judged.name, rows=judged.count)


def take(site: Site, judged: Judged, *, by: Person, at: dt.datetime | None = None) -> int:
    """The same in one go; gives the number of rows."""
    done = 0
    for done in taking(site, judged, by=by, at=at):  # noqa: B007 - the last one counts
        pass
    return done


def remember_columns(
    site: Site, judged: Judged, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> ColumnMapping:
    """Keep what the columns of such files mean, per supplier where one is named."""
    refuse_if(not judged.mapping, "file", _("No column of this file is understood yet."))
    with door("stock.columns_mapped", by=by, site=site, at=at, once=once) as entry:
        vendor = _supplier(site, judged.supplier)
        mapping = ColumnMapping(
            site=site, kind=judged.kind, supplier=vendor, columns=judged.mapping,
            written_at=entry.at, written_by=by,
        )  # fmt: skip
        mapping.save()
        entry.on(mapping)
        entry.changed(kind=judged.kind, columns=judged.mapping, supplier=str(vendor or ""))
    return mapping


def _supplier(site: Site, name: str) -> Supplier | None:
    if not name:
        return None
    found = Supplier.objects.filter(site=site, name__iexact=name).first()
    refuse_if(
        found is None,
        "supplier",
        _("Nothing came from {name} yet; the columns are remembered when the file is taken.").format(name=name),
    )  # fmt: skip
    return found


# Reading


def remembered_columns(site: Site, kind: str, supplier: str) -> dict[str, str]:
    rows = ColumnMapping.objects.filter(site=site, kind=kind)
    rows = rows.filter(supplier__name__iexact=supplier) if supplier else rows.filter(supplier=None)
    newest = rows.order_by("-id").values_list("columns", flat=True).first()
    return dict(newest or {})


def files_taken(site: Site) -> Sequence[StoreFile]:
    return list(StoreFile.objects.filter(site=site).select_related("taken_by__details")[:50])


def choices_of(kind: str) -> list[tuple[str, Any]]:
    """What a column can be, for the page."""
    return [
        ("", _("not understood")), (LEFT_OUT, _("leave out")),
        *((column.key, column.label) for column in COLUMNS[kind]),
    ]  # fmt: skip
