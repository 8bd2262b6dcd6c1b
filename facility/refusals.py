"""Refusals with names: what the program says no with.

Every refusal tells the field, what was given and what is allowed, in one sentence a person can
act on, and the HTTP status that fits. Nothing has been written when one is raised.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.rules import words


class Refused(Exception):
    """Base of all refusals."""

    status = 400
    line: int | None = None  # of several that were given, counted from 0

    def __init__(self, sentence: str, *, field: str = "") -> None:
        self.sentence, self.field = sentence, field
        super().__init__(sentence)


class WrongValue(Refused):
    """A value that the field cannot take."""


class WrongMakeUp(WrongValue):
    """A unit that cannot be built as described; ``faults`` say of which part, and why."""

    def __init__(self, faults: Sequence[Any]) -> None:
        self.faults = tuple(faults)
        first = self.faults[0]
        super().__init__(
            ngettext(
                "The make-up cannot be: {first}",
                "The make-up cannot be, {count} times over. First: {first}",
                len(self.faults),
            ).format(count=len(self.faults), first=first.sentence),
            field=first.field,
        )


class NotAllowed(Refused):
    """The person's roles do not cover the act."""

    status = 403


class OwnWork(Refused):
    """Nobody marks their own work: author and approver, repairer and releaser."""

    status = 403


class NotHere(Refused):
    """No such thing on this ground, whether it does not exist or belongs to another."""

    status = 404


class TooLarge(Refused):
    """More was sent than is taken."""

    status = 413


class WrongState(Refused):
    """The thing is not in a state that allows the act."""

    status = 409


class NotCalibrated(Refused):
    """The meter was not within its calibration on the day of the reading."""

    status = 409


class StaleVersion(Refused):
    """Someone changed it since the page was opened."""

    status = 409


class Collided(Refused):
    """Two people recorded the same thing at once, and the other one won."""

    status = 409


class StockNotAvailable(Refused):
    """More was asked for than is there."""

    status = 409


class ReadOnly(Refused):
    """Nothing can be recorded now: the log failed its check, or a restore waits to be signed."""

    status = 503


class AlreadyDone(Refused):
    """The same form was sent before; ``obj`` names what the first sending made."""

    status = 409

    def __init__(self, obj: str) -> None:
        self.obj = obj
        super().__init__(_("This was already recorded; it was not recorded twice."))

    @property
    def public_id(self) -> str:
        return self.obj.partition(":")[2]


class TooSoon(Refused):
    """Too many wrong passwords or codes in a row; the next may come after a wait."""

    status = 429

    def __init__(self, wait_s: int) -> None:
        self.wait_s = wait_s
        super().__init__(
            ngettext(
                "Too many wrong tries. Try again in {count} second.",
                "Too many wrong tries. Try again in {count} seconds.",
                wait_s,
            ).format(count=wait_s),
            field="password",
        )


class LimitExceeded(Refused):
    """The local standard says no; ``findings`` say where and by how much."""

    status = 422

    def __init__(self, findings: Sequence[Any]) -> None:
        self.findings = tuple(findings)
        super().__init__(
            ngettext(
                "One limit of the standard is not met: {first}",
                "{count} limits of the standard are not met. First: {first}",
                len(self.findings),
            ).format(count=len(self.findings), first=words.sentence(self.findings[0], _))
        )


def plain_number(number: Decimal) -> str:
    """A Decimal as people write it: no trailing zeros, no exponent."""
    return f"{number.normalize():f}"


def spelled_out(public_id: str) -> str:
    """A public id as it is read out and printed."""
    return f"{public_id[:5]}-{public_id[5:]}".upper()


# The checks below serve every service, whichever entrance the value came in by.


def refuse_if(condition: object, field: str, sentence: str) -> None:
    if condition:
        raise WrongValue(sentence, field=field)


def text_within(field: str, text: str, longest: int, *, needed: bool = True) -> str:
    """Give the text without outer spaces; refuse it when empty, over-long or unprintable."""
    text = text.strip()
    refuse_if(needed and not text, field, _("Something must be written here."))
    refuse_if(
        len(text) > longest,
        field,
        _("{given} characters were given; at most {allowed} are allowed.").format(
            given=len(text), allowed=longest
        ),
    )
    stray = [char for char in text if not char.isprintable() and char not in "\n\r\t"]
    refuse_if(stray, field, _("The text holds a control character, which cannot be kept."))
    return text


def number_between(
    field: str,
    value: Decimal | float | int,
    low: float,
    high: float,
    unit: str = "",
    *,
    above: bool = False,
) -> Any:
    """Give the number; refuse it outside the bounds (``above``: the lower bound excluded)."""
    wrong = not (float(value) > low if above else float(value) >= low) or not float(value) <= high
    lowest = _("more than {low:g}") if above else _("at least {low:g}")
    refuse_if(
        wrong,
        field,
        _("{given:g} {unit} was given; {lowest} and at most {high:g} {unit} is allowed.")
        .format(given=float(value), unit=unit, lowest=lowest.format(low=low), high=high)
        .replace(" ,", ",")
        .replace("  ", " "),
    )
    return value


def not_future(field: str, when: dt.datetime, now: dt.datetime) -> dt.datetime:
    """Give the time; refuse what lies ahead (two minutes of clock difference are forgiven)."""
    refuse_if(
        when > now + dt.timedelta(minutes=2),
        field,
        _("This time lies in the future; what has not happened cannot be recorded."),
    )
    refuse_if(when.year < 1990, field, _("The year {year} is too far back.").format(year=when.year))
    return when


def in_order(field: str, start: dt.datetime, end: dt.datetime) -> None:
    refuse_if(end <= start, field, _("The end must come after the start."))
