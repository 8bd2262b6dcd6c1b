"""The facts of a plan: the only place where what a rule may ask of a burn is worked out.

``facts_of`` serves the form that redraws while typing, submission, approval, issue and ignition
alike; the burn services hand in the charge as issued instead of as planned.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.people.models import Competence, CompetenceKind
from facility.refusals import plain_number
from facility.rules.facts import Facts, Known
from facility.sites.models import Site
from records.ground import selectors as ground
from records.inspections import selectors as inspections
from records.plans import selectors as plans
from records.plans.content import Line, PlanContent
from records.plans.models import Duty, Plan
from records.stock import selectors as stock
from records.stock.models import ProductKind, Verdict

Spans = list[tuple[dt.datetime, dt.datetime]]  # start and end of burns, in order

INSIDE = (Duty.IN_CHARGE, Duty.CREW, Duty.IGNITION, Duty.OBSERVER, Duty.LEARNER)
QUALIFIED = {
    Duty.IN_CHARGE: CompetenceKind.LIVE_FIRE,
    Duty.CREW: CompetenceKind.LIVE_FIRE,
    Duty.IGNITION: CompetenceKind.LIVE_FIRE,
    Duty.SAFETY: CompetenceKind.SAFETY,
}


@dataclass(frozen=True, slots=True)
class LineFigures:
    """One line of the charge with what it holds: totals of the line, and the unit workings."""

    line: Line
    lot: Any | None  # the lot it draws on, chosen by us when the plan leaves it open
    dry_mass_kg: float | None
    energy_mj: float | None
    per_board: stock.UnitFigures | None

    @property
    def fuel_kg(self) -> float:
        """Mass that burns: the dry wood, or a liquid's own mass, which is no wood."""
        if self.line.product.kind == ProductKind.LIQUID:
            return stock.LIQUID_KG_PER_L * float(self.line.quantity)
        return self.dry_mass_kg or 0.0

    @property
    def moisture_pct(self) -> float | None:
        return (
            None
            if self.lot is None or self.lot.moisture_pct is None
            else float(self.lot.moisture_pct)
        )


def figures_of(site: Site, charge: Sequence[Line]) -> list[LineFigures]:
    """Mass and energy of each line. A line without a lot takes the oldest accepted lot that has
    enough left beside what the lines above it take."""
    named = stock.lots_by_id(site, (line.lot.public_id for line in charge if line.lot))
    pool = stock.burnable_lots(site) if any(line.lot is None for line in charge) else []
    left = {lot.pk: lot.balance.on_hand for lot in pool}
    return [
        _figures(line, named.get(line.lot.public_id) if line.lot else _oldest(pool, left, line))
        for line in charge
    ]


def _oldest(pool: list[Any], left: dict[int, Decimal], line: Line) -> Any | None:
    fitting = (lot for lot in pool if lot.product_id == line.product.pk)
    chosen = next((lot for lot in fitting if left[lot.pk] >= line.quantity), None)
    if chosen is not None:
        left[chosen.pk] -= line.quantity
    return chosen


def _figures(line: Line, lot: Any | None) -> LineFigures:
    each = stock.figures_for(line.product, lot)
    if each is None:
        return LineFigures(line, lot, None, None, None)
    count = float(line.quantity)
    return LineFigures(line, lot, count * each.dry_mass_kg, count * each.energy_mj, each)


def burns_before(content: PlanContent, plan: Plan | None, *, planned: bool = True) -> Spans:
    """Start and end of the burns in that unit in the 24 hours before: done, and approved.

    A day of hours, not of the calendar: a fire that ended before midnight still heats the unit.
    At ignition only what really burned counts (``planned`` False).
    """
    since = content.starts_at - dt.timedelta(days=1)
    done = ground.burns_between(content.unit, since, content.starts_at)
    if planned:
        done += plans.approved_between(content.unit, since, content.starts_at, besides=plan)
    return sorted(done)


def nth_of_day(content: PlanContent, before: Spans, site: Site) -> int:
    """Which burn of the ground's local day this is."""
    day = content.starts_at.astimezone(site.zone).date()
    return 1 + sum(start.astimezone(site.zone).date() == day for start, _end in before)


def facts_of(
    content: PlanContent, *, site: Site, at: dt.datetime, figures: Sequence[LineFigures],
    before: Spans, cooling_min: int,
) -> Facts:  # fmt: skip
    """Every fact a rule may ask of this plan, as known at ``at``.

    ``figures`` are those of the charge, planned or issued; ``before`` the burns of the 24 hours
    before in the unit; ``cooling_min`` the pause after which a unit counts as cooled.
    """
    return {
        **_charge_facts(figures),
        "burn.nth_of_day": Known(float(nth_of_day(content, before, site))),
        **_sequence_facts(content, before, cooling_min),
        **_people_facts(content),
        **_unit_facts(content, at),
        "crew.qualified": _qualified(content, content.starts_at.astimezone(site.zone).date()),
        "water.on_site": Known(float(content.water_l)),
    }


