"""Heads of the log and proofs against them, made from what is stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.utils import timezone
from django.utils.translation import gettext as _

from records.audit import merkle
from records.audit.models import Entry, LogHead, Tile
from records.audit.notes import HeadNote


@dataclass(frozen=True, slots=True)
class InclusionProof:
    """That the body is entry ``index`` of the log with this head."""

    body: str
    index: int
    path: tuple[bytes, ...]
    head: HeadNote

    def as_json(self) -> dict[str, Any]:
        """What ``checker.py --proof`` reads; at most 20 hashes up to a million entries."""
        return {
            "origin": self.head.origin,
            "body": self.body,
            "index": self.index,
            "size": self.head.size,
            "path": [step.hex() for step in self.path],
            "root": self.head.root_text,
        }


@dataclass(frozen=True, slots=True)
class ConsistencyProof:
    """That the log of ``old_size`` entries is the beginning of the log with this head."""

    old_size: int
    path: tuple[bytes, ...]
    head: HeadNote

    def as_json(self) -> dict[str, Any]:
        return {
            "origin": self.head.origin,
            "old_size": self.old_size,
            "size": self.head.size,
            "path": [step.hex() for step in self.path],
            "root": self.head.root_text,
        }


@dataclass(frozen=True, slots=True)
class Answer:
    """What the log says to a head note kept outside."""

    holds: bool
    sentence: str

    @property
    def word(self) -> str:
        return "head_holds" if self.holds else "head_fails"


def answer_to(note: HeadNote) -> Answer:
    """Whether the log that the note was taken of is the beginning of the log as it is now."""
    head = head_now()
    if note.origin != head.origin:
        return Answer(False, _("This head is of another log: {origin}.").format(origin=note.origin))
    if note.size > head.size:
        return Answer(
            False,
            _("This head counts {size} entries, the log has {now}: its end was cut off.").format(
                size=note.size, now=head.size
            ),
        )
    if _is_beginning(note, head):
        return Answer(
            True,
            _("The log of {size} entries is the beginning of the {now} entries of now.").format(
                size=note.size, now=head.size
            ),
        )
    return Answer(
        False,
        _(
            "This head does not hold: something before entry {size} was changed, removed, inserted "
            "or put in another order, or the head was mistyped."
        ).format(size=note.size),
    )


def _is_beginning(note: HeadNote, head: HeadNote) -> bool:
    if note.size == 0:
        return note.root == merkle.EMPTY_ROOT
    path = merkle.consistency_path(StoredHashes(head.size), note.size, head.size)
    return merkle.is_consistent(note.size, note.root, head.size, head.root, path)


def head_now() -> HeadNote:
    """The head as it is now; its ``text`` is what to print, mail and keep outside."""
    head = LogHead.objects.filter(pk=1).first() or LogHead()
    root = merkle.root_of_frontier(head.peaks)
    return HeadNote(settings.LOG_ORIGIN, head.size, root, timezone.now())


def inclusion(entry: Entry, head: HeadNote | None = None) -> InclusionProof:
    """Against the head given, such as the one printed beside, or that of now."""
    head = head or head_now()
    path = merkle.inclusion_path(StoredHashes(head.size), entry.seq, head.size)
    return InclusionProof(entry.body, entry.seq, tuple(path), head)


def consistency(old_size: int) -> ConsistencyProof:
    """Raises ``ValueError`` for a size of nought or beyond the log."""
    head = head_now()
    path = merkle.consistency_path(StoredHashes(head.size), old_size, head.size)
    return ConsistencyProof(old_size, tuple(path), head)


class StoredHashes:
    """Reads hashes by whole tiles, each once for a proof."""

    def __init__(self, size: int) -> None:
        self.size = size
        self._read: dict[tuple[int, int], Sequence[bytes]] = {}

    def __call__(self, level: int, first: int, count: int) -> Sequence[bytes]:
        tile, at = divmod(first, merkle.TILE)
        if (level, tile) not in self._read:
            self._read[level, tile] = self._tile(level, tile)
        return self._read[level, tile][at : at + count]

    def _tile(self, level: int, tile: int) -> Sequence[bytes]:
        """The hashes of a tile; of the last, unfinished one those that are there."""
        if (tile + 1) * merkle.TILE ** (level + 1) <= self.size:
            kept = Tile.objects.values_list("data", flat=True).get(level=level, index=tile)
            return merkle.split(bytes(kept))
        span = (tile * merkle.TILE, (tile + 1) * merkle.TILE - 1)
        rows = (
            Tile.objects.filter(level=level - 1, index__range=span)
            .order_by("index").values_list("root", flat=True)
            if level
            else Entry.objects.filter(seq__range=span)
            .order_by("seq").values_list("leaf", flat=True)
        )  # fmt: skip
        return [bytes(each) for each in rows]
