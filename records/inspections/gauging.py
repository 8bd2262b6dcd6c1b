"""Gauging walls: the points that are marked on them, and readings that cannot be as they are.

Law: a reading that cannot be true is not thrown away and not kept in silence. It is refused until
somebody who looked again says why it is so, and the reason is kept with it.
"""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.look.times import day_in_words
from facility.people.models import Person
from facility.refusals import WrongState, number_between, refuse_if, text_within
from facility.sites.models import Unit
from records.audit.door import door
from records.inspections.gauging_selectors import extent, newest_readings
from records.inspections.models import (
    GaugeCheck,
    Inspection,
    ThicknessReading,
    Wall,
    WallPoint,
)

# By how much a wall may read thicker than before, or the gauge stray on its block, before it is
# asked about: common practice, no source.
TOLERANCE_MM = Decimal("0.10")
OVER_NOMINAL = Decimal("1.10")  # sheet is rolled within a tenth of its nominal: common practice
FELL = Decimal("0.5")  # to less than half of the reading before: then a unit may be mixed up
IN_MM = Decimal("25.4")
MOST_REPEATS = 10
MOST_POINTS = 200  # of a unit
CHECK_LASTS = dt.timedelta(days=365)  # of a gauge on its block: common practice, no source

Repeats = Mapping[str, Sequence[Decimal]]  # readings [mm] by the mark of the point


@dataclass(frozen=True, slots=True)
class Gauge:
    """The gauge, and what it read on a block of known thickness [mm]."""

    mark: str
    block_mm: Decimal
    read_mm: Decimal
    checked_on: dt.date


def mark_points(
    unit: Unit, *, wall: str, letters: str, nominal_mm: Decimal, columns: int, rows: int,
    by: Person, along_m: Decimal | None = None, up_m: Decimal | None = None,
    at: dt.datetime | None = None, once: str = "",
) -> list[WallPoint]:  # fmt: skip
    """Mark an even grid of points on a wall, or one point at a place of its own.

    Points are numbered on from those with the same letters: W1, W2 and so on, from the lower left.
    """
    refuse_if(wall not in Wall.values, "wall", _("Choose the wall."))
    letters = text_within("letters", letters, 6).upper()
    refuse_if(
        not letters.isalpha(), "letters",
        _("{given}: the mark begins with letters alone; the number follows by itself.").format(
            given=letters
        ),
    )  # fmt: skip
    number_between("nominal_mm", nominal_mm, 0.5, 50, "mm")
    number_between("columns", columns, 1, 12)
    number_between("rows", rows, 1, 4)
    long, high = extent(unit, wall)
    one = along_m is not None or up_m is not None
    if one:
        refuse_if(columns * rows != 1, "along_m", _("A place is given for one point alone."))
        refuse_if(along_m is None or up_m is None, "along_m", _("Give both: along, and up."))
        assert along_m is not None and up_m is not None
        number_between("along_m", along_m, 0, long, "m")
        number_between("up_m", up_m, 0, high, "m")
    with door(
        "inspections.points_marked", by=by, site=unit.site, on=unit, at=at, once=once
    ) as entry:
        Unit.objects.select_for_update(no_key=True).get(pk=unit.pk)  # one numbering at a time
        known = list(WallPoint.objects.filter(unit=unit).values_list("mark", flat=True))
        refuse_if(
            len(known) + columns * rows > MOST_POINTS, "columns",
            _("{most} points are marked in a unit at most; {known} are.").format(
                most=MOST_POINTS, known=len(known)
            ),
        )  # fmt: skip
        taken = [int(mark[len(letters):]) for mark in known
                 if mark.startswith(letters) and mark[len(letters):].isdecimal()]  # fmt: skip
        first = max(taken, default=0) + 1
        places = (
            [(along_m, up_m)] if one else
            [(_middle(column, columns, long), _middle(row, rows, high))
             for row in range(rows) for column in range(columns)]
        )  # fmt: skip
        made = WallPoint.objects.bulk_create(
            WallPoint(
                unit=unit, mark=f"{letters}{first + number}", wall=wall, along_m=along, up_m=up,
                nominal_mm=nominal_mm, marked_at=entry.at,
            )
            for number, (along, up) in enumerate(places)
        )  # fmt: skip
        entry.changed(
            wall=Wall(wall), first=made[0].mark, last=made[-1].mark, nominal_mm=nominal_mm
        )
    return list(made)


def _middle(number: int, count: int, length: float) -> Decimal:
    return Decimal(f"{(number + 0.5) * length / count:.2f}")


