"""CSV and workbooks opened line by line, every cell as text, within limits.

Nothing here knows what a column means. No file makes this raise anything else than ``Unreadable``,
also while its lines are drawn; a cell that cannot be taken as it stands is ``Spoiled``. Limits on
size are our choice, no source.
"""

from __future__ import annotations

import csv
import datetime as dt
import io
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import openpyxl
from django.utils.translation import gettext as _

from facility.sheets.cells import Cell, Spoiled, Unreadable, as_it_was

Lines = Iterator[tuple[int, list[Cell]]]
RATIO = 100  # times a part may swell when it is unpacked; whole sheets swell about tenfold
MOST_SHEETS = 50
_OLD_OFFICE = b"\xd0\xcf\x11\xe0"  # a workbook with a password, or one of before 2007


@dataclass(frozen=True, slots=True)
class Limits:
    """What is read of a file at most."""

    bytes: int = 5_000_000
    unpacked: int = 25_000_000  # 10,000 full rows of a standard take about 10 MB
    part: int = 2_000_000  # styles and the like; sheets and their texts may be longer
    parts: int = 200
    tags: int = 1_500_000  # those rows take about 1.1 million; empty ones swell in the parser
    columns: int = 200
    lines: int = 20_000


@dataclass(frozen=True, slots=True)
class Opened:
    """The lines of a file with their numbers. ``even``: each is as long as the heading."""

    lines: Lines
    decimal: str
    even: bool


def refuse_size(data: bytes, limits: Limits) -> None:
    if len(data) > limits.bytes:
        raise Unreadable(
            _("a file of at most {most} MB").format(most=limits.bytes // 10**6),
            value=f"{len(data) / 1e6:.1f} MB", status=413,
        )  # fmt: skip
    if not data.strip():
        raise Unreadable(_("the file is empty"))


def is_workbook(data: bytes, name: str) -> bool:
    name = name.lower()
    return data.startswith((b"PK", _OLD_OFFICE)) or name.endswith((".xlsx", ".xls", ".xlsm"))


def open_lines(data: bytes, name: str, limits: Limits) -> Opened:
    """The lines of a CSV file or of the first sheet of a workbook, by what the file holds."""
    refuse_size(data, limits)
    if is_workbook(data, name):
        return Opened(_within(_xlsx_lines(data, limits), limits), ".", even=False)
    return open_csv(data, limits)


def open_csv(data: bytes, limits: Limits) -> Opened:
    """Commas, semicolons or tabs; with semicolons the comma is the decimal mark."""
    text = data.decode("utf-8-sig", errors="surrogateescape")
    if "\0" in text[:1000] and any("\udc80" <= char <= "\udcff" for char in text[:1000]):
        raise Unreadable(
            _("text in UTF-8 is needed, or a workbook (xlsx); save the file as CSV UTF-8"),
            value=_("neither of them"), status=415,
        )  # fmt: skip
    heading = text.lstrip("\r\n ").partition("\n")[0]
    delimiter = max(",;\t", key=heading.count)
    lines = _within(_csv_lines(text, delimiter), limits)
    return Opened(lines, "," if delimiter == ";" else ".", even=True)


def _within(lines: Lines, limits: Limits) -> Lines:
    for number, cells in lines:
        if number > limits.lines:
            raise Unreadable(
                _("at most {most} lines are read").format(most=limits.lines),
                value=_("more lines"), status=413,
            )  # fmt: skip
        yield number, cells


def _csv_lines(text: str, delimiter: str) -> Lines:
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
    if not text.isascii() and any("\udc80" <= char <= "\udcff" for char in text):
        return Spoiled(text, _("text in UTF-8 is needed; save the file as CSV UTF-8"))
    return as_it_was(text)


def _xlsx_lines(data: bytes, limits: Limits) -> Lines:
    """The first sheet of a workbook."""
    if data.startswith(_OLD_OFFICE):
        raise Unreadable(
            _("a workbook (xlsx) without a password"), value=_("locked, or of before 2007"),
            status=415,
        )  # fmt: skip
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _refuse_bomb(archive, limits)
            _refuse_tricks(archive)
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, keep_links=False)
        sheet = book.worksheets[0]
        sheet.reset_dimensions()  # what a workbook says of its size may be anything
        yield from _sheet_lines(sheet, limits)
    except Unreadable:
        raise
    except Exception:  # openpyxl raises many kinds, for a spoiled workbook as for a foreign one
        raise Unreadable(
            _("a whole workbook (xlsx) that opens in a spreadsheet"), status=415
        ) from None


