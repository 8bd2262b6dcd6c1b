"""Reading the ledger of recorded heat.

Everything read here holds for the burns of which a logger's file was taken, and says of how many
that is. Of the others nothing is known and nothing is guessed.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db.models import (
    Aggregate,
    Case,
    Count,
    IntegerField,
    Max,
    Q,
    QuerySet,
    Sum,
    Value,
    When,
)

from facility.sites.models import Unit
from records.ground.models import UnitHeat


@dataclass(frozen=True, slots=True)
class HeatSum:
    """Recorded heat since a moment; ``burns`` is of how many burns it is the sum."""

    burns: int = 0
    hottest_c: float | None = None
    above_149_h: float = 0.0
    above_400_h: float = 0.0
    above_600_h: float = 0.0
    cycles: float = 0.0

    @property
    def hours(self) -> list[tuple[int, float]]:
        """Each limit [degC] with the hours above it."""
        return [(149, self.above_149_h), (400, self.above_400_h), (600, self.above_600_h)]


_SUMS = {
    "burns": ("burns", 1.0), "above_149_h": ("above_149_s", 3600.0), "cycles": ("cycles", 1.0),
    "above_400_h": ("above_400_s", 3600.0), "above_600_h": ("above_600_s", 3600.0),
}  # fmt: skip


def since_each(
    rows: QuerySet[Any], sinces: Iterable[dt.datetime | None], **sums: Aggregate
) -> list[list[dict[str, Any]]]:
    """Sums over the rows of a ledger since each of several moments (None: all), in one query.

    The moments part the ledger into stretches, which are summed once; what came since a moment is
    given as the stretches after it, for the caller to add up. A sum for each moment would have
    the database look at every row as often, and took three times as long to put into words.
    """
    sinces = list(sinces)
    moments = sorted({since for since in sinces if since is not None})
    places: dict[dt.datetime | None, int] = {since: n for n, since in enumerate(moments, 1)}
    after = [When(ignited_at__gte=since, then=Value(places[since])) for since in reversed(moments)]
    stretch = Case(*after, default=Value(0), output_field=IntegerField())
    grouped = rows.order_by().annotate(stretch=stretch).values("stretch")
    # without a moment there is but one stretch, which is told even where it has no row
    found = [row for row in grouped.annotate(rows=Count("pk"), **sums) if row["rows"]]
    return [[row for row in found if row["stretch"] >= places.get(since, 0)] for since in sinces]


def heats_of(unit: Unit, sinces: Iterable[dt.datetime | None]) -> list[HeatSum]:
    """The recorded heat of a unit since each of several moments (None: since built), in one query."""
    sums = {f"sum_{column}": Sum(column) for column, _per in _SUMS.values()}
    rows = UnitHeat.objects.filter(unit=unit)
    stretches = since_each(rows, sinces, hottest=Max("hottest_c"), **sums)
    return [_sum_of(found) for found in stretches]


def _sum_of(stretches: Sequence[Mapping[str, Any]]) -> HeatSum:
    values: dict[str, Any] = {
        name: sum(row[f"sum_{column}"] for row in stretches) / per
        for name, (column, per) in _SUMS.items()
    }
    values["burns"] = int(values["burns"])
    return HeatSum(hottest_c=max((row["hottest"] for row in stretches), default=None), **values)


def cycles_since(since: Mapping[int, dt.datetime]) -> dict[int, tuple[int, float]]:
    """Burns with a recording, and their cycles, since a moment of each unit, by the unit's key."""
    wanted = Q(pk__in=[])
    for unit, moment in since.items():
        wanted |= Q(unit=unit, ignited_at__gte=moment)
    rows = UnitHeat.objects.filter(wanted).order_by().values("unit")
    summed = rows.annotate(count=Sum("burns"), turned=Sum("cycles"))
    return {row["unit"]: (row["count"], row["turned"]) for row in summed}


@dataclass(frozen=True, slots=True)
class BurnHeat:
    """What was recorded of one burn: its hottest reading [degC], where, and its dose."""

    hottest_c: float
    sensor: str
    above_149_s: float
    above_400_s: float
    above_600_s: float
    cycles: float


def heat_by_burn(unit: Unit, since: dt.datetime, before: dt.datetime) -> dict[str, BurnHeat]:
    """The recorded heat of each burn lit in a period, by the burn's public id."""
    rows = UnitHeat.objects.filter(unit=unit, ignited_at__gte=since, ignited_at__lt=before)
    found: dict[str, BurnHeat] = {}
    for row in rows.order_by("id"):
        old = found.get(row.burn) or BurnHeat(float("-inf"), "", 0.0, 0.0, 0.0, 0.0)
        hotter = row.hottest_c > old.hottest_c
        found[row.burn] = BurnHeat(
            row.hottest_c if hotter else old.hottest_c, row.sensor if hotter else old.sensor,
            old.above_149_s + row.above_149_s, old.above_400_s + row.above_400_s,
            old.above_600_s + row.above_600_s, old.cycles + row.cycles,
        )  # fmt: skip
    return found
