"""The history of a unit, put together from burns, inspections, defects, repairs and releases."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db.models import CharField, F, Q, QuerySet, Value
from django.urls import reverse
from django.utils.text import capfirst
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.look.lists import ROWS
from facility.look.times import day_in_words
from facility.refusals import plain_number, spelled_out
from facility.sites.models import Unit
from records.burns.models import Burn
from records.burns.selectors import burns_between, burns_by_key
from records.ground.selectors import earlier_use
from records.inspections import selectors as inspections
from records.inspections.models import Defect, Inspection, Outcome, Release, Repair
from records.plans.models import Finding
from records.reports.life import period_of
from records.reports.selectors import HistoryRow, UnitHistory

KINDS = ("burn", "earlier", "inspection", "defect", "repair", "release")


def unit_history(unit: Unit, start: dt.date, end: dt.date, now: dt.datetime) -> UnitHistory:
    """Everything from the first to the last day, both included, the oldest first."""
    return UnitHistory(
        unit, start, end, inspections.unit_state(unit, now), rows_between(unit, start, end)
    )


def rows_between(
    unit: Unit, start: dt.date, end: dt.date, *, burns: bool = True, others: bool = True
) -> list[HistoryRow]:
    """What happened from the first to the last day, in order."""
    period = period_of(unit, start, end)
    since, until = period.since, period.until
    rows: list[HistoryRow] = []
    if burns:
        rows += _burn_rows(burns_between(unit, since, until))
    if others:
        uses = earlier_use(unit).filter(ignited_at__gte=since, ignited_at__lt=until)
        rows += _earlier_rows(uses)
        rows += _inspection_rows(_inspected(unit, since, until))
        rows += _defect_rows(_defects(unit), since, until)
    return sorted(rows, key=lambda row: row.when)


def _inspected(unit: Unit, since: dt.datetime, until: dt.datetime) -> QuerySet[Any]:
    return _looked(unit).filter(kind__in=inspections.SCHEMES, done_at__gte=since, done_at__lt=until)


def _looked(unit: Unit) -> QuerySet[Any]:
    return inspections.inspections_of(unit).prefetch_related("looks")


def _defects(unit: Unit) -> QuerySet[Any]:
    return inspections.defects_of(unit).prefetch_related("repairs__done_by__details")


# -- one page of it: which fifty things, from the database; those fifty, whole -----------------


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """Fifty rows at most, the newest first, and where they stand among all."""

    rows: list[HistoryRow]
    number: int
    pages: int
    count: int


def history_page(
    unit: Unit, start: dt.date, end: dt.date, *, kind: str = "", number: int = 1
) -> HistoryPage:
    """One page of a history; costs the same for a season and for twenty years.

    A number beyond the end shows the last page.
    """
    period = period_of(unit, start, end)
    moments = _moments(unit, period.since, period.until, kind)
    count = moments.count()
    pages = max(1, -(-count // ROWS))
    number = min(max(number, 1), pages)
    chosen = list(moments.order_by("-when", "-key")[(number - 1) * ROWS : number * ROWS])
    return HistoryPage(_whole(unit, chosen), number, pages, count)


def _moments(unit: Unit, since: dt.datetime, until: dt.datetime, kind: str) -> QuerySet[Any]:
    """When, what kind and which key of everything in a period, as one union."""

    def named(word: str, rows: QuerySet[Any], moment: str) -> QuerySet[Any]:
        within = rows.filter(**{f"{moment}__gte": since, f"{moment}__lt": until})
        said = Value(word, output_field=CharField())
        told = within.order_by().annotate(when=F(moment), said=said, key=F("pk"))
        moments: QuerySet[Any] = told.values_list("when", "said", "key")
        return moments

    every = {
        "burn": named("burn", Burn.objects.filter(unit=unit), "ignited_at"),
        "earlier": named("earlier", earlier_use(unit), "ignited_at"),
        "inspection": named(
            "inspection",
            Inspection.objects.filter(unit=unit, kind__in=inspections.SCHEMES),
            "done_at",
        ),
        "defect": named("defect", Defect.objects.filter(unit=unit), "found_at"),
        "repair": named("repair", Repair.objects.filter(defect__unit=unit), "done_at"),
        "release": named("release", Release.objects.filter(defect__unit=unit), "released_at"),
    }
    if kind in every:
        return every[kind]
    first, *others = every.values()
    together: QuerySet[Any] = first.union(*others, all=True)
    return together


def _whole(unit: Unit, chosen: Iterable[tuple[dt.datetime, str, int]]) -> list[HistoryRow]:
    """The rows of a page in its order."""
    keys: dict[str, list[int]] = {kind: [] for kind in KINDS}
    order = [(kind, key) for _when, kind, key in chosen]
    for kind, key in order:
        keys[kind].append(key)
    found: dict[tuple[str, int], HistoryRow] = {}
    burns = burns_by_key(unit, keys["burn"]) if keys["burn"] else []
    found |= {("burn", burn.pk): row for burn, row in zip(burns, _burn_rows(burns), strict=True)}
    looks = list(_looked(unit).filter(pk__in=keys["inspection"]))
    found |= {
        ("inspection", look.pk): row
        for look, row in zip(looks, _inspection_rows(looks), strict=True)
    }
    uses = list(earlier_use(unit).filter(pk__in=keys["earlier"]))
    found |= {("earlier", use.pk): row for use, row in zip(uses, _earlier_rows(uses), strict=True)}
    concerned = (
        Q(pk__in=keys["defect"])
        | Q(pk__in=Repair.objects.filter(pk__in=keys["repair"]).values("defect"))
        | Q(pk__in=Release.objects.filter(pk__in=keys["release"]).values("defect"))
    )
    for defect in _defects(unit).filter(concerned):
        found |= {(row.kind, key): row for key, row in _rows_of_defect(defect)}
    return [found[each] for each in order]


def _burn_rows(burns: Iterable[Any]) -> Iterable[HistoryRow]:
    for burn in burns:
        reports = list(burn.reports.all())
        newest = reports[0] if reports else None
        decision = burn.version.decision
        fuel = (
            [
                f"{plain_number(each.used)} {each.lot.product} ({each.lot.code})"
                for each in newest.fuel.all()
            ]
            if newest
            else []
        )
        yield HistoryRow(
            when=burn.ignited_at,
            kind="burn",
            what=_("{exercise}, burn {nth} of the day").format(
                exercise=burn.version.get_exercise_display(), nth=burn.nth_of_day
            ),
            by=burn.started_by.name,
            address=reverse("burns:burn", args=[burn.public_id]),
            reference=burn.reference,
            fuel="; ".join(fuel),
            dry_mass_kg=float(newest.dry_mass_kg) if newest else None,
            energy_mj=float(newest.energy_mj) if newest else None,
            people=burn.people,
            approved_by=decision.signed_by.name,
            clause=decision.edition.code if decision.edition else "",
            findings=tuple(_remark(found) for found in burn.version.remarks),
            corrections=tuple(
                _("report {number}, {name}: {why}").format(
                    number=report.number, name=report.written_by.name, why=report.why
                )
                for report in reports
                if report.why
            ),
        )


def _remark(found: Finding) -> str:
    """One stored finding in a line; a waiver that lifted it is named."""
    about = f"{found.title}, {found.about}" if found.about else found.title
    line = f"{about}: {found.measured}, {found.allowed} ({found.code}, {found.clause})"
    if not found.waiver:
        return line
    return _("{line}; waived, waiver {waiver}").format(line=line, waiver=spelled_out(found.waiver))


def _earlier_rows(rows: Iterable[Any]) -> Iterable[HistoryRow]:
    for each in rows:
        what = ngettext(
            "{n} burn since {day}, taken over from: {document}",
            "{n} burns since {day}, taken over from: {document}",
            each.burns,
        ).format(n=each.burns, day=day_in_words(each.taken_over_from), document=each.document)
        mass, energy = float(each.dry_mass_kg), float(each.energy_mj)
        yield HistoryRow(
            each.ignited_at, "earlier", what, each.taken_over_by.name, dry_mass_kg=mass,
            energy_mj=energy,
        )  # fmt: skip


def _inspection_rows(rows: Iterable[Any]) -> Iterable[HistoryRow]:
    for each in rows:
        said = f"{each.get_kind_display()}: {each.get_outcome_display()}"
        yield HistoryRow(
            when=each.done_at,
            kind="inspection",
            what=". ".join(
                filter(None, [said, capfirst(each.note.rstrip(".")), capfirst(_parts_said(each))])
            ),
            by=each.done_by.name,
        )


def _parts_said(inspection: Inspection) -> str:
    """The parts that were not good, each with its result and note; that all were, in one word."""
    looks = list(inspection.looks.all())
    if not looks:
        return ""
    parts = [
        f"{look.name}: {look.get_result_display()}{f', {look.note}' if look.note else ''}"
        for look in looks
        if look.result != Outcome.GOOD
    ]
    good = len(looks) - len(parts)
    parts += [ngettext("{n} part good", "{n} parts good", good).format(n=good)] if good else []
    return "; ".join(parts)


def _defect_rows(
    defects: Iterable[Any], since: dt.datetime, until: dt.datetime
) -> Iterable[HistoryRow]:
    for defect in defects:
        for _key, row in _rows_of_defect(defect):
            if since <= row.when < until:
                yield row


def _rows_of_defect(defect: Any) -> Iterable[tuple[int, HistoryRow]]:
    """A defect, its repairs and its release: three kinds of row with their keys, each in its time."""
    address = reverse("inspections:defect", args=[defect.public_id])
    found = f"{defect.place}: {defect.description} ({defect.get_severity_display()})"
    yield (
        defect.pk,
        HistoryRow(defect.found_at, "defect", found, defect.found_by.name, address),
    )
    for repair in defect.repairs.all():
        by = repair.done_by.name
        yield repair.pk, HistoryRow(repair.done_at, "repair", repair.what, by, address)
    release = getattr(defect, "release", None)
    if release is not None:
        by = release.released_by.name
        yield (
            release.pk,
            HistoryRow(release.released_at, "release", release.statement, by, address),
        )
