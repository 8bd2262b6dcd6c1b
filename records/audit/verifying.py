"""Going through the whole log: bodies against leaves, leaves against tiles, frontier and heads.

It reads in one pass and remembers no more than 256 hashes of each level, however long the log.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.db.models import Exists, Max, OuterRef, TextField
from django.db.models.functions import Cast

from records.audit import bodies, merkle
from records.audit.models import Disclosed, DisposedText, Entry, ErasedText, LogHead, Tile
from records.audit.notes import HeadNote

type Progress = Callable[[int, int], None]

# Columns that repeat the body. Key and time are read as text, without making objects of them.
REPEATED = ("id", "at", "site", "actor", "role", "act", "obj", "once")
COLUMNS = ("seq", "body", "id_text", "at_text", *REPEATED[2:])
AT_ONCE = 2048


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
    return list(itertools.islice(_findings(heads, progress), limit))


def _findings(heads: Iterable[HeadNote], progress: Progress | None) -> Iterator[Finding]:
    # The last entry is read before the head, so that an entry written meanwhile is no finding.
    last = Entry.objects.aggregate(last=Max("seq"))["last"]
    head = LogHead.objects.filter(pk=1).first() or LogHead()
    length = 0 if last is None else last + 1
    if length != head.size and not (length < head.size and _written_since(length)):
        yield Finding("size", f"The head says {head.size} entries, the last one is {last}.")
    yield from tree_findings(head, sorted(heads, key=lambda note: note.size), progress)
    yield from _column_findings(head.size)
    yield from _stray_texts()


def tree_findings(
    head: LogHead, heads: Sequence[HeadNote], progress: Progress | None = None
) -> Iterator[Finding]:
    """First pass: bodies against leaves, leaves against tiles, the frontier and the heads.

    A tile's worth of entries is hashed and compared at once; they are looked at one by one only
    where something differs, or where a head ends among them.
    """
    tree, tiles, waiting = merkle.GrowingTree(), _KeptTiles(), list(heads)
    yield from _heads_reached(waiting, tree)
    entries = Entry.objects.filter(seq__lt=head.size).order_by("seq")
    read = entries.values_list("seq", "body", "leaf").iterator(chunk_size=AT_ONCE)
    sha256 = hashlib.sha256
    for rows in itertools.batched(read, merkle.TILE):
        seqs, texts, kept = zip(*rows, strict=True)
        if seqs != tuple(range(tree.size, tree.size + len(rows))):
            yield from _gap(tree.size, seqs, waiting)
            return
        leaves = [sha256(b"\x00" + text.encode()).digest() for text in texts]
        if leaves != list(kept):
            yield from _leaf_findings(tree.size, leaves, kept)
        yield from _grown(tree, leaves, waiting, tiles)
        if progress:
            progress(tree.size, head.size)
    if tree.size == head.size and tree.peaks != head.peaks:
        yield Finding(
            "frontier", "The frontier kept with the head does not follow from the entries."
        )
    yield from _stray_tiles(tree.size)
    yield from (_beyond(note, tree.size) for note in waiting)


def _leaf_findings(first: int, leaves: Sequence[bytes], kept: Sequence[Any]) -> Iterator[Finding]:
    for seq, (leaf, held) in enumerate(zip(leaves, kept, strict=True), first):
        if leaf != bytes(held):
            yield Finding("leaf", f"Entry {seq}: the body is not the one that was hashed.", seq)


def _grown(
    tree: merkle.GrowingTree, leaves: list[bytes], waiting: list[HeadNote], tiles: _KeptTiles
) -> Iterator[Finding]:
    """Let the tree grow by these leaves, stopping at every head that ends among them."""
    end = tree.size + len(leaves)
    while leaves:
        step = min(waiting[0].size if waiting else end, end) - tree.size
        full = tree.add_many(leaves[:step])
        leaves = leaves[step:]
        yield from _tile_findings(full, tiles)
        yield from _heads_reached(waiting, tree)


def _written_since(length: int) -> bool:
    """Whether entries that the head counted were only written after the last one was read."""
    return Entry.objects.filter(seq=length).exists()


def _gap(first: int, seqs: Sequence[int], waiting: Sequence[HeadNote]) -> Iterator[Finding]:
    """Behind a gap nothing can be hashed in its place, so no later head can hold."""
    expected, found = next((n, seq) for n, seq in enumerate(seqs, first) if n != seq)
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


def _column_findings(size: int) -> Iterator[Finding]:
    """Second pass: the columns that repeat the body, and the texts it commits to."""
    ordered = set(ErasedText.objects.values_list("entry_id", "place"))
    ordered |= set(DisposedText.objects.values_list("entry_id", "place"))
    for row, texts in _rows_and_texts(size):
        if texts or not _repeats(*row):
            yield from _row_findings(row, texts, ordered)


# How a body ends that gives no reason, in either version.
_NO_REASON = re.compile(r'(?:"src":"[a-z]+",)?"v":[12],"why":""}')


def _repeats(
    seq: int, body: str, key: str, at: str, site: str, actor: str, role: str, act: str, obj: str,
    once: str | None,
) -> bool:  # fmt: skip
    """Whether the body plainly says what the columns say; False where it has to be read.

    Keys are sorted, so a body begins with act and actor and ends with what follows "before".
    Quotes inside a text are escaped, so ``"at":`` can be nothing but a key.
    """
    first, again = (
        f'{{"act":"{act}","actor":"{actor}","after":{{',
        f',"once":"{once}"' if once else "",
    )
    if len(key) == 32:
        key = f"{key[:8]}-{key[8:12]}-{key[12:16]}-{key[16:20]}-{key[20:]}"
    last = f'}},"id":"{key}","obj":"{obj}"{again},"role":"{role}","site":"{site}",'
    end = body.rfind(last)
    return (
        end > 0
        and body.startswith(first)
        and _NO_REASON.fullmatch(body, end + len(last)) is not None
        and f',"at":"{_time_text(at)}","before":{{' in body
        and body.count('"at":') == 1
        and '{"committed":' not in body
        and "\\" not in first + last
    )


def _row_findings(
    row: tuple[Any, ...], texts: Sequence[tuple[Any, ...]], ordered: set[tuple[int, str]]
) -> Iterator[Finding]:
    seq = row[0]
    try:
        body = json.loads(row[1])
        wrong, commitments = _unlike(row, body), bodies.committed_in(body)
    except (ValueError, KeyError, TypeError, AttributeError):
        yield Finding("body", f"Entry {seq}: the body cannot be read.", seq)
        return
    if wrong:
        said = f"Entry {seq}: {', '.join(wrong)} in the list is not what the body says."
        yield Finding("projection", said, seq)
    for of, place, salt, value in texts:
        if of != seq or bodies.commitment(bytes(salt), value) != commitments.get(place):
            said = f"Entry {of}: the text of {place} is not the one committed to."
            yield Finding("text", said, of)
    for place in commitments.keys() - {text[1] for text in texts}:
        if (seq, place) not in ordered:
            said = (
                f"Entry {seq}: the text of {place} is gone, and no order to erase it is recorded."
            )
            yield Finding("text", said, seq)


def _unlike(row: tuple[Any, ...], body: dict[str, Any]) -> list[str]:
    """Names of the columns that disagree with the body."""
    kept = (row[2].replace("-", ""), _time_text(row[3]), *row[4:])
    said = (
        body["id"].replace("-", ""), body["at"], body["site"], body["actor"], body["role"],
        body["act"], body["obj"], body.get("once"),
    )  # fmt: skip
    return [name for name, ours, theirs in zip(REPEATED, kept, said, strict=True) if ours != theirs]


def _time_text(kept: str) -> str:
    """A time in UTC as the database writes it, spelt as in a body: six decimals and a Z."""
    day, clock = kept.removesuffix("+00").split(" ")
    seconds, _point, part = clock.partition(".")
    return f"{day}T{seconds}.{part:0<6}Z"


class _KeptTiles:
    """Tiles as they are stored, read ahead 64 of a level at a time."""

    AHEAD = 64

    def __init__(self) -> None:
        self._read: dict[tuple[int, int], tuple[bytes, bytes]] = {}

    def holds(self, tile: merkle.FullTile) -> bool:
        place = (tile.level, tile.index)
        if tile.index % self.AHEAD == 0:
            span = (tile.index, tile.index + self.AHEAD - 1)
            rows = Tile.objects.filter(level=tile.level, index__range=span)
            read = rows.values_list("index", "root", "data")
            self._read |= {(tile.level, n): (bytes(root), bytes(data)) for n, root, data in read}
        return self._read.pop(place, None) == (tile.root, tile.data)


def _tile_findings(full: Sequence[merkle.FullTile], kept: _KeptTiles) -> Iterator[Finding]:
    for tile in full:
        if not kept.holds(tile):
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
