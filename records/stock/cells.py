"""One row of a store's file read cell by cell; every fault is kept, and reading goes on."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from facility.look.forms import to_decimal
from facility.refusals import Refused
from facility.sheets.cells import Cell, RowFault, Spoiled, shown

YES = frozenset({"yes", "y", "true", "1", "x"})
NO = frozenset({"no", "n", "false", "0"})
_TIME = re.compile(r"(\d{4})-(\d\d)-(\d\d)(?:[ T](\d\d):(\d\d)(?::\d\d)?)?")
_DOTTED = re.compile(r"(\d\d?)\.(\d\d?)\.(\d{4})(?: (\d\d?):(\d\d))?")
_PLAIN = re.compile(r"-?\d{1,9}(?:\.\d{1,6})?")


class RowReader:
    """The cells of a row as what they should be, or None with a fault beside."""

    def __init__(
        self, number: int, cells: Mapping[str, Cell], decimal: str, zone: ZoneInfo,
        times: dict[str, dt.datetime],
    ) -> None:  # fmt: skip
        self.number, self.cells, self.decimal, self.zone = number, cells, decimal, zone
        self.faults: list[RowFault] = []
        self._times = times  # a file says the same moment many times

    def fault(self, column: str, allowed: str) -> None:
        cell = self.cells.get(column, "")
        value = cell.value if isinstance(cell, Spoiled) else cell
        self.faults.append(RowFault(self.number, column, shown(value), allowed))

    def checked(self, column: str, check: Any, *given: Any, **more: Any) -> Any:
        """What a check of the services gives; what it refuses is a fault of this column."""
        try:
            return check(column, *given, **more)
        except Refused as refused:
            self.fault(column, refused.sentence)
            return None

    def text(self, column: str, *, needed: bool = True) -> str | None:
        cell = self.cells.get(column, "")
        if isinstance(cell, Spoiled):
            self.fault(column, cell.allowed)
            return None
        if needed and not cell:
            self.fault(column, _("something must be written here"))
            return None
        return cell.strip()

    def number_in(self, column: str, unit: str, places: int, *, needed: bool = True) -> Decimal | None:  # fmt: skip
        text = self.text(column, needed=needed)
        if not text:
            return None
        if self._either_way(text):
            self.fault(column, _("write it without the mark of thousands; this could mean either"))
            return None
        if _PLAIN.fullmatch(text):
            number = Decimal(text)
            if round(number, places) == number:
                return number
        try:
            return to_decimal(text, unit, places)
        except ValidationError as wrong:
            self.fault(column, " ".join(wrong.messages))
            return None

    def _either_way(self, text: str) -> bool:
        other = re.escape("," if self.decimal == "." else ".")
        return bool(re.fullmatch(rf"[1-9]\d{{0,2}}{other}\d{{3}}", text))

    def time(self, column: str) -> dt.datetime | None:
        """A moment of the ground: ``2026-02-04 08:30``, ``4.2.2026 8:30``, or a day alone."""
        text = self.text(column)
        if not text:
            return None
        if text in self._times:
            return self._times[text]
        found = _moment(text)
        if found is None:
            self.fault(column, _("a day or a time is needed: 2027-05-31 or 2027-05-31 08:30"))
            return None
        self._times[text] = found.replace(tzinfo=self.zone)
        return self._times[text]

    def yes(self, column: str) -> bool | None:
        text = self.text(column)
        if text is None:
            return None
        if text.casefold() not in YES | NO:
            self.fault(column, _("yes or no is needed"))
            return None
        return text.casefold() in YES


def _moment(text: str) -> dt.datetime | None:
    iso, dotted = _TIME.fullmatch(text), _DOTTED.fullmatch(text)
    if iso:
        year, month, day, hour, minute = iso.groups(default="0")
    elif dotted:
        day, month, year, hour, minute = dotted.groups(default="0")
    else:
        return None
    try:
        found = dt.datetime(int(year), int(month), int(day), int(hour), int(minute))  # noqa: DTZ001 - the zone is the ground's, set by the caller
    except ValueError:
        return None
    return found if 1 < found.year < 9999 else None  # room for the zone
