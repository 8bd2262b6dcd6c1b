"""The life of a unit summed up: by year, its spans out of service, how its walls thin.

Sums are made by the database over as many buckets as the picture has bars, so that twenty years
cost about as much as one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import Any

from django.db.models import (
    Case,
    F,
    IntegerField,
    Min,
    QuerySet,
    Sum,
    Value,
    When,
)
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.look import charts
from facility.look.charts import Chart, Curve
from facility.look.timeline import Bar, Span, Timeline, image
from facility.look.times import day_in_words
from facility.sites.models import Unit
from records.ground.models import UnitUse
from records.inspections.models import (
    Defect,
    DefectSeverity,
    Inspection,
    ThicknessReading,
)
from records.inspections.selectors import SCHEMES

MONTHLY = 3  # years up to which a bar is a month
TONES = ("#c25a2c", "#5f8296", "#a58436", "#7a6aa8", "#4f8a63", "#a85a7d", "#7f8783", "#3f5560")
YEAR = dt.timedelta(days=365.25)


@dataclass(frozen=True, slots=True)
class Period:
    """First and last day, both included, in the ground's own calendar, cut into buckets."""

    start: dt.date
    end: dt.date
    zone: dt.tzinfo

    @property
    def since(self) -> dt.datetime:
        return dt.datetime.combine(self.start, dt.time(), tzinfo=self.zone)

    @property
    def until(self) -> dt.datetime:
        return dt.datetime.combine(self.end, dt.time(), tzinfo=self.zone) + dt.timedelta(days=1)

    def edges(self) -> list[dt.date]:
        """Where the buckets meet: New Years, or firsts of the month in a short period."""
        inner, stop = [], self.end + dt.timedelta(days=1)
        months = (1,) if self.end.year - self.start.year > MONTHLY else range(1, 13)
        for year in range(self.start.year, self.end.year + 1):
            inner += [dt.date(year, month, 1) for month in months]
        return [self.start, *(day for day in inner if self.start < day < stop), stop]

    def years(self) -> list[tuple[dt.date, dt.date]]:
        """First and last day of each year, as far as it lies in the period."""
        return [
            (max(self.start, dt.date(year, 1, 1)), min(self.end, dt.date(year, 12, 31)))
            for year in range(self.start.year, self.end.year + 1)
        ]


def period_of(unit: Unit, start: dt.date, end: dt.date) -> Period:
    return Period(start, end, unit.site.zone)


@dataclass(frozen=True, slots=True)
class YearOfUse:
    """What a unit went through in one year, and in all up to its end."""

    start: dt.date
    end: dt.date
    burns: int = 0
    dry_mass_kg: float = 0.0
    energy_mj: float = 0.0
    inspections: int = 0
    defects: int = 0
    days_out: float = 0.0
    burns_so_far: int = 0


@dataclass(frozen=True, slots=True)
class Outage:
    """A time in which at least one open defect kept the unit out of service, or restricted it."""

    row: str
    start: dt.datetime
    end: dt.datetime
    open: bool
    places: tuple[str, ...]

    @property
    def days(self) -> float:
        return (self.end - self.start) / dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class WallTrend:
    """One marked point: its first and its newest reading of the period [mm]."""

    point: str
    series: tuple[tuple[dt.datetime, float], ...]  # the least of each bucket

    @property
    def first(self) -> float:
        return self.series[0][1]

    @property
    def last(self) -> float:
        return self.series[-1][1]

    @property
    def lost(self) -> float:
        return self.first - self.last


@dataclass(frozen=True)
class Life:
    """The summary that page and document share."""

    unit: Unit
    period: Period
    bars: list[Bar]
    years: list[YearOfUse]
    outages: list[Outage]
    inspected: list[dt.datetime]
    walls: list[WallTrend] = field(default_factory=list)

    @property
    def out_of_service(self) -> list[Outage]:
        return [each for each in self.outages if each.row == "out"]

    @cached_property
    def total(self) -> YearOfUse:
        """The period as a whole."""
        added = {
            name: sum(getattr(year, name) for year in self.years)
            for name in ("burns", "dry_mass_kg", "energy_mj", "inspections", "defects", "days_out")
        }
        return YearOfUse(self.period.start, self.period.end, **added)

    @property
    def picture(self) -> SafeString:
        names = {
            "burns": _("burns"), "out": _("out of service"), "restricted": _("restricted"),
            "inspected": _("inspected"),
        }  # fmt: skip
        spans = [Span(each.row, each.start, each.end) for each in self.outages]
        line = Timeline(
            self.period.since, self.period.until, self.bars, spans, self.inspected, names
        )
        words = _("{burns} burns, {out} times out of service, {inspected} inspections").format(
            burns=self.total.burns, out=len(self.out_of_service), inspected=len(self.inspected)
        )
        return image(line, words)

    @property
    def wall_picture(self) -> SafeString:
        """The thickness of the points that lost most against time; nothing before two readings."""
        read = [wall for wall in self.walls if len(wall.series) > 1]
        drawn = sorted(read, key=lambda wall: (-wall.lost, wall.point))[: len(TONES)]
        if not drawn:
            return SafeString("")
        since = self.period.since
        curves = tuple(
            Curve(
                tuple(round((when - since) / YEAR, 3) for when, _mm in wall.series),
                tuple(mm for _when, mm in wall.series),
                wall.point,
                colour=tone,
            )
            for wall, tone in zip(drawn, TONES, strict=False)
        )
        required = self.unit.required_wall_mm
        limits = ((float(required), _("required")),) if required is not None else ()
        x_name = _("years since {day}").format(day=day_in_words(self.period.start))
        chart = Chart(curves, x_name, _("wall, mm"), limits, wide=6.4, tall=2.5)
        return charts.image(chart, _("Thickness of the wall at its marked points"))


