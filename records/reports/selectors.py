"""What the day sheet and the documents gather from the rooms below."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from typing import Any

from facility.people.models import Person
from facility.sites.models import Site, Unit
from records.burns import selectors as burns
from records.burns.aftermath import to_countersign
from records.ground import selectors as ground
from records.inspections import selectors as inspections
from records.plans import selectors as plans
from records.plans.models import PlanState
from records.plans.restricting import Touched, touched_of
from records.reports import tracing
from records.reports.outlook import Outlook, outlooks
from records.stock import selectors as stock
from records.stock.rounds import GrownOld, due_for_reading

WEEK = dt.timedelta(days=7)


@dataclass(frozen=True, slots=True)
class DaySheet:
    """What today needs: each list is work for somebody."""

    today: list[Any]
    coming: list[Any]
    running: list[Any]
    to_approve: list[Any]
    to_issue: list[Any]
    mine: list[Any]
    touched: list[Touched]
    lots_waiting: list[Any]
    lots_to_confirm: list[Any]
    lots_due: GrownOld
    units: list[tuple[Unit, inspections.UnitState]]
    store: list[stock.ProductOnHand]
    to_order: list[Outlook]
    recalled: list[tuple[Any, list[Any]]]
    to_countersign: list[Any]


def day_sheet(site: Site, person: Person, now: dt.datetime) -> DaySheet:
    units = ground.units_of(site)
    states = inspections.unit_states(units, now)
    start = dt.datetime.combine(now.astimezone(site.zone).date(), dt.time(), tzinfo=site.zone)
    end = start + dt.timedelta(days=1)
    all_plans = plans.plans_of(site)
    unfinished = all_plans.filter(state__in=(PlanState.DRAFT, PlanState.SENT_BACK))
    return DaySheet(
        today=list(
            all_plans.filter(current__starts_at__gte=start, current__starts_at__lt=end)
            .exclude(state__in=(PlanState.WITHDRAWN, PlanState.DRAFT))
            .order_by("current__starts_at")
        ),
        coming=list(
            all_plans.filter(current__starts_at__gte=end, current__starts_at__lt=end + WEEK)
            .exclude(state__in=(PlanState.WITHDRAWN, PlanState.DRAFT))
            .order_by("current__starts_at")
        ),
        running=list(burns.running_burns(site)),
        to_approve=list(plans.waiting_for(site, PlanState.SUBMITTED)),
        to_issue=plans.plans_to_issue(site),
        touched=touched_of(person, site, now),
        mine=list(unfinished.filter(current__written_by=person)),
        lots_waiting=stock.lots_waiting(site),
        lots_to_confirm=stock.lots_to_confirm(site),
        lots_due=due_for_reading(site, now),
        units=[(unit, states[unit.pk]) for unit in units],
        store=stock.totals_on_hand(site),
        to_order=[each for each in outlooks(site, now, only_ruled=True) if each.is_due],
        recalled=tracing.recalled_plans(site),
        to_countersign=to_countersign(site, person),
    )


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One thing that happened to a unit, in words, with who answers for it."""

    when: dt.datetime
    kind: str
    what: str
    by: str
    address: str = ""
    fuel: str = ""
    dry_mass_kg: float | None = None
    energy_mj: float | None = None
    people: int | None = None
    approved_by: str = ""
    clause: str = ""
    reference: str = ""
    corrections: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class UnitHistory:
    """Everything recorded about one unit in a period, in order."""

    unit: Unit
    start: dt.date
    end: dt.date
    state: inspections.UnitState
    rows: list[HistoryRow] = field(default_factory=list)

    @property
    def burns(self) -> list[HistoryRow]:
        return [row for row in self.rows if row.kind == "burn"]

    @property
    def dry_mass_kg(self) -> float:
        return sum(row.dry_mass_kg or 0 for row in self.burns)

    @property
    def energy_mj(self) -> float:
        return sum(row.energy_mj or 0 for row in self.burns)
