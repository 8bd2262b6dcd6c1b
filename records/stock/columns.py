"""What the columns of the store's files are, and which heading is understood as which.

A heading is understood by what was chosen on the page, else by what was remembered for the same
supplier or kind of file, else by the words below. One that nobody understands is a fault: a column
is left out on purpose or not at all.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.sheets.cells import Cell, RowFault, says_something, shown

LEFT_OUT = "-"  # chosen for a column that is not to be read


@dataclass(frozen=True, slots=True)
class Column:
    """One thing a file can tell. ``words`` are further headings by which it is known."""

    key: str
    label: str | Promise
    words: tuple[str, ...] = ()
    needed: bool = True


COLUMNS: dict[str, tuple[Column, ...]] = {
    "deliveries": (
        Column("supplier", gettext_lazy("supplier"), ("vendor", "from")),
        Column("docket", gettext_lazy("docket"), ("docket number", "delivery note", "note no")),
        Column("delivered", gettext_lazy("delivered"), ("delivered at", "date", "delivery date")),
        Column("untreated", gettext_lazy("new, untreated"), ("untreated", "new")),
        Column("lot", gettext_lazy("lot mark"), ("mark", "pack", "batch", "lot no")),
        Column("product", gettext_lazy("product"), ("board", "article", "item")),
        Column("received", gettext_lazy("received"), ("quantity", "count", "sheets", "boards", "qty")),
        Column("bay", gettext_lazy("bay"), ("place",), needed=False),
        Column("sheet_mass_kg", gettext_lazy("one sheet weighs, kg"), ("sheet mass", "sheet kg"), needed=False),
    ),
    "readings": (
        Column("lot", gettext_lazy("lot mark"), ("mark", "pack", "batch", "lot no")),
        Column("moisture_pct", gettext_lazy("moisture, %"), ("moisture", "reading", "mc", "u")),
        Column("meter", gettext_lazy("meter"), ("instrument", "device")),
        Column("read_at", gettext_lazy("read"), ("read at", "time", "date", "taken")),
    ),
    "counts": (
        Column("lot", gettext_lazy("lot mark"), ("mark", "pack", "batch", "lot no")),
        Column("counted", gettext_lazy("counted"), ("count", "quantity", "found", "qty")),
        Column("reason", gettext_lazy("reason"), ("note", "why"), needed=False),
    ),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Heading:
    """One column of the file: its heading, and what it is understood as (empty: not at all)."""

    text: str
    key: str


def headings_of(
    kind: str, cells: Sequence[Cell], chosen: Mapping[str, str], remembered: Mapping[str, str]
) -> list[Heading]:
    texts = [cell.strip() if isinstance(cell, str) else shown(cell.value) for cell in cells]
    while texts and not texts[-1]:
        texts.pop()
    known = {column.key for column in COLUMNS[kind]} | {LEFT_OUT}
    words = _words(kind)
    return [
        Heading(text, next((key for key in (chosen.get(text), remembered.get(text)) if key in known),
                           words.get(_plain(text), "")))
        for text in texts
    ]  # fmt: skip


def _words(kind: str) -> dict[str, str]:
    return {
        _plain(word): column.key
        for column in COLUMNS[kind]
        for word in (*column.words, str(column.label), column.key)
    }


def _plain(text: str) -> str:
    return "".join(char for char in text.casefold() if char.isalnum())


def heading_faults(
    kind: str, row: int, headings: Sequence[Heading], given: Sequence[str]
) -> list[RowFault]:
    """Columns not understood, twice, or missing. ``given``: what is told beside the file."""
    faults = []
    for place, each in enumerate(headings):
        before = headings[:place]
        if not each.key:
            faults.append(RowFault(row, shown(each.text), "", _("say below what this column is, or leave it out")))  # fmt: skip
        elif each.text in [one.text for one in before]:
            faults.append(RowFault(row, shown(each.text), "", _("a heading stands once")))
        elif each.key != LEFT_OUT and each.key in [one.key for one in before]:
            faults.append(RowFault(row, shown(each.text), each.key, _("two columns are understood as this")))  # fmt: skip
    found = {each.key for each in headings}
    missing = [
        column
        for column in COLUMNS[kind]
        if column.needed and column.key not in found and column.key not in given
    ]
    faults += [RowFault(row, str(column.label), "", _("this column is missing")) for column in missing]  # fmt: skip
    return faults


def row_by_column(headings: Sequence[Heading], cells: Sequence[Cell]) -> dict[str, Cell]:
    """The cells of one row by what they are; empty ones are left out."""
    return {
        each.key: cell
        for each, cell in zip(headings, cells, strict=False)
        if each.key not in ("", LEFT_OUT) and says_something(cell)
    }


def is_ragged(headings: Sequence[Heading], cells: Sequence[Cell], even: bool) -> bool:
    """Whether a row has cells beyond the heading, or (``even``) fewer than it."""
    return any(map(says_something, cells[len(headings) :])) or (even and len(cells) < len(headings))
