"""A standard as a file: written for a spreadsheet or a program, and read back with every fault.

Reading changes nothing, and is the dry run. ``records.standard.services.import_rows`` takes what
was read into a draft.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from typing import Any

from django.utils.translation import gettext as _

from facility.refusals import WrongValue
from facility.rulebook.checks import (
    FIELDS,
    ITEM_FIELDS,
    MOST,
    MOST_ROWS,
    check_item,
    check_row,
)
from facility.sheets.cells import RowFault, Unreadable, sentence, shown
from facility.sheets.writing import MEDIA, csv_lines, xlsx_file
from records.standard import reading
from records.standard.reading import Found

__all__ = ["FORMS", "RowFault", "Sheet", "read_rows", "sentence", "write_rows"]

FORMS = {**MEDIA, "json": "application/json"}  # form: its media type
NUMBERS = ("limit", "limit_high")
CHART = (
    "unit", "caps_dry_kg", "burns_before_cooling", "cooling_min", "wait_min", "trial_on",
    "trial_note",
)  # fmt: skip


def write_rows(
    rows: Sequence[Mapping[str, Any]], form: str, *, edition: Mapping[str, str] | None = None,
    charts: Sequence[Mapping[str, Any]] = (), items: Sequence[Mapping[str, Any]] = (),
) -> bytes:  # fmt: skip
    """Write rows, as ``selectors.row_values`` gives them, in one of ``FORMS``.

    Only JSON has room for the edition's code, title and jurisdiction, its charts and check list.
    """
    if form == "json":
        return _write_json(rows, edition or {}, charts, items)
    cells = [[_cell(name, row.get(name)) for name in FIELDS] for row in rows]
    if form == "xlsx":
        return xlsx_file(FIELDS, cells)
    return "".join(csv_lines(FIELDS, cells)).encode()


def _cell(name: str, value: Any) -> Any:
    """A number where the column holds numbers; anything else is text, which must not run."""
    number = _number(value) if name in NUMBERS else None
    return number if number is not None else value if isinstance(value, bool) else _text(value)


def _number(value: Any) -> Decimal | None:
    """The value as a number that a spreadsheet and JSON can hold unrounded, if it is one."""
    try:
        number = Decimal(str(value))
    except InvalidOperation:
        return None
    return number if number.is_finite() and abs(number) <= MOST else None


def _text(value: Any) -> str:
    return "" if value is None else str(value)


def _write_json(
    rows: Sequence[Mapping[str, Any]], edition: Mapping[str, str],
    charts: Sequence[Mapping[str, Any]], items: Sequence[Mapping[str, Any]],
) -> bytes:  # fmt: skip
    document: dict[str, Any] = {
        "edition": {name: edition.get(name, "") for name in ("code", "title", "jurisdiction")},
        "rows": [_json_row(row) for row in rows],
        "charts": [{name: _plain(chart[name]) for name in CHART} for chart in charts],
    }
    if items:
        document["checks"] = [{name: item[name] for name in ITEM_FIELDS} for item in items]
    return json.dumps(document, ensure_ascii=False, indent=1).encode()


def _json_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """The fields that say something, in the order of the columns."""
    said = ((name, row.get(name)) for name in FIELDS if row.get(name) not in (None, ""))
    return {name: _json_value(name, value) for name, value in said}


def _json_value(name: str, value: Any) -> Any:
    number = _number(value) if name in NUMBERS else None
    return value if number is None else _plain(number)


def _plain(value: Any) -> Any:
    """As JSON has it. A float holds every limit of three decimals exactly as written."""
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    return [_plain(each) for each in value] if isinstance(value, (list, tuple)) else value


@dataclass(frozen=True, slots=True)
class Sheet:
    """What a file holds, and everything that is wrong in it, by row."""

    faults: tuple[RowFault, ...]
    count: int = 0  # rows in the file, sound or not
    edition: Mapping[str, str] = field(default_factory=dict)
    _rows: tuple[dict[str, Any], ...] = ()
    _charts: tuple[dict[str, Any], ...] = ()
    _items: tuple[dict[str, Any], ...] = ()

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows as ``check_row`` cleans them: all, or none where anything is wrong."""
        self._refuse_faults()
        return list(self._rows)

    @property
    def charts(self) -> list[dict[str, Any]]:
        """The charts, as ``selectors.chart_values`` gives them: all or none."""
        self._refuse_faults()
        return list(self._charts)

    @property
    def items(self) -> list[dict[str, Any]]:
        """The check list, as ``check_item`` cleans its items: all or none."""
        self._refuse_faults()
        return list(self._items)

    def _refuse_faults(self) -> None:
        if self.faults:
            raise WrongValue(sentence([self.faults[0]]), field=self.faults[0].column)


def read_rows(data: bytes, name: str) -> Sheet:
    """Read a file of rows and name every fault in it; write nothing, raise nothing."""
    try:
        return _judged(reading.read(data, name))
    except Unreadable as wrong:
        return Sheet((wrong.fault,))


def _judged(found: Found) -> Sheet:
    rows, faults = _judged_rows(found)
    charts = _judged_charts(found.charts, faults)
    items = _judged_items(found.items, faults)
    count = len(found.rows)
    if not count:
        faults.append(RowFault(0, "", "", _("at least one row is needed")))
    if count > MOST_ROWS:
        faults.append(RowFault(0, "", _("{count} rows").format(count=count),
                               _("at most {most} rows make an edition").format(most=MOST_ROWS)))  # fmt: skip
    by_row = sorted(faults, key=lambda fault: fault.row)
    return Sheet(tuple(by_row), count, found.edition, tuple(rows), tuple(charts), tuple(items))


