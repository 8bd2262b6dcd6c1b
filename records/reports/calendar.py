"""What stands in the service calendar: bookings, burns, cool-downs, inspections due, outages.

The page and the feed read the same events. No event names a person.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.db.models import Count, Max
from django.utils.translation import gettext as _

from facility.rulebook.models import BurnSequence
from facility.rulebook.selectors import edition_in_force, editions_in_force
from facility.sites.models import Site, Unit
from records.burns.models import Burn
from records.ground.selectors import units_of
from records.inspections import selectors as inspections
from records.inspections.due import Due, dues
from records.inspections.models import Inspection
from records.plans.models import Plan, PlanState

BOOKED = (PlanState.SUBMITTED, PlanState.APPROVED, PlanState.BURNING, PlanState.BURNED)
DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Event:
    """Something in the calendar. ``start`` and ``end`` are times, or days for a whole day."""

    kind: str  # booking, cooling, inspection
    unit: Unit
    start: dt.datetime | dt.date
    end: dt.datetime | dt.date
    words: str
    state: str  # as marked: submitted, approved, burning, burned; empty for cooling
    key: str  # of what it is about; stays the same while that changes
    sequence: int
    modified: dt.datetime
    plan: str = ""  # public id

    @property
    def first_day(self) -> dt.date:
        return self.start.date() if isinstance(self.start, dt.datetime) else self.start


def inspections_due(site: Site, units: Sequence[Unit], now: dt.datetime) -> dict[int, list[Due]]:
    """When each unit's inspections are due, the next one first, by the unit's key."""
    today = now.astimezone(site.zone).date()
    return dues(site, units, editions_in_force(site, today), now)


def events_between(
    site: Site, start: dt.datetime, end: dt.datetime, now: dt.datetime
) -> list[Event]:
    """Everything that begins in a period, in order, in a constant number of queries."""
    units = units_of(site)
    booked = bookings(site, start, end)
    found = [*booked, *_cooling(site, booked, now), *due_events(site, units, start, end, now)]
    return sorted(found, key=lambda event: (event.first_day, _clock(event), event.unit.name))


def _clock(event: Event) -> float:
    return event.start.timestamp() if isinstance(event.start, dt.datetime) else 0.0


def bookings(site: Site, start: dt.datetime, end: dt.datetime) -> list[Event]:
    """Submitted and approved plans, and what was burned of them, at the times of the burn."""
    plans = (
        Plan.objects.filter(
            site=site, state__in=BOOKED, current__starts_at__gte=start, current__starts_at__lt=end
        )
        .select_related("current__unit", "current__decision")
        .order_by("current__starts_at")
    )
    chosen = list(plans)
    rows = Burn.objects.filter(version__in=[plan.current_id for plan in chosen])
    burns = {burn.version_id: burn for burn in rows.select_related("current")}
    return [_booking(plan, burns.get(plan.version.pk)) for plan in chosen]


def _booking(plan: Plan, burn: Any) -> Event:
    version = plan.version
    decision = getattr(version, "decision", None)
    start, end, changes = version.starts_at, version.ends_at, [version.written_at]
    changes += [decision.signed_at] if decision else []
    corrected = 0
    if burn is not None:
        start, end = burn.ignited_at, max(burn.ignited_at, end)
        changes.append(burn.ignited_at)
        if burn.current is not None:
            end, corrected = burn.current.ended_at, burn.current.number - 1
            changes.append(burn.current.written_at)
    return Event(
        "booking", version.unit, start, end, version.get_exercise_display(), plan.state,
        f"plan-{plan.public_id}",
        version.number * len(BOOKED) + BOOKED.index(PlanState(plan.state)) + corrected,
        max(changes), plan.public_id,
    )  # fmt: skip


def _cooling(site: Site, booked: Iterable[Event], now: dt.datetime) -> list[Event]:
    """The cool-down after as many burns in a row as the unit's chart allows."""
    edition = edition_in_force(site, now.astimezone(site.zone).date())
    if edition is None:
        return []
    charts = {row.unit_id: row for row in BurnSequence.objects.filter(edition=edition)}
    found: list[Event] = []

    def unit_and_day(event: Event) -> tuple[int, dt.date]:
        assert isinstance(event.start, dt.datetime)
        return event.unit.pk, event.start.astimezone(site.zone).date()

    ordered = sorted(booked, key=lambda event: (unit_and_day(event), _clock(event)))
    for (unit, _day), events in groupby(ordered, unit_and_day):
        if unit in charts:
            found += _coolings_of_day(list(events), charts[unit])
    return found


def _coolings_of_day(events: Sequence[Event], chart: BurnSequence) -> list[Event]:
    found: list[Event] = []
    run, before = 0, None
    cooling = dt.timedelta(minutes=chart.cooling_min)
    for event in events:
        assert isinstance(event.start, dt.datetime) and isinstance(event.end, dt.datetime)
        run = 1 if before is None or event.start - before >= cooling else run + 1
        before = event.end
        if run % chart.burns_before_cooling == 0:
            found.append(
                Event(
                    "cooling", event.unit, event.end, event.end + cooling, _("cool-down"), "",
                    f"cooling-{event.plan}", event.sequence, event.modified, event.plan,
                )
            )  # fmt: skip
    return found


