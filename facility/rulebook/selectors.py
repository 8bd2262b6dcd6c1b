"""The standard in force, and its rows as rules for the engine."""

from __future__ import annotations

import datetime as dt

from django.db.models import Q
from django.utils.translation import gettext as _

from facility.rulebook.models import BurnSequence, Edition, Severity
from facility.rules.engine import Rule
from facility.sites.models import Site, Unit


def edition_in_force(site: Site, day: dt.date) -> Edition | None:
    ended = Q(in_force_to__isnull=True) | Q(in_force_to__gte=day)
    return (
        Edition.objects.filter(ended, site=site, in_force_from__lte=day)
        .order_by("-in_force_from")
        .first()
    )


def editions(site: Site) -> list[Edition]:
    named = Edition.objects.filter(site=site).select_related(
        "proposed_by__details", "adopted_by__details"
    )
    return list(named.order_by("-in_force_from"))


def charts(edition: Edition) -> list[BurnSequence]:
    """The burn-sequence charts of an edition, with their steps."""
    return list(
        BurnSequence.objects.filter(edition=edition)
        .select_related("unit")
        .prefetch_related("steps")
        .order_by("unit__name")
    )


def chart_of(edition: Edition, unit: Unit) -> BurnSequence | None:
    return BurnSequence.objects.filter(edition=edition, unit=unit).prefetch_related("steps").first()


def limit_in_force(site: Site, day: dt.date, fact: str) -> float | None:
    """The limit the standard sets for a fact that day, where it sets one."""
    edition = edition_in_force(site, day)
    row = edition.rows.filter(fact=fact, limit__isnull=False).first() if edition else None
    return float(row.limit) if row and row.limit is not None else None


def rules_for(
    edition: Edition, chart: BurnSequence | None, unit: Unit, exercise: str, nth: int
) -> list[Rule]:
    """Every rule that a burn must meet: the rows, the unit's handover sheet and its chart."""
    rows = [
        Rule(
            code=row.code,
            title=row.title,
            fact=row.fact,
            comparison=row.comparison,
            severity=row.severity,
            clause=f"{edition.code}, {row.clause}",
            limit=None if row.limit is None else float(row.limit),
            limit_high=None if row.limit_high is None else float(row.limit_high),
            missing=_("the ground has not set a value"),
        )
        for row in edition.rows.all()
        if not row.exercises or exercise in row.exercises.split()
    ]
    return [*rows, _handover_rule(unit), *_chart_rules(edition, chart, unit, nth)]


def _handover_rule(unit: Unit) -> Rule:
    return Rule(
        code="H-1",
        title=_("People in the unit"),
        fact="people.in_unit",
        comparison="<=",
        severity=Severity.BLOCK,
        clause=_("handover sheet of {unit}").format(unit=unit.name),
        limit=float(unit.max_people),
    )


def _chart_rules(edition: Edition, chart: BurnSequence | None, unit: Unit, nth: int) -> list[Rule]:
    """The chart's cap for the n-th burn, burns before cooling and wait; never waivable."""
    clause = _("{edition}, burn-sequence chart of {unit}").format(
        edition=edition.code, unit=unit.name
    )
    missing = _("the burn-sequence chart of {unit} has no value for burn {nth} of the day").format(
        unit=unit.name, nth=nth
    )
    caps = {step.nth: float(step.cap_dry_kg) for step in chart.steps.all()} if chart else {}

    def rule(code: str, title: str, fact: str, comparison: str, limit: float | None) -> Rule:
        return Rule(
            code, title, fact, comparison, Severity.BLOCK, clause, limit=limit, missing=missing
        )

    cap_title = _("Fuel, burn {nth} of the day").format(nth=nth)
    return [
        rule("Q-1", cap_title, "charge.dry_mass", "<=", caps.get(nth)),
        rule("Q-2", _("Burns before cooling"), "burn.before_cooling", "<=",
             float(chart.burns_before_cooling) if chart else None),
        rule("Q-3", _("Wait after the burn before"), "burn.wait", ">=",
             float(chart.wait_min) if chart else None),
    ]  # fmt: skip
