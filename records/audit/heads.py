"""Heads of the log and proofs against them, made from what is stored."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.utils import timezone

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


def head_now() -> HeadNote:
    """The head as it is now; its ``text`` is what to print, mail and keep outside."""
    head = LogHead.objects.filter(pk=1).first() or LogHead()
    root = merkle.root_of_frontier(head.peaks)
    return HeadNote(settings.LOG_ORIGIN, head.size, root, timezone.now())


def inclusion(entry: Entry) -> InclusionProof:
    head = head_now()
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
            data = bytes(Tile.objects.values_list("data", flat=True).get(level=level, index=tile))
            step = merkle.HASH_BYTES
            return [data[at : at + step] for at in range(0, len(data), step)]
        span = (tile * merkle.TILE, (tile + 1) * merkle.TILE - 1)
        rows = (
            Tile.objects.filter(level=level - 1, index__range=span)
            .order_by("index").values_list("root", flat=True)
            if level
            else Entry.objects.filter(seq__range=span)
            .order_by("seq").values_list("leaf", flat=True)
        )  # fmt: skip
        return [bytes(each) for each in rows]
