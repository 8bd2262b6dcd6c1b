"""Plans from a file: names instead of keys, every fault named, nothing half read.

One plan is a mapping: unit, exercise, starts_at, ends_at (ISO 8601 with zone), water_l, objective,
abort_criteria, charge (position, product, quantity, lot), crew (sign_in or name, duty), stated.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from facility.people import selectors as people
from facility.people.models import Person
from facility.refusals import WrongValue
from facility.sites.models import ChargePosition, Site, Unit
from records.ground.selectors import units_with_positions
from records.plans.content import Line, Place, PlanContent
from records.stock import selectors as stock

LARGEST = 2_000_000  # bytes; a season of plans is far smaller


def plans_in(data: bytes) -> list[Mapping[str, Any]]:
    """The plans of a JSON file, a list of mappings or one alone."""
    if len(data) > LARGEST:
        raise WrongValue(_("The file is larger than {most} bytes.").format(most=LARGEST))
    try:
        found = json.loads(data)
    except (ValueError, RecursionError) as wrong:
        raise WrongValue(_("This is no JSON file: {why}").format(why=wrong)) from None
    found = found if isinstance(found, list) else [found]
    if not all(isinstance(each, dict) for each in found):
        raise WrongValue(_("A plan is a mapping of its fields."))
    return found


def content_from(given: Mapping[str, Any], site: Site) -> PlanContent:
    """One plan of a file as plain values.

    Raises
    ------
    WrongValue
        naming the field, what was given and what is allowed.
    """
    units = {unit.name: unit for unit in units_with_positions(site)}
    unit = _named("unit", given.get("unit"), units)
    starts_at = _time("starts_at", given.get("starts_at"))
    return PlanContent(
        unit=unit,
        exercise=str(given.get("exercise", "")),
        starts_at=starts_at,
        ends_at=_time("ends_at", given.get("ends_at")),
        water_l=_number("water_l", given.get("water_l")),
        objective=str(given.get("objective", "")),
        abort_criteria=str(given.get("abort_criteria", "")),
        charge=tuple(_line(each, unit, site) for each in _list("charge", given)),
        crew=_crew(_list("crew", given), site, starts_at),
        stated=tuple(
            (str(key), str(value)) for key, value in dict(given.get("stated", {})).items()
        ),
    )


def _named[Row](field: str, name: Any, rows: Mapping[str, Row]) -> Row:
    if not isinstance(name, str) or name not in rows:
        known = ", ".join(sorted(rows)[:12]) or _("none")
        raise WrongValue(
            _("{field}: {name} is not known here; known are: {known}.").format(
                field=field, name=name, known=known
            ),
            field=field,
        )
    return rows[name]


def _list(field: str, given: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    found = given.get(field, [])
    if not isinstance(found, list) or not all(isinstance(each, dict) for each in found):
        raise WrongValue(
            _("{field}: a list of mappings is needed.").format(field=field), field=field
        )
    return found


def _time(field: str, text: Any) -> dt.datetime:
    try:
        moment = dt.datetime.fromisoformat(str(text))
    except ValueError:
        moment = None
    if moment is None or moment.tzinfo is None:
        raise WrongValue(
            _("{field}: {text} is not a time with its zone, as 2027-05-31T09:30+02:00.").format(
                field=field, text=text
            ),
            field=field,
        )
    return moment


def _number(field: str, given: Any) -> Decimal:
    try:
        number = Decimal(str(given))
    except InvalidOperation:
        number = Decimal("NaN")
    if not number.is_finite() or abs(number) >= 10**9:
        raise WrongValue(
            _("{field}: {given} is not a number in sense.").format(field=field, given=given),
            field=field,
        )
    return number


def _line(given: Mapping[str, Any], unit: Unit, site: Site) -> Line:
    places: dict[str, ChargePosition] = {place.name: place for place in unit.positions.all()}
    products = {product.name: product for product in stock.products_of(site)}
    lots = {lot.code: lot for lot in stock.burnable_lots(site)}
    return Line(
        position=_named("charge", given.get("position"), places),
        product=_named("charge", given.get("product"), products),
        quantity=_number("charge", given.get("quantity")),
        lot=_named("charge", given["lot"], lots) if given.get("lot") else None,
    )


def _crew(given: list[Mapping[str, Any]], site: Site, starts_at: dt.datetime) -> tuple[Place, ...]:
    day = starts_at.astimezone(site.zone).date()
    known: dict[str, Person] = {}
    for person in people.people_on(site, day):
        known[person.sign_in] = known[person.name] = person
    return tuple(
        Place(_named("crew", each.get("person"), known), str(each.get("duty", "")))
        for each in given
    )
