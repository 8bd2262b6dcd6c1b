"""Going through the whole log: bodies against leaves, leaves against tiles, frontier and heads.

It reads in one pass and remembers no more than 256 hashes of each level, however long the log.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db.models import Exists, Max, OuterRef, TextField
from django.db.models.functions import Cast

from records.audit import bodies, merkle
from records.audit.models import Disclosed, Entry, LogHead, Tile
from records.audit.notes import HeadNote

type Progress = Callable[[int, int], None]

# Columns that repeat the body. Key and time are read as text, without making objects of them.
REPEATED = ("id", "at", "site", "actor", "role", "act", "obj", "once")
COLUMNS = ("seq", "body", "leaf", "id_text", "at_text", *REPEATED[2:])
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
        if wrong := _entry_findings(row, leaf, texts):
            yield from wrong
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
    yield from _stray_texts()
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
    entries = Entry.objects.filter(seq__lt=size).order_by("seq")
    read = entries.annotate(
        id_text=Cast("entry_id", TextField()), at_text=Cast("at", TextField())
    ).values_list(*COLUMNS)
    told = Disclosed.objects.filter(entry__lt=size).order_by("entry_id")
    texts = told.values_list("entry_id", "place", "salt", "value").iterator(chunk_size=AT_ONCE)
    text = next(texts, None)
    for entry in read.iterator(chunk_size=AT_ONCE):
        mine = []
        while text and text[0] <= entry[0]:
            mine.append(text)
            text = next(texts, None)
        yield entry, mine


def _entry_findings(
    row: tuple[Any, ...], leaf: bytes, texts: Sequence[tuple[Any, ...]]
) -> list[Finding]:
    seq, text, kept = row[:3]
    found = []
    if leaf != bytes(kept):
        found.append(Finding("leaf", f"Entry {seq}: the body is not the one that was hashed.", seq))
    try:
        body = json.loads(text)
        wrong = _unlike(row, body)
        commitments = bodies.committed_in(body) if texts else {}
    except (ValueError, KeyError, TypeError, AttributeError):
        return [*found, Finding("body", f"Entry {seq}: the body cannot be read.", seq)]
    if wrong:
        said = f"Entry {seq}: {', '.join(wrong)} in the list is not what the body says."
        found.append(Finding("projection", said, seq))
    for of, place, salt, value in texts:
        if of != seq or bodies.commitment(bytes(salt), value) != commitments.get(place):
            said = f"Entry {of}: the text of {place} is not the one committed to."
            found.append(Finding("text", said, of))
    return found


def _unlike(row: tuple[Any, ...], body: dict[str, Any]) -> list[str]:
    """Names of the columns that disagree with the body."""
    kept = (row[3].replace("-", ""), _time_text(row[4]), *row[5:])
    said = (
        body["id"].replace("-", ""), body["at"], body["site"], body["actor"], body["role"],
        body["act"], body["obj"], body.get("once"),
    )  # fmt: skip
    if kept == said:
        return []
    return [name for name, ours, theirs in zip(REPEATED, kept, said, strict=True) if ours != theirs]


def _time_text(kept: str) -> str:
    """A time in UTC as the database writes it, spelt as in a body: six decimals and a Z."""
    day, clock = kept.removesuffix("+00").split(" ")
    seconds, _point, part = clock.partition(".")
    return f"{day}T{seconds}.{part:0<6}Z"


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


def _stray_texts() -> Iterator[Finding]:
    """Texts that belong to no entry."""
    entry = Entry.objects.filter(seq=OuterRef("entry_id"))
    if stray := Disclosed.objects.filter(~Exists(entry)).count():
        yield Finding("text", f"{stray} erasable texts belong to no entry.")


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
