"""The history of a unit, put together from burns, inspections, defects, repairs and releases."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.urls import reverse
from django.utils.translation import gettext as _

from facility.refusals import plain_number, spelled_out
from facility.sites.models import Unit
from records.burns.selectors import burns_between
from records.inspections import selectors as inspections
from records.plans.models import Finding
from records.reports.selectors import HistoryRow, UnitHistory

KINDS = ("burn", "inspection", "defect", "repair", "release")


def unit_history(unit: Unit, start: dt.date, end: dt.date, now: dt.datetime) -> UnitHistory:
    """Everything from the first to the last day, both included, the oldest first."""
    zone = unit.site.zone
    since = dt.datetime.combine(start, dt.time(), tzinfo=zone)
    until = dt.datetime.combine(end, dt.time(), tzinfo=zone) + dt.timedelta(days=1)
    rows = [
        *_burn_rows(burns_between(unit, since, until)),
        *_inspection_rows(unit, since, until),
        *_defect_rows(unit, since, until),
    ]
    rows.sort(key=lambda row: row.when)
    return UnitHistory(unit, start, end, inspections.unit_state(unit, now), rows)


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


def _inspection_rows(unit: Unit, since: dt.datetime, until: dt.datetime) -> Iterable[HistoryRow]:
    rows = inspections.inspections_of(unit).filter(
        kind="structural", done_at__gte=since, done_at__lt=until
    )
    for each in rows:
        yield HistoryRow(
            when=each.done_at,
            kind="inspection",
            what=_("structural inspection: {outcome}").format(outcome=each.get_outcome_display())
            + (f". {each.note}" if each.note else ""),
            by=each.done_by.name,
        )


def _defect_rows(unit: Unit, since: dt.datetime, until: dt.datetime) -> Iterable[HistoryRow]:
    """A defect, its repairs and its release are three kinds of row, each in its own time."""
    for defect in inspections.defects_of(unit).prefetch_related("repairs__done_by__details"):
        address = reverse("inspections:defect", args=[defect.public_id])
        told = [
            (
                defect.found_at,
                "defect",
                f"{defect.place}: {defect.description} ({defect.get_severity_display()})",
                defect.found_by,
            ),
            *(
                (repair.done_at, "repair", repair.what, repair.done_by)
                for repair in defect.repairs.all()
            ),
        ]
        release = getattr(defect, "release", None)
        if release is not None:
            told.append((release.released_at, "release", release.statement, release.released_by))
        for when, kind, what, person in told:
            if since <= when < until:
                yield HistoryRow(when=when, kind=kind, what=what, by=person.name, address=address)
