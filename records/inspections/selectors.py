"""Reading inspections and defects; a unit's state is worked out here and nowhere else."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Max, Q, QuerySet
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from facility.calc.life import remaining_life
from facility.calc.working import Working
from facility.refusals import NotHere
from facility.rulebook.models import Edition
from facility.sites.models import Site, Unit
from records.inspections.models import (
    Defect,
    DefectSeverity,
    Inspection,
    InspectionKind,
    Outcome,
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
    )
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
        .prefetch_related("repairs__done_by__details", "repairs__recorded_by__details")
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

    @property
    def years(self) -> float:
        """Years left, for putting the worst point first; not known sorts last."""
        left = self.life.value() if self.life else math.nan
        return math.inf if math.isnan(left) else float(left)


def wall_lives(unit: Unit) -> list[WallLife]:
    """Every marked point of a unit's walls, the one with the least life first."""
    readings: dict[str, list[tuple[dt.datetime, float]]] = {}
    rows = ThicknessReading.objects.filter(inspection__unit=unit).order_by("inspection__done_at")
    for point, when, thickness in rows.values_list("point", "inspection__done_at", "thickness_mm"):
        readings.setdefault(point, []).append((when, float(thickness)))
    lives = [_wall_life(unit, point, series) for point, series in readings.items()]
    return sorted(lives, key=lambda wall: (wall.years, wall.point))


YEAR = dt.timedelta(days=365.25)


def _wall_life(unit: Unit, point: str, series: list[tuple[dt.datetime, float]]) -> WallLife:
    first, (newest, thickness) = series[0][0], series[-1]
    life = None
    if len(series) > 1 and unit.required_wall_mm is not None:
        life = remaining_life.of(
            thicknesses=[each for _when, each in series],
            ages=[round((when - first) / YEAR, 3) for when, _each in series],
            required_thickness=float(unit.required_wall_mm),
        )
    return WallLife(point, thickness, newest, life)


def inspection_limits(edition: Edition | None) -> dict[str, float]:
    """Days and burns the standard allows between structural inspections, where it has rows."""
    if edition is None:
        return {}
    rows = edition.rows.filter(
        fact__startswith="unit.", limit__isnull=False, on=True, window="burn"
    )
    return {row.fact.removeprefix("unit."): float(row.limit or 0) for row in rows}


# What forms offer; they import no models.
OUTCOMES = Outcome.choices
SEVERITIES = DefectSeverity.choices
