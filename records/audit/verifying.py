"""Going through the whole log: bodies against leaves, leaves against tiles, frontier and heads.

It reads in one pass and remembers no more than 256 hashes of each level, however long the log.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from django.conf import settings
from django.db.models import Max

from records.audit import bodies, merkle
from records.audit.models import Disclosed, Entry, LogHead, Tile
from records.audit.notes import HeadNote

type Progress = Callable[[int, int], None]

COLUMNS = ("seq", "body", "leaf", "entry_id", "at", "site", "actor", "role", "act", "obj", "once")
AT_ONCE = 2000


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that is wrong, in one line. ``kind`` is a word for programs."""

    kind: str
    sentence: str
    seq: int | None = None


def verify(
    heads: Iterable[HeadNote] = (), *, progress: Progress | None = None, limit: int = 100
) -> list[Finding]:
    """What is wrong with the log, nothing if all is well; the search ends after ``limit``.

    ``heads`` are notes kept outside. Without one that is newer than a rewrite, a rewrite with
    everything worked out anew cannot be seen: then the log agrees with itself.
    """
    found: list[Finding] = []
    for finding in _findings(sorted(heads, key=lambda note: note.size), progress):
        found.append(finding)
        if len(found) == limit:
            break
    return found


def _findings(heads: Sequence[HeadNote], progress: Progress | None) -> Iterator[Finding]:
    # The last entry is read before the head, so that an entry written meanwhile is no finding.
    last = Entry.objects.aggregate(last=Max("seq"))["last"]
    head = LogHead.objects.filter(pk=1).first() or LogHead()
    length = 0 if last is None else last + 1
    if length != head.size and not (length < head.size and _written_since(length)):
        yield Finding("size", f"The head says {head.size} entries, the last one is {last}.")
    tree, waiting = merkle.GrowingTree(), list(heads)
    yield from _heads_reached(waiting, tree)
    for row, texts in _rows_and_texts(head.size):
        if row[0] != tree.size:
            yield from _gap(tree.size, row[0], waiting)
            return
        leaf = merkle.leaf_hash(row[1].encode())
        yield from _entry_findings(row, leaf, texts)
        if full := tree.add(leaf):
            yield from _tile_findings(full)
            if progress:
                progress(tree.size, head.size)
        if waiting and waiting[0].size == tree.size:
            yield from _heads_reached(waiting, tree)
    if tree.size == head.size and tree.peaks != head.peaks:
        yield Finding(
            "frontier", "The frontier kept with the head does not follow from the entries."
        )
    yield from _stray_tiles(tree.size)
    yield from (_beyond(note, tree.size) for note in waiting)


def _written_since(length: int) -> bool:
    """Whether entries that the head counted were only written after the last one was read."""
    return Entry.objects.filter(seq=length).exists()


def _gap(expected: int, found: int, waiting: Sequence[HeadNote]) -> Iterator[Finding]:
    """Behind a gap nothing can be hashed in its place, so no later head can hold."""
    yield Finding("gap", f"Entry {expected} is missing; the next one is {found}.", expected)
    for note in waiting:
        yield Finding(
            "head", f"The head of {note.size} entries cannot hold without entry {expected}."
        )


def _rows_and_texts(size: int) -> Iterator[tuple[tuple[Any, ...], list[tuple[Any, ...]]]]:
    """Each entry with its erasable texts, both read in order side by side."""
    entries = Entry.objects.filter(seq__lt=size).order_by("seq").values_list(*COLUMNS)
    told = Disclosed.objects.filter(entry__lt=size).order_by("entry_id")
    columns = ("entry_id", "place", "salt", "value")
    grouped = groupby(
        told.values_list(*columns).iterator(chunk_size=AT_ONCE), key=lambda row: row[0]
    )
    of, texts = next(((key, list(rows)) for key, rows in grouped), (-1, []))
    for entry in entries.iterator(chunk_size=AT_ONCE):
        mine = texts if of == entry[0] else []
        if mine:
            of, texts = next(((key, list(rows)) for key, rows in grouped), (-1, []))
        yield entry, mine


def _entry_findings(
    row: tuple[Any, ...], leaf: bytes, texts: Sequence[tuple[Any, ...]]
) -> Iterator[Finding]:
    seq, text, kept = row[:3]
    if leaf != bytes(kept):
        yield Finding("leaf", f"Entry {seq}: the body is not the one that was hashed.", seq)
    try:
        body = json.loads(text)
        wrong = _unlike(row, body)
        commitments = bodies.committed_in(body) if texts else {}
    except (ValueError, KeyError, TypeError, AttributeError):
        yield Finding("body", f"Entry {seq}: the body cannot be read.", seq)
        return
    if wrong:
        named = ", ".join(wrong)
        yield Finding(
            "projection", f"Entry {seq}: {named} in the list is not what the body says.", seq
        )
    for _seq, place, salt, value in texts:
        if bodies.commitment(bytes(salt), value) != commitments.get(place):
            yield Finding(
                "text", f"Entry {seq}: the text of {place} is not the one committed to.", seq
            )


def _unlike(row: tuple[Any, ...], body: dict[str, Any]) -> list[str]:
    """Names of the columns that disagree with the body."""
    _seq, _body, _leaf, entry_id, at, site, actor, role, act, obj, once = row
    said = (
        body["id"], body["at"], body["site"], body["actor"], body["role"], body["act"],
        body["obj"], body.get("once"),
    )  # fmt: skip
    if (str(entry_id), _time_text(at), site, actor, role, act, obj, once) == said:
        return []
    kept = (str(entry_id), bodies.time_text(at), *row[5:])
    return [
        name for name, ours, theirs in zip(COLUMNS[3:], kept, said, strict=True) if ours != theirs
    ]


def _time_text(at: dt.datetime) -> str:
    """As ``bodies.time_text``, for a time that is in UTC: called for every entry."""
    return f"{at.replace(tzinfo=None).isoformat(timespec='microseconds')}Z"


def _tile_findings(full: Sequence[merkle.FullTile]) -> Iterator[Finding]:
    for tile in full:
        kept = Tile.objects.filter(level=tile.level, index=tile.index).values_list("root", "data")
        if [(bytes(root), bytes(data)) for root, data in kept] != [(tile.root, tile.data)]:
            first = tile.index * merkle.TILE ** (tile.level + 1)
            end = first + merkle.TILE ** (tile.level + 1) - 1
            yield Finding(
                "tile",
                f"Tile {tile.level}/{tile.index} does not follow from entries {first} to {end}.",
                first,
            )


def _stray_tiles(size: int) -> Iterator[Finding]:
    """Tiles that no entry fills."""
    for level in Tile.objects.order_by("level").values_list("level", flat=True).distinct():
        whole = size // merkle.TILE ** (level + 1)
        if stray := Tile.objects.filter(level=level, index__gte=whole).count():
            yield Finding("tile", f"{stray} tiles of level {level} lie beyond the last entry.")


def _heads_reached(waiting: list[HeadNote], tree: merkle.GrowingTree) -> Iterator[Finding]:
    while waiting and waiting[0].size == tree.size:
        note = waiting.pop(0)
        if note.origin != settings.LOG_ORIGIN:
            yield Finding("head", f"The head note is of another log: {note.origin}.")
        elif note.root != tree.root:
            yield Finding(
                "head",
                f"The head of {note.size} entries does not match: something before entry "
                f"{note.size} was changed, removed, inserted or put in another order.",
            )


def _beyond(note: HeadNote, size: int) -> Finding:
    return Finding(
        "head", f"A head note counts {note.size} entries, the log has {size}: its end was cut off."
    )
