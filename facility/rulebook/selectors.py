"""The standard in force, and its rows as rules for the engine."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import Any

from django.db.models import F, Q
from django.utils.translation import gettext as _

from facility.refusals import NotHere
from facility.rulebook.checks import FIELDS, ITEM_FIELDS, scale_to
from facility.rulebook.models import (
    Basis,
    BurnSequence,
    CheckItem,
    CheckStage,
    Comparison,
    Edition,
    LimitRow,
    Severity,
    Waiver,
    WaiverScope,
)
from facility.rules.engine import ALWAYS, Applies, Rule, windowed
from facility.rules.facts import REGISTER, Known, Window
from facility.rules.sheet import run_before_cooling
from facility.sites.models import Site, Unit


def editions_in_force(site: Site, day: dt.date) -> list[Edition]:
    """The editions that bind the ground that day: its own first, then those of jurisdictions."""
    ended = Q(in_force_to__isnull=True) | Q(in_force_to__gte=day)
    rows = Edition.objects.filter(ended, site=site, in_force_from__lte=day)
    return list(rows.order_by("jurisdiction", "-in_force_from"))


def edition_in_force(site: Site, day: dt.date) -> Edition | None:
    """The edition that leads that day: the ground's own, where it has one."""
    return next(iter(editions_in_force(site, day)), None)


def editions(site: Site) -> list[Edition]:
    """Every edition of a ground, drafts first, then the newest."""
    named = Edition.objects.filter(site=site).select_related(
        "proposed_by__details", "adopted_by__details"
    )
    return list(named.order_by(F("in_force_from").desc(nulls_first=True), "-id"))


def edition_here(site: Site, public_id: str) -> Edition:
    found = Edition.objects.filter(site=site, public_id=public_id)
    edition = found.select_related("proposed_by__details", "adopted_by__details", "site").first()
    if edition is None:
        raise NotHere(_("No such edition on this ground."))
    return edition


def rows_of(edition: Edition, *, only_on: bool = False) -> list[LimitRow]:
    rows = edition.rows.filter(on=True) if only_on else edition.rows.all()
    return list(rows)


def charts(edition: Edition) -> list[BurnSequence]:
    """The burn-sequence charts of an edition, with their steps."""
    return list(
        BurnSequence.objects.filter(edition=edition)
        .select_related("unit")
        .prefetch_related("steps")
        .order_by("unit__name")
    )


def items_of(edition: Edition) -> list[CheckItem]:
    """The check list of an edition, stage by stage; items that are off stand at its end."""
    stages = list(CheckStage.values)
    return sorted(
        edition.checks.all(), key=lambda item: (not item.on, stages.index(item.stage), item.code)
    )


def item_here(edition: Edition, code: str) -> CheckItem:
    item = edition.checks.filter(code=code).first()
    if item is None:
        raise NotHere(_("No such item in this edition."))
    return item


def items_in_force(site: Site, day: dt.date) -> list[CheckItem]:
    """The items that every edition in force asks to be looked at, each wording once."""
    asked: dict[str, CheckItem] = {}
    for edition in editions_in_force(site, day):
        for item in items_of(edition):
            known = asked.get(item.text)
            if item.on and (known is None or (item.blocks and not known.blocks)):
                asked[item.text] = item
    return list(asked.values())


def item_values(edition: Edition) -> list[dict[str, Any]]:
    """The check list of an edition as plain values, as ``check_item`` gives them."""
    return [{field: getattr(item, field) for field in ITEM_FIELDS} for item in items_of(edition)]


def row_here(edition: Edition, code: str) -> LimitRow:
    row = edition.rows.filter(code=code).first()
    if row is None:
        raise NotHere(_("No such row in this edition."))
    return row


def waivable_rows(editions: Sequence[Edition]) -> list[LimitRow]:
    """The rows in force that somebody may waive."""
    rows = LimitRow.objects.filter(edition__in=editions, on=True).exclude(waivable_by="")
    return list(rows.select_related("edition").order_by("code"))


def edition_before(edition: Edition, day: dt.date) -> Edition | None:
    """What an edition is compared with: the one it superseded, or the one in force in its line."""
    if edition.in_force_from is not None:
        return edition.supersedes
    line = [
        each
        for each in editions_in_force(edition.site, day)
        if each.jurisdiction == edition.jurisdiction
    ]
    return next(iter(line), edition.supersedes)


def row_values(edition: Edition) -> list[dict[str, Any]]:
    """The rows of an edition as plain values, as ``check_row`` gives them."""
    return [{field: getattr(row, field) for field in FIELDS} for row in rows_of(edition)]


