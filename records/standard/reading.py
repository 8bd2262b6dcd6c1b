"""Rows of a standard as they lie in a file: CSV, a workbook or JSON, every cell as text.

Nothing here knows what a row must be. A cell that cannot be taken as it stands is a fault of its
row, and a file that cannot be read is one fault: no file makes this raise anything else than
``Unreadable``. Limits on size are our choice, no source.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import accumulate
from typing import Any

import openpyxl
from django.utils.translation import gettext as _

from facility.rulebook.checks import FIELDS

MOST_BYTES = 5_000_000
MOST_UNPACKED = 25_000_000  # 10,000 full rows take about 10 MB
MOST_OF_A_PART = 2_000_000  # styles and the like; sheets and their texts may be longer
MOST_PARTS = 200
MOST_TAGS = 1_500_000  # 10,000 full rows take about 1.1 million; empty ones swell in the parser
MOST_COLUMNS = 200
MOST_CHARTS = 200
MOST_LINES = 20_000  # ten times what an edition may hold; beyond, listing faults helps nobody
DEEPEST = 8  # JSON: document, rows, row, and room for a person's slip
LONGEST_SHOWN = 60
JSON_KEYS = ("about", "edition", "rows", "charts")

# What a spreadsheet would run, and one apostrophe more than such a text had of its own. With NUL,
# tab and line ends: OWASP ASVS 5.0, 1.2.10; the wide signs run in East Asian editions (from memory).
_RUNS = re.compile(r"'*[=+\-@\t\r\n\0＝＋－＠]")


@dataclass(frozen=True, slots=True)
class RowFault:
    """One thing wrong in a file.

    ``row`` is the row as the person sees it: the spreadsheet's number, with the heading in 1; in
    JSON the place in the list, from 1. Row 0 is the file as a whole. ``column`` is empty where
    the whole row is meant.
    """

    row: int
    column: str
    value: str
    allowed: str


class Unreadable(Exception):
    """The file cannot be read; ``fault`` says where it stopped and what could be read."""

    def __init__(self, allowed: str, *, value: str = "", row: int = 0) -> None:
        self.fault = RowFault(row, "", shown(value), allowed)
        super().__init__(allowed)


@dataclass(frozen=True, slots=True)
class Spoiled:
    """A cell that cannot be taken as it stands, and what could be."""

    value: object
    allowed: str


Cell = str | Spoiled


@dataclass(slots=True)
class Found:
    """What a file holds, each row with its number. ``decimal`` is the file's decimal mark."""

    rows: list[tuple[int, dict[str, str]]] = field(default_factory=list)
    faults: list[RowFault] = field(default_factory=list)
    edition: dict[str, str] = field(default_factory=dict)
    charts: list[Any] = field(default_factory=list)
    decimal: str = "."


def shown(value: object) -> str:
    """A value short and printable, for a sentence about it."""
    text = "".join(char if char.isprintable() else "\ufffd" for char in str(value)[:200])
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def kept_from_running(text: str) -> str:
    """The text with an apostrophe before it, where a spreadsheet would run it."""
    return f"'{text}" if _RUNS.match(text) else text


def as_it_was(text: str) -> str:
    """The text that ``kept_from_running`` was given."""
    return text[1:] if text.startswith("'") and _RUNS.match(text) else text


