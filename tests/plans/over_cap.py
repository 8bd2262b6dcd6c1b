"""Plans that go past the standard, each by one thing, and the row that must refuse each.

A case is what is wrong, the change that makes it so, and the code of the row. The same table is
asked of the service, of the form, of the import and of the command that judges a file; ``ready`` builds the ground and
``content`` the plan that passes, to which a change is then made.

A board holds 25 kg of dry wood and, at 8 %, 25 * 17.3 = 432.5 MJ. The chart allows 100 kg for the
first burn of the day, 75 for the second, none after it; two in a row, 30 minutes apart.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal
from typing import Any

from facility.kinds import Duty
from records.inspections import services as inspections
from records.plans.content import Line, Place, PlanContent
from tests import builders
from tests.builders import Ground

MINUTE, DAY = dt.timedelta(minutes=1), dt.timedelta(days=1)
MEDIC = ("burn.medic_on_site", "yes")

EXTRA = [  # beside the rows of the small standard
    {"code": "W-04", "title": "Water on site", "fact": "water.on_site", "comparison": ">=", "limit": "9000"},
    {"code": "P-15c", "title": "Medic on site", "fact": "burn.medic_on_site", "comparison": "true"},
    {"code": "F-16", "title": "Days since the reading", "fact": "lot.days_since_reading", "comparison": "<=", "limit": "5"},
    {"code": "E-01", "title": "Exposures", "fact": "person.exposures", "window": "day", "comparison": "<=", "limit": "2"},
]  # fmt: skip
COAST = {"code": "J-07", "title": "Energy", "fact": "charge.energy", "comparison": "<=", "limit": "1700"}  # fmt: skip
BLOCKS = {"severity": "block", "clause": "test standard", "basis": "local"}


def ready(ground: Ground, now: dt.datetime) -> None:
    """Put the two editions in force today, the ground's and the coast's, and stock the store."""
    day = now.astimezone(ground.site.zone).date()
    rows = [*builders.rows(), *({**BLOCKS, **row} for row in EXTRA)]
    builders.adopt(ground, "T-2", rows, at=now, day=day)
    builders.adopt(ground, "C-1", [{**BLOCKS, **COAST}], at=now, day=day, jurisdiction="The coast",
                   caps=("500", "500", "500"))  # fmt: skip
    builders.accepted_lot(ground, 200, at=now)


def content(ground: Ground, now: dt.datetime) -> PlanContent:
    """A plan for noon in two days on the ground that meets everything: one board."""
    day = now.astimezone(ground.site.zone).date() + 2 * DAY
    starts_at = dt.datetime.combine(day, dt.time(12), ground.site.zone)
    return builders.content(ground, 1, starts_at=starts_at, stated=(MEDIC,))


def as_file(plan: PlanContent) -> dict[str, Any]:
    """The plan as a file for the import says it: names of things, sign-ins of people."""
    return {
        "unit": plan.unit.name, "exercise": plan.exercise,
        "starts_at": plan.starts_at.isoformat(), "ends_at": plan.ends_at.isoformat(),
        "water_l": str(plan.water_l), "objective": plan.objective,
        "abort_criteria": plan.abort_criteria,
        "charge": [_line(line) for line in plan.charge],
        "crew": [{"person": place.person.sign_in, "duty": place.duty} for place in plan.crew],
        "stated": dict(plan.stated),
    }  # fmt: skip


def _line(line: Line) -> dict[str, str | None]:
    return {
        "position": line.position.name, "product": line.product.name,
        "quantity": str(line.quantity), "lot": line.lot.code if line.lot else None,
    }  # fmt: skip


Change = Callable[[Ground, PlanContent, dt.datetime], PlanContent]


def boards(count: int) -> Change:
    def change(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
        return replace(plan, charge=(replace(plan.charge[0], quantity=Decimal(count)),))

    return change


def after(*starts_min: int, then: int = 1) -> Change:
    """Other plans with one board, approved, that start so many minutes before, for 20 each."""

    def change(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
        for minutes in starts_min:
            start = plan.starts_at - minutes * MINUTE
            before = replace(plan, starts_at=start, ends_at=start + 20 * MINUTE)
            builders.approved(ground, before, at=now)
        return boards(then)(ground, plan, now)

    return change


def without(duty: Duty) -> Change:
    def change(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
        return replace(plan, crew=tuple(each for each in plan.crew if each.duty != duty))

    return change


def also(who: str, duty: Duty) -> Change:
    def change(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
        return replace(plan, crew=(*plan.crew, Place(ground.cast[who], duty)))

    return change


def learners(count: int, *, instructors: int = 1) -> Change:
    def change(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
        more = [Place(ground.manager, Duty.CREW)] * (instructors - 1)
        return replace(plan, crew=(*builders.crew(ground, count), *more))

    return change


def lot_read(*readings: str, accepted: bool = False, days_ago: int = 0) -> Change:
    def change(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
        at = now - days_ago * DAY
        lot = builders.deliver(ground, at=at)
        builders.read(ground, lot, *readings, at=at)
        if accepted:
            builders.stock.accept_lot(lot, by=ground.stores, at=now)
        return replace(plan, charge=(replace(plan.charge[0], lot=lot),))

    return change


def with_liquid(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
    lot = builders.accepted_lot(ground, product=ground.liquid, at=now)
    line = Line(plan.charge[0].position, ground.liquid, Decimal("0.01"), lot)
    return replace(plan, charge=(*plan.charge, line))


def unit_stopped(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
    inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=now
    )
    return plan


def unit_never_inspected(ground: Ground, plan: PlanContent, now: dt.datetime) -> PlanContent:
    bare = builders.commission(ground, "Unit 2", at=now, inspected=False)
    line = replace(plan.charge[0], position=bare.positions.get(name="Ceiling"))
    return replace(plan, unit=bare, charge=(line,))


def water(litres: int) -> Change:
    return lambda ground, plan, now: replace(plan, water_l=Decimal(litres))


def stated(*facts: tuple[str, str]) -> Change:
    return lambda ground, plan, now: replace(plan, stated=facts)


CASES: list[tuple[str, Change, str]] = [
    ("125 kg, 100 allowed", boards(5), "Q-1"),
    ("the second burn with 100 kg, 75 allowed", after(120, then=4), "Q-1"),
    ("a third burn, for which the chart has no cap", after(300, 150), "Q-1"),
    ("a third burn in a row, two allowed", after(100, 50), "Q-2"),
    ("15 minutes after the burn before, 30 needed", after(35), "Q-3"),
    ("1730 MJ, 1700 allowed on the coast and 2000 by the ground", boards(4), "J-07"),
    ("liquid, none allowed", with_liquid, "F-05"),
    ("13 % moisture, 12 allowed", lot_read(*["13"] * 5), "F-15"),
    ("a lot that nobody accepted", lot_read(*["8"] * 5), "F-03"),
    (
        "a lot last read 6 days ago, 5 allowed",
        lot_read(*["8"] * 5, accepted=True, days_ago=6),
        "F-16",
    ),
    ("six learners to an instructor, five allowed", learners(6), "P-01"),
    ("nobody in charge", without(Duty.IN_CHARGE), "P-06"),
    ("two in charge", also("manager", Duty.IN_CHARGE), "P-06"),
    ("no safety officer", without(Duty.SAFETY), "P-07"),
    ("a safety officer who pumps as well", also("safety", Duty.PUMP), "P-08"),
    ("a crew instructor who is not qualified", also("stores", Duty.CREW), "C-03"),
    ("12 people inside, 10 allowed", learners(7, instructors=2), "H-1"),
    ("a unit out of service", unit_stopped, "U-03"),
    ("8999 L of water, 9000 needed", water(8999), "W-04"),
    ("no medic on site", stated(("burn.medic_on_site", "no")), "P-15c"),
    ("nobody said whether a medic is on site", stated(), "P-15c"),
    ("a unit never inspected", unit_never_inspected, "U-04"),
    ("a third exposure in a day, two allowed", after(300, 150), "E-01"),
]
