"""The facts of what is judged one by one: the lots, products and people of a burn, and the use of
its unit over every window a rule may name."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django.utils.translation import gettext as _

from facility.kinds import INSIDE, Duty
from facility.people.models import CompetenceKind, Person
from facility.rules.engine import Case, windowed
from facility.rules.facts import Known, Subject, Window
from facility.sites.models import Site
from records.ground import selectors as ground
from records.plans import selectors as plans
from records.plans.content import PlanContent
from records.plans.figures import LineFigures
from records.plans.models import Plan
from records.stock.rounds import Round, rounds_of

QUALIFIED = {
    Duty.IN_CHARGE: CompetenceKind.LIVE_FIRE,
    Duty.CREW: CompetenceKind.LIVE_FIRE,
    Duty.IGNITION: CompetenceKind.LIVE_FIRE,
    Duty.SAFETY: CompetenceKind.SAFETY,
}

Stated = Mapping[str, Mapping[str, Known]]
Moments = Iterable[dt.datetime]


@dataclass(frozen=True, slots=True)
class Around:
    """The burn's own moment, and what each window means around it on the ground's calendar."""

    moment: dt.datetime
    day: dt.date
    bounds: Mapping[Window, tuple[dt.datetime, dt.datetime]]  # from, and before

    def count(self, moments: Iterable[dt.datetime], window: Window) -> int:
        first, end = self.bounds[window]
        return sum(first <= moment < end for moment in moments)

    @property
    def year(self) -> tuple[dt.datetime, dt.datetime]:
        """The calendar year and the 28 days before it: all that any window can reach."""
        first, end = self.bounds[Window.YEAR]
        return first - dt.timedelta(days=28), end


def around(moment: dt.datetime, site: Site) -> Around:
    """The windows around a burn: the calendar day, month and year that it lies in, whether another
    burn comes before or after it, and the days up to it."""
    day = moment.astimezone(site.zone).date()

    def midnight(date: dt.date) -> dt.datetime:
        return dt.datetime.combine(date, dt.time(), tzinfo=site.zone).astimezone(dt.UTC)

    def days_up_to(days: int) -> tuple[dt.datetime, dt.datetime]:
        just_after = moment + dt.timedelta(microseconds=1)
        return just_after - dt.timedelta(days=days), just_after

    next_month = (day.replace(day=28) + dt.timedelta(days=4)).replace(day=1)
    return Around(moment, day, {
        Window.DAY: (midnight(day), midnight(day + dt.timedelta(days=1))),
        Window.WEEK: days_up_to(7),
        Window.MONTH_ROLLING: days_up_to(28),
        Window.MONTH: (midnight(day.replace(day=1)), midnight(next_month)),
        Window.YEAR: (midnight(dt.date(day.year, 1, 1)), midnight(dt.date(day.year + 1, 1, 1))),
    })  # fmt: skip


CALENDAR = (Window.DAY, Window.WEEK, Window.MONTH_ROLLING, Window.MONTH, Window.YEAR)


def lot_cases(
    burn: Case, figures: Sequence[LineFigures], stated: Stated, at: dt.datetime
) -> list[Case]:
    """One case for each lot that the charge draws on."""
    lots = {each.lot.pk: each.lot for each in figures if each.lot is not None}
    rounds = rounds_of(lots.values(), at)
    return [
        replace(
            burn,
            subject=Subject.LOT,
            label=lot.code,
            product=lot.product.kind,
            facts={
                **_stated_of(lot, "cut_from", stated),
                **_lot_facts(lot, rounds.get(lot.pk), at),
            },
        )
        for lot in lots.values()
    ]


def _lot_facts(lot: Any, last: Round | None, at: dt.datetime) -> dict[str, Known]:
    unread = Known(None, _("the lot has no readings"))
    mean = lot.moisture_pct
    return {
        "lot.accepted": Known(lot.burnable, _("nobody accepted it")),
        "lot.moisture_mean": unread if mean is None else Known(float(mean)),
        "lot.moisture_highest": unread if last is None else Known(float(last.highest_pct)),
        "lot.readings": Known(float(last.count if last else 0)),
        "lot.days_since_reading": (
            Known((at - last.read_at).total_seconds() / 86400) if last else unread
        ),
        "lot.untreated": Known(lot.delivery.untreated, _("its docket does not say so")),
        "lot.class_recorded": Known(bool(lot.product.standard_class)),
        "lot.docket_recorded": Known(bool(lot.delivery.docket)),
    }


def _stated_of(row: Any, origin: str, stated: Stated) -> Mapping[str, Known]:
    """What was stated of a lot or product, and of the one that it was cut from."""
    before = getattr(row, origin)
    return {
        **(_stated_of(before, origin, stated) if before else {}),
        **stated.get(row.public_id, {}),
    }


def product_cases(burn: Case, figures: Sequence[LineFigures], stated: Stated) -> list[Case]:
    products = {each.line.product.pk: each.line.product for each in figures}
    return [
        replace(
            burn,
            subject=Subject.PRODUCT,
            label=str(product),
            product=product.kind,
            facts={
                **_stated_of(product, "piece_of", stated),
                "product.kind": Known(str(product.kind)),
                "product.density": (
                    Known(float(product.density_kg_m3))
                    if product.density_kg_m3
                    else Known(None, _("it has no density"))
                ),
            },
        )
        for product in products.values()
    ]


def person_cases(
    burn: Case, content: PlanContent, site: Site, stated: Stated,
    held: Mapping[tuple[int, str], dt.date], *, plan: Plan | None, planned: bool,
) -> list[Case]:  # fmt: skip
    """One case for each person of the crew, learners included."""
    duties: dict[int, set[str]] = {}
    people: dict[int, Person] = {}
    for place in content.crew:
        duties.setdefault(place.person.pk, set()).add(str(place.duty))
        people[place.person.pk] = place.person
    near = around(content.starts_at, site)
    spans = _fires_of(people, near, plan=plan, planned=planned)
    return [
        replace(
            burn,
            subject=Subject.PERSON,
            label=person.name,
            duties=frozenset(duties[pk]),
            facts={
                **stated.get(person.public_id, {}),
                **_exposure(near, site, spans.get(pk, []), duties[pk]),
                **_competence(pk, duties[pk], held, near.day),
                "person.duties": Known(float(len(duties[pk]))),
            },
        )
        for pk, person in people.items()
    ]


def _fires_of(
    people: Iterable[int], near: Around, *, plan: Plan | None, planned: bool
) -> dict[int, ground.Spans]:
    """The fires each person was inside at, and will be by approved plans, around this one."""
    since, until = near.year
    done = ground.exposures_of(people, since, until)
    if planned:
        ahead = plans.approved_for(people, since, until, besides=plan)
        for person, spans in ahead.items():
            done.setdefault(person, []).extend(spans)
    return done


def _exposure(near: Around, site: Site, spans: ground.Spans, duties: set[str]) -> dict[str, Known]:
    """Counts of fires a person is inside at; this one counts when a duty takes them inside."""
    own = int(bool(duties & set(INSIDE)))
    starts = [start for start, _end in spans]
    facts = {
        windowed("person.exposures", window): Known(float(own + near.count(starts, window)))
        for window in CALENDAR
    }
    days = {start.astimezone(site.zone).date() for start in starts}
    ended = [end for start, end in spans if start < near.moment]
    rest = (near.moment - max(ended)).total_seconds() / 60 if ended else None
    facts["person.consecutive_days"] = Known(float(_run_of_days(near.day, days) if own else 0))
    facts["person.rest"] = Known(24 * 60.0 if rest is None else max(0.0, rest))
    return facts


def _run_of_days(day: dt.date, days: set[dt.date]) -> int:
    run = 1
    while day - dt.timedelta(days=run) in days:
        run += 1
    return run


def _competence(
    person: int, duties: set[str], held: Mapping[tuple[int, str], dt.date], day: dt.date
) -> dict[str, Known]:
    """Days until the first of the qualifications that the person's duties need runs out."""
    needed = {QUALIFIED[Duty(duty)] for duty in duties if Duty(duty) in QUALIFIED}
    if not needed:
        return {}
    until = [held.get((person, kind)) for kind in needed]
    if None in until:
        return {"person.qualification_days_left": Known(None, _("not held that day"))}
    left = min((end - day).days for end in until if end is not None)
    return {"person.qualification_days_left": Known(float(left))}


