"""Reading plans."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Case, F, Prefetch, QuerySet, Sum, When

from facility.kinds import INSIDE, Duty
from facility.refusals import NotHere
from facility.sites.makeup import PARTS
from facility.sites.models import Site, Unit
from records.plans.models import (  # fmt: skip
    ChargeIssue,
    ChargeLine,
    CrewPlace,
    Finding,
    Plan,
    PlanState,
    PlanVersion,
)
from records.stock.models import Lot, Movement, MovementKind
from records.stock.selectors import burnable_lots, reserved_for


def _charge() -> Prefetch[Any]:
    return Prefetch("charge", ChargeLine.objects.select_related("position", "product", "lot"))


def _crew() -> Prefetch[Any]:
    return Prefetch("crew", CrewPlace.objects.select_related("person__details").order_by("id"))


def whole_versions() -> QuerySet[PlanVersion]:
    """Versions with everything a page or a judgement needs, in a constant number of queries."""
    return PlanVersion.objects.select_related(
        "unit__site", "written_by__details", "plan"
    ).prefetch_related(_charge(), _crew(), "stated", *(f"unit__{kind}" for kind in PARTS))


def plans_of(site: Site) -> QuerySet[Plan]:
    return (
        Plan.objects.filter(site=site, current__isnull=False)
        .select_related("current__unit", "current__written_by__details")
        .order_by("-current__starts_at")
    )


def plan_here(site: Site, public_id: str) -> Plan:
    """The plan with its current version, whole."""
    plan = Plan.objects.filter(site=site, public_id=public_id).select_related("site").first()
    if plan is None:
        raise NotHere(f"No plan {public_id} on this ground.")
    plan.current = newest_version(plan)
    return plan


def newest_version(plan: Plan) -> PlanVersion:
    """The version the plan stands at, whole."""
    assert plan.current_id is not None
    return whole_versions().get(pk=plan.current_id)


def versions_of(plan: Plan) -> list[PlanVersion]:
    """All versions with their decision, newest first."""
    versions = plan.versions.select_related(
        "written_by__details", "decision__signed_by__details", "decision__edition", "unit"
    )
    return list(versions.prefetch_related(_charge(), _crew()).order_by("-number"))


def authors_of(plan: Plan) -> set[int]:
    """The keys of everyone who wrote any version."""
    return set(plan.versions.values_list("written_by", flat=True))


def findings_of(version: PlanVersion, stage: str) -> list[Finding]:
    return list(version.findings.filter(stage=stage).select_related("edition"))


def approved_between(
    unit: Unit, start: dt.datetime, end: dt.datetime, *, besides: Plan | None
) -> list[tuple[dt.datetime, dt.datetime]]:
    """Planned start and end of approved, not yet burned plans of that unit in a period."""
    rows = PlanVersion.objects.filter(
        plan__state__in=(PlanState.APPROVED, PlanState.BURNING),
        plan__current=F("pk"),
        unit=unit,
        starts_at__gte=start,
        starts_at__lt=end,
    )
    if besides is not None:
        rows = rows.exclude(plan=besides)
    return list(rows.order_by("starts_at").values_list("starts_at", "ends_at"))


def approved_for(
    people: Iterable[int], start: dt.datetime, end: dt.datetime, *, besides: Plan | None
) -> dict[int, list[tuple[dt.datetime, dt.datetime]]]:
    """Planned start and end of the approved, not yet burned plans that take a person inside."""
    rows = CrewPlace.objects.filter(
        version__plan__state__in=(PlanState.APPROVED, PlanState.BURNING),
        version__plan__current=F("version"),
        person__in=list(people),
        duty__in=INSIDE,
        version__starts_at__gte=start,
        version__starts_at__lt=end,
    )
    if besides is not None:
        rows = rows.exclude(version__plan=besides)
    found: dict[int, set[tuple[dt.datetime, dt.datetime]]] = {}
    for person, starts, ends in rows.values_list(
        "person", "version__starts_at", "version__ends_at"
    ):
        found.setdefault(person, set()).add((starts, ends))
    return {person: sorted(spans) for person, spans in found.items()}


def waiting_for(site: Site, *states: str) -> QuerySet[Plan]:
    return plans_of(site).filter(state__in=states).order_by("current__starts_at")


def plans_to_issue(site: Site) -> list[Plan]:
    """Approved plans whose charge is not out of the store."""
    approved = waiting_for(site, PlanState.APPROVED).prefetch_related(
        Prefetch("current__charge", ChargeLine.objects.select_related("product"))
    )
    net = net_out([plan.public_id for plan in approved])
    return [plan for plan in approved if not net.get(plan.public_id)]


def available(site: Site, *, besides: Plan | None = None) -> list[tuple[Any, Decimal]]:
    """Lots that may burn, oldest first, with what is free of each: on hand, less what is reserved
    for other plans than ``besides``."""
    own = (
        {held.lot.pk: held.quantity for held in reserved_for(besides.public_id)} if besides else {}
    )
    lots = [
        (lot, lot.balance.available + own.get(lot.pk, Decimal(0))) for lot in burnable_lots(site)
    ]
    return [(lot, free) for lot, free in lots if free > 0]


def planned_use(site: Site, now: dt.datetime) -> dict[int, list[tuple[dt.datetime, bool, Decimal]]]:
    """What plans ahead will still take of each product: start, whether approved, quantity.

    Plans of the last day count while their charge is still in the store; those whose charge is
    out do not.
    """
    lines = ChargeLine.objects.filter(
        version__plan__site=site, version__plan__current=F("version"),
        version__plan__state__in=(
            PlanState.APPROVED, PlanState.SUBMITTED, PlanState.DRAFT, PlanState.SENT_BACK
        ),
        version__starts_at__gte=now - dt.timedelta(days=1),
    )  # fmt: skip
    rows = list(
        lines.values_list(
            "product", "version__plan__public_id", "version__plan__state", "version__starts_at",
            "quantity",
        )
    )  # fmt: skip
    out = net_out({plan for _product, plan, state, *_rest in rows if state == PlanState.APPROVED})
    found: dict[int, list[tuple[dt.datetime, bool, Decimal]]] = {}
    for product, plan, state, starts_at, quantity in rows:
        if not out.get(plan):
            found.setdefault(product, []).append((starts_at, state == PlanState.APPROVED, quantity))
    return found


def net_out(plans: Iterable[str]) -> dict[str, Decimal]:
    """What left the store for each plan less what came back, by the plan's public id."""
    signed = Case(When(kind=MovementKind.RETURN, then=-F("quantity")), default=F("quantity"))
    out = Movement.objects.filter(plan__in=list(plans))
    return dict(out.order_by().values_list("plan").annotate(total=Sum(signed)))