def _charge_facts(figures: Sequence[LineFigures]) -> dict[str, Known]:
    boards = [each for each in figures if each.line.product.is_board]
    return {
        "charge.dry_mass": _total(figures, "dry_mass_kg"),
        "charge.energy": _total(figures, "energy_mj"),
        "charge.moisture_highest": _moisture(boards, max),
        "charge.moisture_lowest": _moisture(boards, min),
        "charge.kindling": Known(_quantity(figures, ProductKind.KINDLING)),
        "charge.liquid": Known(_quantity(figures, ProductKind.LIQUID)),
        "charge.lots_accepted": _lots_accepted(figures),
    }


def _total(figures: Sequence[LineFigures], name: str) -> Known:
    if not figures:
        return Known(None, _("the plan has no charge yet"))
    values = [getattr(each, name) for each in figures]
    unknown = [each.line for each, value in zip(figures, values, strict=True) if value is None]
    if unknown:
        return Known(
            None,
            _("no measured, accepted lot covers {quantity} of {product}").format(
                quantity=plain_number(unknown[0].quantity), product=unknown[0].product
            ),
        )
    return Known(sum(values))


def _moisture(boards: Sequence[LineFigures], pick: Any) -> Known:
    readings = [each.moisture_pct for each in boards]
    if not readings:
        return Known(None, _("the plan has no boards yet"))
    if None in readings:
        return Known(None, _("a lot has no moisture readings"))
    return Known(pick(readings))


def _quantity(figures: Iterable[LineFigures], kind: str) -> float:
    return float(
        sum((each.line.quantity for each in figures if each.line.product.kind == kind), Decimal(0))
    )


def _lots_accepted(figures: Sequence[LineFigures]) -> Known:
    for each in figures:
        if each.lot is None:
            return Known(
                False,
                _("no accepted lot of {product} has enough").format(product=each.line.product),
            )
        if each.lot.verdict != Verdict.ACCEPTED:
            return Known(False, _("lot {lot} is not accepted").format(lot=each.lot.code))
    return Known(True) if figures else Known(None, _("the plan has no charge yet"))


def _sequence_facts(content: PlanContent, before: Spans, cooling_min: int) -> dict[str, Known]:
    run = 1
    later_start = content.starts_at
    for start, end in reversed(before):
        if later_start - end >= dt.timedelta(minutes=cooling_min):
            break
        run, later_start = run + 1, start
    wait = (content.starts_at - before[-1][1]).total_seconds() / 60 if before else 24 * 60.0
    return {
        "burn.before_cooling": Known(float(run)),
        "burn.wait": Known(wait),
    }


def _people_facts(content: PlanContent) -> dict[str, Known]:
    inside = {person.pk for person in content.people_in(*INSIDE)}
    safety = {person.pk for person in content.people_in(Duty.SAFETY)}
    others = {place.person.pk for place in content.crew if place.duty != Duty.SAFETY}
    ignition = {person.pk for person in content.people_in(Duty.IGNITION, Duty.OBSERVER)}
    double = safety & others
    return {
        "people.in_unit": Known(float(len(inside))),
        "people.learners_per_instructor": _ratio(content),
        "crew.in_charge": Known(float(len(content.people_in(Duty.IN_CHARGE)))),
        "crew.safety": Known(float(len(safety))),
        "crew.safety_distinct": Known(
            not double, _("the safety officer has another duty in this burn")
        ),
        "crew.ignition_team": Known(float(len(ignition))),
    }


def _ratio(content: PlanContent) -> Known:
    learners, instructors = len(content.learners), len(content.people_in(Duty.CREW))
    if learners and not instructors:
        return Known(None, _("no crew instructor is named"))
    return Known(learners / instructors if instructors else 0.0)


def _qualified(content: PlanContent, day: dt.date) -> Known:
    needed = [place for place in content.crew if place.duty in QUALIFIED]
    if not needed:
        return Known(None, _("no crew is named yet"))
    held = set(
        Competence.objects.filter(
            person__in={place.person.pk for place in needed},
            issued_on__lte=day,
            expires_on__gte=day,
        ).values_list("person", "kind")
    )
    for place in needed:
        if (place.person.pk, QUALIFIED[Duty(place.duty)]) not in held:
            return Known(
                False,
                _("{person} is not qualified as {duty} on that day").format(
                    person=place.person.name, duty=Duty(place.duty).label
                ),
            )
    return Known(True)


def _unit_facts(content: PlanContent, at: dt.datetime) -> dict[str, Known]:
    state = inspections.unit_state(content.unit, at)
    reason = "; ".join(defect.description for defect in state.defects) or _("it was retired")
    service = {
        "unit.in_service": Known(state.in_service, reason),
        "unit.unrestricted": Known(state.word == inspections.IN_SERVICE, reason),
    }
    if state.inspected_at is None:
        never = Known(None, _("no structural inspection is recorded"))
        return {
            **service,
            "unit.days_since_inspection": never,
            "unit.burns_since_inspection": never,
        }
    days = (content.starts_at - state.inspected_at).total_seconds() / 86400
    burns = ground.use_of(content.unit, state.inspected_at).burns
    return {
        **service,
        "unit.days_since_inspection": Known(round(days, 3)),
        "unit.burns_since_inspection": Known(float(burns + 1)),
    }