def read(data: bytes, name: str) -> Found:
    """Read a file by what it holds, then by its name."""
    if len(data) > MOST_BYTES:
        raise Unreadable(_("a file of at most {most} MB").format(most=MOST_BYTES // 10**6),
                         value=f"{len(data) / 1e6:.1f} MB")  # fmt: skip
    if not data.strip():
        raise Unreadable(_("the file is empty"))
    name = name.lower()
    if data.startswith(b"PK") or name.endswith((".xlsx", ".xls", ".xlsm")):
        return _read_xlsx(data)
    start = data.removeprefix(b"\xef\xbb\xbf").lstrip()[:1]
    if name.endswith(".json") or start in (b"{", b"["):
        return _read_json(data)
    return _read_csv(data)


def _read_csv(data: bytes) -> Found:
    """Commas or semicolons; with semicolons the comma is the decimal mark."""
    text = data.decode("utf-8-sig", errors="surrogateescape")
    heading = text.lstrip().partition("\n")[0]
    semicolons = heading.count(";") > heading.count(",")
    lines = _csv_lines(text, ";" if semicolons else ",")
    found = _by_column(lines, even=True)
    found.decimal = "," if semicolons else "."
    return found


def _csv_lines(text: str, delimiter: str) -> Iterator[tuple[int, list[Cell]]]:
    number = 0
    lines = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    try:
        for number, cells in enumerate(lines, start=1):
            yield number, [_csv_cell(cell) for cell in cells]
    except csv.Error as wrong:
        raise Unreadable(
            _("from here on the quotes do not pair, or a cell is far too long"),
            row=number + 1, value=str(wrong),
        ) from None  # fmt: skip


def _csv_cell(text: str) -> Cell:
    if any("\udc80" <= char <= "\udcff" for char in text):
        return Spoiled(text, _("text in UTF-8 is needed; save the file as CSV UTF-8"))
    return as_it_was(text)


def _by_column(lines: Iterable[tuple[int, Sequence[Cell]]], *, even: bool) -> Found:
    """Name the cells by the heading. ``even``: every line must be as long as the heading."""
    found, heading = Found(), None
    for number, cells in lines:
        _refuse_more_than(number, MOST_LINES)
        if not any(_says_something(cell) for cell in cells):
            continue
        if heading is None:
            heading = _heading(number, cells, found.faults)
        else:
            found.rows.append((number, _named(number, heading, cells, even, found.faults)))
    return found


def _says_something(cell: Cell) -> bool:
    return isinstance(cell, Spoiled) or bool(cell.strip())


def _refuse_more_than(number: int, most: int) -> None:
    if number > most:
        raise Unreadable(
            _("at most {most} lines are read").format(most=most), value=_("more lines")
        )


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
    if any(map(_says_something, cells[len(heading) :])) or (even and len(cells) < len(heading)):
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


def _read_xlsx(data: bytes) -> Found:
    """The first sheet of a workbook."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _refuse_bomb(archive)
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # what a workbook says of its size may be anything
        return _by_column(_xlsx_lines(sheet), even=False)
    except Unreadable:
        raise
    except Exception:  # openpyxl raises many kinds, for a spoiled workbook as for a foreign one
        raise Unreadable(_("a whole workbook (xlsx) that opens in a spreadsheet")) from None


def _refuse_bomb(archive: zipfile.ZipFile) -> None:
    """By the sizes the archive states, beyond which zipfile reads no part; then by what is in it."""
    parts = archive.infolist()
    unpacked = sum(part.file_size for part in parts)
    long = ("xl/worksheets/", "xl/sharedStrings.xml")
    if (
        unpacked > MOST_UNPACKED
        or len(parts) > MOST_PARTS
        or any(each.file_size > MOST_OF_A_PART for each in parts if not each.filename.startswith(long))
        or sum(archive.read(part).count(b"<") for part in parts) > MOST_TAGS
    ):  # fmt: skip
        raise Unreadable(
            _("a workbook of at most {most} MB once unpacked, without pictures or macros").format(
                most=MOST_UNPACKED // 10**6
            ),
            value=f"{unpacked / 1e6:.1f} MB",
        )


def _xlsx_lines(sheet: Any) -> Iterator[tuple[int, list[Cell]]]:
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        if len(cells) > MOST_COLUMNS:
            raise Unreadable(
                _("at most {most} columns are read").format(most=MOST_COLUMNS),
                row=number, value=_("{count} cells").format(count=len(cells)),
            )  # fmt: skip
        yield number, [_xlsx_cell(cell) for cell in cells]


def _xlsx_cell(cell: Any) -> Cell:
    value = cell.value
    if cell.data_type == "f":
        return Spoiled(getattr(value, "text", value), _("a value is needed, not a formula"))
    if cell.data_type == "e":
        return Spoiled(value, _("a value is needed; the spreadsheet found none"))
    if isinstance(value, dt.date):
        return value.isoformat()[:10]
    return as_it_was(_plain(value))


def _plain(value: object) -> str:
    """A value as text; yes and no as the comparisons spell them."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return "" if value is None else str(value)


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
        found.edition = {shown(key): _plain(value) for key, value in edition.items()}
    if isinstance(charts, list) and len(charts) <= MOST_CHARTS:
        found.charts = charts
    else:
        allowed = _("a list of at most {most} is needed").format(most=MOST_CHARTS)
        found.faults.append(RowFault(0, "charts", shown(charts), allowed))
    for number, row in enumerate(rows, start=1):
        _refuse_more_than(number, MOST_LINES)
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
    return _plain(cell)
