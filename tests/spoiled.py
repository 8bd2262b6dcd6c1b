"""Files of rows written by the standard library and xlsxwriter alone, sound and spoiled.

Shared by everything that reads a spreadsheet's file: the standard and the store.
"""

from __future__ import annotations

import csv
import io
import struct
import zipfile
import zlib

import xlsxwriter


def csv_of(*rows, columns=None, delimiter=",", encoding="utf-8"):
    """A CSV file written by the standard library alone."""
    columns = columns or list(dict.fromkeys(name for row in rows for name in row))
    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=delimiter)
    writer.writerows([columns, *([row.get(name, "") for name in columns] for row in rows)])
    return file.getvalue().encode(encoding)


def xlsx_of(*lines, formula=None):
    """A workbook of these lines, with a formula (row, column, text) if asked."""
    file = io.BytesIO()
    book = xlsxwriter.Workbook(file, {"in_memory": True, "nan_inf_to_errors": True})
    sheet = book.add_worksheet()
    for number, line in enumerate(lines):
        for place, value in enumerate(line):
            sheet.write(number, place, value)
    if formula:
        sheet.write_formula(*formula)
    book.close()
    return file.getvalue()


def zipped(**parts):
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(name, content)
    return file.getvalue()


def workbook_with(sound, name, content):
    """A sound workbook, one of its parts exchanged."""
    return workbook_and(sound, **{name: content})


def workbook_and(sound, **changed):
    """A sound workbook, with parts exchanged or added."""
    with zipfile.ZipFile(io.BytesIO(sound)) as archive:
        parts = {each: archive.read(each) for each in archive.namelist()}
    return zipped(**{**parts, **changed})


def png():
    """One black pixel."""

    def chunk(kind, body):
        checked = kind + body
        return struct.pack(">I", len(body)) + checked + struct.pack(">I", zlib.crc32(checked))

    head = chunk(b"IHDR", struct.pack(">IIBBBBB", 1, 1, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + head + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")  # fmt: skip


def laughing():
    """Entities that unfold to 10^9 letters."""
    names = "".join(f'<!ENTITY e{n} "{f"&e{n - 1};" * 10 if n else "ha"}">' for n in range(10))
    sheet = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return f'<?xml version="1.0"?><!DOCTYPE sst [{names}]><sst xmlns="{sheet}"><si><t>&e9;</t></si></sst>'  # fmt: skip


def cells(count):
    sheet = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
    return (
        f'<worksheet xmlns="{sheet}"><sheetData><row>{"<c/>" * count}</row></sheetData></worksheet>'
    )
