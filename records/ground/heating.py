"""Adding to the ledger of recorded heat: what one logger's file says of its burn."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, fields

from django.db.models import Sum

from facility.guarded import door_is_open
from facility.sites.models import Unit
from records.ground.models import UnitHeat


@dataclass(frozen=True, slots=True)
class Dose:
    """Time above each limit [s], and thermal cycles."""

    above_149_s: float = 0.0
    above_400_s: float = 0.0
    above_600_s: float = 0.0
    cycles: float = 0.0

    def beyond(self, other: Dose) -> Dose:
        """What this one has more than another, never less than nothing."""
        mine = {each.name: getattr(self, each.name) for each in fields(Dose)}
        return Dose(
            **{name: max(0.0, value - getattr(other, name)) for name, value in mine.items()}
        )


@dataclass(frozen=True, slots=True)
class Heat:
    """What a file recorded: its span, its hottest reading [degC] and where, its dose."""

    began_at: dt.datetime
    ended_at: dt.datetime
    hottest_c: float
    sensor: str
    dose: Dose


def post_heat(
    unit: Unit, heat: Heat, *, burn: str, file: str, ignited_at: dt.datetime, at: dt.datetime
) -> UnitHeat:
    """Add a file to the ledger. Called where the file is taken, behind its open door.

    Of files of the same time of one burn the larger dose counts, for they saw the same fire; a
    file of another time adds its own.
    """
    assert door_is_open()
    earlier = UnitHeat.objects.filter(burn=burn)
    same_time = earlier.filter(began_at__lt=heat.ended_at, ended_at__gt=heat.began_at)
    counted = same_time.aggregate(
        **{each.name: Sum(each.name, default=0.0) for each in fields(Dose)}
    )
    added = heat.dose.beyond(Dose(**counted))
    row = UnitHeat(
        unit=unit, burn=burn, file=file, ignited_at=ignited_at, began_at=heat.began_at,
        ended_at=heat.ended_at, burns=0 if earlier.exists() else 1, hottest_c=heat.hottest_c,
        sensor=heat.sensor, recorded_at=at,
        **{each.name: getattr(added, each.name) for each in fields(Dose)},
    )  # fmt: skip
    row.save()
    return row
