"""Judging a plan: facts and the rules in force, in; findings out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

from facility.calc.boards import fire_load
from facility.calc.working import CalculationRefused, Working
from facility.refusals import WrongState
from facility.rulebook.models import Edition
from facility.rulebook.selectors import chart_of, edition_in_force, rules_for
from facility.rules.engine import Finding, judge
from facility.sites.models import Site, Unit
from records.plans.content import PlanContent
from records.plans.facts import LineFigures, burns_before, facts_of, figures_of, nth_of_day
from records.plans.models import Plan


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the standard says of a plan, with the charge's figures it rests on."""

    unit: Unit
    edition: Edition
    findings: list[Finding]
    figures: Sequence[LineFigures]
    nth: int

    @property
    def blocking(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.blocks]

    @property
    def dry_mass_kg(self) -> float | None:
        return _sum(each.dry_mass_kg for each in self.figures)

    @property
    def energy_mj(self) -> float | None:
        return _sum(each.energy_mj for each in self.figures)

    @property
    def load(self) -> Working | None:
        """The working of the whole charge's energy, and per floor area; None while unknown."""
        per_kg = [(each.fuel_kg, each.energy_mj) for each in self.figures]
        if not per_kg or self.energy_mj is None:
            return None
        try:
            return fire_load.of(
                dry_masses=[round(mass, 4) for mass, _energy in per_kg],
                energies=[round((energy or 0) / mass, 4) if mass else 0 for mass, energy in per_kg],
                floor_area=float(self.unit.length_m * self.unit.width_m),
            )
        except CalculationRefused:  # a count still being typed, such as a lone minus sign
            return None


def _sum(values: Iterable[float | None]) -> float | None:
    """The total, or None when any part of it is not known."""
    total = 0.0
    for value in values:
        if value is None:
            return None
        total += value
    return total


def judge_plan(
    content: PlanContent, *, site: Site, at: dt.datetime, plan: Plan | None = None,
    figures: Sequence[LineFigures] | None = None, planned: bool = True,
) -> Judgement:  # fmt: skip
    """Judge a plan by the edition in force on the day of the burn.

    ``figures`` replaces the planned charge by the one really issued; at ignition ``planned`` is
    False, and other plans that have not burned do not count.
    """
    day = content.starts_at.astimezone(site.zone).date()
    edition = edition_in_force(site, day)
    if edition is None:
        raise WrongState(_("No edition of the standard is in force on that day."))
    figures = figures_of(site, content.charge) if figures is None else figures
    before = burns_before(content, plan, planned=planned)
    nth = nth_of_day(content, before, site)
    chart = chart_of(edition, content.unit)
    facts = facts_of(
        content, site=site, at=at, figures=figures, before=before,
        cooling_min=chart.cooling_min if chart else 0,
    )  # fmt: skip
    findings = judge(rules_for(edition, chart, content.unit, content.exercise, nth), facts)
    return Judgement(content.unit, edition, findings, figures, nth)
