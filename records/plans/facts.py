"""The facts of a burn: the only place where what a rule may ask of it is worked out.

``sheet_of`` serves the form that redraws while typing, submission, approval, issue, ignition and
closing alike; the burn services hand in the charge as issued or burned instead of as planned.
Lots, products and people are judged one by one, in ``records.plans.subjects``.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.kinds import INSIDE, Duty, ProductKind
from facility.look.times import day_in_words
from facility.people.models import Competence
from facility.refusals import plain_number
from facility.rules.engine import Case
from facility.rules.facts import REGISTER, Known, Window
from facility.rules.sheet import FactSheet, value_of
from facility.sites.models import Site, Unit
from records.ground import selectors as ground
from records.inspections import selectors as inspections
from records.inspections.gauging_selectors import days_since_calibration
from records.inspections.models import DefectSeverity, InspectionKind
from records.plans.content import PlanContent
from records.plans.figures import LineFigures
from records.plans.models import Plan
from records.plans.subjects import (
    QUALIFIED,
    lot_cases,
    of_charge,
    person_cases,
    product_cases,
    unit_use,
    unit_year,
    use_facts,
)
from records.standard.selectors import statements_on

Spans = list[tuple[dt.datetime, dt.datetime]]  # start and end of burns, in order

LEADING = (Duty.IN_CHARGE, Duty.SAFETY, Duty.CREW, Duty.IGNITION)


def nth_of_day(content: PlanContent, before: Spans, site: Site) -> int:
    """Which burn of the ground's local day this is."""
    day = content.starts_at.astimezone(site.zone).date()
    return 1 + sum(start.astimezone(site.zone).date() == day for start, _end in before)


def sheet_of(
    content: PlanContent, *, site: Site, at: dt.datetime, figures: Sequence[LineFigures],
    plan: Plan | None, planned: bool, noted: Mapping[str, Known],
) -> FactSheet:  # fmt: skip
    """Everything a rule may ask of this burn, as known at ``at``.

    ``figures`` are those of the charge, planned, issued or burned; ``planned`` says whether plans
    that are approved and not yet burned count; ``noted`` is what the burn itself adds at ignition
    or at its close.
    """
    day = content.starts_at.astimezone(site.zone).date()
    stated = statements_on(site, day)
    year = unit_year(content, site, plan=plan, planned=planned)
    before = year.day_before()
    nth = nth_of_day(content, before, site)
    held = _competences(content, day)
    facts = {
        **stated.get("", {}),
        **stated.get(content.unit.public_id, {}),
        **_stated_in(content),
        **_charge_facts(figures),
        **_burn_facts(content, before, nth, figures),
        **_people_facts(content),
        **_unit_facts(content, at, figures),
        **unit_use(content, year, figures),
        "crew.qualified": _qualified(content, held),
        "water.on_site": Known(float(content.water_l)),
        **noted,
    }
    burn = Case(facts, exercise=content.exercise, unit_kind=content.unit.kind)
    return FactSheet(
        unit=content.unit.public_id,
        nth=nth,
        pauses_min=_pauses(content, before),
        cases=(
            burn,
            *lot_cases(burn, figures, stated, at),
            *product_cases(burn, figures, stated),
            *person_cases(burn, content, site, stated, held, plan=plan, planned=planned),
        ),
    )


def _stated_in(content: PlanContent) -> dict[str, Known]:
    return {fact: Known(value_of(REGISTER[fact], value)) for fact, value in content.stated}


def _competences(content: PlanContent, day: dt.date) -> dict[tuple[int, str], dt.date]:
    """Until when each person of the crew holds each qualification that counts that day."""
    people = {place.person.pk for place in content.crew}
    rows = Competence.objects.filter(person__in=people, issued_on__lte=day, expires_on__gte=day)
    held: dict[tuple[int, str], dt.date] = {}
    for person, kind, expires in rows.values_list("person", "kind", "expires_on"):
        held[person, kind] = max(expires, held.get((person, kind), expires))
    return held


