"""What a row of a standard must be, whichever entrance it comes in by.

One function looks at a row and names every fault in it, so that a form shows the first one and
an import lists them all. Nothing here touches the database.
"""

from __future__ import annotations

import datetime as dt
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from facility.calc.units import quantity
from facility.kinds import Duty, ProductKind
from facility.people.permissions import Role
from facility.rulebook.models import Basis, CheckStage, Comparison, Severity
from facility.rules.engine import Moment
from facility.rules.facts import REGISTER, YES_NO, Fact, Subject, Window
from facility.sites.models import Exercise, UnitKind

MOST = Decimal(10) ** 9
LONGEST_UNIT = 12  # of a row: a unit cut short would be another unit, or none
MOST_ROWS = 2000  # an edition that nobody can read is no standard; our choice, no source
TEXTS = {  # field: longest, needed
    "code": (12, True), "title": (120, True), "clause": (160, True), "jurisdiction": (60, False),
    "source": (200, False), "why": (300, False), "limit_text": (200, False),
}  # fmt: skip
LISTS: dict[str, tuple[str, ...]] = {
    "exercises": tuple(Exercise.values),
    "unit_kinds": tuple(UnitKind.values),
    "duties": tuple(Duty.values),
    "products": tuple(ProductKind.values),
    "asked_at": tuple(Moment),
}
WAIVED_BY = (Role.MANAGER, Role.INSPECTOR, Role.SAFETY)
FIELDS = (
    "code", "jurisdiction", "title", "fact", "window", "comparison", "limit", "limit_high",
    "limit_text", "unit", "severity", "clause", "source", "basis", "why", "exercises",
    "unit_kinds", "duties", "products", "asked_at", "waivable_by", "two_people", "on",
)  # fmt: skip

