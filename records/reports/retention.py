"""How long each kind of record is kept, why, and what falls due when.

The figures are those of the sources named; which law binds a ground is for its own advisers to
say. What is due goes by a signed order alone: see ``disposing``.
"""

from __future__ import annotations

import datetime as dt
from calendar import isleap
from collections.abc import Callable
from dataclasses import dataclass

from django.db.models import Max, Min
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _

from facility.sites.models import Site, Unit
from records.burns.models import Burn
from records.ground.models import Exposure
from records.plans.models import PlanVersion
from records.stock.models import Delivery

type Spans = tuple[int, dt.datetime | dt.date | None, dt.datetime | dt.date | None]


@dataclass(frozen=True, slots=True)
class RetentionClass:
    """Records kept for ``years`` after ``counted_from``. ``basis``: a rule of law, common
    practice, or a decision that follows from another class."""

    key: str
    title: str | Promise
    years: int
    counted_from: str | Promise
    source: str | Promise
    basis: str | Promise
    spans: Callable[[Site], Spans]


def _exposures(site: Site) -> Spans:
    return _span(Exposure.objects.filter(site=site), "ended_at")


def _lots(site: Site) -> Spans:
    return _span(Delivery.objects.filter(site=site), "delivered_at")


def _burns(site: Site) -> Spans:
    return _span(Burn.objects.filter(site=site), "ignited_at")


def _plans(site: Site) -> Spans:
    return _span(PlanVersion.objects.filter(plan__site=site), "ends_at")


def _retired_units(site: Site) -> Spans:
    """A unit in use starts no clock."""
    return _span(Unit.objects.filter(site=site, retired_on__isnull=False), "retired_on")


def _span(rows: object, field: str) -> Spans:
    found = rows.aggregate(first=Min(field), last=Max(field))  # type: ignore[attr-defined]
    return rows.count(), found["first"], found["last"]  # type: ignore[attr-defined]


CLASSES = (
    RetentionClass(
        "exposures", _("Who was exposed at which burn, by name"), 40, _("the burn"),
        _("COSHH 2002 reg. 10(5), 40 years for named employees; as listed by a retention table"),
        _("law, United Kingdom; 30 years under 29 CFR 1910.1020 (from memory), United States"),
        _exposures,
    ),
    RetentionClass(
        "lots", _("Deliveries, lots and their moisture"), 40, _("the delivery"),
        _("follows from the exposures: as long as any that points to the lot"),
        _("decision of this program"), _lots,
    ),
    RetentionClass(
        "burns", _("Burns: timeline, fuel, people, reports"), 40, _("the burn"),
        _("follows from the exposures, which rest on them"), _("decision of this program"), _burns,
    ),
    RetentionClass(
        "plans", _("Plans and their approval, as risk assessments"), 6, _("the end of the plan"),
        _("6 years once obsolete, the usual limitation period; as listed by a records society"),
        _("common practice, United Kingdom; longer where a burn rests on it"), _plans,
    ),
    RetentionClass(
        "units", _("The file of a unit: inspections, defects, repairs, use"), 6, _("the unit's retirement"),
        _("life of the equipment and 6 years, as for monitoring of equipment"),
        _("common practice, United Kingdom"), _retired_units,
    ),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Held:
    """One class on one ground: how many records, and when the first and the last fall due."""

    kind: RetentionClass
    count: int
    first_due: dt.date | None
    last_due: dt.date | None
    due_now: bool
    latest: dt.date  # what ended on this day falls due today


def held_here(site: Site, today: dt.date) -> list[Held]:
    return [_held(kind, site, today) for kind in CLASSES]


def _held(kind: RetentionClass, site: Site, today: dt.date) -> Held:
    count, first, last = kind.spans(site)
    first_due, last_due = (_due(each, kind, site) for each in (first, last))
    due_now = first_due is not None and first_due <= today
    return Held(kind, count, first_due, last_due, due_now, latest_due(kind, today))


def class_of(key: str) -> RetentionClass | None:
    return next((kind for kind in CLASSES if kind.key == key), None)


def latest_due(kind: RetentionClass, today: dt.date) -> dt.date:
    """The last day whose records of this kind have been kept long enough today."""
    leap = today.month == 2 and today.day == 29
    year = today.year - kind.years
    return dt.date(year, 2, 28) if leap and not isleap(year) else today.replace(year=year)


def falls_due(kind: RetentionClass, day: dt.date) -> dt.date:
    """When what ended on this day has been kept long enough."""
    leap = day.month == 2 and day.day == 29  # falls due on 1 March where there is no such day
    year = day.year + kind.years
    return dt.date(year, 3, 1) if leap and not isleap(year) else day.replace(year=year)


def _due(start: dt.datetime | dt.date | None, kind: RetentionClass, site: Site) -> dt.date | None:
    if start is None:
        return None
    day = start.astimezone(site.zone).date() if isinstance(start, dt.datetime) else start
    return falls_due(kind, day)