def issued_of(version: PlanVersion) -> list[ChargeIssue]:
    return list(
        version.issues.select_related(
            "lot__product", "line__position", "issued_by__details"
        ).order_by("id")
    )


def net_issues(version: PlanVersion) -> list[tuple[ChargeIssue, Decimal]]:
    """What is out for a version: its issues less what came back.

    Returns name the plan and the lot only, so they are taken off all of the plan's issues, the
    oldest first: what came back before this version was issued belongs to an earlier one.
    """
    back = dict(
        Movement.objects.filter(plan=version.plan.public_id, kind=MovementKind.RETURN)
        .values_list("lot")
        .annotate(total=Sum("quantity"))
    )
    issues = ChargeIssue.objects.filter(version__plan=version.plan).select_related(
        "lot__product", "line__position"
    )
    out: list[tuple[ChargeIssue, Decimal]] = []
    for issue in issues.order_by("id"):
        returned = min(back.get(issue.lot_id, Decimal(0)), issue.quantity)
        back[issue.lot_id] = back.get(issue.lot_id, Decimal(0)) - returned
        if issue.version_id == version.pk and issue.quantity > returned:
            out.append((issue, issue.quantity - returned))
    return out


def issued_by_lot(plan: Plan) -> dict[int, Decimal]:
    """What left the store for the plan and has not come back, by lot key."""
    totals: dict[int, Decimal] = {}
    rows = (
        Movement.objects.filter(plan=plan.public_id)
        .values("lot", "kind")
        .annotate(total=Sum("quantity"))
    )
    for row in rows:
        sign = -1 if row["kind"] == MovementKind.RETURN else 1
        totals[row["lot"]] = totals.get(row["lot"], Decimal(0)) + sign * row["total"]
    return totals


@dataclass(frozen=True, slots=True)
class Handout:
    """Boards of one lot for one line of the charge."""

    line: ChargeLine
    lot: Lot
    quantity: Decimal


def suggested_handouts(version: PlanVersion) -> list[Handout]:
    """What the store would hand out: what is reserved for the plan, the lot it names, else the
    oldest accepted ones; nothing that another plan has a claim on."""
    own = {held.lot.pk: held.quantity for held in reserved_for(version.plan.public_id)}
    pool = burnable_lots(version.plan.site)
    pool.sort(key=lambda lot: lot.pk not in own)  # a stable sort: the oldest stay in front
    left = {lot.pk: lot.balance.available + own.get(lot.pk, 0) for lot in pool}
    handouts: list[Handout] = []
    for line in version.charge.all():
        wanted = line.quantity
        for lot in pool:
            fits = lot.product_id == line.product_id and line.lot_id in (None, lot.pk)
            if fits and (taken := min(wanted, left[lot.pk])) > 0:
                handouts.append(Handout(line, lot, taken))
                left[lot.pk] -= taken
                wanted -= taken
    return handouts


@dataclass(frozen=True, slots=True)
class StillOut:
    """Boards of a lot that left for a plan and neither burned nor came back."""

    lot: Lot
    quantity: Decimal
    burned: Decimal


def still_out(plan: Plan, burned: Mapping[int, Decimal]) -> list[StillOut]:
    """What may come back, given what the burn record says was used, by lot key."""
    issued = issued_by_lot(plan)
    lots = Lot.objects.filter(pk__in=issued).select_related("product").order_by("code")
    rows = [
        StillOut(
            lot, issued[lot.pk] - burned.get(lot.pk, Decimal(0)), burned.get(lot.pk, Decimal(0))
        )
        for lot in lots
    ]
    return [row for row in rows if row.quantity > 0]


# What forms offer; they import no models.
SINGLE_DUTIES = {
    str(duty): duty.label
    for duty in (Duty.IN_CHARGE, Duty.SAFETY, Duty.IGNITION, Duty.OBSERVER, Duty.PUMP)
}
STATES = PlanState.choices
