"""Reading walls and thermocouples: marked points, what was gauged there, when sensors were checked."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.sites.models import Sensor, Unit
from facility.sites.wall_map import Gauged, level_of, wall_map
from records.inspections.models import (
    SensorCalibration,
    ThicknessReading,
    Wall,
    WallPoint,
)
from records.inspections.selectors import wall_lives

WALLS = Wall.choices

# How far a thermocouple of type K may stray: class 2 of IEC 60584-1, from memory.
STRAYS_K, STRAYS_SHARE = 2.5, 0.0075


def extent(unit: Unit, wall: str) -> tuple[float, float]:
    """Length and height [m] of a wall as it is gauged; of roof and floor length and width."""
    long, wide, high = float(unit.length_m), float(unit.width_m), float(unit.height_m)
    ends = {Wall.REAR: (wide, high), Wall.FRONT: (wide, high), Wall.ROOF: (long, wide),
            Wall.FLOOR: (long, wide)}  # fmt: skip
    return ends.get(Wall(wall), (long, high))


def points_of(unit: Unit) -> list[WallPoint]:
    return list(WallPoint.objects.filter(unit=unit))


def newest_readings(unit: Unit, before: dt.datetime) -> dict[str, Decimal]:
    """The newest thickness [mm] of each point read before a moment."""
    rows = ThicknessReading.objects.filter(
        inspection__unit=unit, inspection__done_at__lt=before
    ).order_by("inspection__done_at", "id")
    return dict(rows.values_list("point", "thickness_mm"))


@dataclass(frozen=True, slots=True)
class PointState:
    """One marked point, where it is, and its newest reading [mm]."""

    point: WallPoint
    reading: ThicknessReading | None
    level: str  # of ``facility.sites.wall_map``

    @property
    def wall_state(self) -> str:
        return f"wall_{self.level}"

    @property
    def spread_mm(self) -> float | None:
        """Between the lowest and the highest of repeated readings; None for a single one."""
        read = self.reading
        if read is None or read.repeats < 2 or read.highest_mm is None or read.lowest_mm is None:
            return None
        return float(read.highest_mm - read.lowest_mm)


def point_states(unit: Unit) -> list[PointState]:
    """Every marked point with its newest reading, in three queries."""
    rows = ThicknessReading.objects.filter(inspection__unit=unit)
    keys = dict(rows.order_by("inspection__done_at", "id").values_list("point", "pk"))
    read_last = ThicknessReading.objects.select_related("inspection").in_bulk(keys.values())
    newest = {row.point: row for row in read_last.values()}
    required = None if unit.required_wall_mm is None else float(unit.required_wall_mm)
    states = []
    for point in points_of(unit):
        read = newest.get(point.mark)
        nominal = None if point.nominal_mm is None else float(point.nominal_mm)
        level = level_of(None if read is None else float(read.thickness_mm), nominal, required)
        states.append(PointState(point, read, level))
    return states


def gauged(states: Sequence[PointState]) -> list[Gauged]:
    """What the map of the walls draws."""
    return [
        Gauged(
            each.point.mark, each.point.wall, float(each.point.along_m), float(each.point.up_m or 0),
            None if each.reading is None else float(each.reading.thickness_mm), each.level,
        )
        for each in states
        if each.point.along_m is not None
    ]  # fmt: skip


def walls_of(unit: Unit) -> dict[str, Any]:
    """The walls as pages and documents show them: every point, the map, the life of each point."""
    states = point_states(unit)
    extents = {wall: extent(unit, wall) for wall, _name in WALLS}
    names = {wall: str(name) for wall, name in WALLS}
    return {
        "points": states,
        "map": wall_map(gauged(states), extents, names),
        "lives": {life.point: life for life in wall_lives(unit)},
    }


@dataclass(frozen=True, slots=True)
class SensorState:
    """A fitted thermocouple and its newest calibration."""

    sensor: Sensor
    newest: SensorCalibration | None

    @property
    def allowed_k(self) -> float:
        """How far it may stray [K] at the temperature it was held against."""
        at = abs(float(self.newest.reference_c)) if self.newest else 0.0
        return max(STRAYS_K, STRAYS_SHARE * at)

    @property
    def state(self) -> str:
        if self.newest is None:
            return "sensor_unchecked"
        return "sensor_off" if abs(self.newest.deviation_k) > self.allowed_k else "sensor_right"


def sensor_states(unit: Unit, day: dt.date | None = None) -> list[SensorState]:
    """Each fitted thermocouple with its newest calibration up to a day, in two queries."""
    rows = SensorCalibration.objects.filter(sensor__unit=unit)
    if day is not None:
        rows = rows.filter(done_on__lte=day)
    rows = rows.select_related("done_by__details").order_by("done_on", "id")
    newest = {row.sensor_id: row for row in rows}
    return [SensorState(each, newest.get(each.pk)) for each in unit.sensors.all()]


def days_since_calibration(unit: Unit, day: dt.date) -> tuple[float | None, str]:
    """Days since the oldest calibration of a fitted thermocouple; None, and why, where one has
    none."""
    states = sensor_states(unit, day)
    if not states:
        return None, _("the unit has no thermocouples")
    never = [each.sensor.name for each in states if each.newest is None]
    if never:
        return None, _("no calibration is recorded of {sensors}").format(sensors=", ".join(never))
    oldest = min(
        (each for each in states if each.newest is not None),
        key=lambda each: each.newest.done_on if each.newest else day,
    )
    assert oldest.newest is not None
    return float((day - oldest.newest.done_on).days), _("thermocouple {sensor}").format(
        sensor=oldest.sensor.name
    )