def _refuse_bomb(archive: zipfile.ZipFile, limits: Limits) -> None:
    """By the sizes the archive states, beyond which zipfile reads no part; then by what is in it."""
    parts = archive.infolist()
    unpacked = sum(part.file_size for part in parts)
    long = ("xl/worksheets/", "xl/sharedStrings.xml")
    if (
        unpacked > limits.unpacked
        or len(parts) > limits.parts
        or any(
            (each.file_size > limits.part and not each.filename.startswith(long))
            or each.file_size > max(10**6, RATIO * each.compress_size)
            for each in parts
        )
        or sum(archive.read(part).count(b"<") for part in parts if not part.flag_bits & 1) > limits.tags
    ):  # fmt: skip
        raise Unreadable(
            _("a workbook of at most {most} MB once unpacked, without pictures or macros").format(
                most=limits.unpacked // 10**6
            ),
            value=f"{unpacked / 1e6:.1f} MB", status=413,
        )  # fmt: skip


def _refuse_tricks(archive: zipfile.ZipFile) -> None:
    """What no list of boards needs, each by its name."""
    names = [part.filename for part in archive.infolist()]
    sheets = sum(name.startswith("xl/worksheets/") and name.endswith(".xml") for name in names)
    strange = [name for name in names if name.startswith(("/", "\\")) or ".." in name or ":" in name]  # fmt: skip
    refused = [
        (any(part.flag_bits & 1 for part in archive.infolist()),
         _("a workbook (xlsx) without a password"), _("locked"), 415),
        (not any(name.endswith("workbook.xml") for name in names),
         _("a whole workbook (xlsx) that opens in a spreadsheet"), _("a zip of something else"), 415),
        (any("vbaProject" in name for name in names),
         _("a workbook without macros; save it as xlsx"), _("macros"), 415),
        (any(name.startswith("xl/externalLinks/") for name in names),
         _("a workbook without links to other files"), _("links to other files"), 422),
        (bool(strange), _("parts inside the workbook alone"), next(iter(strange), ""), 422),
        (sheets > MOST_SHEETS,
         _("a workbook of at most {most} sheets").format(most=MOST_SHEETS), str(sheets), 413),
        (any(_declares(archive.read(name)) for name in names if name.endswith((".xml", ".rels"))),
         _("a workbook without declarations of its own"), "<!DOCTYPE", 422),
    ]  # fmt: skip
    for found, allowed, value, status in refused:
        if found:
            raise Unreadable(allowed, value=value, status=status)


def _declares(xml: bytes) -> bool:
    """Entities, by which a small file unfolds to a large one or reaches for others."""
    head = xml[:4000].replace(b"\0", b"")  # also where it is written in UTF-16
    return b"<!DOCTYPE" in head or b"<!ENTITY" in head


def _sheet_lines(sheet: Any, limits: Limits) -> Lines:
    for number, cells in enumerate(sheet.iter_rows(), start=1):
        if len(cells) > limits.columns:
            raise Unreadable(
                _("at most {most} columns are read").format(most=limits.columns),
                row=number, value=_("{count} cells").format(count=len(cells)),
            )  # fmt: skip
        yield number, [_xlsx_cell(cell) for cell in cells]


def _xlsx_cell(cell: Any) -> Cell:
    value = cell.value
    if cell.data_type == "f":
        return Spoiled(getattr(value, "text", value), _("a value is needed, not a formula"))
    if cell.data_type == "e":
        return Spoiled(value, _("a value is needed; the spreadsheet found none"))
    if isinstance(value, dt.datetime) and value.time() != dt.time():
        return value.replace(tzinfo=None).isoformat(" ", "minutes")
    if isinstance(value, dt.date):
        return value.isoformat()[:10]
    return as_it_was(plain(value))


def plain(value: object) -> str:
    """A value as text; yes and no as the comparisons of a standard spell them."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return "" if value is None else str(value)
