"""What the engineer is handed before an inspection: use and temperatures of all burns since the
last one, earlier findings, open defects, drawings, walls.

Burns without a logger's file are listed like the rest, with their temperature "not recorded":
nothing is guessed, and how many there are is said at the top.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from facility.sites.drawing import long_section, plan_view
from facility.sites.models import Unit
from records.burns.models import Burn
from records.ground.heat_selectors import BurnHeat, HeatSum, heat_by_burn, heats_of
from records.ground.selectors import Used, use_by_burn, versions_of
from records.inspections import gauging_selectors as walls
from records.inspections import selectors as inspections
from records.inspections.models import Inspection, InspectionKind, PartLook
from records.pictures.printing import as_data_uri
from records.reports.life import life_of, period_of

MOST_PHOTOGRAPHS = 12  # two pages of them, the newest first; the rest stays in the record
MOST_BURNS = 2000  # of one document; more are told by a sum and left to the history


@dataclass(frozen=True, slots=True)
class BurnLine:
    """One burn since the last inspection: what burned, and what was recorded of its heat."""

    reference: str
    nth: int  # since the last inspection
    used: Used
    heat: BurnHeat | None

    @property
    def minutes(self) -> float:
        return (self.used.ended_at - self.used.ignited_at).total_seconds() / 60


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything the document shows."""

    unit: Unit
    last: Inspection | None  # the engineer's last inspection
    since: dt.datetime  # of it, or of the commissioning
    lines: list[BurnLine]
    left_out: int  # earlier burns that only the sums hold
    dry_mass_kg: float
    energy_mj: float
    heat: HeatSum

    @property
    def burns(self) -> int:
        return len(self.lines) + self.left_out

    @property
    def unrecorded(self) -> int:
        """Burns without a file; a file of a burn that is not closed yet makes none of them."""
        return max(0, self.burns - self.heat.burns)


def evidence_for(unit: Unit, now: dt.datetime) -> Evidence:
    """Use and temperatures of all burns since the engineer's last inspection."""
    looked = inspections.inspections_of(unit).filter(kind=InspectionKind.ENGINEER, done_at__lte=now)
    last = looked.order_by("-done_at").first()
    built = dt.datetime.combine(unit.commissioned_on, dt.time(), tzinfo=unit.site.zone)
    since = last.done_at if last else built
    used = sorted(use_by_burn(unit, since, now).items(), key=lambda pair: pair[1].ignited_at)
    heats = heat_by_burn(unit, since, now)
    references = {burn.public_id: burn.reference for burn in Burn.objects.filter(
        unit=unit, ignited_at__gte=since, ignited_at__lt=now).only("public_id")}  # fmt: skip
    lines = [
        BurnLine(references.get(key, key), nth, each, heats.get(key))
        for nth, (key, each) in enumerate(used, 1)
    ]
    left_out = max(0, len(lines) - MOST_BURNS)
    return Evidence(
        unit, last, since, lines[left_out:], left_out,
        sum(each.dry_mass_kg for _key, each in used), sum(each.energy_mj for _key, each in used),
        heats_of(unit, [since])[0],
    )  # fmt: skip


@dataclass(frozen=True, slots=True)
class Photographed:
    """A part that was photographed when it was looked at."""

    look: PartLook
    source: str  # the picture itself, as a data URI; empty when it was disposed of


def photographed(unit: Unit, now: dt.datetime) -> list[Photographed]:
    """The newest photographs of parts of the unit."""
    looks = PartLook.objects.filter(
        inspection__unit=unit, inspection__done_at__lte=now, picture__isnull=False
    ).select_related("picture", "inspection__done_by__details")
    newest = looks.order_by("-inspection__done_at", "-id")[:MOST_PHOTOGRAPHS]
    return [Photographed(look, as_data_uri(look.picture)) for look in newest if look.picture]


def context_of(unit: Unit, now: dt.datetime) -> dict[str, Any]:
    """The context of the document."""
    today = now.astimezone(unit.site.zone).date()
    shown = walls.walls_of(unit)
    lives = shown.pop("lives")
    state = inspections.unit_state(unit, now)
    marked = {defect.part for defect in state.defects if defect.part}
    earlier = inspections.inspections_of(unit).filter(kind__in=inspections.SCHEMES)
    return {
        "unit": unit,
        "state": state,
        "evidence": evidence_for(unit, now),
        "findings": earlier.exclude(outcome="good", note="", looks__isnull=True)
        .distinct().prefetch_related("looks__defect__release", "looks__picture", "items")[:40],
        "earlier": earlier.count(),
        "defects": inspections.defects_of(unit)[:60],
        "photographs": photographed(unit, now),
        "versions": versions_of(unit),
        "rows": [(each, lives.get(each.point.mark)) for each in shown["points"]],
        "sensors": walls.sensor_states(unit),
        "life": life_of(unit, period_of(unit, min(unit.commissioned_on, today), today), now),
        "section": long_section(unit, printed=True, marked=marked),
        "plan": plan_view(unit, printed=True, marked=marked),
        **shown,
    }  # fmt: skip
