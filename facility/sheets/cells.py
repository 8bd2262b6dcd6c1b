"""What is said of a file from a spreadsheet: its faults, its spoiled cells, its texts kept harmless."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _

LONGEST_SHOWN = 60

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
    """The file cannot be read; ``fault`` says where it stopped and what could be read.

    ``status`` is the HTTP status that fits: 413 for too much, 415 for another kind of file.
    """

    def __init__(self, allowed: str, *, value: str = "", row: int = 0, status: int = 422) -> None:
        self.fault, self.status = RowFault(row, "", shown(value), allowed), status
        super().__init__(allowed)


@dataclass(frozen=True, slots=True)
class Spoiled:
    """A cell that cannot be taken as it stands, and what could be."""

    value: object
    allowed: str


Cell = str | Spoiled


def shown(value: object) -> str:
    """A value short and printable, for a sentence about it."""
    text = "".join(char if char.isprintable() else "\ufffd" for char in str(value)[:200])
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"


def says_something(cell: Cell) -> bool:
    return isinstance(cell, Spoiled) or bool(cell.strip())


def kept_from_running(text: str) -> str:
    """The text with an apostrophe before it, where a spreadsheet would run it."""
    return f"'{text}" if _RUNS.match(text) else text


def as_it_was(text: str) -> str:
    """The text that ``kept_from_running`` was given."""
    return text[1:] if text.startswith("'") and _RUNS.match(text) else text


def sentence(faults: Sequence[RowFault]) -> str:
    """The faults of one row in one line."""
    row = faults[0].row
    said = [_said(fault) for fault in faults]
    where = _("row {row}").format(row=row) if row else _("the file")
    return f"{where}: {'; '.join(said)}"


def _said(fault: RowFault) -> str:
    given = " ".join(part for part in (fault.column, fault.value) if part)
    return f"{given}: {fault.allowed}" if given else fault.allowed
