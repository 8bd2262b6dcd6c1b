"""Meters, their calibrations and corrections, and the moisture they read.

A reading keeps what the meter showed and what it counts as; oven-dry samples keep their two masses.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.calc.boards import meter_correction, moisture_content, product_correction
from facility.kinds import ProductKind
from facility.people.models import Person
from facility.refusals import (
    NotCalibrated,
    WrongValue,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sites.models import Site
from records.audit.door import door
from records.stock.models import (
    Calibration,
    Lot,
    Meter,
    MeterKind,
    Method,
    MoistureReading,
    Product,
    ProductCorrection,
)
from records.stock.rounds import mark_read

MOST_READINGS = 200  # at once
MOST_MOISTURE = 200  # percent of dry mass; beyond, a board would have fallen apart
TEMPERATURE_RULE = "meter manual"  # of the three published ones, the one made for a meter in use
AS_CALCULATED = {
    ProductKind.PARTICLE_BOARD: "particle board", ProductKind.OSB: "OSB",
    ProductKind.PLYWOOD: "plywood", ProductKind.FIBREBOARD: "fibreboard",
}  # fmt: skip
_HUNDREDTH = Decimal("0.01")


def add_meter(
    site: Site, *, name: str, kind: str, mark: str, calibrated_on: dt.date, due_on: dt.date,
    note: str, by: Person, at: dt.datetime | None = None, once: str = "",
) -> Meter:  # fmt: skip
    """Put a meter on the list, with its newest calibration."""
    name = text_within("name", name, 40)
    refuse_if(kind not in MeterKind.values, "kind", _("This kind of meter is not known."))
    refuse_if(
        Meter.objects.filter(site=site, name__iexact=name).exists(),
        "name",
        _("There is a meter of that name."),
    )
    meter = Meter(site=site, name=name, kind=kind, mark=text_within("mark", mark, 40))
    row = _calibration(meter, calibrated_on, due_on, note, by, at or timezone.now())
    with door("stock.meter_added", by=by, site=site, on=meter, at=at, once=once) as entry:
        meter.save()
        row.save()
        entry.changed(name=name, kind=kind, mark=meter.mark, due_on=due_on)
    return meter


def calibrate_meter(
    meter: Meter, *, calibrated_on: dt.date, due_on: dt.date, note: str, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Calibration:  # fmt: skip
    """Record that a meter was calibrated again."""
    row = _calibration(meter, calibrated_on, due_on, note, by, at or timezone.now())
    with door(
        "stock.meter_calibrated", by=by, site=meter.site, on=meter, at=at, once=once
    ) as entry:
        row.save()
        entry.changed(calibrated_on=calibrated_on, due_on=due_on)
    return row


def _calibration(
    meter: Meter, calibrated_on: dt.date, due_on: dt.date, note: str, by: Person, now: dt.datetime
) -> Calibration:
    today = now.astimezone(meter.site.zone).date()
    refuse_if(
        calibrated_on > today, "calibrated_on", _("A calibration that lies ahead is no record yet.")
    )
    refuse_if(calibrated_on.year < 1990, "calibrated_on", _("This is too far back."))
    refuse_if(
        due_on <= calibrated_on, "due_on", _("The next calibration comes after the last one.")
    )
    refuse_if(
        due_on > calibrated_on + dt.timedelta(days=1100),
        "due_on",
        _("A calibration holds for three years at most."),  # our choice, no source
    )
    return Calibration(
        meter=meter, calibrated_on=calibrated_on, due_on=due_on,
        note=text_within("note", note, 160), recorded_at=now, recorded_by=by,
    )  # fmt: skip


def correct_meter(
    meter: Meter, product: Product, *, factor: Decimal, points: Decimal, source: str, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> ProductCorrection:  # fmt: skip
    """Set the correction of a meter on a product. Readings taken before keep what they counted as."""
    refuse_if(
        product.site_id != meter.site_id or not product.is_board,
        "product",
        _("No such board on this ground."),
    )
    number_between("factor", factor, 0.3, 3)
    number_between("points", points, -20, 20, "%")
    row = ProductCorrection(
        meter=meter, product=product, factor=factor, points=points,
        source=text_within("source", source, 160), recorded_by=by,
    )  # fmt: skip
    with door("stock.correction_set", by=by, site=meter.site, on=meter, at=at, once=once) as entry:
        row.recorded_at = entry.at
        row.save()
        entry.changed(product=product, factor=factor, points=points)
    return row


@dataclass(frozen=True, slots=True)
class Read:
    """One reading as the meter showed it [% of dry mass], and which board it was."""

    shown: Decimal
    place: str = ""


def record_readings(
    lot: Lot, *, readings: Iterable[Decimal | Read], meter: Meter | str, read_at: dt.datetime,
    by: Person, board_temperature_c: Decimal | None = None, at: dt.datetime | None = None,
    once: str = "", gathered: list[MoistureReading] | None = None,
) -> list[MoistureReading]:  # fmt: skip
    """Record meter readings, one per board, in percent of dry mass.

    ``meter`` is one of the ground's, or its name. Where the temperature of the boards is given the
    readings are corrected for it, then for the product where the meter has a correction for it.
    Whoever gives ``gathered`` gets the rows in it and writes those of many lots at once, in the
    same transaction.

    Raises
    ------
    NotCalibrated
        when the meter was not within its calibration that day.
    """
    taken = [each if isinstance(each, Read) else Read(each) for each in readings]
    _check_round(lot, "readings", len(taken), read_at, at or timezone.now())
    for each in taken:
        number_between("readings", each.shown, 0, MOST_MOISTURE, "%")
    if board_temperature_c is not None:
        number_between("board_temperature_c", board_temperature_c, -30, 60, "°C")
    used = meter_named(lot.site, meter)
    refuse_uncalibrated(used, read_at.astimezone(lot.site.zone).date())
    line = next(
        (each for each in used.corrections.all() if each.product_id == lot.product_id), None
    )
    rows = [
        MoistureReading(
            lot=lot, method=Method.METER, meter=used.name, read_with=used, shown_pct=each.shown,
            moisture_pct=corrected(each.shown, lot.product, board_temperature_c, line),
            board_temperature_c=board_temperature_c, place=text_within("place", each.place, 40, needed=False),
            read_at=read_at, read_by=by,
        )
        for each in taken
    ]  # fmt: skip
    with door("stock.reading_recorded", by=by, site=lot.site, on=lot, at=at, once=once) as entry:
        for row in rows:
            row.recorded_at = entry.at
        if gathered is None:
            MoistureReading.objects.bulk_create(rows)
            mark_read([lot.pk])
        else:
            gathered += rows
        entry.changed(
            readings=[str(row.moisture_pct) for row in rows], meter=used.name,
            shown=[row.shown_pct for row in rows],
        )  # fmt: skip
    return rows


def corrected(
    shown: Decimal, product: Product, board_temperature_c: Decimal | None,
    line: ProductCorrection | None,
) -> Decimal:  # fmt: skip
    """What a reading counts as: for temperature first, then for the product."""
    moisture = float(shown)
    if board_temperature_c is not None:
        moisture = meter_correction.of(
            reading=moisture, board_temperature=float(board_temperature_c),
            product=AS_CALCULATED.get(ProductKind(product.kind), "particle board"),
            rule=TEMPERATURE_RULE,
        ).value()  # fmt: skip
    if line is not None:
        moisture = product_correction.of(
            reading=moisture, factor=float(line.factor), points=float(line.points)
        ).value()
    return min(Decimal(f"{moisture:.2f}"), Decimal(MOST_MOISTURE))


def meter_named(site: Site, meter: Meter | str) -> Meter:
    """A meter of the ground; a name that is on no list is refused."""
    if isinstance(meter, Meter):
        refuse_if(meter.site_id != site.pk, "meter", _("No such meter on this ground."))
        return meter
    name = text_within("meter", meter, 40)
    known = Meter.objects.prefetch_related("calibrations", "corrections")
    found: Meter | None = known.filter(site=site, name__iexact=name).first()
    if found is None:
        raise WrongValue(
            _("{name} is no meter of this ground; put it on the list with its calibration.").format(
                name=name
            ),
            field="meter",
        )
    return found


def refuse_uncalibrated(meter: Meter, day: dt.date) -> None:
    newest = next((each for each in meter.calibrations.all() if each.calibrated_on <= day), None)
    if newest is None or newest.due_on < day:
        raise NotCalibrated(
            _("{meter} was not calibrated on {day}: {last}. Its readings are not taken.").format(
                meter=meter,
                day=day.isoformat(),
                last=_("its calibration was due on {due}").format(due=newest.due_on.isoformat())
                if newest
                else _("no calibration from before that day is recorded"),
            ),
            field="meter",
        )


def _check_round(lot: Lot, field: str, number: int, read_at: dt.datetime, now: dt.datetime) -> None:
    refuse_if(not number, field, _("Give at least one reading."))
    refuse_if(
        number > MOST_READINGS,
        field,
        _("At most {most} readings are taken at once.").format(most=MOST_READINGS),
    )
    not_future("read_at", read_at, now)
    refuse_if(
        read_at < lot.delivery.delivered_at,
        "read_at",
        _("The lot was not here yet: it was delivered later than this reading."),
    )


@dataclass(frozen=True, slots=True)
class Dried:
    """One sample: its mass as cut and after drying to constant mass [g], and from which board."""

    wet_g: Decimal
    dry_g: Decimal
    place: str = ""


def record_dried(
    lot: Lot, *, samples: Sequence[Dried], read_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> list[MoistureReading]:  # fmt: skip
    """Record oven-dry samples, cut at ``read_at``. As many as the plan asks for count instead of
    the meter's readings of that round."""
    _check_round(lot, "samples", len(samples), read_at, at or timezone.now())
    rows = [_dried_row(lot, each, read_at, by) for each in samples]
    with door("stock.samples_dried", by=by, site=lot.site, on=lot, at=at, once=once) as entry:
        for row in rows:
            row.recorded_at = entry.at
        MoistureReading.objects.bulk_create(rows)
        mark_read([lot.pk])
        entry.changed(readings=[str(row.moisture_pct) for row in rows])
    return rows


def _dried_row(lot: Lot, sample: Dried, read_at: dt.datetime, by: Person) -> MoistureReading:
    for mass in (sample.wet_g, sample.dry_g):
        number_between("samples", mass, 0, 99_000, "g", above=True)
    refuse_if(
        sample.dry_g > sample.wet_g,
        "samples",
        _("A sample of {wet} g cannot weigh {dry} g dry: wet mass first, then dry mass.").format(
            wet=sample.wet_g, dry=sample.dry_g
        ),
    )
    moisture = moisture_content.of(
        wet_mass=float(sample.wet_g) / 1000, dry_mass=float(sample.dry_g) / 1000
    ).value()
    number_between("samples", moisture, 0, MOST_MOISTURE, "%")
    return MoistureReading(
        lot=lot, method=Method.OVEN_DRY, moisture_pct=Decimal(moisture).quantize(_HUNDREDTH),
        wet_mass_g=sample.wet_g, dry_mass_g=sample.dry_g, read_at=read_at, read_by=by,
        place=text_within("place", sample.place, 40, needed=False),
    )  # fmt: skip
