"""Judging again: past burns under any edition, and plans that are open under a draft.

Past burns are judged by the facts that were known when they were lit and kept then; nothing is
worked out anew, and memory stays flat however many burns there are.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field

from django.db.models import Exists, OuterRef
from django.utils import timezone

from facility.refusals import Refused
from facility.rulebook.models import Edition
from facility.rules.engine import BY_IGNITION, Finding
from facility.rules.sheet import from_data
from facility.sites.models import Site, Unit
from records.ground.models import UnitUse
from records.plans import selectors
from records.plans.content import content_of
from records.plans.judging import Judgement, Standard, judge_plan, judge_sheet
from records.plans.models import KnownAtIgnition, Plan, PlanState

KEPT = 200  # refused burns that are listed one by one; all of them are counted


@dataclass(frozen=True, slots=True)
class RefusedBurn:
    """One past burn that an edition would not have let start, and why."""

    plan: str  # public id
    unit: str
    ignited_at: dt.datetime
    findings: tuple[Finding, ...]


@dataclass
class Rejudged:
    """What an edition says of the burns of a period."""

    burns: int = 0  # judged
    untold: int = 0  # closed burns whose facts were not kept
    refused: int = 0
    cautioned: int = 0
    listed: list[RefusedBurn] = field(default_factory=list)
    by_row: Counter[tuple[str, str]] = field(default_factory=Counter)  # (code, title): refusals
    by_month: dict[str, list[int]] = field(default_factory=dict)  # month: burns, refused


def rejudge(
    site: Site, editions: Sequence[Edition], first: dt.date, last: dt.date, *,
    progress: Callable[[int, int], None] | None = None,
) -> Rejudged:  # fmt: skip
    """Judge every burn lit in a period by the editions given, waivers left aside.

    Asked is what is asked at any moment until ignition: a burn counts as refused when the edition
    would have stopped it somewhere on that way.
    """
    start = dt.datetime.combine(first, dt.time(), tzinfo=site.zone)
    end = dt.datetime.combine(last + dt.timedelta(days=1), dt.time(), tzinfo=site.zone)
    kept = KnownAtIgnition.objects.filter(
        version__plan__site=site, ignited_at__gte=start, ignited_at__lt=end
    ).order_by("ignited_at", "id")
    standard = Standard(editions, Unit.objects.filter(site=site), alone=True)
    found, total = Rejudged(), kept.count()
    rows = kept.values_list("facts", "ignited_at", "version__plan__public_id")
    for facts, ignited_at, plan in rows.iterator(chunk_size=500):
        sheet = from_data(facts)
        findings = judge_sheet(sheet, standard, moment=BY_IGNITION)
        _count(found, findings, plan, standard.units[sheet.unit].name, ignited_at, site)
        if progress is not None and found.burns % 200 == 0:
            progress(found.burns, total)
    found.untold = _untold(site, start, end)
    if progress is not None:
        progress(found.burns, total)
    return found


def _untold(site: Site, start: dt.datetime, end: dt.datetime) -> int:
    """Closed burns whose facts were not kept; one that still runs has facts and no use yet."""
    kept = KnownAtIgnition.objects.filter(version__burn__public_id=OuterRef("burn"))
    closed = UnitUse.objects.filter(
        ~Exists(kept), unit__site=site, burns=1, ignited_at__gte=start, ignited_at__lt=end
    )
    return int(closed.count())


def _count(
    found: Rejudged, findings: list[Finding], plan: str, unit: str, ignited_at: dt.datetime,
    site: Site,
) -> None:  # fmt: skip
    blocking = tuple(finding for finding in findings if finding.blocks)
    month = found.by_month.setdefault(ignited_at.astimezone(site.zone).strftime("%Y-%m"), [0, 0])
    found.burns += 1
    month[0] += 1
    if not blocking:
        found.cautioned += any(finding.unmet for finding in findings)
        return
    found.refused += 1
    month[1] += 1
    for code, title in {(each.rule.code, each.rule.title) for each in _every(blocking)}:
        found.by_row[code, title] += 1
    if len(found.listed) < KEPT:
        found.listed.append(RefusedBurn(plan, unit, ignited_at, blocking))


def _every(findings: Iterable[Finding]) -> list[Finding]:
    """All that blocks, the milder rules that a stricter one speaks for included."""
    return [one for each in findings for one in (each, *each.also) if one.blocks]


@dataclass(frozen=True, slots=True)
class OpenPlan:
    """A plan that has not burned, under an edition and under what is in force for it."""

    plan: Plan
    under: Judgement
    now: list[Finding]  # what blocks it today

    @property
    def gained(self) -> list[Finding]:
        """What would block it that does not block it now."""
        known = {(each.rule.code, each.label) for each in _every(self.now)}
        blocking = _every(self.under.blocking)
        return [each for each in blocking if (each.rule.code, each.label) not in known]


OPEN = (PlanState.DRAFT, PlanState.SUBMITTED, PlanState.SENT_BACK, PlanState.APPROVED)


def open_plans(site: Site, edition: Edition, at: dt.datetime | None = None) -> list[OpenPlan]:
    """The plans still ahead, judged by an edition as if it were in force."""
    at = at or timezone.now()
    ahead = selectors.waiting_for(site, *OPEN).filter(current__ends_at__gte=at)[:30]
    return [each for plan in ahead for each in _judged(site, plan, edition, at)]


def _judged(site: Site, plan: Plan, edition: Edition, at: dt.datetime) -> Iterator[OpenPlan]:
    version = selectors.newest_version(plan)
    content = content_of(version)
    under = judge_plan(content, site=site, at=at, plan=plan, editions=[edition])
    try:
        now = judge_plan(content, site=site, at=at, plan=plan).blocking
    except Refused:  # no edition is in force that day yet
        now = []
    yield OpenPlan(plan, under, now)
