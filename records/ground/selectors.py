"""Reading the use of units."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from django.db.models import Q, Sum

from facility.refusals import NotHere
from facility.sites.models import Bay, Site, Unit
from records.ground.models import Exposure, UnitUse


def unit_here(site: Site, public_id: str) -> Unit:
    unit = (
        Unit.objects.filter(site=site, public_id=public_id)
        .prefetch_related("openings", "positions", "sensors")
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
        .prefetch_related("positions", "openings", "sensors")
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


def uses_of(unit: Unit, since: dt.datetime, before: dt.datetime) -> list[Used]:
    """Every burn of a unit that was lit in a period, in order."""
    found: dict[str, Used] = {}
    rows = UnitUse.objects.filter(unit=unit, ignited_at__gte=since, ignited_at__lt=before).order_by(
        "id"
    )
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
    return sorted(found.values(), key=lambda used: used.ignited_at)


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