def chart_values(edition: Edition) -> list[dict[str, Any]]:
    """The charts of an edition as plain values; ``unit`` is the unit's name."""
    return [
        {
            "unit": chart.unit.name,
            "caps_dry_kg": [step.cap_dry_kg for step in chart.steps.all() if not step.dropped],
            "burns_before_cooling": chart.burns_before_cooling,
            "cooling_min": chart.cooling_min,
            "wait_min": chart.wait_min,
            "trial_on": chart.trial_on,
            "trial_note": chart.trial_note,
        }
        for chart in charts(edition)
    ]


def charts_for(editions: Sequence[Edition], unit: Unit) -> dict[int, BurnSequence]:
    """The unit's chart under each edition, by the edition's key."""
    rows = BurnSequence.objects.filter(edition__in=editions, unit=unit)
    return {row.edition_id: row for row in rows.prefetch_related("steps")}


def limit_in_force(site: Site, day: dt.date, fact: str) -> float | None:
    """The strictest upper limit the standard sets for a fact that day, where it sets one."""
    rows = LimitRow.objects.filter(
        edition__in=editions_in_force(site, day), fact=fact, limit__isnull=False, on=True
    )
    limits = [float(limit) for limit in rows.values_list("limit", flat=True) if limit is not None]
    return min(limits, default=None)


def standing_rules(editions: Sequence[Edition]) -> list[Rule]:
    """The rows that are switched on, as rules for the engine."""
    codes = {edition.pk: edition for edition in editions}
    rows = LimitRow.objects.filter(edition__in=editions, on=True).order_by("edition", "code")
    return [rule_of(row, codes[row.edition_id]) for row in rows]


def rule_of(row: LimitRow, edition: Edition) -> Rule:
    fact = REGISTER[row.fact]
    other_unit = row.unit if row.unit != fact.unit else ""
    return Rule(
        code=row.code,
        title=row.title,
        fact=row.fact,
        comparison=row.comparison,
        severity=row.severity,
        clause=f"{edition.code}, {row.clause}",
        limit=None if row.limit is None else float(row.limit),
        limit_high=None if row.limit_high is None else float(row.limit_high),
        words=_words(row.limit_text) if row.comparison == Comparison.ONE_OF else frozenset(),
        day=row.limit_text if row.comparison == Comparison.BEFORE else "",
        missing=_("the ground has not set a value"),
        window=row.window,
        row_unit=other_unit,
        scale=(scale_to(fact.unit, other_unit) or 1.0) if other_unit else 1.0,
        applies=_applies(row),
        edition=edition.code,
        jurisdiction=row.jurisdiction or edition.jurisdiction,
        unconfirmed=row.basis == Basis.MEMORY,
        waivable_by=row.waivable_by,
    )


def _words(text: str) -> frozenset[str]:
    return frozenset(word.strip() for word in text.split(",") if word.strip())


@lru_cache(maxsize=256)
def _narrowed(exercises: str, unit_kinds: str, duties: str, products: str, asked: str) -> Applies:
    moments = frozenset(asked.split()) or ALWAYS
    return Applies(
        exercises=frozenset(exercises.split()),
        unit_kinds=frozenset(unit_kinds.split()),
        duties=frozenset(duties.split()),
        products=frozenset(products.split()),
        moments=moments,
    )


def _applies(row: LimitRow) -> Applies:
    return _narrowed(row.exercises, row.unit_kinds, row.duties, row.products, row.asked_at)


def handover_rules(unit: Unit) -> list[Rule]:
    """What the unit's handover allows, under every edition. Nobody enters a window unit."""
    people = 0 if unit.nobody_inside else unit.max_people
    limits = [
        ("H-1", _("People in the unit"), "people.in_unit", "<=", people),
        ("H-2", _("Charge by the handover"), "charge.dry_mass", "<=", unit.max_charge_kg),
        ("H-3", _("Burns of the day by the handover"), "burn.nth_of_day", "<=", unit.max_burns_day),
        ("H-4", _("Cool-down by the handover"), "burn.wait", ">=", unit.cool_down_min),
    ]
    clause = _("handover sheet of {unit}").format(unit=unit.name)
    if unit.handover_document:
        clause = f"{clause}, {unit.handover_document}"[:200]
    return [
        Rule(
            code=code, title=title, fact=fact, comparison=comparison, severity=Severity.BLOCK,
            clause=clause, limit=float(limit),
        )
        for code, title, fact, comparison, limit in limits
        if limit is not None
    ]  # fmt: skip


def sequence_rules(
    editions: Sequence[Edition], charts: Mapping[int, BurnSequence], unit: Unit, nth: int, *,
    needs_chart: bool = True,
) -> list[Rule]:  # fmt: skip
    """The rules of the unit's charts. The leading edition needs one, as a rule; others may."""
    return [
        rule
        for place, edition in enumerate(editions)
        if (place == 0 and needs_chart) or edition.pk in charts
        for rule in _chart_rules(edition, charts.get(edition.pk), unit, nth)
    ]


