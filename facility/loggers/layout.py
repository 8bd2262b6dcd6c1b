"""How a logger's file is laid out: delimiter, decimal mark, headings, units, first row of data.

Law: the layout is told from the file alone, and everything told is shown before anything is kept.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from dataclasses import dataclass

from facility.loggers.meaning import unit_in_name, unit_of
from facility.loggers.times import looks_like_clock

LOOKED_AT = 40  # lines from which the layout is told
MOST_HEADER_ROWS = 12
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
_NUMBERING = re.compile(r"^(c|ch|col|column|channel)?\s*\d+$", re.I)
GAPS = frozenset(
    [
        "nan",
        "na",
        "n/a",
        "null",
        "none",
        "-",
        "--",
        "---",
        "ol",
        "ovld",
        "over",
        "open",
        "overload",
        "err",
        "error",
        "#n/a",
        "#value!",
        "bad",
        "inf",
        "-inf",
        "+inf",
        "overrange",
        "burnout",
    ]
)


class NotUnderstood(ValueError):
    """The file is no logger's file that can be read. ``line`` counts from 1, where one is to blame."""

    def __init__(self, why: str, line: int | None = None) -> None:
        self.why, self.line = why, line
        super().__init__(why if line is None else f"line {line}: {why}")


@dataclass(frozen=True, slots=True)
class Layout:
    """``units`` holds what the file says of each column, None where it says nothing."""

    delimiter: str
    decimal: str
    header_rows: int
    names: tuple[str, ...]
    descriptions: tuple[str, ...]
    units: tuple[str | None, ...]
    unit_row: int | None  # counted from 1
    encoding: str


def decoded(data: bytes) -> tuple[str, str]:
    """The text of a file and the encoding it was read in."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encoding = "utf-16"
    elif b"\0" in data[:4096]:
        raise NotUnderstood("this is no text file")
    else:
        encoding = "utf-8-sig"
    try:
        return data.decode(encoding), encoding.removesuffix("-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace"), "cp1252"


def is_number(cell: str, decimal: str = ".") -> bool:
    """Whether a cell is a number, or stands for one that is missing."""
    cell = cell.strip()
    if not cell or cell.lower() in GAPS:
        return False
    try:
        float(cell.replace(decimal, ".") if decimal == "," else cell)
    except ValueError:
        return False
    return True


def rows_of(text: str, delimiter: str) -> list[list[str]]:
    """The cells of some lines. Quotes are honoured."""
    return list(csv.reader(text.splitlines(), delimiter=delimiter))


def layout_of(text: str, encoding: str = "utf-8") -> Layout:
    """How a file is laid out, told from its first lines.

    Raises
    ------
    NotUnderstood
        when it is empty, or no row of numbers follows within the first lines.
    """
    head = "\n".join(text.splitlines()[:LOOKED_AT]) if len(text) < 65536 else _first_lines(text)
    if not head.strip():
        raise NotUnderstood("the file is empty")
    delimiter, decimal = _marks(head)
    rows = rows_of(head, delimiter)
    first = _first_data_row(rows, decimal)
    width = max(len(row) for row in rows)
    heads = [row + [""] * (width - len(row)) for row in rows[:first] if any(c.strip() for c in row)]
    unit_row = next((i for i, row in enumerate(heads) if _is_unit_row(row)), None)
    words = [row for i, row in enumerate(heads) if i != unit_row]
    named = [row for row in words if not all(_NUMBERING.match(c.strip()) for c in row if c)]
    names = named[0] if named else words[0] if words else [""] * width
    described = named[1] if len(named) > 1 else [""] * width
    plain, units = _without_units(names)
    if unit_row is not None:
        units = [unit_of(cell) or given for cell, given in zip(heads[unit_row], units, strict=True)]
    return Layout(
        delimiter, decimal, first, _distinct(plain), tuple(c.strip() for c in described),
        tuple(units), None if unit_row is None else unit_row + 1, encoding,
    )  # fmt: skip


def _first_lines(text: str) -> str:
    end = 0
    for _line in range(LOOKED_AT):
        end = text.find("\n", end) + 1
        if not end:
            return text
    return text[:end]


def _marks(head: str) -> tuple[str, str]:
    """Delimiter and decimal mark: the delimiter that cuts most lines into the same many cells."""
    lines = [line for line in head.splitlines() if line.strip()]
    best, found = (0.0, 0), ","
    for delimiter in DELIMITERS:
        counts = Counter(len(row) for row in csv.reader(lines, delimiter=delimiter))
        cells, often = counts.most_common(1)[0]
        if cells > 1 and (often / len(lines), cells) > best:
            best, found = (often / len(lines), cells), delimiter
    if best == (0.0, 0):
        raise NotUnderstood("no comma, semicolon, tab or bar separates columns", 1)
    comma = found != "," and re.search(r"\d,\d", lines[-1]) and not re.search(r"\d\.\d", lines[-1])
    return found, "," if comma else "."


def _first_data_row(rows: list[list[str]], decimal: str) -> int:
    """The first row that reads as data, as the one after it does."""
    data = [_is_data(row, decimal) for row in rows]
    for at, here in enumerate(data):
        if here and (at + 1 == len(data) or data[at + 1]):
            if at > MOST_HEADER_ROWS:
                break
            return at
    raise NotUnderstood(
        f"no row of numbers within the first {MOST_HEADER_ROWS} lines, so no channel"
    )


def _is_data(row: list[str], decimal: str) -> bool:
    filled = [cell for cell in row if cell.strip()]
    numbers = sum(is_number(cell, decimal) for cell in filled)
    clocks = sum(looks_like_clock(cell) for cell in filled)
    gaps = sum(cell.strip().lower() in GAPS for cell in filled)
    return numbers > 0 and 2 * (numbers + clocks + gaps) > len(filled)


def _is_unit_row(row: list[str]) -> bool:
    filled = [cell for cell in row if cell.strip() and not is_number(cell)]
    return len(filled) > 0 and 2 * sum(unit_of(cell) is not None for cell in filled) > len(filled)


def _without_units(names: list[str]) -> tuple[list[str], list[str | None]]:
    pairs = [unit_in_name(name) for name in names]
    return [name for name, _unit in pairs], [unit for _name, unit in pairs]


def _distinct(names: list[str]) -> tuple[str, ...]:
    """Headings, told apart where a file repeats them."""
    seen: Counter[str] = Counter()
    told = []
    for at, name in enumerate(names, start=1):
        name = name or f"column {at}"
        seen[name] += 1
        told.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
    return tuple(told)