ITEM_TEXTS = {
    "code": (12, True),
    "text": (120, True),
    "clause": (160, True),
    "source": (200, False),
}
ITEM_FIELDS = ("code", "stage", "text", "blocks", "clause", "source", "basis", "on")
MOST_ITEMS = 100  # a check list that nobody walks is none; our choice, no source


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with a row: the field, what was given, and a sentence with what is allowed."""

    field: str
    given: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Checked:
    """A row as the model holds it, and what is wrong with it; ``values`` count when nothing is."""

    values: dict[str, Any]
    faults: tuple[Fault, ...]


class _Faults(list[Fault]):
    def add(self, field: str, given: object, sentence: str) -> None:
        self.append(Fault(field, "" if given is None else str(given), sentence))


def check_row(given: Mapping[str, Any]) -> Checked:
    """Look at a row as typed, imported or written by a program; name every fault."""
    faults = _Faults()
    row: dict[str, Any] = {}
    for field in set(given) - set(FIELDS):
        faults.add(field, given[field], _("no such column"))
    for field, (longest, needed) in TEXTS.items():
        row[field] = _text(field, given.get(field), longest, needed, faults)
    for field, allowed in LISTS.items():
        row[field] = _listed(field, given.get(field), allowed, faults)
    for field, words in (("comparison", Comparison), ("severity", Severity), ("basis", Basis)):
        row[field] = _one_of(field, given.get(field), tuple(words.values), faults)
    row["waivable_by"] = _one_of("waivable_by", given.get("waivable_by") or "",
                                 ("", *WAIVED_BY), faults)  # fmt: skip
    for field in ("two_people", "on"):
        row[field] = _truth(field, given.get(field), field == "on", faults)
    fact = _fact(given.get("fact"), faults)
    row["fact"] = fact.key if fact is not None else str(given.get("fact") or "")
    if fact is not None:
        row["window"] = _window(given.get("window"), fact, faults)
        row["unit"] = _unit(given.get("unit"), fact, faults)
        _check_comparison(row, fact, faults)
        _check_narrowing(row, fact, faults)
    row |= _limits(row, given, fact, faults)
    _check_basis(row, faults)
    return Checked(row, tuple(faults))


def _text(field: str, given: Any, longest: int, needed: bool, faults: _Faults) -> str:
    text = str(given or "").strip()
    if needed and not text:
        faults.add(field, given, _("is needed"))
    if len(text) > longest:
        faults.add(field, text[:40], _("has {count} characters, at most {longest} are allowed").format(
            count=len(text), longest=longest))  # fmt: skip
    if not text.isprintable():
        faults.add(field, repr(text[:40]), _("holds a character that cannot be printed"))
    if field == "code" and text and not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9.\-]*", text):
        faults.add(field, text, _("letters, digits, points and dashes are allowed"))
    return text


def _listed(field: str, given: Any, allowed: tuple[str, ...], faults: _Faults) -> str:
    words = list(dict.fromkeys(str(given or "").replace(",", " ").split()))
    unknown = [word for word in words if word not in allowed]
    if unknown:
        faults.add(field, ", ".join(unknown), _allowed(allowed))
    return " ".join(word for word in words if word in allowed)


def _allowed(words: tuple[str, ...]) -> str:
    return _("one of these is allowed: {words}").format(
        words=", ".join(str(word) for word in words if word)
    )


def _one_of(field: str, given: Any, allowed: tuple[str, ...], faults: _Faults) -> str:
    word = str(given if given is not None else "").strip()
    if word not in allowed:
        faults.add(field, given, _allowed(allowed))
    return word


_TRUTHS = {"true": True, "yes": True, "1": True, "false": False, "no": False, "0": False}


def _truth(field: str, given: Any, usual: bool, faults: _Faults) -> bool:
    if given is None or given == "":
        return usual
    found = _TRUTHS.get(str(given).strip().lower())
    if found is None:
        faults.add(field, given, _("yes or no is allowed"))
    return bool(found)


def _fact(given: Any, faults: _Faults) -> Fact | None:
    fact = REGISTER.get(str(given or "").strip())
    if fact is None:
        faults.add("fact", given, _("is not a fact the register knows"))
    return fact


def _window(given: Any, fact: Fact, faults: _Faults) -> str:
    word = str(given or Window.BURN).strip()
    allowed = fact.windows or (Window.BURN,)
    if word not in allowed:
        faults.add("window", given or Window.BURN, _allowed(tuple(allowed)))
    return word


def _unit(given: Any, fact: Fact, faults: _Faults) -> str:
    """The row's unit: the fact's own, or another of the same dimension without an offset."""
    unit = str(given or "").strip()
    if unit in ("", fact.unit):
        return fact.unit
    if len(unit) > LONGEST_UNIT or scale_to(fact.unit, unit) is None:
        faults.add("unit", unit, _("a limit of {fact} is given in {unit}").format(
            fact=fact.key, unit=fact.unit or _("a plain count")))  # fmt: skip
    return unit


def scale_to(unit: str, other: str) -> float | None:
    """By what a value in ``unit`` is multiplied to give ``other``; None where it cannot be."""
    if unit == other or not other:
        return 1.0
    if unit in ("", YES_NO, "word", "date"):
        return None
    try:
        wanted = quantity(1.0, other).units
        one, two = (quantity(value, unit).to(wanted).magnitude for value in (1.0, 2.0))
    except Exception:  # pint raises many kinds, for an unknown unit as for a wrong dimension
        return None
    return float(one) if math.isclose(two, 2 * one) else None


_FIT = {
    YES_NO: (Comparison.IS_TRUE, Comparison.IS_FALSE),
    "word": (Comparison.ONE_OF,),
    "date": (Comparison.BEFORE,),
}
_NUMBERS = (Comparison.AT_MOST, Comparison.AT_LEAST, Comparison.BETWEEN, Comparison.EXACTLY)
_TIMES = ("s", "min", "h", "hour", "day", "week", "month", "year")


def _check_comparison(row: Mapping[str, Any], fact: Fact, faults: _Faults) -> None:
    fitting = _FIT.get(fact.unit, _NUMBERS)
    if fact.unit in _TIMES:
        fitting = (*fitting, Comparison.WITHIN)
    if row["comparison"] in Comparison.values and row["comparison"] not in fitting:
        faults.add("comparison", row["comparison"], _("{fact} is compared by: {words}").format(
            fact=fact.key, words=", ".join(fitting)))  # fmt: skip


def _check_narrowing(row: Mapping[str, Any], fact: Fact, faults: _Faults) -> None:
    """Duties narrow rules about people, products those about lots and products."""
    if row["duties"] and fact.subject is not Subject.PERSON:
        faults.add("duties", row["duties"], _("only a rule about a person is narrowed to duties"))
    if row["products"] and fact.subject not in (Subject.LOT, Subject.PRODUCT):
        faults.add("products", row["products"],
                   _("only a rule about lots or products is narrowed to products"))  # fmt: skip


def _limits(
    row: Mapping[str, Any], given: Mapping[str, Any], fact: Fact | None, faults: _Faults
) -> dict[str, Any]:
    """The limits, as the comparison needs them. A number left open is the ground's to decide."""
    low = _number("limit", given.get("limit"), faults)
    high = _number("limit_high", given.get("limit_high"), faults)
    compared = row["comparison"]
    numeric = compared in (*_NUMBERS, Comparison.WITHIN)
    if not numeric and (low is not None or high is not None):
        faults.add("limit", low if low is not None else high, _("this comparison takes no number"))
    if compared == Comparison.BETWEEN and low is not None and (high is None or high < low):
        faults.add("limit_high", high, _("is needed, and lies above the lower limit"))
    if compared != Comparison.BETWEEN and high is not None:
        faults.add("limit_high", high, _("only a rule of the kind between has an upper limit"))
    if numeric and low is None and row["basis"] != Basis.LOCAL:
        faults.add(
            "limit",
            given.get("limit"),
            _("is needed; only a value the ground decides may stay open"),
        )
    if (
        fact is not None
        and fact.unit == ""
        and low is not None
        and low != low.to_integral_value()
        and "per_" not in fact.key
    ):
        faults.add("limit", low, _("a count is a whole number"))
    return {"limit": low, "limit_high": high, "limit_text": _limit_text(row, faults)}


