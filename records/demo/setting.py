"""The invented ground: its people, units, standard and products, founded through the services."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.conf import settings

from facility.people.models import Person
from facility.people.permissions import Role
from facility.rulebook.models import Edition
from facility.sites.models import Bay, Site, Unit
from records.ground import services as ground
from records.standard import services as standard
from records.standard.stating import state_fact
from records.stock import services as stock
from records.stock.measuring import add_meter
from records.stock.models import Meter, Product
from records.stock.reordering import set_reorder

FIXTURES = Path(settings.BASE_DIR) / "fixtures"


def fixture(name: str) -> dict[str, Any]:
    return json.loads((FIXTURES / name).read_text())  # type: ignore[no-any-return]


@dataclass
class Setting:
    """The founded ground, with its cast by sign-in and its products by kind."""

    site: Site
    people: dict[str, Person] = field(default_factory=dict)
    learners: dict[str, list[Person]] = field(default_factory=dict)
    units: list[Unit] = field(default_factory=list)
    bays: list[Bay] = field(default_factory=list)
    products: dict[str, Product] = field(default_factory=dict)
    meters: dict[str, Meter] = field(default_factory=dict)
    suppliers: list[str] = field(default_factory=list)


def found(told: Mapping[str, Any], start: dt.datetime) -> Setting:
    """Found the ground at ``start``, a working day before the first season."""
    admin = next(each for each in told["people"] if "admin" in each["roles"])
    site, administrator = ground.found_ground(
        name=told["ground"]["name"], time_zone=told["ground"]["time_zone"],
        admin_name=admin["name"], admin_sign_in=admin["sign_in"], password=told["password"],
        currency=told["ground"]["currency"], at=start,
    )  # fmt: skip
    setting = Setting(site, {"admin": administrator}, suppliers=told["suppliers"])
    _add_people(setting, told, start)
    _add_ground(setting, told, start)
    _add_standard(setting, told, start)
    _add_products(setting, start)
    return setting


def _add_people(setting: Setting, told: Mapping[str, Any], at: dt.datetime) -> None:
    admin = setting.people["admin"]
    for each in told["people"]:
        if each["sign_in"] == "admin":
            continue
        person = ground.add_person(
            setting.site, name=each["name"], sign_in=each["sign_in"], password=told["password"],
            lasting=True, role=Role(each["roles"][0]), since=at.date(), by=admin, at=at,
        )  # fmt: skip
        setting.people[each["sign_in"]] = person
        for kind in each.get("competences", ()):
            ground.record_competence(
                setting.site, person, kind=kind, issued_on=at.date() - dt.timedelta(days=200),
                expires_on=at.date() + dt.timedelta(days=1200), by=admin, at=at,
            )  # fmt: skip
    for course, names in told["courses"].items():
        setting.learners[course] = [
            ground.add_person(
                setting.site, name=name, role=Role.LEARNER, course=course, since=at.date(),
                by=admin, at=at,
            )
            for name in names
        ]  # fmt: skip


def _add_ground(setting: Setting, told: Mapping[str, Any], at: dt.datetime) -> None:
    stores, inspector = setting.people["stores"], setting.people["inspector"]
    setting.bays = [
        ground.add_bay(setting.site, name=name, by=stores, at=at) for name in told["bays"]
    ]
    for name, mark, holds in (("pin meter 1", "no. 10442", 200), ("pin meter 2", "no. 21877", 380)):
        day = at.date()
        meter = add_meter(
            setting.site, name=name, kind="pin", mark=mark, by=stores, at=at,
            calibrated_on=day - dt.timedelta(days=10), due_on=day + dt.timedelta(days=holds),
            note="checked on the 12 % and 18 % blocks",
        )  # fmt: skip
        setting.meters[name] = meter
    for each in told["units"]:
        described = numbers(each["description"])
        days_old = 365 * int(described.pop("years_old", 2)) + 170
        unit = ground.commission_unit(
            setting.site,
            description={**described, "commissioned_on": at.date() - dt.timedelta(days=days_old)},
            openings=[numbers(row) for row in each["openings"]],
            positions=[numbers(row) for row in each["positions"]],
            sensors=[numbers(row) for row in each["sensors"]],
            by=inspector, at=at,
        )  # fmt: skip
        setting.units.append(unit)


def _number(value: Any) -> Any:
    try:
        return Decimal(value) if isinstance(value, str) else value
    except ArithmeticError:
        return value


def numbers(row: Mapping[str, Any]) -> dict[str, Any]:
    """A row of the fixture with its numbers as Decimals."""
    return {key: _number(value) for key, value in row.items()}


def _add_standard(setting: Setting, told: Mapping[str, Any], at: dt.datetime) -> None:
    """Two editions: the second one, a year on, tightened the moisture limit."""
    rows = _chosen(told)
    older = [{**row, "limit": "13"} if row["code"] == "F-15" else row for row in rows]
    charts = [
        {
            "unit": unit,
            "caps_dry_kg": [Decimal(cap) for cap in each["caps"]],
            "burns_before_cooling": each["burns_before_cooling"],
            "cooling_min": each["cooling_min"],
            "wait_min": each["wait_min"],
            "trial_on": at.date() - dt.timedelta(days=40),
            "trial_note": "trial burns, ceiling and wall temperatures recorded",
        }
        for unit, each in zip(setting.units, told["units"], strict=True)
    ]
    _state(setting, at, 365)
    first = _edition(setting, "KM-1", "Kestrel Moor standard, first edition", older, charts, at)
    _adopt(setting, first, at.date(), at)
    later = at + dt.timedelta(days=330)
    second = _edition(setting, "KM-2", "Kestrel Moor standard, second edition", rows, charts, later)
    _adopt(setting, second, (later + dt.timedelta(days=5)).date(), later)
    _state(setting, later, 800)


def _chosen(told: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The starter rulebook with what this ground decided; every other row is switched off."""
    choices = {each["code"]: each for each in told["standard"]}
    return [
        {**row, "on": False, **choices.get(row["code"], {})}
        for row in fixture("rulebook.json")["rows"]
    ]


