"""What judging costs: one plan by 150 rows, and a time travel over 20,000 kept burns.

Beside each stands a loop written by hand over the same rows and the same facts as plain data, with
no working, no sentences and no merging; it must give the same verdicts, or the bench stops.
"""

from __future__ import annotations

import datetime as dt
import json
import random
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any

from django.db import connection, transaction
from django.db.models import Q

from facility.guarded import opened
from facility.kinds import Duty
from facility.people.models import Person
from facility.people.selectors import crew_on, learners_on
from facility.rulebook.models import Edition, LimitRow
from facility.rulebook.selectors import edition_in_force
from facility.rules.engine import BY_APPROVAL, BY_IGNITION, Case, Finding, Rule
from facility.rules.facts import Known, Value
from facility.rules.sheet import FactSheet, as_data, run_before_cooling
from facility.sites.models import Site
from records.plans.content import Place, PlanContent, content_of
from records.plans.judging import Standard, judge_plan, judge_sheet
from records.plans.models import KnownAtIgnition, Plan, PlanVersion
from records.plans.rejudging import rejudge
from records.plans.selectors import newest_version
from records.standard.services import draft_edition
from records.stock.selectors import burnable_lots
from tests.benches.log import held_mb, timed
from tests.benches.pages import median_ms, queries_of

KEPT_TABLE = KnownAtIgnition._meta.db_table
HOURS = dt.timedelta(hours=4)  # from one burn to the next
ROWS, PEOPLE, LOTS, BURNS = 150, 12, 4, 20_000

type Row = tuple[str, float, str]
Said = tuple[str, str, str]  # code of the row, label of the case, verdict


# --- the loop written by hand


def by_hand(rules: Iterable[Rule], cases: Sequence[dict[str, Any]], moments: frozenset[str]) -> list[tuple[Rule, str, str]]:  # fmt: skip
    """Rule, label and verdict of every rule asked of every case."""
    found = []
    of_kind: dict[str, list[dict[str, Any]]] = {}
    for case in cases:
        of_kind.setdefault(case["subject"], []).append(case)
    for rule in rules:
        applies, key = rule.applies, rule.key
        if not moments & applies.moments:
            continue
        for case in of_kind.get(rule.subject, ()):
            if applies.exercises and case.get("exercise") not in applies.exercises:
                continue
            if applies.unit_kinds and case.get("unit_kind") not in applies.unit_kinds:
                continue
            if applies.duties and not applies.duties.intersection(case.get("duties", ())):
                continue
            if applies.products and case.get("product") not in applies.products:
                continue
            value = case["facts"].get(key, (None,))[0]
            found.append((rule, case.get("label", ""), verdict(rule, value)))
    return found


def verdict(rule: Rule, value: Any) -> str:
    how, limit = rule.comparison, rule.limit
    if value is None:
        return "cannot_tell"
    if how in ("true", "false"):
        return "within" if bool(value) == (how == "true") else "over"
    if how == "one_of":
        return ("within" if value in rule.words else "over") if rule.words else "cannot_tell"
    if how == "before":
        last = rule.day if len(rule.day) == 10 else f"{value[:4]}-{rule.day}"
        return ("within" if value <= last else "over") if rule.day else "cannot_tell"
    if limit is None:
        return "cannot_tell"
    value = float(value) * rule.scale
    if how in ("<=", "within"):
        left = round(limit - value, 6)
        warned = limit and not (limit <= 1 and not rule.unit)  # one of one is no warning
        return "over" if left < 0 else "near" if warned and left <= 0.1 * limit else "within"
    if how == ">=":
        return "over" if round(value - limit, 6) < 0 else "within"
    if how == "between":
        high = limit if rule.limit_high is None else rule.limit_high
        return "over" if round(min(value - limit, high - value), 6) < 0 else "within"
    return "over" if round(abs(value - limit), 6) > 0 else "within"


def said_by_hand(rules: Iterable[Rule], cases: Sequence[dict[str, Any]]) -> list[Said]:
    found = by_hand(rules, cases, BY_APPROVAL)
    return sorted((rule.code, label, said) for rule, label, said in found)


def said_by_engine(findings: Iterable[Finding]) -> list[Said]:
    """Every verdict, also of the rules and cases that another one speaks for."""
    said = []
    for found in findings:
        labels = [(each, each.label) for each in (found, *found.also)]
        labels += [(found, label) for label in found.alike]
        said += [(each.rule.code, label, str(each.verdict)) for each, label in labels]
    return sorted(said)


# --- the rows, the plan and the burns


