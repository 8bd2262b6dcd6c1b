"""The newest edition brings a check list and second signatures; burns since then are told with
their day: the roll, the briefing, the weather, fit to burn, and what came after."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from facility.kinds import Duty
from facility.people.models import Person
from facility.rulebook.selectors import edition_in_force, items_in_force
from facility.rulebook.starters import starter_items, starter_rows
from records.burns import before, closing
from records.burns.aftermath import sheet_hash, waits_for_second
from records.burns.models import Burn
from records.burns.readiness import fit_hash, items_for, places_on_the_day
from records.demo.setting import Setting
from records.plans.models import Plan, PlanVersion
from records.plans.selectors import newest_version
from records.standard import services as standard

MINUTE = dt.timedelta(minutes=1)
READ = (  # in words, wind [m/s], from, air [degC], humidity [%]
    ("dry, light cloud", "3.4", "w", "9.5", "72"),
    ("overcast, calm", "0.4", "", "7.0", "84"),
    ("dry, gusts from the moor", "6.2", "nw", "8.5", "66"),
)


def adopt_check_list(setting: Setting, told: Mapping[str, Any], at: dt.datetime) -> None:
    """The third edition, once the second is in force; a short story lives under the first."""
    day = at.astimezone(setting.site.zone).date()
    newest = edition_in_force(setting.site, day)
    if newest is None or newest.code != "KM-2":
        return
    by = setting.people["safety"]
    drafted = at - dt.timedelta(days=6)
    third = standard.draft_edition(
        setting.site, code="KM-3", title="Kestrel Moor standard, third edition", copy_of=newest,
        items=starter_items("starter"), by=by, at=drafted,
    )  # fmt: skip
    wanted = {each["code"]: each for each in told["third"]}
    for row in starter_rows("starter"):
        if row["code"] in wanted:
            standard.write_row(third, {**row, **wanted[row["code"]]}, by=by, at=drafted)
    standard.propose_edition(third, by=by, at=drafted)
    standard.adopt_edition(third, in_force_from=day, by=setting.people["manager"], at=drafted)


def has_day(plan: Plan, moment: dt.datetime) -> bool:
    """Whether the standard of that day brings a check list of its own."""
    return bool(items_in_force(plan.site, moment.astimezone(plan.site.zone).date()))


def prepare(plan: Plan, lit: dt.datetime) -> None:
    """Everything before the fire: looked at by two, the roll, the briefing, two signatures."""
    countersign_waiting(plan, lit - 60 * MINUTE)
    version = newest_version(plan)
    lead, safety = _held(version, Duty.IN_CHARGE), _held(version, Duty.SAFETY)
    look_round(plan, version, by=safety, at=lit - 40 * MINUTE)
    crew = version.crew.select_related("person")
    here = {(place.duty, place.person.public_id): place.person.public_id for place in crew}
    before.call_roll(plan, here, by=safety, at=lit - 32 * MINUTE)
    items = items_for(plan.site, version.starts_at)
    people = [place.person.public_id for place in places_on_the_day(version)]
    before.hold_briefing(
        plan, people, held_at=lit - 28 * MINUTE, by=lead, at=lit - 25 * MINUTE,
        topics=[item.code for item in items if item.stage == "briefing"],
    )  # fmt: skip
    words, wind, direction, air, humidity = READ[version.pk % len(READ)]
    before.note_weather(
        plan, words=words, wind_m_s=Decimal(wind), wind_from=direction, temperature_c=Decimal(air),
        humidity_pct=Decimal(humidity), read_at=lit - 15 * MINUTE, by=safety, at=lit - 15 * MINUTE,
    )  # fmt: skip
    last = {item.code: before.Look(True) for item in items if item.stage == "pre_ignition"}
    before.look_at(plan, last, seen_at=lit - 8 * MINUTE, by=lead, at=lit - 8 * MINUTE)
    for person in (lead, safety):
        before.sign_fit(plan, shown_hash=fit_hash(version), by=person, at=lit - 3 * MINUTE)


def look_round(plan: Plan, version: PlanVersion, *, by: Person, at: dt.datetime) -> None:
    looks = {
        item.code: before.Look(True)
        for item in items_for(plan.site, version.starts_at)
        if item.stage == "walk_through"
    }
    before.look_at(plan, looks, seen_at=at, by=by, at=at)


def _held(version: PlanVersion, duty: str) -> Person:
    return next(place.person for place in version.crew.all() if place.duty == duty)


def after(burn: Burn) -> closing.After:
    """Water and unburnt wood of a burn, by a source of chance of its own."""
    chance = random.Random(burn.pk)
    return closing.After(
        water_l=Decimal(chance.randint(14, 42) * 10), unburnt_kg=Decimal(chance.randint(0, 9))
    )


def remark(burn: Burn, ended: dt.datetime) -> None:
    """Now and then something that did not go as planned."""
    kind, what, then = (
        ("near_miss", "Boot caught on the threshold on the way out, no fall", ""),
        ("deviation", "Roof vent opened two minutes late", "The chain had caught; freed by hand"),
        ("unusual", "Wind turned to the south during decay", ""),
    )[burn.pk % 3]
    closing.record_remark(
        burn, kind=kind, what=what, then=then, happened_at=ended - 6 * MINUTE, by=burn.started_by,
        at=ended + 5 * MINUTE,
    )  # fmt: skip


def countersign_waiting(plan: Plan, at: dt.datetime) -> None:
    """Before the next fire the safety officer signs for the last ones; the newest still waits."""
    for burn in waits_for_second(plan.site).filter(ignited_at__lt=at):
        by = _held(burn.version, Duty.SAFETY)
        assert burn.current is not None
        closing.countersign_burn(burn, shown_hash=sheet_hash(burn.current), by=by, at=at)