def _state(setting: Setting, at: dt.datetime, days: int) -> None:
    """The permit and the notice to the neighbours, for a season and a bit."""
    for fact, note in (
        ("permit.burn_permit", "permit of the district, filed in the office"),
        ("permit.neighbours_told", "letter to the seven houses on the moor road"),
    ):
        state_fact(
            setting.site, fact=fact, value="yes", since=at.date(),
            until=at.date() + dt.timedelta(days=days), note=note, by=setting.people["safety"], at=at,
        )  # fmt: skip


def _edition(
    setting: Setting, code: str, title: str, rows: Any, charts: Any, at: dt.datetime
) -> Edition:
    by = setting.people["safety"]
    edition = standard.draft_edition(
        setting.site, code=code, title=title, rows=rows, charts=charts, by=by, at=at
    )
    standard.propose_edition(edition, by=by, at=at)
    return edition


def _adopt(setting: Setting, edition: Edition, day: dt.date, at: dt.datetime) -> None:
    standard.adopt_edition(edition, in_force_from=day, by=setting.people["manager"], at=at)


def _add_products(setting: Setting, at: dt.datetime) -> None:
    for each in fixture("products.json")["products"]:
        sheet = stock.Sheet(*map(Decimal, each["sheet"])) if "sheet" in each else None
        setting.products[each["kind"]] = stock.add_product(
            setting.site, name=each["name"], kind=each["kind"], standard_class=each["standard_class"],
            sheet=sheet, calorific_dry_mj_kg=Decimal(each["calorific"]),
            calorific_source=each["source"], by=setting.people["stores"], at=at,
        )  # fmt: skip
        if "reorder" in each:
            lead, spread, service, multiple, lasts = map(Decimal, each["reorder"])
            set_reorder(
                setting.products[each["kind"]], lead_days=lead, spread_days=spread,
                service_pct=service, multiple=multiple, lasts_days=lasts,
                by=setting.people["stores"], at=at,
            )  # fmt: skip
