"""Reading inspections and defects; a unit's state is worked out here and nowhere else."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from django.db.models import FloatField, Max, Q, QuerySet
from django.db.models.functions import Cast
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from facility.calc.life import remaining_life, wall_loss_rate
from facility.calc.working import Working
from facility.refusals import NotHere
from facility.sites.makeup import PARTS
from facility.sites.models import Site, Unit
from records.inspections.models import (
    Defect,
    DefectSeverity,
    Inspection,
    InspectionKind,
    Outcome,
    Release,
    ThicknessReading,
)

IN_SERVICE, RESTRICTED, OUT_OF_SERVICE = "in_service", "restricted", "out_of_service"
STATE_WORDS: dict[str, str | Promise] = {
    IN_SERVICE: _("in service"),
    RESTRICTED: _("restricted"),
    OUT_OF_SERVICE: _("out of service"),
}


@dataclass(frozen=True, slots=True)
class UnitState:
    """How a unit stands at a moment, why, and when it was last inspected by the inspector."""

    word: str
    defects: tuple[Defect, ...]
    inspected_at: dt.datetime | None

    @property
    def in_service(self) -> bool:
        return self.word != OUT_OF_SERVICE

    @property
    def label(self) -> str:
        return str(STATE_WORDS[self.word])


class DefectStage(StrEnum):
    """How far a defect has come on its way back to service."""

    OPEN = "open"
    REPAIRED = "repaired"
    CHECKED = "checked"  # after the newest repair, and it holds
    CLOSED = "closed"


def stage_of(defect: Defect) -> DefectStage:
    if Release.objects.filter(defect=defect).exists():
        return DefectStage.CLOSED
    repaired = defect.repairs.aggregate(last=Max("pk"), at=Max("recorded_at"))
    if repaired["last"] is None:
        return DefectStage.OPEN
    newest = defect.verifications.last()
    holds = newest is not None and newest.holds and newest.recorded_at >= repaired["at"]
    return DefectStage.CHECKED if holds else DefectStage.REPAIRED


def open_defects(units: Iterable[Unit], at: dt.datetime) -> QuerySet[Defect]:
    unreleased = Q(release__isnull=True) | Q(release__released_at__gt=at)
    return (
        Defect.objects.filter(unreleased, unit__in=list(units), found_at__lte=at)
        .select_related("unit", "found_by__details")
        .prefetch_related("repairs")
    )


def unsafe_spans(
    units: Iterable[Unit], before: dt.datetime
) -> list[tuple[int, dt.datetime, dt.datetime | None]]:
    """Unit, start and end (None: still open) of each defect that kept a unit out of service."""
    rows = Defect.objects.filter(
        unit__in=list(units), severity=DefectSeverity.UNSAFE, found_at__lt=before
    )
    return list(rows.values_list("unit", "found_at", "release__released_at"))


def unit_states(units: list[Unit], at: dt.datetime) -> dict[int, UnitState]:
    """The state of each unit, by its key, in two queries."""
    defects: dict[int, list[Defect]] = {unit.pk: [] for unit in units}
    for defect in open_defects(units, at):
        defects[defect.unit_id].append(defect)
    structural = Inspection.objects.filter(
        unit__in=units, kind=InspectionKind.STRUCTURAL, done_at__lte=at
    ).order_by()
    inspected = dict(structural.values_list("unit").annotate(last=Max("done_at")))
    return {
        unit.pk: UnitState(
            _word(unit, defects[unit.pk], at), tuple(defects[unit.pk]), inspected.get(unit.pk)
        )
        for unit in units
    }


def _word(unit: Unit, defects: list[Defect], at: dt.datetime) -> str:
    severities = {defect.severity for defect in defects}
    retired = unit.retired_on is not None and unit.retired_on <= at.date()
    if retired or DefectSeverity.UNSAFE in severities:
        return OUT_OF_SERVICE
    return RESTRICTED if DefectSeverity.RESTRICTS in severities else IN_SERVICE


def unit_state(unit: Unit, at: dt.datetime) -> UnitState:
    return unit_states([unit], at)[unit.pk]


def inspections_of(unit: Unit) -> QuerySet[Inspection]:
    return unit.inspections.select_related("done_by__details")


def defect_here(site: Site, public_id: str) -> Defect:
    defect = (
        Defect.objects.filter(unit__site=site, public_id=public_id)
        .select_related("unit__site", "found_by__details", "release__released_by__details")
        .prefetch_related(
            "repairs__done_by__details",
            "repairs__recorded_by__details",
            "verifications__done_by__details",
            "looks__picture__recorded_by__details",
            *(f"unit__{kind}" for kind in PARTS),
        )
        .first()
    )
    if defect is None:
        raise NotHere(f"No defect {public_id} on this ground.")
    return defect


def defects_of(unit: Unit) -> QuerySet[Defect]:
    return unit.defects.select_related("release__released_by__details", "found_by__details")


@dataclass(frozen=True, slots=True)
class WallLife:
    """One marked point of a wall: its newest thickness [mm] and the working of its life."""

    point: str
    thickness_mm: float
    read_at: dt.datetime
    life: Working | None  # None while one reading, or no required thickness, tells nothing
    rates: Working | None = None  # long and short term; None while there is one reading

    @property
    def years(self) -> float:
        """Years left, for putting the worst point first; not known sorts last."""
        left = self.life.value() if self.life else math.nan
        return math.inf if math.isnan(left) else float(left)


def wall_lives(unit: Unit) -> list[WallLife]:
    """Every marked point of a unit's walls, the one with the least life first.

    Of several readings of one day the newest counts: what a gauge strays by is no loss in a day.
    """
    looks = Inspection.objects.filter(unit=unit, thickness__isnull=False).distinct()
    days = {
        key: (when.astimezone(unit.site.zone).date(), when)
        for key, when in looks.order_by().values_list("pk", "done_at")
    }
    readings: dict[str, dict[dt.date, tuple[dt.datetime, float]]] = {}
    rows = ThicknessReading.objects.filter(inspection__unit=unit).order_by("inspection__done_at")
    # as a float out of the database: to make a Decimal of each reading took longer than all else
    thickness_mm = Cast("thickness_mm", FloatField())
    for point, look, thickness in rows.values_list("point", "inspection", thickness_mm):
        day, when = days[look]
        readings.setdefault(point, {})[day] = (when, thickness)
    lives = [_wall_life(unit, point, [*read.values()]) for point, read in readings.items()]
    return sorted(lives, key=lambda wall: (wall.years, wall.point))


YEAR = dt.timedelta(days=365.25)


def _wall_life(unit: Unit, point: str, series: list[tuple[dt.datetime, float]]) -> WallLife:
    first, (newest, thickness) = series[0][0], series[-1]
    if len(series) < 2:
        return WallLife(point, thickness, newest, None)
    readings = {
        "thicknesses": [each for _when, each in series],
        "ages": [round((when - first) / YEAR, 5) for when, _each in series],
    }
    rates = wall_loss_rate.of(**readings)
    required = unit.required_wall_mm
    life = (
        None
        if required is None
        else remaining_life.of(**readings, required_thickness=float(required))
    )
    return WallLife(point, thickness, newest, life, rates)


# The kinds that come due, and how rows name what is counted since each: unit.days_since_<name>.
SCHEMES: dict[str, str] = {
    InspectionKind.STRUCTURAL: "inspection",
    InspectionKind.PERIODIC: "periodic",
    InspectionKind.ENGINEER: "engineer",
    InspectionKind.LINING: "lining",
}


def last_inspections(units: Iterable[Unit], at: dt.datetime) -> dict[int, dict[str, dt.datetime]]:
    """When each unit last had each inspection that comes due, by the unit's key and the kind."""
    rows = Inspection.objects.filter(unit__in=list(units), kind__in=SCHEMES, done_at__lte=at)
    found: dict[int, dict[str, dt.datetime]] = {}
    for unit, kind, last in (
        rows.order_by().values_list("unit", "kind").annotate(last=Max("done_at"))
    ):
        found.setdefault(unit, {})[kind] = last
    return found


# What forms offer; they import no models.
OUTCOMES = Outcome.choices
SEVERITIES = DefectSeverity.choices
KINDS = [(kind, InspectionKind(kind).label) for kind in SCHEMES]
