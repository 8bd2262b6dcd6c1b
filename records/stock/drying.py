"""The air of a bay, the moisture boards settle at in it, and when a wet lot may be dry enough."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import (
    Avg,
    Count,
    DateTimeField,
    DurationField,
    ExpressionWrapper,
    Max,
    OuterRef,
    Subquery,
    Value,
)
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.boards import days_to_dry, drying_time_constant, equilibrium_moisture
from facility.calc.working import OutOfSense, Working
from facility.look.charts import EMBER, STEEL, Chart, Curve, image, thinned
from facility.refusals import NotHere
from facility.sites.models import Bay, Site
from records.stock.models import BayClimate
from records.stock.rounds import Moisture, rounds_in

LOOK_BACK = dt.timedelta(days=30)  # boards follow the air of weeks, not of hours: our choice
CHARTED = dt.timedelta(days=90)
# Days for 63 % of the way, where the lot's own readings do not tell: common practice, no source.
TIME_CONSTANT_DAYS = 21.0


@dataclass(frozen=True, slots=True)
class Climate:
    """The newest month of a bay's log: means [degC, %] and the moisture boards settle at."""

    count: int
    temperature_c: float
    humidity_pct: float
    until: dt.datetime
    equilibrium: Working | None


def bays_with_climate(site: Site) -> list[tuple[Bay, Climate | None]]:
    bays = list(Bay.objects.filter(site=site).order_by("name"))
    found = climates_of(bays)
    return [(bay, found.get(bay.pk)) for bay in bays]


def bay_here(site: Site, public_id: str) -> Bay:
    bay = Bay.objects.filter(site=site, public_id=public_id).first()
    if bay is None:
        raise NotHere(f"No bay {public_id} on this ground.")
    return bay


def climates_of(bays: Iterable[Bay]) -> dict[int, Climate]:
    """The month up to the newest moment in the log of each bay, by the bay's key, in one query."""
    edge = (
        BayClimate.objects.filter(bay=OuterRef("bay"))
        .order_by("-measured_at")
        .values("measured_at")[:1]
    )
    since = ExpressionWrapper(
        Subquery(edge) - Value(LOOK_BACK, output_field=DurationField()),
        output_field=DateTimeField(),
    )
    rows = (
        BayClimate.objects.filter(bay__in=list(bays), measured_at__gte=since)
        .order_by()
        .values("bay")
        .annotate(
            count=Count("id"),
            temperature=Avg("temperature_c"),
            humidity=Avg("humidity_pct"),
            until=Max("measured_at"),
        )
    )
    return {row["bay"]: _climate(row) for row in rows}


def _climate(row: Mapping[str, Any]) -> Climate:
    temperature, humidity = float(row["temperature"]), float(row["humidity"])
    settled = _settled(temperature, humidity)
    return Climate(row["count"], temperature, humidity, row["until"], settled)


def climate_of(bay: Bay) -> Climate | None:
    """The newest month of one bay; None while nothing is logged."""
    return climates_of([bay]).get(bay.pk)


def _settled(temperature: float, humidity: float) -> Working | None:
    try:
        return equilibrium_moisture.of(
            temperature=round(temperature, 1), relative_humidity=round(humidity, 1)
        )
    except OutOfSense:  # colder or hotter than the formula goes
        return None


def log_of(bay: Bay, most: int = 20) -> list[BayClimate]:
    """The newest lines of a bay's log."""
    rows = bay.climate.select_related("recorded_by__details")
    return list(rows.order_by("-measured_at")[:most])


def chart_of(bay: Bay) -> SafeString | None:
    """Temperature and humidity of the last three months in the log."""
    newest = BayClimate.objects.filter(bay=bay).aggregate(at=Max("measured_at"))["at"]
    if newest is None:
        return None
    rows = list(
        bay.climate.filter(measured_at__gte=newest - CHARTED).values_list(
            "measured_at", "temperature_c", "humidity_pct"
        )
    )
    if len(rows) < 2:
        return None
    days = thinned([(moment - newest).total_seconds() / 86400 for moment, _t, _h in rows])
    chart = Chart(
        (
            Curve(days, thinned([float(each[2]) for each in rows]), _("humidity, %"), colour=STEEL),
            Curve(days, thinned([float(each[1]) for each in rows]), _("temperature, °C"), colour=EMBER),
        ),
        x_name=_("days before the newest reading"),
        y_name=_("% and °C"),
    )  # fmt: skip
    return image(chart, _("Temperature and relative humidity of the bay"))


# -- drying ----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Outlook:
    """When a wet lot may be dry enough: an estimate with its band, or why there is none."""

    target_pct: float
    settles_at: Working
    days: Working | None = None
    fitted: Working | None = None
    earliest: dt.date | None = None
    latest: dt.date | None = None


def outlook(lot: Any, moisture: Moisture, limit: float | None, day: dt.date) -> Outlook | None:
    """None for a lot that is dry enough, unread, or in a bay without a log."""
    wet = moisture.mean_pct is not None and limit is not None and float(moisture.mean_pct) > limit
    climate = climate_of(lot.bay) if wet and lot.bay is not None else None
    if climate is None or climate.equilibrium is None or limit is None:
        return None
    settles = climate.equilibrium.value()
    fitted = _fitted(rounds_in(lot), settles)
    try:
        days = days_to_dry.of(
            moisture=float(moisture.mean_pct or 0), target=limit, equilibrium=round(settles, 1),
            time_constant=round(fitted.value(), 1) if fitted else TIME_CONSTANT_DAYS,
        )  # fmt: skip
    except OutOfSense:
        return Outlook(limit, climate.equilibrium)
    read_on = moisture.read_at.astimezone(lot.site.zone).date() if moisture.read_at else day
    return Outlook(
        limit, climate.equilibrium, days, fitted,
        earliest=max(day, read_on + dt.timedelta(days=round(days.value("earliest")))),
        latest=max(day, read_on + dt.timedelta(days=round(days.value("latest")))),
    )  # fmt: skip


def _fitted(rounds: Sequence[Moisture], settles: float) -> Working | None:
    """The time constant between the first and the newest whole round, where they tell one."""
    whole = [each for each in rounds if each.is_whole and each.mean_pct is not None]
    if len(whole) < 2:
        return None
    last, first = whole[0], whole[-1]
    assert last.read_at is not None and first.read_at is not None
    try:
        return drying_time_constant.of(
            first=float(first.mean_pct or 0), second=float(last.mean_pct or 0),
            equilibrium=round(settles, 1), days=(last.read_at - first.read_at).total_seconds() / 86400,
        )  # fmt: skip
    except OutOfSense:
        return None