def due_events(
    site: Site, units: Sequence[Unit], start: dt.datetime, end: dt.datetime, now: dt.datetime
) -> list[Event]:
    """A whole day for each inspection that falls due in the period."""
    first, last = start.astimezone(site.zone).date(), end.astimezone(site.zone).date()
    all_due = inspections_due(site, units, now)
    fallen = [
        (unit, due, due.on)
        for unit in units
        for due in all_due[unit.pk]
        if due.on is not None and first <= due.on < last
    ]
    looked = _looked(units, now) if fallen else {}
    found = []
    for unit, due, day in fallen:
        count, when = looked[unit.pk, due.kind]
        what = _("{inspection} due").format(inspection=due.label)
        key = f"inspection-{due.kind}-{unit.public_id}"
        found.append(Event("inspection", unit, day, day + DAY, what, "", key, count, when))
    return found


def _looked(
    units: Sequence[Unit], now: dt.datetime
) -> dict[tuple[int, str], tuple[int, dt.datetime]]:
    """How often each kind of inspection was done of each unit, and when last."""
    rows = Inspection.objects.filter(unit__in=list(units), done_at__lte=now).order_by()
    told = rows.values_list("unit", "kind").annotate(n=Count("pk"), last=Max("done_at"))
    return {(unit, kind): (count, last) for unit, kind, count, last in told}


@dataclass(frozen=True, slots=True)
class CalendarCell:
    """One unit on one day, or one day of a month."""

    day: dt.date
    today: bool
    events: list[Event]
    outages: list[Unit]  # out of service that day, as far as is known
    outside: bool = False  # of the month that is shown


@dataclass(frozen=True, slots=True)
class UnitRow:
    """One unit's week, with how it stands now and when it is due."""

    unit: Unit
    state: str
    due: Due | None  # the next one; None where no row asks for any
    cells: list[CalendarCell]


def week_of(site: Site, monday: dt.date, now: dt.datetime) -> list[UnitRow]:
    """Units by days."""
    units = units_of(site)
    events = _by_day(site, monday, 7, now)
    states = inspections.unit_states(units, now)
    due = inspections_due(site, units, now)
    today = now.astimezone(site.zone).date()
    out = _out_on(site, units, monday, 7, now)
    rows = []
    for unit in units:
        cells = [
            CalendarCell(
                day, day == today, [each for each in events[day] if each.unit.pk == unit.pk],
                [unit] if unit.pk in out[day] else [],
            )
            for day in _days(monday, 7)
        ]  # fmt: skip
        rows.append(UnitRow(unit, states[unit.pk].word, next(iter(due[unit.pk]), None), cells))
    return rows


def month_of(site: Site, first: dt.date, now: dt.datetime) -> list[list[CalendarCell]]:
    """Weeks by days, from the Monday before the first to the Sunday after the last."""
    monday = first - dt.timedelta(days=first.weekday())
    following = (first.replace(day=28) + dt.timedelta(days=4)).replace(day=1)
    weeks = -(-(following - monday).days // 7)
    events = _by_day(site, monday, 7 * weeks, now)
    units = units_of(site)
    out = _out_on(site, units, monday, 7 * weeks, now)
    today = now.astimezone(site.zone).date()
    cells = [
        CalendarCell(
            day, day == today, events[day], [unit for unit in units if unit.pk in out[day]],
            day.month != first.month,
        )
        for day in _days(monday, 7 * weeks)
    ]  # fmt: skip
    return [cells[at : at + 7] for at in range(0, len(cells), 7)]


def _days(first: dt.date, count: int) -> list[dt.date]:
    return [first + dt.timedelta(days=step) for step in range(count)]


def _by_day(site: Site, first: dt.date, count: int, now: dt.datetime) -> dict[dt.date, list[Event]]:
    start = dt.datetime.combine(first, dt.time(), tzinfo=site.zone)
    end = dt.datetime.combine(first + dt.timedelta(days=count), dt.time(), tzinfo=site.zone)
    found: dict[dt.date, list[Event]] = {day: [] for day in _days(first, count)}
    for event in events_between(site, start, end, now):
        day = event.start
        if isinstance(day, dt.datetime):
            day = day.astimezone(site.zone).date()
        if day in found:
            found[day].append(event)
    return found


def _out_on(
    site: Site, units: Sequence[Unit], first: dt.date, count: int, now: dt.datetime
) -> dict[dt.date, set[int]]:
    """Which units are out of service on which day: what is open today lasts until further notice."""
    end = dt.datetime.combine(first + dt.timedelta(days=count), dt.time(), tzinfo=site.zone)
    found: dict[dt.date, set[int]] = {day: set() for day in _days(first, count)}
    for unit, since, until in inspections.unsafe_spans(units, end):
        for day, keys in found.items():
            start = dt.datetime.combine(day, dt.time(), tzinfo=site.zone)
            if since < start + DAY and (until is None or until > start):
                keys.add(unit)
    return found
