"""Reading units: what they are and were, and what they have gone through."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count as RowCount
from django.db.models import Max, Q, QuerySet, Sum

from facility.refusals import NotHere
from facility.sites.makeup import PARTS
from facility.sites.models import Bay, Site, Unit
from records.ground.heat_selectors import HeatSum, heats_of, since_each
from records.ground.models import ChangeKind, Exposure, UnitUse, UnitVersion


def unit_here(site: Site, public_id: str) -> Unit:
    unit = (
        Unit.objects.filter(site=site, public_id=public_id)
        .select_related("site")
        .prefetch_related(*PARTS)
        .first()
    )
    if unit is None:
        raise NotHere(f"No unit {public_id} on this ground.")
    return unit


def units_of(site: Site) -> list[Unit]:
    return list(Unit.objects.filter(site=site, retired_on__isnull=True))


def units_with_positions(site: Site) -> list[Unit]:
    return list(
        Unit.objects.filter(site=site, retired_on__isnull=True)
        .select_related("site")
        .prefetch_related(*PARTS)
    )


def bays_of(site: Site) -> list[Bay]:
    return list(Bay.objects.filter(site=site).order_by("name"))


@dataclass(frozen=True, slots=True)
class Use:
    """What a unit has gone through: closed burns, dry mass [kg] and energy [MJ]."""

    burns: int
    dry_mass_kg: float
    energy_mj: float


def use_of(unit: Unit, since: dt.datetime | None = None) -> Use:
    """The use of a unit since a moment, or since it was built."""
    rows = UnitUse.objects.filter(unit=unit)
    if since is not None:
        rows = rows.filter(ignited_at__gte=since)
    total = rows.aggregate(burns=Sum("burns"), mass=Sum("dry_mass_kg"), energy=Sum("energy_mj"))
    return Use(total["burns"] or 0, float(total["mass"] or 0), float(total["energy"] or 0))


def burns_by_unit(units: Iterable[Unit]) -> dict[int, int]:
    """Closed burns of each unit, by its key."""
    rows = UnitUse.objects.filter(unit__in=list(units)).values("unit")
    return {row["unit"]: row["count"] for row in rows.annotate(count=Sum("burns"))}


def burns_since(since: Mapping[int, dt.datetime]) -> dict[int, int]:
    """Closed burns of each unit since a moment of its own, both by the unit's key."""
    wanted = Q(pk__in=[])
    for unit, moment in since.items():
        wanted |= Q(unit=unit, ignited_at__gte=moment)
    rows = UnitUse.objects.filter(wanted).order_by().values("unit")
    return {row["unit"]: row["count"] for row in rows.annotate(count=Sum("burns"))}


def burns_between(
    unit: Unit, start: dt.datetime, end: dt.datetime
) -> list[tuple[dt.datetime, dt.datetime]]:
    """Ignition and end of each burn lit in the period, in order; a correction's end counts."""
    rows = UnitUse.objects.filter(unit=unit, ignited_at__gte=start, ignited_at__lt=end)
    spans = {row.burn: (row.ignited_at, row.ended_at) for row in rows.order_by("id")}
    return sorted(spans.values())


def burns_on_day(
    unit: Unit, day: dt.date, zone: zoneinfo.ZoneInfo
) -> list[tuple[dt.datetime, dt.datetime]]:
    """Ignition and end of each burn of that local day, in order."""
    start = dt.datetime.combine(day, dt.time(), tzinfo=zone)
    return burns_between(unit, start, start + dt.timedelta(days=1))


@dataclass(frozen=True, slots=True)
class Used:
    """One burn of a unit as its ledger holds it, corrections counted in."""

    ignited_at: dt.datetime
    ended_at: dt.datetime
    dry_mass_kg: float
    energy_mj: float


def earlier_use(unit: Unit) -> QuerySet[UnitUse]:
    """What was taken over from older logs, in order."""
    rows: QuerySet[UnitUse] = UnitUse.objects.filter(unit=unit, taken_over_from__isnull=False)
    return rows.select_related("taken_over_by__details").order_by("ignited_at")


