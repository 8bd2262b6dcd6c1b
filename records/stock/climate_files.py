"""The log of a bay as a file: time, temperature [°C] and relative humidity [%] on each line.

Commas, semicolons, tabs or bars between them; a decimal comma where the comma parts no cells. A
file is taken whole or not at all, and every line that is wrong is named.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from zoneinfo import ZoneInfo

from django.utils.translation import gettext as _

MOST_BYTES = 5_000_000  # limits are our choice, no source
MOST_LINES = 60_000  # a year at ten minutes
LONGEST_SHOWN = 40
COLUMNS = ("time", "temperature", "humidity")
DELIMITERS = (";", "\t", "|", ",")
# Never month first: 3/4 would mean either.
FORMATS = ("%d.%m.%Y %H:%M", "%d.%m.%Y %H:%M:%S")


@dataclass(frozen=True, slots=True)
class Air:
    """The air at one moment: temperature [degC] and relative humidity [%]."""

    measured_at: dt.datetime
    temperature_c: Decimal
    humidity_pct: Decimal


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong in a file; line 0 is the file as a whole."""

    line: int
    column: str
    value: str
    allowed: str

    def __str__(self) -> str:
        place = _("line {line}").format(line=self.line) if self.line else _("the file")
        words = [place, self.column, self.value]
        return f"{', '.join(word for word in words if word)}: {self.allowed}"


@dataclass(slots=True)
class Log:
    rows: list[tuple[int, Air]] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)

    @property
    def air(self) -> list[Air]:
        return [air for _line, air in self.rows]


def read_log(data: bytes, zone: ZoneInfo) -> Log:
    """Read a file; times without a zone are those of the ground. Raises nothing."""
    log = Log()
    text = _text(data, log)
    if text is None:
        return log
    delimiter = _delimiter(text)
    try:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        for number, cells in _filled(enumerate(lines, start=1)):
            if number > MOST_LINES:
                log.faults.append(
                    Fault(
                        number, "", "", _("at most {most} lines are read").format(most=MOST_LINES)
                    )
                )
                break
            if not log.rows and not log.faults and _is_heading(cells):
                continue
            _take(number, cells, delimiter, zone, log)
    except csv.Error as wrong:
        log.faults.append(Fault(0, "", str(wrong), _("the quotes do not pair")))
    if not log.rows and not log.faults:
        log.faults.append(Fault(0, "", "", _("there is no line with a time in it")))
    _refuse_repeats(log)
    return log


def _text(data: bytes, log: Log) -> str | None:
    if len(data) > MOST_BYTES:
        size, most = f"{len(data) / 1e6:.1f} MB", MOST_BYTES // 10**6
        allowed = _("at most {most} MB are read").format(most=most)
        log.faults.append(Fault(0, "", size, allowed))
        return None
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = "\0"
    if "\0" in text:
        log.faults.append(Fault(0, "", "", _("a text file in UTF-8 is needed, such as CSV")))
        return None
    return text


def _delimiter(text: str) -> str:
    """The first of the marks that parts the first line; a comma may be a decimal comma."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    return next((mark for mark in DELIMITERS if first.count(mark) >= 2), ",")


def _filled(lines: Iterator[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
    for number, cells in lines:
        if any(cell.strip() for cell in cells):
            yield number, [cell.strip() for cell in cells]


def _is_heading(cells: list[str]) -> bool:
    """A first line without any digit names the columns."""
    return not re.search(r"\d", "".join(cells))


def _take(number: int, cells: list[str], delimiter: str, zone: ZoneInfo, log: Log) -> None:
    if len(cells) != len(COLUMNS):
        log.faults.append(
            Fault(number, "", _("{count} cells").format(count=len(cells)),
                  _("time, temperature in °C and humidity in %"))
        )  # fmt: skip
        return
    moment = _moment(cells[0], zone)
    temperature = _number(cells[1], r"°?\s*C", delimiter)
    humidity = _number(cells[2], "%", delimiter)
    before = len(log.faults)
    if moment is None:
        _fault(log, number, 0, cells, _("a time such as 2026-11-25 22:00 or 25.11.2026 22:00"))
    if temperature is None or not -40 <= temperature <= 60:
        _fault(log, number, 1, cells, _("a temperature from -40 to 60 °C, one decimal"))
    if humidity is None or not 0 <= humidity <= 100:
        _fault(log, number, 2, cells, _("a relative humidity from 0 to 100 %, one decimal"))
    if len(log.faults) == before:
        assert moment is not None and temperature is not None and humidity is not None
        log.rows.append((number, Air(moment, temperature, humidity)))


def _fault(log: Log, number: int, column: int, cells: list[str], allowed: str) -> None:
    shown = "".join(char if char.isprintable() else "\ufffd" for char in cells[column])
    log.faults.append(Fault(number, COLUMNS[column], shown[:LONGEST_SHOWN], allowed))


def _moment(text: str, zone: ZoneInfo) -> dt.datetime | None:
    moment = None
    try:
        moment = dt.datetime.fromisoformat(text) if len(text) > len("2026-11-25") else None
    except ValueError:
        for form in FORMATS:
            try:
                moment = dt.datetime.strptime(text, form)  # noqa: DTZ007  the zone follows
            except ValueError:
                continue
            break
    if moment is None or not 1990 <= moment.year < 2200:
        return None
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)


def _number(text: str, unit: str, delimiter: str) -> Decimal | None:
    """A number with at most one decimal that matters; its own unit may follow it."""
    text = re.sub(rf"\s*(?:{unit})$", "", text)
    if delimiter != ",":
        text = text.replace(",", ".")
    if not re.fullmatch(r"[+-]?\d{1,3}(\.\d{1,6})?", text):
        return None
    try:
        return round(Decimal(text), 1)
    except InvalidOperation:
        return None


def _refuse_repeats(log: Log) -> None:
    seen: dict[dt.datetime, int] = {}
    for number, air in log.rows:
        moment = air.measured_at.astimezone(dt.UTC)
        if moment in seen:
            log.faults.append(
                Fault(number, COLUMNS[0], air.measured_at.isoformat(sep=" "),
                      _("a time stands once; it stands in line {line} as well").format(line=seen[moment]))
            )  # fmt: skip
        seen.setdefault(moment, number)