def _charge_facts(figures: Sequence[LineFigures]) -> dict[str, Known]:
    boards = [each for each in figures if each.line.product.is_board]
    return {
        "charge.dry_mass": _total(figures, "dry_mass_kg"),
        "charge.energy": _total(figures, "energy_mj"),
        "charge.boards": Known(float(sum(each.line.quantity for each in boards))),
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
        if not each.lot.burnable:
            return Known(False, _("lot {lot} is not accepted").format(lot=each.lot.code))
    return Known(True) if figures else Known(None, _("the plan has no charge yet"))


def _burn_facts(
    content: PlanContent, before: Spans, nth: int, figures: Sequence[LineFigures]
) -> dict[str, Known]:
    wait = (content.starts_at - before[-1][1]).total_seconds() / 60 if before else 24 * 60.0
    length = (content.ends_at - content.starts_at).total_seconds() / 60
    return {
        "burn.nth_of_day": Known(float(nth)),
        "burn.wait": Known(wait),
        "burn.planned_minutes": Known(length),
        "burn.abort_criteria": Known(bool(content.abort_criteria), _("none are written down")),
        "burn.fuel_calculated": Known(
            bool(figures) and all(each.energy_mj is not None for each in figures),
            _("a part of the charge has no measured mass"),
        ),
    }


def _pauses(content: PlanContent, before: Spans) -> tuple[float, ...]:
    """The pauses [min] before this burn and before each earlier one, newest first."""
    pauses, next_start = [], content.starts_at
    for start, end in reversed(before):
        pauses.append((next_start - end).total_seconds() / 60)
        next_start = start
    return tuple(pauses)


def _people_facts(content: PlanContent) -> dict[str, Known]:
    inside = {person.pk for person in content.people_in(*INSIDE)}
    safety = {person.pk for person in content.people_in(Duty.SAFETY)}
    others = {place.person.pk for place in content.crew if place.duty != Duty.SAFETY}
    ignition = {person.pk for person in content.people_in(Duty.IGNITION, Duty.OBSERVER)}
    learners = {person.pk for person in content.learners}
    double = safety & others
    return {
        "people.in_unit": Known(float(len(inside))),
        "people.learners_per_instructor": _ratio(content),
        "crew.in_charge": Known(float(len(content.people_in(Duty.IN_CHARGE)))),
        "crew.safety": Known(float(len(safety))),
        "crew.safety_learner": Known(bool(safety & learners)),
        "crew.instructors": Known(
            float(len({person.pk for person in content.people_in(*LEADING)}))
        ),
        "crew.pump": Known(float(len(content.people_in(Duty.PUMP)))),
        "crew.ignition_officer_learner": Known(
            bool({person.pk for person in content.people_in(Duty.IGNITION)} & learners)
        ),
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


def _qualified(content: PlanContent, held: Mapping[tuple[int, str], dt.date]) -> Known:
    needed = [place for place in content.crew if place.duty in QUALIFIED]
    if not needed:
        return Known(None, _("no crew is named yet"))
    for place in needed:
        if (place.person.pk, QUALIFIED[Duty(place.duty)]) not in held:
            return Known(
                False,
                _("{person} is not qualified as {duty} on that day").format(
                    person=place.person.name, duty=Duty(place.duty).label
                ),
            )
    return Known(True)


def _unit_facts(
    content: PlanContent, at: dt.datetime, figures: Sequence[LineFigures]
) -> dict[str, Known]:
    state = inspections.unit_state(content.unit, at)
    reason = "; ".join(defect.description for defect in state.defects) or _("it was retired")
    service = {
        "unit.in_service": Known(state.in_service, reason),
        "unit.unrestricted": Known(state.word == inspections.IN_SERVICE, reason),
        "unit.open_unsafe_defects": Known(
            float(sum(defect.severity == DefectSeverity.UNSAFE for defect in state.defects))
        ),
        "unit.wall_remaining_life": _wall_life(content.unit),
        "unit.inspected_since_change": _inspected_since_change(content.unit, state.inspected_at),
    }
    facts = {**service, **_since_relined(content.unit, figures)}
    looked = inspections.last_inspections([content.unit], at).get(content.unit.pk, {})
    marks = [(str(kind), when) for kind, when in looked.items()]
    counts = {each.label: each for each in ground.counts_of(content.unit, marks)}
    for kind, name in inspections.SCHEMES.items():
        facts |= _since(name, kind, counts.get(str(kind)), content.starts_at)
    facts["unit.days_since_thermocouple_calibration"] = _calibrated(content)
    if state.inspected_at is not None:
        use = counts["structural"]
        done = ground.Use(use.burns, use.dry_mass_kg, use.energy_mj)
        facts |= use_facts(Window.SINCE_INSPECTION, done, 0, of_charge(figures))
    return facts


def _since(
    name: str, kind: str, count: ground.Count | None, moment: dt.datetime
) -> dict[str, Known]:
    """Days, burns and cycles since the last inspection of a kind: days and burns with this burn,
    cycles without it, for nobody knows them before it burned."""
    if count is None or count.since is None:
        label = InspectionKind(kind).label
        never = Known(None, _("no {kind} inspection is recorded").format(kind=label))
        if kind == InspectionKind.STRUCTURAL:
            never = Known(None, _("no structural inspection is recorded"))
        if kind == InspectionKind.LINING:
            never = Known(None, _("no look behind the lining is recorded"))
        return {f"unit.{counted}_since_{name}": never for counted in ("days", "burns", "cycles")}
    days = (moment - count.since).total_seconds() / 86400
    return {
        f"unit.days_since_{name}": Known(round(days, 3)),
        f"unit.burns_since_{name}": Known(float(count.burns + 1)),
        f"unit.cycles_since_{name}": _cycles(count),
    }


def _cycles(count: ground.Count) -> Known:
    """The cycles, known only when the temperatures of every burn are: part of them is not all."""
    if count.heat.burns >= count.burns:
        return Known(count.heat.cycles)
    return Known(
        None,
        _("temperatures are recorded for {some} of {all} burns, in which {cycles:g} cycles are "
          "counted; the cycles of the others are not known").format(
            some=count.heat.burns, all=count.burns, cycles=count.heat.cycles
        ),
    )  # fmt: skip


def _calibrated(content: PlanContent) -> Known:
    """Days since the thermocouple whose calibration is the oldest was calibrated."""
    days, reason = days_since_calibration(
        content.unit, content.starts_at.astimezone(content.unit.site.zone).date()
    )
    return Known(days, reason)


def _since_relined(unit: Unit, figures: Sequence[LineFigures]) -> dict[str, Known]:
    """The use of a unit since it was relined, or since it was built while it never was."""
    use = ground.use_of(unit, ground.relined_at(unit))
    return use_facts(Window.SINCE_RELINED, use, 0, of_charge(figures))


def _inspected_since_change(unit: Unit, inspected_at: dt.datetime | None) -> Known:
    changed = ground.changed_at(unit)
    if changed is None:
        return Known(True)
    return Known(
        inspected_at is not None and inspected_at >= changed,
        _("it was changed on {day}").format(day=day_in_words(changed.astimezone(unit.site.zone))),
    )


def _wall_life(unit: Unit) -> Known:
    worst = next(iter(inspections.wall_lives(unit)), None)
    if worst is None or math.isinf(worst.years):
        return Known(None, _("the wall readings tell no remaining life yet"))
    return Known(worst.years, _("at {point}").format(point=worst.point))