def use_by_burn(unit: Unit, since: dt.datetime, before: dt.datetime) -> dict[str, Used]:
    """Every burn of a unit that was lit in a period, by its public id."""
    found: dict[str, Used] = {}
    rows = UnitUse.objects.filter(
        unit=unit, ignited_at__gte=since, ignited_at__lt=before, taken_over_from=None
    ).order_by("id")
    for burn, lit, ended, mass, energy in rows.values_list(
        "burn", "ignited_at", "ended_at", "dry_mass_kg", "energy_mj"
    ):
        old = found.get(burn)
        found[burn] = Used(
            lit,
            ended,
            float(mass) + (old.dry_mass_kg if old else 0.0),
            float(energy) + (old.energy_mj if old else 0.0),
        )
    return found


def uses_of(unit: Unit, since: dt.datetime, before: dt.datetime) -> list[Used]:
    """Every burn of a unit that was lit in a period, in order."""
    return sorted(use_by_burn(unit, since, before).values(), key=lambda used: used.ignited_at)


Spans = list[tuple[dt.datetime, dt.datetime]]


def exposures_of(
    people: Iterable[int], since: dt.datetime, before: dt.datetime
) -> dict[int, Spans]:
    """Start and end of each burn a person was inside at, on any ground, by the person's key."""
    rows = Exposure.objects.filter(
        person__in=list(people), ignited_at__gte=since, ignited_at__lt=before
    ).order_by("id")
    found: dict[int, dict[str, tuple[dt.datetime, dt.datetime]]] = {}
    for person, burn, lit, ended in rows.values_list("person", "burn", "ignited_at", "ended_at"):
        found.setdefault(person, {})[burn] = (lit, ended)
    return {person: sorted(spans.values()) for person, spans in found.items()}


# -- what a unit was, and what it has gone through -----------------------------------------------


def versions_of(unit: Unit) -> list[UnitVersion]:
    """Every version of a unit's make-up, newest first."""
    rows = UnitVersion.objects.filter(unit=unit).select_related("written_by__details")
    return list(rows.order_by("-number"))


def changes_since(units: Iterable[Unit], moment: dt.datetime) -> list[tuple[int, dt.datetime, str]]:
    """What was done to units and recorded since a moment: the unit's key, when recorded, words."""
    rows = UnitVersion.objects.filter(unit__in=list(units), recorded_at__gt=moment, number__gt=1)
    return [(row.unit_id, row.recorded_at, f"{row.get_kind_display()}: {row.what}") for row in rows]


def changed_at(unit: Unit) -> dt.datetime | None:
    """When a unit was last moved or modified; None while it never was."""
    rows = UnitVersion.objects.filter(unit=unit, kind__in=(ChangeKind.MODIFIED, ChangeKind.MOVED))
    return _last(rows)


def relined_at(unit: Unit) -> dt.datetime | None:
    return _last(UnitVersion.objects.filter(unit=unit, kind=ChangeKind.RELINED))


def _last(rows: QuerySet[UnitVersion]) -> dt.datetime | None:
    last: dt.datetime | None = rows.aggregate(last=Max("since"))["last"]
    return last


@dataclass(frozen=True, slots=True)
class Count:
    """What a unit went through since a moment, and of how many rows of its ledger that is the sum.

    ``corrections`` are rows that change the fuel of a burn counted before, and count no burn.
    """

    label: str
    since: dt.datetime | None  # None: since it was built
    burns: int
    dry_mass_kg: float
    energy_mj: float
    corrections: int
    heat: HeatSum


def counts_of(unit: Unit, marks: Sequence[tuple[str, dt.datetime | None]]) -> list[Count]:
    """What a unit has gone through since each of several moments, in two queries.

    A correction stands at the ignition of the burn it corrects, and so in the same counts.
    """
    sinces = [since for _label, since in marks]
    ledger = since_each(
        UnitUse.objects.filter(unit=unit), sinces, count=Sum("burns"), mass=Sum("dry_mass_kg"),
        energy=Sum("energy_mj"), corrected=RowCount("pk", filter=Q(burns=0)),
    )  # fmt: skip
    return [
        Count(
            label, since, sum(row["count"] for row in rows),
            float(sum(row["mass"] for row in rows)), float(sum(row["energy"] for row in rows)),
            sum(row["corrected"] for row in rows), heat,
        )
        for (label, since), rows, heat in zip(marks, ledger, heats_of(unit, sinces), strict=True)
    ]  # fmt: skip


# What the change form offers; it imports no models.
CHANGES = [choice for choice in ChangeKind.choices if choice[0] != ChangeKind.COMMISSIONED]
