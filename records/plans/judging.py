"""Judging a plan: facts and the rules in force, in; findings out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from facility.calc.boards import fire_load
from facility.calc.working import CalculationRefused, Working
from facility.refusals import WrongState
from facility.rulebook.models import Edition
from facility.rulebook.selectors import (
    chart_facts,
    charts_for,
    editions_in_force,
    granted_waivers,
    handover_rules,
    sequence_rules,
    standing_rules,
)
from facility.rules.engine import BY_APPROVAL, Finding, Moment, Rule, Waivers, judge
from facility.rules.facts import REGISTER, Fact, Known
from facility.rules.sheet import IN_PLANS, FactSheet
from facility.sites.models import Site, Unit
from records.plans.content import PlanContent
from records.plans.facts import sheet_of
from records.plans.figures import LineFigures, figures_of
from records.plans.models import Plan
from records.plans.restricting import restriction_rules


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the standard says of a plan, with the charge's figures it rests on."""

    unit: Unit
    edition: Edition  # the one that leads: the ground's own
    editions: tuple[Edition, ...]
    findings: list[Finding]
    figures: Sequence[LineFigures]
    sheet: FactSheet

    @property
    def nth(self) -> int:
        return self.sheet.nth

    @property
    def blocking(self) -> list[Finding]:
        return [finding for finding in self.findings if finding.blocks]

    @property
    def let_through(self) -> list[Finding]:
        """What is not met, but only cautions or was waived: nobody may be told that all is met."""
        return [finding for finding in self.findings if finding.unmet and not finding.blocks]

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
    moment: Moment | frozenset[Moment] = BY_APPROVAL, noted: Mapping[str, Known] | None = None,
    editions: Sequence[Edition] | None = None,
) -> Judgement:  # fmt: skip
    """Judge a plan by the editions in force on the day of the burn, or by those handed in.

    ``figures`` replaces the planned charge by the one really issued or burned; at ignition
    ``planned`` is False, and other plans that have not burned do not count.
    """
    day = content.starts_at.astimezone(site.zone).date()
    alone = editions is not None
    editions = editions_in_force(site, day) if editions is None else editions
    if not editions:
        raise WrongState(_("No edition of the standard is in force on that day."))
    figures = figures_of(site, content.charge) if figures is None else figures
    sheet = sheet_of(
        content, site=site, at=at, figures=figures, plan=plan, planned=planned,
        noted=noted or {},
    )  # fmt: skip
    waivers = granted_waivers(
        editions, day, plan=plan.public_id if plan else "", unit=content.unit.public_id
    )
    standard = Standard(editions, [content.unit], alone=alone)
    restrictions = [] if alone else restriction_rules(content.unit, at)
    findings = judge_sheet(sheet, standard, moment=moment, waivers=waivers, more=restrictions)
    return Judgement(content.unit, editions[0], tuple(editions), findings, figures, sheet)


class Standard:
    """The rules of some editions, read once to judge many burns by.

    ``units`` are those whose charts are wanted; however many burns follow, nothing more is read.
    ``alone`` editions are asked for themselves, in force or not: one of a jurisdiction then need
    have no charts, for those are in the ground's own.
    """

    def __init__(
        self, editions: Sequence[Edition], units: Iterable[Unit], *, alone: bool = False
    ) -> None:
        self.editions = editions
        self.needs_chart = not (alone and editions[0].jurisdiction)
        self.rows = standing_rules(editions)
        self.units = {unit.public_id: unit for unit in units}
        self._charts = {pk: charts_for(editions, unit) for pk, unit in self.units.items()}
        self._rules: dict[tuple[str, int], list[Rule]] = {}

    def rules(self, unit: str, nth: int) -> list[Rule]:
        """Every rule for the n-th burn of a day in a unit."""
        if (unit, nth) not in self._rules:
            chart = sequence_rules(
                self.editions, self._charts[unit], self.units[unit], nth,
                needs_chart=self.needs_chart,
            )  # fmt: skip
            self._rules[unit, nth] = [*self.rows, *handover_rules(self.units[unit]), *chart]
        return self._rules[unit, nth]

    def facts(self, sheet: FactSheet) -> dict[str, Known]:
        return chart_facts(self.editions, self._charts[sheet.unit], sheet.pauses_min)


def judge_sheet(
    sheet: FactSheet,
    standard: Standard,
    *,
    moment: Moment | frozenset[Moment],
    waivers: Waivers | None = None,
    more: Sequence[Rule] = (),
) -> list[Finding]:
    """Judge a fact sheet, new or kept, by a standard, and by what defects forbid (``more``)."""
    burn, *others = sheet.cases
    burn = replace(burn, facts={**burn.facts, **standard.facts(sheet)})
    rules = [*standard.rules(sheet.unit, sheet.nth), *more]
    return judge(rules, [burn, *others], moment=moment, waivers=waivers)


def asked_in_plans(site: Site, day: dt.date) -> list[Fact]:
    """The facts that the standard in force asks of every burn and its author has to state."""
    rules = standing_rules(editions_in_force(site, day))
    asked = {rule.fact: REGISTER[rule.fact] for rule in rules}
    return [fact for fact in asked.values() if fact.stated and fact.subject in IN_PLANS]


def words_allowed(site: Site, fact: str, moment: dt.datetime) -> list[str]:
    """The words that every row in force allows for a fact told in words; none where no row asks."""
    editions = editions_in_force(site, moment.astimezone(site.zone).date())
    sets = [rule.words for rule in standing_rules(editions) if rule.fact == fact and rule.words]
    return sorted(frozenset.intersection(*sets)) if sets else []