def wide_edition(site: Site) -> Edition:
    """A draft on the demo ground with 150 rows switched on."""
    by = Person.objects.get(sign_in="safety")
    now = dt.datetime.now(dt.UTC)
    in_force = edition_in_force(site, now.date())
    edition = draft_edition(site, code="BENCH", title="Bench", copy_of=in_force, by=by, at=now)
    rows = LimitRow.objects.filter(edition=edition)
    valued = Q(limit__isnull=False) | Q(comparison__in=["true", "false"]) | ~Q(limit_text="")
    off = rows.filter(valued, on=False).order_by("code").values_list("pk", flat=True)
    more = list(off[: ROWS - rows.filter(on=True).count()])
    with opened():
        rows.filter(pk__in=more).update(on=True)
    assert rows.filter(on=True).count() == ROWS
    return edition


def big_plan(plan: Plan) -> PlanContent:
    """The plan with 12 people in it and its charge from four lots."""
    content = content_of(newest_version(plan))
    day = content.starts_at.astimezone(plan.site.zone).date()
    learners = [person for _course, group in learners_on(plan.site, day) for person in group]
    named = {place.person.pk for place in content.crew}
    spare = [person for person in (*learners, *crew_on(plan.site, day)) if person.pk not in named]
    places = [Place(person, Duty.LEARNER) for person in spare[: PEOPLE - len(named)]]
    line = content.charge[0]
    lots = burnable_lots(plan.site)[:LOTS]
    charge = tuple(replace(line, product=lot.product, lot=lot) for lot in lots)
    return replace(content, crew=(*content.crew, *places), charge=charge)


def passing(sheet: FactSheet, standard: Standard) -> FactSheet:
    """The sheet with what is not known or not met set to a value that the row lets pass."""
    sheet = replace(sheet, pauses_min=())
    for _again in range(3):
        findings = judge_sheet(sheet, standard, moment=BY_IGNITION)
        unmet = [one for each in findings for one in (each, *each.also) if one.unmet]
        told = {(one.rule.subject, label, one.rule.key): Known(met(one.rule))
                for one in unmet for label in (one.label, *one.alike)}  # fmt: skip
        sheet = replace(sheet, cases=tuple(_told(case, told) for case in sheet.cases))
    return sheet


def _told(case: Case, told: Mapping[tuple[str, str, str], Known]) -> Case:
    mine = {key: known for (kind, label, key), known in told.items()
            if (kind, label) == (case.subject, case.label)}  # fmt: skip
    return replace(case, facts={**case.facts, **mine})


def met(rule: Rule) -> Value:
    if rule.comparison in ("true", "false"):
        return rule.comparison == "true"
    if rule.comparison == "one_of":
        return min(rule.words)
    if rule.comparison == "before":
        return dt.date.fromisoformat(rule.day if len(rule.day) == 10 else f"2026-{rule.day}")
    share = {"<=": 0.5, "within": 0.5, ">=": 2.0}.get(rule.comparison, 1.0)
    return share * (rule.limit or 0.0) / rule.scale


def burn_copies(plan: Plan, sheet: FactSheet) -> dt.datetime:
    """20,000 burns straight into the tables, each the sheet with other figures; from when on."""
    chance, first = random.Random(1), dt.datetime(2001, 1, 1, tzinfo=dt.UTC)
    version, data = newest_version(plan), as_data(sheet)
    texts = [json.dumps(case) for case in data["cases"]]
    stored = connection.ops.adapt_datetimefield_value
    names = [f.attname for f in PlanVersion._meta.fields if f.attname not in ("id", "number")]
    given = {name: getattr(version, name) for name in names}
    insert = f"INSERT INTO {KEPT_TABLE} (version_id, ignited_at, facts) VALUES (%s, %s, %s)"
    for start in range(0, BURNS, 1000):
        versions = [PlanVersion(**given, number=1000 + start + each) for each in range(1000)]
        with opened(), connection.cursor() as cursor:
            PlanVersion.objects.bulk_create(versions)
            cursor.executemany(insert, [
                (each.pk, stored(first + each.number * HOURS), varied(data, texts, chance))
                for each in versions
            ])  # fmt: skip
    return first


def varied(data: dict[str, Any], texts: Sequence[str], chance: random.Random) -> str:
    """The kept sheet as another burn of the day, with up to four numbers at a third to three times
    of what they were; ``texts`` are its cases as they stand."""
    texts = list(texts)
    for place in chance.sample(range(len(texts)), chance.randint(0, 4)):
        facts = dict(data["cases"][place]["facts"])
        key = chance.choice(list(facts))
        if isinstance(facts[key][0], float):
            facts[key] = [round(facts[key][0] * chance.uniform(0.3, 3.0), 2)]
        texts[place] = json.dumps({**data["cases"][place], "facts": facts})
    head = json.dumps({**data, "nth": chance.randint(1, 3), "cases": []})
    return head.replace('"cases": []', f'"cases": [{", ".join(texts)}]')


# --- what is measured


def rows() -> list[Row]:
    """All on the demo ground, and nothing of it stays."""
    with transaction.atomic():
        plan = Plan.objects.select_related("site").filter(state="submitted").first()
        assert plan is not None
        content, edition = big_plan(plan), wide_edition(plan.site)
        found = _one_plan(plan, content, edition) + _time_travel(plan, content, edition)
        transaction.set_rollback(True)
    return found


