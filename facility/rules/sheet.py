"""A fact sheet: all that was known of one burn, kept so that it can be judged again.

It holds no rule and depends on no edition. What depends on a burn-sequence chart (how many burns
without a cooling pause) is worked out from the pauses when a chart is at hand.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from facility.rules.engine import Case
from facility.rules.facts import REGISTER, YES_NO, Fact, Known, Subject, Value, gettext_noop

# Stated facts of these subjects stand until they lapse; the others are stated in each plan.
ON_THE_GROUND = frozenset({Subject.SITE, Subject.PERMIT, Subject.RECORD})
ON_SOMETHING = frozenset({Subject.UNIT, Subject.PERSON, Subject.LOT, Subject.PRODUCT})
STANDING = ON_THE_GROUND | ON_SOMETHING
IN_PLANS = frozenset(Subject) - STANDING
LONGEST = 60  # characters of a value that is stated


@dataclass(frozen=True, slots=True)
class FactSheet:
    """The cases of one burn; ``pauses_min`` are the pauses before this burn and before each
    earlier one of the last day, newest first; ``nth`` is its place in the unit's day."""

    unit: str
    nth: int
    pauses_min: tuple[float, ...]
    cases: tuple[Case, ...]


def run_before_cooling(pauses_min: Sequence[float], cooling_min: float) -> int:
    """Burns in a row without a pause of ``cooling_min``, this one included."""
    run = 1
    for pause in pauses_min:
        if pause >= cooling_min:
            break
        run += 1
    return run


def as_data(sheet: FactSheet) -> dict[str, Any]:
    """The sheet as plain data for JSON; facts that nobody recorded are left out."""
    return {
        "unit": sheet.unit,
        "nth": sheet.nth,
        "pauses_min": list(sheet.pauses_min),
        "cases": [_case_as_data(case) for case in sheet.cases],
    }


def _case_as_data(case: Case) -> dict[str, Any]:
    data: dict[str, Any] = {"subject": str(case.subject)}
    for name in ("label", "exercise", "unit_kind", "product"):
        if value := getattr(case, name):
            data[name] = value
    if case.duties:
        data["duties"] = sorted(case.duties)
    data["facts"] = {key: _known_as_data(known) for key, known in case.facts.items()}
    return data


def _known_as_data(known: Known) -> list[Any]:
    value = known.value.isoformat() if isinstance(known.value, dt.date) else known.value
    return [value, str(known.why)] if known.why else [value]


def from_data(data: Mapping[str, Any]) -> FactSheet:
    """The sheet that ``as_data`` wrote."""
    cases = tuple(_case_from_data(case) for case in data["cases"])
    return FactSheet(data["unit"], data["nth"], tuple(data["pauses_min"]), cases)


def _case_from_data(data: Mapping[str, Any]) -> Case:
    return Case(
        facts={key: _known_from_data(key, pair) for key, pair in data["facts"].items()},
        subject=Subject(data["subject"]),
        label=data.get("label", ""),
        exercise=data.get("exercise", ""),
        unit_kind=data.get("unit_kind", ""),
        duties=frozenset(data.get("duties", ())),
        product=data.get("product", ""),
    )


def _known_from_data(key: str, pair: Sequence[Any]) -> Known:
    value = pair[0]
    if isinstance(value, str):
        fact = REGISTER.get(key.partition("@")[0])
        value = dt.date.fromisoformat(value) if fact and fact.unit == "date" else value
    return Known(value, pair[1] if len(pair) > 1 else "")


class NotAValue(ValueError):
    """A text that says no value of the fact; ``allowed`` says what would."""

    def __init__(self, given: str, allowed: str) -> None:
        self.given, self.allowed = given, allowed
        super().__init__(allowed)


def value_of(fact: Fact, text: str) -> Value:
    """What a person stated, as the engine weighs it.

    Raises
    ------
    NotAValue
        when the text is no value of the fact's kind.
    """
    text = text.strip()
    if len(text) > LONGEST:
        raise NotAValue(text[:LONGEST], gettext_noop("fewer characters are allowed"))
    if fact.unit == YES_NO:
        if text not in ("yes", "no"):
            raise NotAValue(text, gettext_noop("yes or no is allowed"))
        return text == "yes"
    if fact.unit == "word":
        return _word(fact, text)
    try:
        return _day(text) if fact.unit == "date" else _number(text)
    except ValueError:
        raise NotAValue(
            text, gettext_noop("a plain number, or a day as 2027-05-31, is needed")
        ) from None


def _word(fact: Fact, text: str) -> str:
    if not text or (fact.choices and text not in fact.choices):
        raise NotAValue(text, gettext_noop("one of the words of the list is needed"))
    return text


def _day(text: str) -> dt.date:
    day = dt.date.fromisoformat(text)
    if text != day.isoformat():
        raise ValueError(text)  # weeks and days of the year are dates to the parser as well
    return day


def _number(text: str) -> float:
    number = float(text.replace(",", "."))
    if "_" in text or not math.isfinite(number) or not 0 <= number <= 1e9:
        raise ValueError(text)
    return number