@dataclass(frozen=True, slots=True)
class UnitYear:
    """The burns of a unit in the year around one of its burns: done, and approved ahead."""

    near: Around
    done: list[ground.Used]
    ahead: ground.Spans

    def day_before(self) -> ground.Spans:
        """Start and end of the burns of the 24 hours before, in order.

        A day of hours, not of the calendar: a fire that ended before midnight heats the unit.
        """
        since = self.near.moment - dt.timedelta(days=1)
        spans = [(use.ignited_at, use.ended_at) for use in self.done] + self.ahead
        return sorted(span for span in spans if since <= span[0] < self.near.moment)


def unit_year(content: PlanContent, site: Site, *, plan: Plan | None, planned: bool) -> UnitYear:
    """At ignition only what really burned counts (``planned`` False)."""
    near = around(content.starts_at, site)
    done = ground.uses_of(content.unit, *near.year)
    ahead = plans.approved_between(content.unit, *near.year, besides=plan) if planned else []
    return UnitYear(near, done, ahead)


def unit_use(
    content: PlanContent, year: UnitYear, figures: Sequence[LineFigures]
) -> dict[str, Known]:
    """Burns, dry mass and energy of the unit over every window, this burn included.

    Approved burns still ahead count as burns; what they will burn is not known yet, so mass and
    energy are those of the burns done and of this charge.
    """
    own = of_charge(figures)
    ahead = [start for start, _end in year.ahead]
    overlapping = sum(
        start < content.ends_at and end > content.starts_at for start, end in year.ahead
    )
    facts = {"burn.fires_in_unit": Known(1.0 + overlapping)}
    for window in CALENDAR:
        first, end = year.near.bounds[window]
        inside = [use for use in year.done if first <= use.ignited_at < end]
        facts |= use_facts(window, _total(inside), year.near.count(ahead, window), own)
    return facts | use_facts(Window.LIFE, ground.use_of(content.unit), len(ahead), own)


def _total(uses: Sequence[ground.Used]) -> ground.Use:
    return ground.Use(
        len(uses), sum(use.dry_mass_kg for use in uses), sum(use.energy_mj for use in uses)
    )


def of_charge(figures: Sequence[LineFigures]) -> tuple[float | None, float | None]:
    """Dry mass and energy of the charge, each None while a part of it is not known."""
    return _known_sum(figures, "dry_mass_kg"), _known_sum(figures, "energy_mj")


def _known_sum(figures: Sequence[LineFigures], name: str) -> float | None:
    values = [getattr(each, name) for each in figures]
    return None if not values or None in values else float(sum(values))


def use_facts(
    window: Window, use: ground.Use, ahead: int, own: tuple[float | None, float | None]
) -> dict[str, Known]:
    mass, energy = own
    unknown = Known(None, _("the charge has no measured mass yet"))
    return {
        windowed("unit.burns", window): Known(float(use.burns + ahead + 1)),
        windowed("unit.dry_mass", window): (
            unknown if mass is None else Known(mass + use.dry_mass_kg)
        ),
        windowed("unit.energy", window): (
            unknown if energy is None else Known(energy + use.energy_mj)
        ),
    }
