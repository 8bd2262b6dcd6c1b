"""What the entry control board reckons with, each figure with where it comes from.

The plan is asked first, then the rows of the standard in force, then what ``facility.calc.air``
takes for usual. What none of them tells (a cylinder's volume, its nominal pressure) is typed on
the board. Of several limits the strictest counts, whatever the plan says.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.calc.air import air_time
from facility.kinds import INSIDE, Duty
from facility.refusals import plain_number
from facility.rulebook.selectors import editions_in_force, handover_rules, standing_rules
from facility.rules.engine import Rule
from facility.rules.facts import REGISTER
from facility.rules.sheet import value_of
from facility.yard.air_board import Numbers
from facility.yard.kinds import KINDS
from records.burns.models import Burn
from records.plans.restricting import restriction_rules

NEEDED = frozenset({"cylinder_l", "whistle_bar", "l_min", "way_out"})  # without them: cannot tell
_USUAL = {"whistle_bar": "reserve_pressure", "l_min": "consumption", "way_out": "way_out_ratio"}
_STATED = {
    "whistle_bar": "breathing.whistle_pressure",
    "l_min": "breathing.planned_consumption",
    "way_out": "breathing.way_out_share",
}
# The fact whose rows set a figure, and whether the least or the most of several limits is strict.
_ROWS = {
    "whistle_bar": ("breathing.whistle_pressure", max),
    "l_min": ("breathing.planned_consumption", max),
    "way_out": ("breathing.way_out_share", max),
    "start_pct": ("breathing.start_pressure", max),
    "cap": ("people.in_unit", min),
    "check_min": ("burn.time_first_called", min),
    "stay_min": ("burn.planned_minutes", min),
}
_BOUNDS = ("<=", ">=", "=", "between", "within")


@dataclass(frozen=True, slots=True)
class Figure:
    """One number of the board; ``value`` is none where it is to be typed."""

    name: str
    label: str
    unit: str
    value: float | None
    origin: str


def figures_of(burn: Burn) -> list[Figure]:
    """Every number of the board for one burn, as its plan and the standard of that day have it."""
    rules = _rules(burn)
    stated = {each.fact: each.value for each in burn.version.stated.all()}
    found = []
    for field in KINDS["air_numbers"].fields:
        value, origin = _figure(field.name, stated, rules)
        found.append(Figure(field.name, _(field.label), field.unit, value, origin))
    return found


def numbers_of(burn: Burn) -> Numbers:
    known: dict[str, Any] = {
        each.name: each.value for each in figures_of(burn) if each.value is not None
    }
    return Numbers(**known)


def _rules(burn: Burn) -> list[Rule]:
    day = burn.ignited_at.astimezone(burn.site.zone).date()
    rules = [
        *handover_rules(burn.unit),
        *restriction_rules(burn.unit, burn.ignited_at),
        *standing_rules(editions_in_force(burn.site, day)),
    ]
    return [each for each in rules if _asked(each, burn)]


def _asked(rule: Rule, burn: Burn) -> bool:
    applies = rule.applies
    return (not applies.exercises or burn.version.exercise in applies.exercises) and (
        not applies.unit_kinds or burn.unit.kind in applies.unit_kinds
    )


def _figure(name: str, stated: dict[str, str], rules: Iterable[Rule]) -> tuple[float | None, str]:
    fact = _STATED.get(name, "")
    if fact in stated:
        return float(value_of(REGISTER[fact], stated[fact])), _("stated in the plan")  # type: ignore[arg-type]
    if name in _ROWS:
        fact, strictest = _ROWS[name]
        limits = [(_limit(each), each) for each in rules if each.fact == fact]
        known = [(limit, each) for limit, each in limits if limit is not None]
        if known:
            value, rule = strictest(known, key=lambda pair: pair[0])
            return value, f"{rule.code}, {rule.clause}"
    if name in _USUAL:
        default = air_time.by_name[_USUAL[name]].default
        return float(default), _("the usual figure; the ground has set none")
    if name == "cylinders":
        return 1.0, _("one cylinder to a set")
    return None, ""


def _limit(rule: Rule) -> float | None:
    """The limit of a row in the fact's own unit; of a band the end that is on the safe side here."""
    if rule.comparison not in _BOUNDS or rule.limit is None:
        return None
    limit = rule.limit if rule.limit_high is None else rule.limit_high
    return limit / rule.scale


def kit_of(burn: Burn) -> dict[str, Any]:
    """What the tablet takes along for the board of one burn; figures as text, as events have them."""
    fields = {each.name: each for each in KINDS["air_numbers"].fields}
    people = people_of(burn)
    bar = KINDS["person_in"].field("bar")
    assert bar is not None
    return {
        "zone": burn.site.time_zone,
        "bar_highest": bar.high,
        "people": people,
        "figures": [
            {
                "name": each.name, "label": each.label, "unit": each.unit, "origin": each.origin,
                "value": None if each.value is None else plain_number(Decimal(f"{each.value:g}")),
                "low": fields[each.name].low, "high": fields[each.name].high,
                "decimals": fields[each.name].decimals, "needed": each.name in NEEDED,
            }
            for each in figures_of(burn)
        ],
    }  # fmt: skip


def people_of(burn: Burn) -> list[dict[str, str]]:
    """Everybody there, by public id, those whose duty takes them inside first."""
    places: dict[str, dict[str, str]] = {}
    attendance = burn.attendance.select_related("person__details").order_by("id")
    for place in sorted(attendance, key=lambda place: place.duty not in INSIDE):
        key = place.person.public_id
        duty = str(Duty(place.duty).label)
        if key in places:
            places[key]["duty"] += f", {duty}"
        else:
            places[key] = {"who": key, "name": place.person.name, "duty": duty}
    return list(places.values())
