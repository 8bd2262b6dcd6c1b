"""Holding thermocouples against a reference."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.look.times import day_in_words
from facility.people.models import Person
from facility.refusals import number_between, refuse_if, text_within
from facility.sites.models import Sensor, Unit
from records.audit.door import door
from records.inspections.gauging import refuse_retired, today_of
from records.inspections.models import SensorCalibration

COLDEST_C, HOTTEST_C = -50.0, 1300.0


def calibrate_sensors(
    unit: Unit, *, read: Mapping[str, tuple[Decimal, Decimal]], against: str, done_on: dt.date,
    by: Person, at: dt.datetime | None = None, once: str = "",
) -> list[SensorCalibration]:  # fmt: skip
    """Record what thermocouples showed beside a reference.

    ``read`` maps the id of a sensor to the reference temperature and its own, both in degC. What
    is far off is recorded like the rest: it is the finding, and a defect is recorded beside it.
    """
    refuse_if(not read, "against", _("No reading is given: at least one thermocouple is needed."))
    against = text_within("against", against, 120)
    refuse_if(done_on > today_of(unit, at), "done_on", _("This day lies ahead."))
    refuse_if(
        done_on < unit.commissioned_on, "done_on",
        _("The unit was commissioned on {day}; nothing was calibrated before that.").format(
            day=day_in_words(unit.commissioned_on)
        ),
    )  # fmt: skip
    sensors = {sensor.public_id: sensor for sensor in Sensor.objects.filter(unit=unit)}
    refuse_if(
        any(key not in sensors for key in read), "against", _("The unit has no such thermocouple.")
    )
    for reference, shown in read.values():
        number_between("against", reference, COLDEST_C, HOTTEST_C, "°C")
        number_between("against", shown, COLDEST_C, HOTTEST_C, "°C")
    with door(
        "inspections.sensors_calibrated", by=by, site=unit.site, on=unit, at=at, once=once
    ) as entry:
        refuse_retired(unit, entry.at)
        rows = SensorCalibration.objects.bulk_create(
            SensorCalibration(
                sensor=sensors[key], reference_c=reference, read_c=shown, against=against,
                done_on=done_on, done_by=by, recorded_at=entry.at,
            )
            for key, (reference, shown) in read.items()
        )  # fmt: skip
        entry.changed(
            done_on=done_on, against=against,
            sensors=[(sensors[key].name, reference, shown)
                     for key, (reference, shown) in read.items()],
        )  # fmt: skip
    return list(rows)
