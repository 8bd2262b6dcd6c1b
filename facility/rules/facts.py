"""The register of facts: every quantity a rule may speak of, its unit and meaning.

A fact that is not known is ``None`` with the reason; it never counts as met.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


def gettext_noop(text: str) -> str:
    """Mark a text for translation; the words are translated where they are shown."""
    return text


class Subject(StrEnum):
    """What a fact is about."""

    BURN = "burn"
    UNIT = "unit"
    SESSION = "session"
    LOT = "lot"
    PRODUCT = "product"
    PERSON = "person"
    CREW = "crew"
    WATER = "water"
    BREATHING = "breathing"
    SITE = "site"
    PERMIT = "permit"
    RECORD = "record"


class Window(StrEnum):
    """Over which time a fact is counted."""

    BURN = "burn"
    DAY = "day"
    WEEK = "7d"
    MONTH_ROLLING = "28d"
    MONTH = "month"
    YEAR = "year"
    SINCE_INSPECTION = "since_inspection"
    LIFE = "life"


@dataclass(frozen=True, slots=True)
class Fact:
    """One quantity: its key, unit and meaning.

    The unit is "" for a count, "yes/no" for a truth, "word", "date", or one of measure. A stated
    fact is vouched for by a person; any other is worked out from the records.
    """

    key: str
    unit: str
    meaning: str
    subject: Subject = Subject.BURN
    stated: bool = False
    windows: tuple[Window, ...] = ()
    choices: tuple[str, ...] = ()


Value = float | bool | str | dt.date | None


@dataclass(frozen=True, slots=True)
class Known:
    """The value of a fact for one subject; ``why`` says how it was found, or why it was not."""

    value: Value
    why: str = ""


Facts = Mapping[str, Known]
YES_NO = "yes/no"

REGISTER: dict[str, Fact] = {
    fact.key: fact
    for fact in (
        Fact("charge.dry_mass", "kg", gettext_noop("dry mass of the boards and loose wood")),
        Fact("charge.energy", "MJ", gettext_noop("energy in the charge at its moisture")),
        Fact("charge.moisture_highest", "%", gettext_noop("moisture of the wettest lot, mean reading")),
        Fact("charge.moisture_lowest", "%", gettext_noop("moisture of the driest lot, mean reading")),
        Fact("charge.kindling", "kg", gettext_noop("loose kindling")),
        Fact("charge.liquid", "L", gettext_noop("starter liquid")),
        Fact("charge.lots_accepted", YES_NO, gettext_noop("every lot is known and accepted")),
        Fact("burn.nth_of_day", "", gettext_noop("which burn of the day in this unit this is")),
        Fact("burn.before_cooling", "", gettext_noop("burns in a row without a cooling pause, this one included")),
        Fact("burn.wait", "min", gettext_noop("time since the burn before in this unit ends")),
        Fact("people.in_unit", "", gettext_noop("people inside the unit")),
        Fact("people.learners_per_instructor", "", gettext_noop("learners to each crew instructor")),
        Fact("crew.in_charge", "", gettext_noop("instructors in charge")),
        Fact("crew.safety", "", gettext_noop("safety officers")),
        Fact("crew.safety_distinct", YES_NO, gettext_noop("the safety officer has no other duty")),
        Fact("crew.ignition_team", "", gettext_noop("people in the ignition team")),
        Fact("crew.qualified", YES_NO, gettext_noop("every instructor and safety officer is qualified that day")),
        Fact("unit.in_service", YES_NO, gettext_noop("the unit is in service")),
        Fact("unit.unrestricted", YES_NO, gettext_noop("no defect restricts the use of the unit")),
        Fact("unit.days_since_inspection", "day", gettext_noop("days since the structural inspection")),
        Fact("unit.burns_since_inspection", "", gettext_noop("burns since the structural inspection, this one included")),
        Fact("water.on_site", "L", gettext_noop("water on site for the session")),
    )
}  # fmt: skip