def _judged_rows(found: Found) -> tuple[list[dict[str, Any]], list[RowFault]]:
    faults = list(found.faults)
    named = {(fault.row, fault.column) for fault in faults}
    stands_in: dict[str, int] = {}
    rows = []
    for number, given in found.rows:
        if (number, "") in named:  # what stands in which column is not known
            continue
        values, wrong = _judged_row(number, given, found.decimal)
        first = stands_in.setdefault(values["code"], number)
        if first != number and values["code"]:
            wrong.append(RowFault(number, "code", values["code"],
                                  _("stands in row {row} already").format(row=first)))  # fmt: skip
        faults += [fault for fault in wrong if (number, fault.column) not in named]
        rows.append(values)
    return rows, faults


def _judged_row(
    number: int, given: Mapping[str, str], decimal: str
) -> tuple[dict[str, Any], list[RowFault]]:
    lowered = {"comparison": given["comparison"].lower()} if "comparison" in given else {}
    checked = check_row({**given, **lowered})  # a spreadsheet writes the word true as TRUE
    faults = [
        RowFault(number, shown(fault.field), shown(fault.given), fault.sentence)
        for fault in checked.faults
    ]
    return checked.values, faults + _either_way(number, given, decimal)


def _either_way(number: int, given: Mapping[str, str], decimal: str) -> list[RowFault]:
    """Numbers that may mean a thousand or a decimal, by the mark that is not the file's own."""
    other = "," if decimal == "." else "."
    twofold = re.compile(rf"\s*[1-9]\d{{0,2}}{re.escape(other)}\d{{3}}\s*")
    return [
        RowFault(number, name, given[name],
                 _("write {whole} or {broken}; this could mean either").format(
                     whole=given[name].strip().replace(other, ""),
                     broken=given[name].strip().replace(other, decimal)))
        for name in NUMBERS
        if twofold.fullmatch(given.get(name, ""))
    ]  # fmt: skip


def _judged_charts(given: Sequence[Any], faults: list[RowFault]) -> list[dict[str, Any]]:
    """The charts in their types; what is allowed in them the service knows."""
    charts: dict[str, dict[str, Any]] = {}
    for number, chart in enumerate(given, start=1):
        if not isinstance(chart, dict) or set(chart) != set(CHART):
            needed = _("these are needed: {names}").format(names=", ".join(CHART))
            faults.append(RowFault(0, _chart(number), shown(chart), needed))
            continue
        read = {name: _READ[name](chart[name]) for name in CHART}
        faults += [
            RowFault(0, f"{_chart(number)} {name}", shown(chart[name]), _allowed_in_chart(name))
            for name in CHART
            if read[name] is None
        ]
        if charts.setdefault(str(read["unit"]), read) is not read:
            faults.append(RowFault(0, _chart(number), shown(read["unit"]), _("a unit has one chart")))  # fmt: skip
    return list(charts.values())


def _judged_items(given: Sequence[Any], faults: list[RowFault]) -> list[dict[str, Any]]:
    """The check list, every fault named by the item's place in it."""
    items: dict[str, dict[str, Any]] = {}
    for number, item in enumerate(given, start=1):
        where = _("item {number}").format(number=number)
        if not isinstance(item, dict):
            faults.append(RowFault(0, where, shown(item), _("an object is needed")))
            continue
        checked = check_item(item)
        faults += [
            RowFault(0, f"{where} {shown(fault.field)}", shown(fault.given), fault.sentence)
            for fault in checked.faults
        ]
        code, text = checked.values["code"], checked.values["text"].casefold()
        if code in items or text in {each["text"].casefold() for each in items.values()}:
            faults.append(RowFault(0, where, code, _("stands in the list already")))
        items[code] = checked.values
    return list(items.values())


def _allowed_in_chart(name: str) -> str:
    return {
        "unit": _("the name of a unit is needed"),
        "trial_note": _("a line of text is needed"),
        "trial_on": _("a day is needed: 2027-05-31"),
        "caps_dry_kg": _("a list of masses in kg is needed, of at most one decimal"),
    }.get(name, _("a whole number is needed"))


def _chart(number: int) -> str:
    return _("chart {number}").format(number=number)


def _words(given: Any) -> str | None:
    sound = isinstance(given, str) and given.strip() and given.isprintable()
    return given.strip() if sound else None


def _whole(given: Any) -> int | None:
    return int(given) if isinstance(given, str) and re.fullmatch(r"[0-9]{1,4}", given) else None


def _caps(given: Any) -> list[Decimal] | None:
    caps = [_number(each) for each in given] if isinstance(given, list) else []
    sound = [cap for cap in caps if cap is not None and cap == round(cap, 1)]
    return sound if sound and len(sound) == len(caps) else None


def _day(given: Any) -> dt.date | None:
    try:
        return dt.date.fromisoformat(given)
    except (TypeError, ValueError):
        return None


_READ = {
    "unit": _words, "caps_dry_kg": _caps, "burns_before_cooling": _whole, "cooling_min": _whole,
    "wait_min": _whole, "trial_on": _day, "trial_note": _words,
}  # fmt: skip