def pause_window(cooling_min: int) -> str:
    """Under which the run of burns is found that a pause of this length ends."""
    return f"pause {cooling_min}"


def chart_facts(
    editions: Sequence[Edition], charts: Mapping[int, BurnSequence], pauses_min: Sequence[float]
) -> dict[str, Known]:
    """What is known of a burn only when a chart is at hand: the run without a cooling pause."""
    leading = charts.get(editions[0].pk)
    run = "burn.before_cooling"
    facts = {
        "unit.has_chart": Known(leading is not None, _("the edition has no chart for this unit")),
        run: Known(float(run_before_cooling(pauses_min, leading.cooling_min if leading else 0))),
    }
    for chart in charts.values():
        length = run_before_cooling(pauses_min, chart.cooling_min)
        facts[windowed(run, pause_window(chart.cooling_min))] = Known(float(length))
    return facts


def _chart_rules(edition: Edition, chart: BurnSequence | None, unit: Unit, nth: int) -> list[Rule]:
    """The chart's cap for the n-th burn, burns before cooling and wait; never waivable."""
    clause = _("{edition}, burn-sequence chart of {unit}").format(
        edition=edition.code, unit=unit.name
    )
    missing = _("the burn-sequence chart of {unit} has no value for burn {nth} of the day").format(
        unit=unit.name, nth=nth
    )
    steps = [step for step in chart.steps.all() if not step.dropped] if chart else []
    caps = {step.nth: float(step.cap_dry_kg) for step in steps}

    def rule(
        code: str, title: str, fact: str, comparison: str, limit: float | None,
        window: str = Window.BURN,
    ) -> Rule:  # fmt: skip
        return Rule(
            code, title, fact, comparison, Severity.BLOCK, clause, limit=limit, missing=missing,
            window=window, edition=edition.code, jurisdiction=edition.jurisdiction,
        )  # fmt: skip

    cap_title = _("Fuel, burn {nth} of the day").format(nth=nth)
    pause = pause_window(chart.cooling_min) if chart else Window.BURN
    return [
        rule("Q-1", cap_title, "charge.dry_mass", "<=", caps.get(nth)),
        rule("Q-2", _("Burns before cooling"), "burn.before_cooling", "<=",
             float(chart.burns_before_cooling) if chart else None, pause),
        rule("Q-3", _("Wait after the burn before"), "burn.wait", ">=",
             float(chart.wait_min) if chart else None),
    ]  # fmt: skip


def granted_waivers(
    editions: Sequence[Edition], day: dt.date, *, plan: str, unit: str
) -> dict[tuple[str, str], str]:
    """The waivers that hold for a plan in a unit on a day, by edition and row."""
    for_this = (
        Q(scope=WaiverScope.GROUND)
        | Q(scope=WaiverScope.UNIT, target=unit)
        | Q(scope=WaiverScope.PLAN, target=plan)
    )
    found = Waiver.objects.filter(
        for_this, row__edition__in=editions, expires_on__gte=day, granted_by__isnull=False,
        ended_at__isnull=True,
    ).select_related("row__edition")  # fmt: skip
    return {
        (waiver.row.edition.code, waiver.row.code): waiver.public_id
        for waiver in found
        if waiver.is_granted
    }


def authors_of(edition: Edition) -> set[int]:
    """Whom the rows and charts of an edition name as their writers; ``records.standard`` knows
    those besides whose rows were written over."""
    rows = edition.rows.filter(changed_by__isnull=False).values_list("changed_by", flat=True)
    charts = edition.charts.filter(changed_by__isnull=False).values_list("changed_by", flat=True)
    items = edition.checks.filter(changed_by__isnull=False).values_list("changed_by", flat=True)
    return {edition.proposed_by_id, *rows.distinct(), *charts.distinct(), *items.distinct()}


def fingerprint(edition: Edition) -> str:
    """SHA-256 over every row, chart and item of an edition, so that a decision covers what was
    shown. One without items has the hash it had before there were any."""
    rows = [[str(getattr(row, field)) for field in FIELDS] for row in rows_of(edition)]
    caps = [
        [chart.unit.public_id, chart.burns_before_cooling, chart.cooling_min, chart.wait_min,
         str(chart.trial_on), chart.trial_note,
         [str(step.cap_dry_kg) for step in chart.steps.all() if not step.dropped]]
        for chart in charts(edition)
    ]  # fmt: skip
    items = [[str(value) for value in item.values()] for item in item_values(edition)]
    whole = [rows, caps, items] if items else [rows, caps]
    written = json.dumps(whole, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(written.encode()).hexdigest()


# What forms offer; they import no models.
STAGES = CheckStage.choices
BASES = Basis.choices
