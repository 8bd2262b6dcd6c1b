"""Lists written for a spreadsheet: CSV and xlsx in which no text runs, whatever it begins with."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from decimal import Decimal
from typing import Any

import xlsxwriter

from facility.refusals import plain_number
from facility.sheets.cells import kept_from_running

MEDIA = {
    "csv": "text/csv; charset=utf-8",
    "xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
BOM = "\ufeff"  # without the mark a spreadsheet guesses the encoding wrong

Row = Sequence[Any]  # text, Decimal, int or None


class _Line:
    """A file that gives back each line as it is written."""

    def write(self, text: str) -> str:
        return text


def csv_lines(heading: Sequence[str], rows: Iterable[Row], foot: Sequence[Row] = ()) -> Iterator[str]:  # fmt: skip
    """Line by line, so that a list of any length takes no more memory than one of its lines."""
    writer = csv.writer(_Line())
    yield BOM + writer.writerow(heading)
    for row in rows:
        yield writer.writerow([_csv_cell(value) for value in row])
    if foot:
        yield writer.writerow([])
    for row in foot:
        yield writer.writerow([_csv_cell(value) for value in row])


def _csv_cell(value: Any) -> str:
    if isinstance(value, Decimal):
        return plain_number(value)
    return kept_from_running(text_of(value))


def text_of(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    return "" if value is None else str(value)


def xlsx_file(
    heading: Sequence[str], rows: Iterable[Row], *, title: str = "rows",
    foot: Sequence[Row] = (), foot_title: str = "about",
) -> bytes:  # fmt: skip
    """A workbook of one sheet; ``foot`` stands on a second one."""
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True, "constant_memory": True})
    bold = book.add_format({"bold": True})
    quoted = book.add_format({"quote_prefix": True})
    sheet = book.add_worksheet(title)
    sheet.freeze_panes(1, 1)
    sheet.set_column(0, len(heading) - 1, 18)
    for column, name in enumerate(heading):
        sheet.write_string(0, column, name, bold)
    for line, row in enumerate(rows, start=1):
        for column, value in enumerate(row):
            write_cell(sheet, line, column, value, quoted)
    if foot:
        about = book.add_worksheet(foot_title)
        about.set_column(0, 1, 40)
        for line, row in enumerate(foot):
            for column, value in enumerate(row):
                write_cell(about, line, column, value, quoted)
    book.close()
    return file.getvalue()


def write_cell(sheet: Any, line: int, column: int, value: Any, quoted: Any) -> None:
    """Text that would run is marked as quoted, which is how a workbook keeps the apostrophe."""
    if isinstance(value, (Decimal, int)) and not isinstance(value, bool):
        sheet.write_number(line, column, float(value))
        return
    text = text_of(value)
    if text.startswith("'"):
        sheet.write_string(line, column, kept_from_running(text), quoted)
    elif text:
        runs = kept_from_running(text) != text
        sheet.write_string(line, column, text, quoted if runs else None)
