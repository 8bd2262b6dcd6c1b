"""Rows of a standard as they lie in a file: CSV, a workbook or JSON, every cell as text.

Nothing here knows what a row must be. A cell that cannot be taken as it stands is a fault of its
row, and a file that cannot be read is one fault: no file makes this raise anything else than
``Unreadable``. How a spreadsheet's file is opened stands in ``facility/sheets``.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Any

from django.utils.translation import gettext as _

from facility.rulebook.checks import FIELDS, MOST_ITEMS
from facility.sheets.cells import Cell, RowFault, Spoiled, Unreadable, says_something, shown
from facility.sheets.opening import Limits, is_workbook, open_lines, plain, refuse_size

LIMITS = Limits()  # 20,000 lines are ten times what an edition may hold
MOST_CHARTS = 200
DEEPEST = 8  # JSON: document, rows, row, and room for a person's slip
JSON_KEYS = ("about", "edition", "rows", "charts", "checks")


@dataclass(slots=True)
class Found:
    """What a file holds, each row with its number. ``decimal`` is the file's decimal mark."""

    rows: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    edition: dict[str, str] = field(default_factory=dict)
    charts: list[Any] = field(default_factory=list)
    items: list[Any] = field(default_factory=list)
    decimal: str = "."


def read(data: bytes, name: str) -> Found:
    """Read a file by what it holds, then by its name."""
    refuse_size(data, LIMITS)
    start = data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
    if not is_workbook(data, name) and (name.lower().endswith(".json") or start in (b"{", b"[")):
        return _read_json(data)
    opened = open_lines(data, name, LIMITS)
    found = _by_column(opened.lines, even=opened.even)
    found.decimal = opened.decimal
    return found


def _by_column(lines: Iterable[tuple[int, Sequence[Cell]]], *, even: bool) -> Found:
    """Name the cells by the heading. ``even``: every line must be as long as the heading."""
    found, heading = Found(), None
    for number, cells in lines:
        if not any(says_something(cell) for cell in cells):
            continue
        if heading is None:
            heading = _heading(number, cells, found.faults)
        else:
            found.rows.append((number, _named(number, heading, cells, even, found.faults)))
    return found


def _heading(number: int, cells: Sequence[Cell], faults: list[RowFault]) -> list[str]:
    names = [cell.strip().lower() if isinstance(cell, str) else shown(cell.value) for cell in cells]
    while not names[-1]:
        names.pop()
    if not set(names) & set(FIELDS):
        raise Unreadable(
            _("CSV in UTF-8, a workbook (xlsx) or JSON; the first row names the columns: {names}")
            .format(names=", ".join(FIELDS)),
            value=", ".join(names),
        )  # fmt: skip
    for place, name in enumerate(names):
        if name not in FIELDS:
            faults.append(RowFault(number, shown(name), shown(name), _("no such column")))
        elif name in names[:place]:
            faults.append(RowFault(number, name, name, _("a column stands once")))
    return names


def _named(
    number: int, heading: list[str], cells: Sequence[Cell], even: bool, faults: list[RowFault]
) -> dict[str, str]:
    """A row by its columns; columns that nobody knows were named as faults with the heading."""
    if any(map(says_something, cells[len(heading) :])) or (even and len(cells) < len(heading)):
        faults.append(RowFault(number, "", _("{count} cells").format(count=len(cells)),
                               _("a cell for each of the {count} columns of the heading")
                               .format(count=len(heading))))  # fmt: skip
    pairs = [(name, cell) for name, cell in zip(heading, cells, strict=False) if name in FIELDS]
    return _sound(number, pairs, faults)


def _sound(
    number: int, pairs: Iterable[tuple[str, Cell]], faults: list[RowFault]
) -> dict[str, str]:
    row = {}
    for name, cell in pairs:
        if isinstance(cell, Spoiled):
            faults.append(RowFault(number, name, shown(cell.value), cell.allowed))
        else:
            row[name] = cell
    return row


def _read_json(data: bytes) -> Found:
    """An object with rows, and edition and charts if it likes; or the list of rows alone.

    Numbers stay as they are written, so that no one is rounded or endless before it is checked.
    """
    try:
        text = data.decode("utf-8-sig")
        _refuse_depth(text)
        loaded = json.loads(
            text, parse_int=str, parse_float=str, parse_constant=str, object_pairs_hook=_once
        )
    except UnicodeDecodeError as wrong:
        line = data.count(b"\n", 0, wrong.start) + 1
        raise Unreadable(_("text in UTF-8 is needed"), value=_line(line)) from None
    except json.JSONDecodeError as wrong:
        raise Unreadable(_("JSON is needed"), value=f"{_line(wrong.lineno)}: {wrong.msg}") from None
    return _document({"rows": loaded} if isinstance(loaded, list) else loaded)


def _line(number: int) -> str:
    return _("line {number}").format(number=number)


def _refuse_depth(text: str) -> None:
    """Before it is parsed, for the parser works itself inwards."""
    brackets = re.findall(r'"(?:[^"\\]|\\.)*+"?|[\[\]{}]', text, re.DOTALL)
    steps = (1 if each in "[{" else -1 for each in brackets if each in ("[", "]", "{", "}"))
    if max(accumulate(steps), default=0) > DEEPEST:
        raise Unreadable(_("at most {most} brackets inside each other").format(most=DEEPEST))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    """An object of JSON, in which a name twice would silently lose the first value."""
    made = dict(pairs)
    if len(made) < len(pairs):
        names = [name for name, value in pairs]
        twice = next(name for name in names if names.count(name) > 1)
        raise Unreadable(_("a name stands once in an object"), value=twice)
    return made


def _document(loaded: Any) -> Found:
    rows = loaded.get("rows") if isinstance(loaded, dict) else None
    if not isinstance(rows, list):
        raise Unreadable(_("an object with a list of rows is needed"), value=str(loaded)[:200])
    found = Found()
    for key in sorted(set(loaded) - set(JSON_KEYS)):
        found.faults.append(RowFault(0, shown(key), "", _("no such part of an edition")))
    edition, charts = loaded.get("edition") or {}, loaded.get("charts") or []
    if isinstance(edition, dict):
        found.edition = {shown(key): plain(value) for key, value in edition.items()}
    if isinstance(charts, list) and len(charts) <= MOST_CHARTS:
        found.charts = charts
    else:
        allowed = _("a list of at most {most} is needed").format(most=MOST_CHARTS)
        found.faults.append(RowFault(0, "charts", shown(charts), allowed))
    items = loaded.get("checks") or []
    if isinstance(items, list) and len(items) <= MOST_ITEMS:
        found.items = items
    else:
        allowed = _("a list of at most {most} is needed").format(most=MOST_ITEMS)
        found.faults.append(RowFault(0, "checks", shown(items), allowed))
    for number, row in enumerate(rows, start=1):
        if number > LIMITS.lines:
            raise Unreadable(_("at most {most} lines are read").format(most=LIMITS.lines),
                             value=_("more lines"))  # fmt: skip
        found.rows.append((number, _json_row(number, row, found.faults)))
    return found


def _json_row(number: int, row: Any, faults: list[RowFault]) -> dict[str, str]:
    if not isinstance(row, dict):
        faults.append(RowFault(number, "", shown(row), _("an object is needed")))
        return {}
    return _sound(number, ((shown(name), _json_cell(cell)) for name, cell in row.items()), faults)


def _json_cell(cell: Any) -> Cell:
    if isinstance(cell, (dict, list)):
        return Spoiled(cell, _("a text, a number, true or false is needed"))
    return plain(cell)
