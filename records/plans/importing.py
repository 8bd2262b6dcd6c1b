"""Plans from a file: names instead of keys, every fault named, nothing half read.

One plan is a mapping: unit, exercise, starts_at, ends_at (ISO 8601 with zone), water_l, objective,
abort_criteria, charge (position, product, quantity, and lot unless the store is to choose), crew
(person, by sign-in or name, and duty), stated (facts and what is vouched for, as texts).
"""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from facility.kinds import Duty
from facility.people import selectors as people
from facility.people.models import Person
from facility.refusals import WrongValue
from facility.sites.models import ChargePosition, Exercise, Site, Unit
from records.ground.selectors import units_with_positions
from records.plans.content import Line, Place, PlanContent
from records.stock import selectors as stock

LARGEST = 2_000_000  # bytes; a season of plans is far smaller
EXERCISES = {exercise.value: exercise for exercise in Exercise}
DUTIES = {duty.value: duty for duty in Duty}


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
        exercise=_named("exercise", given.get("exercise"), EXERCISES),
        starts_at=starts_at,
        ends_at=_time("ends_at", given.get("ends_at")),
        water_l=_number("water_l", given.get("water_l")),
        objective=_text("objective", given.get("objective")),
        abort_criteria=_text("abort_criteria", given.get("abort_criteria")),
        charge=_charge(_list("charge", given), unit, site),
        crew=_crew(_list("crew", given), site, starts_at),
        stated=_stated(given.get("stated", {})),
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
    # A zone may lie a day off, which no calendar has beyond its first and last year.
    if moment is None or moment.tzinfo is None or not 1 < moment.year < dt.MAXYEAR:
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


def _text(field: str, given: Any) -> str:
    if not isinstance(given, str):
        raise WrongValue(_("{field}: a text is needed.").format(field=field), field=field)
    return given


def _stated(given: Any) -> tuple[tuple[str, str], ...]:
    if not isinstance(given, dict):
        raise WrongValue(_("{field}: a mapping is needed.").format(field="stated"), field="stated")
    return tuple((fact, _text(f"stated, {fact}", value)) for fact, value in given.items())


def _charge(given: list[Mapping[str, Any]], unit: Unit, site: Site) -> tuple[Line, ...]:
    """Any lot of the ground may be named: whether it may burn is for the standard to say."""
    places: dict[str, ChargePosition] = {place.name: place for place in unit.positions.all()}
    products = {product.name: product for product in stock.products_of(site)}
    lots = {lot.code: lot for lot in stock.lots_of(site)} if given else {}
    return tuple(
        Line(
            position=_named("charge, position", line.get("position"), places),
            product=_named("charge, product", line.get("product"), products),
            quantity=_number("charge, quantity", line.get("quantity")),
            lot=None if line.get("lot") is None else _named("charge, lot", line["lot"], lots),
        )
        for line in given
    )


def _crew(given: list[Mapping[str, Any]], site: Site, starts_at: dt.datetime) -> tuple[Place, ...]:
    known = _people(site, starts_at.astimezone(site.zone).date()) if given else {}
    return tuple(
        Place(
            _named("crew, person", place.get("person"), known),
            _named("crew, duty", place.get("duty"), DUTIES),
        )
        for place in given
    )


def _people(site: Site, day: dt.date) -> dict[str, Person]:
    """Everyone by sign-in, and by name where that means one person and is nobody's sign-in."""
    everyone = list(people.people_on(site, day))
    names = Counter(person.name for person in everyone)
    alone = {person.name: person for person in everyone if names[person.name] == 1}
    return alone | {person.sign_in: person for person in everyone}
