"""Reading what a closed burn left behind: boards against the plan, exposure, rest due, remarks,
signatures. Nothing here writes."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Case, F, Q, QuerySet, Sum, When

from facility.people.models import Person
from facility.refusals import plain_number
from facility.rulebook.selectors import editions_in_force, standing_rules
from facility.rules.engine import Finding, Rule
from facility.sites.models import Site
from records.burns.models import (
    Burn,
    BurnReport,
    BurnSignature,
    BurnState,
    CloseSheet,
    Remark,
    RemarkKind,
    SignaturePart,
    Stay,
    WorkPosition,
)
from records.stock.models import Lot, Movement, MovementKind, Product

COUNTERSIGNED = "burn.countersigned"


def asked_to_countersign(findings: Sequence[Finding]) -> str:
    """The row that asks for a second signature under what happened, or nothing."""
    asked = (each for each in findings if each.rule.fact == COUNTERSIGNED and not each.waiver)
    found = next(asked, None)
    return f"{found.rule.edition} {found.rule.code}".strip() if found else ""


def sheet_of(report: BurnReport | None) -> CloseSheet | None:
    """What a report says beside the boards; none of reports from before that was asked."""
    return CloseSheet.objects.filter(report=report).first() if report else None


def stays_of(report: BurnReport | None) -> list[Stay]:
    if report is None:
        return []
    return list(Stay.objects.filter(report=report).select_related("person__details"))


def remarks_of(burn: Burn) -> list[Remark]:
    rows = Remark.objects.filter(burn=burn)
    return list(rows.select_related("person__details", "recorded_by__details"))


def signatures_of(report: BurnReport | None) -> list[BurnSignature]:
    if report is None:
        return []
    rows = BurnSignature.objects.filter(report=report).select_related("signed_by__details")
    return list(rows)


# -- what is signed ------------------------------------------------------------------------------


def sheet_hash(report: BurnReport) -> str:
    """SHA-256 over what a report says happened, as it stands now."""
    burn, sheet = report.burn, sheet_of(report)
    written = [
        burn.public_id, report.number, _utc(burn.ignited_at), _utc(report.ended_at), report.note,
        report.why, burn.weather, burn.ignition_method,
        [[fuel.lot.code, plain_number(fuel.used)]
         for fuel in report.fuel.select_related("lot").order_by("id")],
        [_number(sheet.water_l), _number(sheet.unburnt_kg)] if sheet else [],
        [[each.person.public_id, each.duty, each.position, each.minutes]
         for each in stays_of(report)],
        [[each.public_id, each.kind, each.what, each.then,
          each.person.public_id if each.person else "", _utc(each.happened_at)]
         for each in remarks_of(burn)],
        [[str(kind), _utc(moment)]
         for kind, moment in burn.events.order_by("id").values_list("kind", "happened_at")],
    ]  # fmt: skip
    text = json.dumps(written, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _number(value: Decimal | None) -> str:
    return "" if value is None else plain_number(value)


def _utc(moment: dt.datetime) -> str:
    return moment.astimezone(dt.UTC).isoformat()


# -- boards --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FuelRow:
    """One lot of the charge; what is planned stands beside the first lot of its product."""

    product: Product
    lot: Lot | None
    planned: Decimal | None
    issued: Decimal
    used: Decimal
    returned: Decimal

    @property
    def left(self) -> Decimal:
        """Neither burned nor back in the store."""
        return self.issued - self.used - self.returned


def fuel_rows(burn: Burn) -> list[FuelRow]:
    """Planned, issued, used, returned and left, lot by lot."""
    planned: dict[Product, Decimal] = {}
    for line in burn.version.charge.select_related("product"):
        planned[line.product] = planned.get(line.product, Decimal(0)) + line.quantity
    used = dict(burn.current.fuel.values_list("lot", "used")) if burn.current else {}
    rows = []
    for lot, issued, returned in _moved(burn):
        rows.append(
            FuelRow(lot.product, lot, planned.pop(lot.product, None), issued,
                    used.get(lot.pk, Decimal(0)), returned)
        )  # fmt: skip
    nothing = Decimal(0)
    return rows + [
        FuelRow(product, None, quantity, nothing, nothing, nothing)
        for product, quantity in planned.items()
    ]


def _moved(burn: Burn) -> list[tuple[Lot, Decimal, Decimal]]:
    back = Q(kind=MovementKind.RETURN)
    sums = (
        Movement.objects.filter(plan=burn.version.plan.public_id)
        .order_by()
        .values("lot")
        .annotate(
            out=Sum(Case(When(back, then=Decimal(0)), default=F("quantity"))),
            back=Sum(Case(When(back, then=F("quantity")), default=Decimal(0))),
        )
    )
    by_lot = {row["lot"]: (row["out"], row["back"]) for row in sums}
    lots = Lot.objects.filter(pk__in=by_lot).select_related("product").order_by("code")
    return [(lot, *by_lot[lot.pk]) for lot in lots]


# -- rest due ------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Rested:
    """One exposed person, with the rest that the standard asks for before going in again."""

    stay: Stay
    minutes: float | None  # the longest rest that a row asks for
    until: dt.datetime | None
    row: str = ""


def rest_due(burn: Burn) -> list[Rested]:
    """Everyone of the newest report, and until when each rests by the rows of the standard."""
    report = burn.current
    if report is None:
        return []
    rules = _rest_rules(burn)
    return [_rested(stay, rules, report) for stay in stays_of(report)]


def _rest_rules(burn: Burn) -> list[Rule]:
    site: Site = burn.site
    day = burn.ignited_at.astimezone(site.zone).date()
    version = burn.version
    return [
        rule
        for rule in standing_rules(editions_in_force(site, day))
        if rule.fact == "person.rest" and rule.comparison == ">=" and rule.limit
        if version.exercise in (rule.applies.exercises or {version.exercise})
        if burn.unit.kind in (rule.applies.unit_kinds or {burn.unit.kind})
    ]


def _rested(stay: Stay, rules: Sequence[Rule], report: BurnReport) -> Rested:
    if not stay.minutes:
        return Rested(stay, None, None)
    asked = [
        (rule.limit / rule.scale, f"{rule.edition} {rule.code}")
        for rule in rules
        if rule.limit and stay.duty in (rule.applies.duties or {stay.duty})
    ]
    if not asked:
        return Rested(stay, None, None)
    minutes, row = max(asked)
    return Rested(stay, minutes, report.ended_at + dt.timedelta(minutes=minutes), row)


# -- waiting for the second signature ------------------------------------------------------------


def waits_for_second(site: Site) -> QuerySet[Burn]:
    """Closed burns whose newest report asks for a countersignature and has none."""
    signed = BurnSignature.objects.filter(part=SignaturePart.COUNTERSIGN)
    waiting = Burn.objects.filter(site=site, state=BurnState.CLOSED)
    return (
        waiting.exclude(current__sheet__countersign="")
        .filter(current__sheet__isnull=False)
        .exclude(current__in=signed.values("report"))
        .select_related("unit", "current__written_by__details", "version")
        .order_by("ignited_at")
    )


def to_countersign(site: Site, person: Person) -> list[Burn]:
    """Those of them that this person did not write."""
    waiting = waits_for_second(site).exclude(current__written_by=person)
    return list(waiting)


@dataclass(frozen=True, slots=True)
class After:
    """Everything the page of a closed burn and its sheet show beside the report itself."""

    sheet: CloseSheet | None
    fuel: list[FuelRow]
    rested: list[Rested]
    remarks: list[Remark]
    signatures: list[BurnSignature]
    hash: str

    @property
    def second(self) -> BurnSignature | None:
        found = (each for each in self.signatures if each.part == SignaturePart.COUNTERSIGN)
        return next(found, None)

    @property
    def waits(self) -> bool:
        return bool(self.sheet and self.sheet.countersign and self.second is None)

    @property
    def covered(self) -> list[tuple[BurnSignature, bool]]:
        """Each signature, and whether it covers what stands here now."""
        return [(each, each.content_hash == self.hash) for each in self.signatures]


def after(burn: Burn) -> After:
    report = burn.current
    return After(
        sheet=sheet_of(report),
        fuel=fuel_rows(burn),
        rested=rest_due(burn),
        remarks=remarks_of(burn),
        signatures=signatures_of(report),
        hash=sheet_hash(report) if report else "",
    )


def exposed_people(burn: Burn) -> list[Any]:
    """Who was at a burn, each once with the words of their duties, in the order of the roll."""
    people: dict[Person, list[str]] = {}
    for place in burn.attendance.all():
        people.setdefault(place.person, []).append(str(place.get_duty_display()))
    return [(person, ", ".join(duties)) for person, duties in people.items()]


# What forms offer; they import no models.
POSITIONS = WorkPosition.choices
REMARKS = RemarkKind.choices