def _number(field: str, given: Any, faults: _Faults) -> Decimal | None:
    if given is None or str(given).strip() == "":
        return None
    try:
        number = Decimal(str(given).strip().replace(",", ".").replace("_", "no digit"))
    except InvalidOperation:
        faults.add(field, given, _("a plain number is needed"))
        return None
    if not number.is_finite() or number < 0 or number > MOST:
        faults.add(field, given, _("a number from 0 to {most} is allowed").format(most=MOST))
        return None
    if number != round(number, 3):
        faults.add(field, given, _("at most three decimals are kept"))
    return number


def _limit_text(row: Mapping[str, Any], faults: _Faults) -> str:
    text: str = row["limit_text"]
    compared = row["comparison"]
    if compared == Comparison.BEFORE:
        return _day(text, row, faults)
    if compared == Comparison.ONE_OF:
        words = ", ".join(dict.fromkeys(word.strip() for word in text.split(",") if word.strip()))
        if not words and row["basis"] != Basis.LOCAL:
            faults.add("limit_text", text, _("name the words allowed, parted by commas"))
        return words
    if text:
        faults.add("limit_text", text, _("this comparison takes no words"))
    return ""


def _day(text: str, row: Mapping[str, Any], faults: _Faults) -> str:
    try:
        if not re.fullmatch(r"(\d{4}-)?\d{2}-\d{2}", text, re.ASCII):
            raise ValueError(text)  # weeks and days of the year are dates to the parser as well
        dt.date.fromisoformat(text if len(text) == 10 else f"2027-{text}")
    except ValueError:
        if text or row["basis"] != Basis.LOCAL:
            faults.add(
                "limit_text", text, _("a day is needed: 2027-05-31, or 05-31 for every year")
            )
    return text


def _check_basis(row: Mapping[str, Any], faults: _Faults) -> None:
    if row["basis"] == Basis.MEMORY and row["severity"] == Severity.BLOCK:
        faults.add("severity", row["severity"],
                   _("a row from memory only cautions until someone has read it in the source"))  # fmt: skip
    if row["two_people"] and not row["waivable_by"]:
        faults.add(
            "two_people", _("yes"), _("nobody may waive this row; name who may, or leave this out")
        )


def check_item(given: Mapping[str, Any]) -> Checked:
    """Look at an item of a check list as typed, imported or written by a program."""
    faults = _Faults()
    for field in set(given) - set(ITEM_FIELDS):
        faults.add(field, given[field], _("no such column"))
    item: dict[str, Any] = {
        field: _text(field, given.get(field), longest, needed, faults)
        for field, (longest, needed) in ITEM_TEXTS.items()
    }
    for field, words in (("stage", CheckStage), ("basis", Basis)):
        item[field] = _one_of(field, given.get(field), tuple(words.values), faults)
    for field in ("blocks", "on"):
        item[field] = _truth(field, given.get(field), True, faults)
    if item["basis"] == Basis.MEMORY and item["blocks"]:
        faults.add("blocks", _("yes"),
                   _("an item from memory stops nothing until someone has read it in the source"))  # fmt: skip
    return Checked(item, tuple(faults))
