"""Reading burns."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.db.models import Count, Exists, F, OuterRef, Prefetch, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce

from facility.kinds import Duty
from facility.refusals import NotHere
from facility.sites.models import Site, Unit
from records.burns.models import (
    Attendance,
    Burn,
    BurnFuel,
    BurnReport,
    BurnState,
    EventKind,
    FireStage,
    SignaturePart,
)  # fmt: skip
from records.plans.models import Finding, Plan, Stage


def burns_of(site: Site) -> QuerySet[Burn]:
    """Burns with what a list shows, newest first."""
    there = Attendance.objects.filter(burn=OuterRef("pk"))
    return (
        Burn.objects.filter(site=site)
        .select_related("unit", "version", "current")
        .annotate(
            people=_heads(there),
            learners=_heads(there.filter(duty=Duty.LEARNER)),
            awaits=Exists(_awaiting()),
        )
        .order_by("-ignited_at")
    )


def _awaiting() -> QuerySet[BurnReport]:
    """The newest report of a burn while it still awaits its countersignature."""
    asked = BurnReport.objects.filter(pk=OuterRef("current"), sheet__countersign__gt="")
    return asked.exclude(signatures__part=SignaturePart.COUNTERSIGN)


def _heads(attendance: QuerySet[Attendance]) -> Any:
    """Persons, each once; a subquery, so that only the rows of the page are counted."""
    counted = attendance.order_by().values("burn").annotate(heads=Count("person", distinct=True))
    return Coalesce(Subquery(counted.values("heads")), 0)


def _reports() -> Prefetch[Any]:
    fuel = Prefetch("fuel", BurnFuel.objects.select_related("lot__product").order_by("id"))
    reports = BurnReport.objects.select_related("written_by__details").prefetch_related(fuel)
    return Prefetch("reports", reports.order_by("-number"))


def _remarks() -> Prefetch[Any]:
    """Of each burn's findings at ignition, those that were more than merely within."""
    remarked = Finding.objects.filter(stage=Stage.IGNITE).exclude(verdict="within")
    return Prefetch("version__findings", remarked, to_attr="remarks")


def burn_here(site: Site, public_id: str) -> Burn:
    burn = (
        Burn.objects.filter(site=site, public_id=public_id)
        .select_related(
            "unit__site", "version__plan__site", "version__decision__signed_by__details",
            "version__decision__edition", "started_by__details", "pre_check", "post_check",
            "current",
        )
        .prefetch_related(
            _reports(),
            "events__noted_by__details",
            Prefetch("attendance", Attendance.objects.select_related("person__details").order_by("id")),
        )
        .first()
    )  # fmt: skip
    if burn is None:
        raise NotHere(f"No burn {public_id} on this ground.")
    return burn


def running_burns(site: Site) -> QuerySet[Burn]:
    return burns_of(site).filter(state=BurnState.BURNING)


def burned_by_lot(plan: Plan) -> dict[int, Decimal]:
    """What the newest report of the plan's burn says was used, by lot key."""
    rows = BurnFuel.objects.filter(
        report__burn__version__plan=plan, report__burn__current=F("report")
    )
    return dict(rows.values_list("lot").annotate(total=Sum("used")))


def fuel_of(report: BurnReport) -> list[BurnFuel]:
    return list(report.fuel.select_related("lot__product").order_by("id"))


def burns_between(unit: Unit, start: dt.datetime, end: dt.datetime) -> list[Burn]:
    """The burns of a unit in a period, whole, for its history."""
    return list(_whole_burns(unit).filter(ignited_at__gte=start, ignited_at__lt=end))


def burns_by_key(unit: Unit, keys: Iterable[int]) -> list[Burn]:
    """Some burns of a unit, whole, for a page of its history."""
    return list(_whole_burns(unit).filter(pk__in=list(keys)))


def _whole_burns(unit: Unit) -> QuerySet[Burn]:
    return (
        burns_of(unit.site)
        .filter(unit=unit)
        .select_related(
            "unit",
            "version__decision__signed_by__details",
            "version__decision__edition",
            "current",
            "started_by__details",
        )
        .prefetch_related(_reports(), _remarks())
        .order_by("ignited_at")
    )


# What forms offer; they import no models.
BY_HAND = ("stage", "neutral_plane", "vent_opened", "vent_closed", "water", "stop")
EVENT_KINDS = [choice for choice in EventKind.choices if choice[0] in BY_HAND]
STAGES = FireStage.choices
