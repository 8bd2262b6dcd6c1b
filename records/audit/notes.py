"""The head note: what is printed, mailed and kept outside, to hold the log to it later. Pure.

The first three lines are a checkpoint as C2SP tlog-checkpoint describes it: origin, size, root in
base64. The line after them is our own and says when the note was written.
"""

from __future__ import annotations

import base64
import datetime as dt
from dataclasses import dataclass


class NotANote(ValueError):
    """The text is no head note."""


@dataclass(frozen=True, slots=True)
class HeadNote:
    """The log of ``origin`` as it was: its size and the root of its tree (32 bytes)."""

    origin: str
    size: int
    root: bytes
    at: dt.datetime | None = None

    @property
    def root_text(self) -> str:
        return base64.b64encode(self.root).decode()

    @property
    def checkpoint(self) -> str:
        """The three lines, each with its line end: what a QR code carries."""
        return f"{self.origin}\n{self.size}\n{self.root_text}\n"

    @property
    def text(self) -> str:
        when = f"written {self.at:%Y-%m-%d %H:%M:%S} UTC\n" if self.at else ""
        return self.checkpoint + when


def read_note(text: str) -> HeadNote:
    """Read a note; lines after the third are left to people.

    Raises
    ------
    NotANote
        when origin, size or root cannot be read.
    """
    lines = text.splitlines()
    if len(lines) < 3 or not lines[0].strip():
        raise NotANote("a head note has at least three lines: origin, size, root")
    if not (lines[1].isascii() and lines[1].isdigit()) or lines[1] != str(int(lines[1])):
        raise NotANote(f"the size {lines[1]!r} is no whole number")
    try:
        root = base64.b64decode(lines[2], validate=True)
    except ValueError:
        root = b""
    if len(root) != 32:
        raise NotANote(f"the root {lines[2]!r} is no base64 of 32 bytes")
    return HeadNote(lines[0], int(lines[1]), root)
