"""What a fact is: whom it is about, over what time it is counted, and in which unit it is told."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

COUNT = ""
YES_NO = "yes/no"
WORD = "word"
DATE = "date"


def gettext_noop(text: str) -> str:
    """Mark a text for translation; the words are translated where they are shown."""
    return text


class Subject(StrEnum):
    """Whom or what a fact is about."""

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
    """The time over which a fact is counted; month and year are those of the calendar."""

    BURN = "burn"
    DAY = "day"
    WEEK = "7d"
    MONTH_ROLLING = "28d"
    MONTH = "month"
    YEAR = "year"
    SINCE_INSPECTION = "since_inspection"
    SINCE_RELINED = "since_relined"
    LIFE = "life"


@dataclass(frozen=True, slots=True)
class Fact:
    """One quantity a rule may ask for.

    ``unit`` is "" for a count, "yes/no", "word", "date", or a unit that ``facility.calc.units``
    shows. ``stated`` facts are vouched for by a person; the others follow from the records.
    ``windows`` are those it is counted over, none when it belongs to the burn itself. ``choices``
    are the words a fact told in words may take; none when any word may be recorded.
    """

    key: str
    unit: str
    meaning: str
    subject: Subject = Subject.BURN
    stated: bool = False
    windows: tuple[Window, ...] = ()
    choices: tuple[str, ...] = ()