def life_of(unit: Unit, period: Period, now: dt.datetime) -> Life:
    """The life of a unit in a period, in six queries however long it is."""
    edges = period.edges()
    burned = _burned(unit, period, edges)
    inspected = list(_inspected(unit, period).values_list("done_at", flat=True).order_by("done_at"))
    defects = _defects(unit, period)
    outages = [
        *_outages(defects, DefectSeverity.UNSAFE, "out", period, now),
        *_outages(defects, DefectSeverity.RESTRICTS, "restricted", period, now),
    ]
    bars = [
        Bar(start, end, burned.get(place, (0, 0, 0))[0])
        for place, (start, end) in enumerate(pairwise(edges))
    ]
    before = UnitUse.objects.filter(unit=unit, ignited_at__lt=period.since)
    so_far = before.aggregate(burns=Sum("burns"))["burns"] or 0
    years = _years(period, edges, burned, inspected, defects, outages, so_far)
    walls = _walls(unit, period, edges)
    return Life(unit, period, bars, years, outages, inspected, walls)


def _bucket(field_name: str, period: Period, edges: Sequence[dt.date]) -> Case:
    """Which bucket a time falls into; the latest ones first, for most reading is of late."""
    starts = [dt.datetime.combine(day, dt.time(), tzinfo=period.zone) for day in edges[:-1]]
    whens = [
        When(**{f"{field_name}__gte": start}, then=Value(place))
        for place, start in reversed(list(enumerate(starts)))
    ]
    return Case(*whens, default=Value(0), output_field=IntegerField())


def _burned(
    unit: Unit, period: Period, edges: Sequence[dt.date]
) -> dict[int, tuple[int, float, float]]:
    """Burns, dry mass [kg] and energy [MJ] of each bucket, corrections counted in."""
    rows = (
        UnitUse.objects.filter(unit=unit, ignited_at__gte=period.since, ignited_at__lt=period.until)
        .annotate(bucket=_bucket("ignited_at", period, edges))
        .order_by()
        .values("bucket")
        .annotate(count=Sum("burns"), mass=Sum("dry_mass_kg"), energy=Sum("energy_mj"))
    )
    return {row["bucket"]: (row["count"], float(row["mass"]), float(row["energy"])) for row in rows}


def _inspected(unit: Unit, period: Period) -> QuerySet[Inspection]:
    rows: QuerySet[Inspection] = Inspection.objects.filter(
        unit=unit, kind__in=SCHEMES, done_at__gte=period.since,
        done_at__lt=period.until,
    )  # fmt: skip
    return rows


def _defects(unit: Unit, period: Period) -> list[Any]:
    """Defects open at some time of the period: severity, place, found, released."""
    rows = Defect.objects.filter(unit=unit, found_at__lt=period.until).exclude(
        release__released_at__lt=period.since
    )
    return list(
        rows.order_by("found_at").values_list(
            "severity", "place", "found_at", "release__released_at"
        )
    )


def _outages(
    defects: Sequence[Any], severity: str, row: str, period: Period, now: dt.datetime
) -> list[Outage]:
    """Spans with at least one such defect open; those that touch are one."""
    last = min(now, period.until)
    merged: list[Outage] = []
    for graded, place, found, released in defects:
        if graded != severity or found > last:
            continue
        still = released is None or released > last
        start, end = max(found, period.since), last if still else released
        if merged and start <= merged[-1].end:
            old = merged[-1]
            merged[-1] = replace(
                old, end=max(old.end, end), open=old.open or still, places=(*old.places, place)
            )
        else:
            merged.append(Outage(row, start, end, still, (place,)))
    return merged


def _years(
    period: Period, edges: Sequence[dt.date], burned: dict[int, tuple[int, float, float]],
    inspected: Sequence[dt.datetime], defects: Sequence[Any], outages: Sequence[Outage], so_far: int,
) -> list[YearOfUse]:  # fmt: skip
    looked = [when.astimezone(period.zone).year for when in inspected]
    found = [
        when.astimezone(period.zone).year for _severity, _place, when, _end in defects
        if when >= period.since
    ]  # fmt: skip
    years = []
    for start, end in period.years():
        sums = [sums for place, sums in burned.items() if edges[place].year == start.year]
        burns = sum(each[0] for each in sums)
        so_far += burns
        years.append(
            YearOfUse(
                start, end, burns, sum(each[1] for each in sums), sum(each[2] for each in sums),
                looked.count(start.year), found.count(start.year),
                _days_out(outages, Period(start, end, period.zone)), so_far,
            )
        )  # fmt: skip
    return years


def _days_out(outages: Sequence[Outage], year: Period) -> float:
    spans = (
        min(each.end, year.until) - max(each.start, year.since)
        for each in outages
        if each.row == "out"
    )
    return sum(max(span / dt.timedelta(days=1), 0.0) for span in spans)


def _walls(unit: Unit, period: Period, edges: Sequence[dt.date]) -> list[WallTrend]:
    """The least thickness of each point in each bucket: a wall is as good as its worst reading."""
    rows = (
        ThicknessReading.objects.filter(
            inspection__unit=unit, inspection__done_at__gte=period.since,
            inspection__done_at__lt=period.until,
        )
        .annotate(bucket=_bucket("inspection__done_at", period, edges))
        .order_by()
        .values("point", "bucket")
        .annotate(least=Min("thickness_mm"), first=Min(F("inspection__done_at")))
        .order_by("point", "bucket")
    )  # fmt: skip
    series: dict[str, list[tuple[dt.datetime, float]]] = {}
    for row in rows:
        series.setdefault(row["point"], []).append((row["first"], float(row["least"])))
    return [WallTrend(point, tuple(values)) for point, values in series.items()]