def check_gauge(gauge: Gauge | None, day: dt.date) -> None:
    """Refuse readings by a gauge that was not held to a block, or strayed from it."""
    if gauge is None or not gauge.mark.strip():
        refuse_if(True, "gauge", _("Say by which gauge, and what it read on its block."))
    assert gauge is not None
    text_within("gauge", gauge.mark, 40)
    number_between("block_mm", gauge.block_mm, 0, 100, "mm", above=True)
    number_between("block_read_mm", gauge.read_mm, 0, 100, "mm", above=True)
    off = abs(gauge.read_mm - gauge.block_mm)
    refuse_if(
        off > TOLERANCE_MM, "block_read_mm",
        _("The gauge reads {read} mm on a block of {block} mm; at most {off} mm off is allowed. Set "
          "it and read again.").format(
            read=gauge.read_mm, block=gauge.block_mm, off=TOLERANCE_MM
        ),
    )  # fmt: skip
    refuse_if(gauge.checked_on > day, "checked_on", _("The gauge is checked before it is used."))
    refuse_if(
        day - gauge.checked_on > CHECK_LASTS, "checked_on",
        _("The gauge was checked on its block on {day}; at most {days} days ago is allowed.").format(
            day=day_in_words(gauge.checked_on), days=CHECK_LASTS.days
        ),
    )  # fmt: skip


def check_readings(unit: Unit, readings: Repeats, why: str, done_at: dt.datetime) -> list[str]:
    """What is doubtful in the readings; refused while nobody says why it is so.

    Raises
    ------
    WrongValue
        for a point that is not marked on the unit, a thickness that no wall has, more readings of
        a point than are taken; and for what is doubtful, without a reason.
    """
    points = {point.mark: point for point in WallPoint.objects.filter(unit=unit)}
    refuse_if(
        not points, "thickness", _("No points are marked on the walls of {unit}: mark them first.")
        .format(unit=unit),
    )  # fmt: skip
    unknown = [mark for mark in readings if mark not in points]
    refuse_if(
        unknown, "thickness",
        _("{unit} has no point {marks}; marked are {known}.").format(
            unit=unit, marks=", ".join(unknown), known=_spanned(list(points))
        ),
    )  # fmt: skip
    for repeats in readings.values():
        number_between("thickness", len(repeats), 1, MOST_REPEATS, _("readings"))
        for measured in repeats:
            number_between("thickness", measured, 0, 50, "mm", above=True)
    before = newest_readings(unit, done_at)
    doubts = [
        doubt
        for mark, repeats in readings.items()
        if (doubt := _doubt(points[mark], mean_of(repeats), before.get(mark)))
    ]
    refuse_if(
        doubts and not why.strip(), "thickness_why",
        " ".join([*doubts, _("Read again; if it stands, say why.")]),
    )  # fmt: skip
    return doubts


def _doubt(point: WallPoint, measured: Decimal, before: Decimal | None) -> str:
    """What cannot be as it is in one reading, as a sentence; empty when nothing."""
    usual = before or point.nominal_mm
    given = {"point": point.mark, "given": measured, "before": before, "nominal": point.nominal_mm}
    if usual is not None and (hint := _mixed_up(measured, usual)):
        return hint.format(**given, usual=usual)
    if point.nominal_mm is not None and measured > point.nominal_mm * OVER_NOMINAL:
        return _(
            "{point}: {given} mm is over the {nominal} mm that the wall was built with."
        ).format(**given)
    if before is not None and measured > before + TOLERANCE_MM:
        return _("{point}: {given} mm is thicker than the {before} mm read before; walls do not grow."
                 ).format(**given)  # fmt: skip
    return ""


def _mixed_up(measured: Decimal, usual: Decimal) -> str:
    """Whether a reading looks like inches taken for millimetres, or the other way round."""
    for factor, guess in ((IN_MM, _("inches")), (1 / IN_MM, _("millimetres taken for inches"))):
        if abs(measured * factor - usual) < usual * Decimal("0.3"):
            return _("{point}: {given} mm, where {usual} mm is usual, looks like {guess}.").replace(
                "{guess}", guess
            )
    if measured < usual * FELL:
        return _("{point}: {given} mm is less than half of the {usual} mm that was there.")
    return ""


def _spanned(marks: list[str]) -> str:
    return ", ".join(marks) if len(marks) < 9 else f"{marks[0]} … {marks[-1]} ({len(marks)})"


def mean_of(repeats: Sequence[Decimal]) -> Decimal:
    return round(Decimal(statistics.fmean(float(each) for each in repeats)), 2)


def keep_readings(inspection: Inspection, readings: Repeats, gauge: Gauge) -> None:
    """Keep the mean of each point, its spread, and the gauge. Behind an open door."""
    assert door_is_open()
    GaugeCheck(
        inspection=inspection, gauge=gauge.mark.strip(), block_mm=gauge.block_mm,
        read_mm=gauge.read_mm, checked_on=gauge.checked_on,
    ).save()  # fmt: skip
    ThicknessReading.objects.bulk_create(
        ThicknessReading(
            inspection=inspection, point=mark, thickness_mm=mean_of(repeats), repeats=len(repeats),
            lowest_mm=min(repeats), highest_mm=max(repeats),
        )
        for mark, repeats in readings.items()
    )  # fmt: skip


def refuse_retired(unit: Unit, at: dt.datetime) -> None:
    if unit.retired_on is not None and unit.retired_on <= at.date():
        raise WrongState(_("{unit} is retired; nothing more happens to it.").format(unit=unit))


def today_of(unit: Unit, at: dt.datetime | None) -> dt.date:
    return (at or timezone.now()).astimezone(unit.site.zone).date()