def _one_plan(plan: Plan, content: PlanContent, edition: Edition) -> list[Row]:
    def whole(editions: Sequence[Edition] | None) -> Callable[[], Any]:
        return lambda: judge_plan(
            content, site=plan.site, at=content.starts_at, plan=plan, editions=editions
        )

    sheet = whole([edition])().sheet
    counted = {kind: sum(case.subject == kind for case in sheet.cases) for kind in ("person", "lot")}  # fmt: skip
    assert counted == {"person": PEOPLE, "lot": LOTS}, counted
    standard = Standard([edition], [content.unit])
    rules, cases = standard.rules(sheet.unit, sheet.nth), plain_cases(as_data(sheet), standard)

    def judge() -> list[Finding]:
        return judge_sheet(sheet, standard, moment=BY_APPROVAL)

    said = said_by_engine(judge())
    assert said == said_by_hand(rules, cases)
    engine = median_ms(judge, 200)
    hand = median_ms(lambda: by_hand(rules, cases, BY_APPROVAL), 200)
    return [
        ("a plan of 12 people, 4 lots by 150 rows, facts known", engine, "ms"),
        ("the same verdicts by a loop written by hand", hand, "ms"),
        ("the engine against that loop", engine / hand, "x"),
        ("verdicts given", len(said), ""),
        _whole("the same with its facts from the database", whole([edition])),
        _whole("the same by the standard in force, 41 rows", whole(None)),
    ]


def _whole(name: str, work: Callable[[], Any]) -> Row:
    return (name, median_ms(work), f"{queries_of(work)} queries")


def plain_cases(data: dict[str, Any], standard: Standard) -> list[dict[str, Any]]:
    """The cases of a kept sheet, with what only a chart tells added to the burn."""
    burn, *others = data["cases"]
    charts = standard._charts[data["unit"]]
    leading = charts.get(standard.editions[0].pk)
    pauses = data["pauses_min"]
    facts = burn["facts"]
    facts["unit.has_chart"] = (leading is not None,)
    length = run_before_cooling(pauses, leading.cooling_min if leading else 0)
    facts["burn.before_cooling"] = (length,)
    for chart in charts.values():
        run = run_before_cooling(pauses, chart.cooling_min)
        facts[f"burn.before_cooling@pause {chart.cooling_min}"] = (run,)
    return [burn, *others]


def _time_travel(plan: Plan, content: PlanContent, edition: Edition) -> list[Row]:
    sheet = judge_plan(
        content, site=plan.site, at=content.starts_at, plan=plan, editions=[edition]
    ).sheet
    first = burn_copies(plan, passing(sheet, Standard([edition], [content.unit])))
    last = (first + (BURNS + 1001) * HOURS).date()
    before, held, found = held_mb(), [], []

    def travel() -> None:
        told = rejudge(plan.site, [edition], first.date(), last,
                       progress=lambda done, _all: held.append(held_mb()) if done else None)  # fmt: skip
        found.append(told)

    took, (told,) = timed(travel), found
    hand: list[tuple[int, int]] = []
    floor = timed(lambda: hand.append(_counted_by_hand(edition, content)))
    assert (told.burns, told.refused, told.cautioned) == (BURNS, *hand[0]), hand
    half = len(held) // 2
    return [
        ("time travel over 20,000 kept burns by 150 rows", took, "s"),
        ("burns a second", BURNS / took / 1000, "k/s"),
        ("more memory while it runs", max(held) - before, "MB"),
        ("of that in the second half", max(held[half:]) - max(held[:half]), "MB"),
        ("the same burns counted by the loop written by hand", floor, "s"),
        ("time travel against that loop", took / floor, "x"),
        ("share of the burns refused", 100 * told.refused / BURNS, "%"),
        ("share of the burns cautioned besides", 100 * told.cautioned / BURNS, "%"),
    ]


def _counted_by_hand(edition: Edition, content: PlanContent) -> tuple[int, int]:
    """How many of the copies a row would have stopped, and how many more it would have cautioned."""
    standard, refused, cautioned = Standard([edition], [content.unit]), 0, 0
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT facts FROM {KEPT_TABLE} ORDER BY id DESC LIMIT %s", [BURNS])
        while batch := cursor.fetchmany(500):
            for (text,) in batch:
                data = json.loads(text) if isinstance(text, str) else text
                rules = standard.rules(data["unit"], data["nth"])
                said = by_hand(rules, plain_cases(data, standard), BY_IGNITION)
                unmet = [rule for rule, _label, word in said if word in ("over", "cannot_tell")]
                stopped = any(rule.severity == "block" for rule in unmet)
                refused += stopped
                cautioned += bool(unmet) and not stopped
    return refused, cautioned
