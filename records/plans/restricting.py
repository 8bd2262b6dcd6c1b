"""What open defects forbid, and which approved plans that touches."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.rules.engine import Rule
from facility.sites.models import Site, Unit
from records.ground.selectors import changes_since
from records.inspections.models import Defect, DefectSeverity
from records.inspections.selectors import open_defects
from records.plans.models import Plan, PlanState


def restriction_rules(unit: Unit, at: dt.datetime) -> list[Rule]:
    """What the defects that were open at ``at`` forbid in a unit: rules without a row, never waived."""
    return [rule for defect in open_defects([unit], at) for rule in _forbidden(defect)]


def _forbidden(defect: Defect) -> list[Rule]:
    limits = [
        ("D-1", _("Nobody inside while a defect is open"), "people.in_unit",
         0 if defect.no_entry else None),
        ("D-2", _("Boards while a defect is open"), "charge.boards", defect.most_boards),
        ("D-3", _("Charge while a defect is open"), "charge.dry_mass", defect.most_dry_kg),
    ]  # fmt: skip
    clause = _("defect {reference}: {place}").format(reference=defect.reference, place=defect.place)
    return [
        Rule(
            code=code, title=title, fact=fact, comparison="<=", severity="block", clause=clause,
            limit=float(limit),
        )
        for code, title, fact, limit in limits
        if limit is not None
    ]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Touched:
    """An approved plan, and what came to its unit after the approval."""

    plan: Plan
    defects: tuple[Defect, ...]
    changes: tuple[str, ...]  # "modified", "moved" ... with the day


def touched_of(person: Person, site: Site, at: dt.datetime) -> list[Touched]:
    """The approved plans that a person wrote or approved and that something touches since."""
    mine = Q(current__written_by=person) | Q(current__decision__signed_by=person)
    return touched(Plan.objects.filter(mine, site=site, state=PlanState.APPROVED), at)


def touched(plans: Iterable[Plan], at: dt.datetime) -> list[Touched]:
    """Those of the plans whose unit got a defect that restricts it, or was changed, since approval."""
    found = list(
        Plan.objects.filter(pk__in=[plan.pk for plan in plans], state=PlanState.APPROVED)
        .select_related("current__unit__site", "current__decision")
        .order_by("current__starts_at")
    )
    units = {plan.version.unit.pk: plan.version.unit for plan in found}
    if not units:
        return []
    defects = [
        defect for defect in open_defects(units.values(), at)
        if defect.severity != DefectSeverity.MONITOR
    ]  # fmt: skip
    changes = changes_since(units.values(), min(plan.version.decision.signed_at for plan in found))
    rows = [_touched(plan, defects, changes) for plan in found]
    return [row for row in rows if row.defects or row.changes]


def _touched(plan: Plan, defects: Sequence[Defect], changes: Sequence[tuple[int, dt.datetime, str]]) -> Touched:  # fmt: skip
    unit, since = plan.version.unit_id, plan.version.decision.signed_at
    return Touched(
        plan,
        tuple(each for each in defects if each.unit_id == unit and each.recorded_at > since),
        tuple(words for key, when, words in changes if key == unit and when > since),
    )
