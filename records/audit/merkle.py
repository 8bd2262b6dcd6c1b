"""The Merkle tree of RFC 6962, section 2.1: hashes, roots and proofs. Pure.

A leaf is SHA-256 of 0x00 and the data, a node SHA-256 of 0x01 and its two children, so that no
node can be passed off as a leaf. A tree of n leaves splits at the largest power of two below n.

Proofs are made from stored hashes. ``Stored(level, first, count)`` gives the roots of whole
subtrees of ``256 ** level`` leaves, neighbours of one tile: level 0 are the leaf hashes, level 1
the roots of 256 leaves each, and so on.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

TILE_BITS = 8
TILE = 2**TILE_BITS
HASH_BYTES = 32
EMPTY_ROOT = hashlib.sha256().digest()

type Stored = Callable[[int, int, int], Sequence[bytes]]


def leaf_hash(data: bytes) -> bytes:
    return hashlib.sha256(b"\x00" + data).digest()


def node_hash(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def root_of(hashes: Sequence[bytes]) -> bytes:
    """The root over leaf hashes, or over the roots of equal whole subtrees (section 2.1)."""
    if not hashes:
        return EMPTY_ROOT
    level, sha256 = list(hashes), hashlib.sha256
    while len(level) > 1:
        odd = [level.pop()] if len(level) % 2 else []
        each = iter(level)
        pairs = zip(each, each, strict=True)
        level = [sha256(b"\x01" + left + right).digest() for left, right in pairs] + odd
    return level[0]


def added(peaks: Sequence[bytes], size: int, leaf: bytes) -> list[bytes]:
    """The frontier of a tree of ``size`` leaves after one more.

    The frontier holds the roots of the whole subtrees that the tree is made of, largest first:
    one for each binary digit 1 of the size.
    """
    grown, last = list(peaks), leaf
    while size & 1:
        last = node_hash(grown.pop(), last)
        size >>= 1
    return [*grown, last]


def split(joined: bytes) -> list[bytes]:
    """Hashes that were stored one behind the other."""
    return [joined[at : at + HASH_BYTES] for at in range(0, len(joined), HASH_BYTES)]


def root_of_frontier(peaks: Sequence[bytes]) -> bytes:
    """The root of the tree that has this frontier."""
    if not peaks:
        return EMPTY_ROOT
    root = peaks[-1]
    for peak in reversed(peaks[:-1]):
        root = node_hash(peak, root)
    return root


@dataclass(frozen=True, slots=True)
class FullTile:
    """256 neighbouring hashes of one level, and the root over them."""

    level: int
    index: int
    root: bytes
    data: bytes


class GrowingTree:
    """A tree fed leaf by leaf. It remembers at most 255 hashes of each level."""

    def __init__(self) -> None:
        self.size = 0
        self._rows: list[list[bytes]] = [[]]

    def add(self, leaf: bytes) -> Sequence[FullTile]:
        """Add a leaf; the tiles it completes, from the leaves upwards."""
        self.size += 1
        self._rows[0].append(leaf)
        return self._filled() if len(self._rows[0]) == TILE else ()

    def add_many(self, leaves: Sequence[bytes]) -> list[FullTile]:
        """The same for many leaves, a tile at a time."""
        full: list[FullTile] = []
        while leaves:
            room = TILE - len(self._rows[0])
            self._rows[0] += leaves[:room]
            self.size += len(leaves[:room])
            leaves = leaves[room:]
            full += self._filled()
        return full

    def _filled(self) -> list[FullTile]:
        filled: list[FullTile] = []
        while len(row := self._rows[level := len(filled)]) == TILE:
            count = self.size >> TILE_BITS * (level + 1)
            filled.append(FullTile(level, count - 1, root_of(row), b"".join(row)))
            self._rows[level] = []
            if len(self._rows) == level + 1:
                self._rows.append([])
            self._rows[level + 1].append(filled[-1].root)
        return filled

    @property
    def peaks(self) -> list[bytes]:
        """The frontier, as ``added`` keeps it."""
        return [peak for row in reversed(self._rows) for peak in _peaks_of_row(row)]

    @property
    def root(self) -> bytes:
        return root_of_frontier(self.peaks)


def _peaks_of_row(row: Sequence[bytes]) -> Iterator[bytes]:
    first = 0
    for bit in reversed(range(TILE_BITS)):
        if len(row) >> bit & 1:
            yield root_of(row[first : first + (1 << bit)])
            first += 1 << bit


def _split(size: int) -> int:
    """The largest power of two below ``size``, which is at least 2."""
    return 1 << (size - 1).bit_length() - 1


def range_root(stored: Stored, first: int, end: int) -> bytes:
    """The root over leaves ``first`` to ``end - 1`` of a range that is a subtree of the tree."""
    count = end - first
    if count & (count - 1) == 0:
        height = count.bit_length() - 1
        level, inside = divmod(height, TILE_BITS)
        return root_of(stored(level, first >> TILE_BITS * level, 1 << inside))
    middle = first + _split(count)
    return node_hash(range_root(stored, first, middle), range_root(stored, middle, end))


def inclusion_path(stored: Stored, index: int, size: int) -> list[bytes]:
    """The audit path of leaf ``index`` in the tree of ``size`` leaves (section 2.1.1)."""
    if not 0 <= index < size:
        raise ValueError(f"there is no entry {index} among {size}")
    path: list[bytes] = []
    first, end = 0, size
    while end - first > 1:
        middle = first + _split(end - first)
        if index < middle:
            path.append(range_root(stored, middle, end))
            end = middle
        else:
            path.append(range_root(stored, first, middle))
            first = middle
    return path[::-1]


def consistency_path(stored: Stored, old: int, size: int) -> list[bytes]:
    """The proof that the tree of ``old`` leaves is the beginning of that of ``size`` (2.1.2)."""
    if not 0 < old <= size:
        raise ValueError(f"{old} entries are no beginning of {size}")
    path: list[bytes] = []
    first, end, old_is_whole = 0, size, True
    while old != end:
        middle = first + _split(end - first)
        if old <= middle:
            path.append(range_root(stored, middle, end))
            end = middle
        else:
            path.append(range_root(stored, first, middle))
            first, old_is_whole = middle, False
    if not old_is_whole:
        path.append(range_root(stored, first, end))
    return path[::-1]


def includes(leaf: bytes, index: int, size: int, path: Sequence[bytes], root: bytes) -> bool:
    """Whether the path leads from the leaf to the root (RFC 9162, section 2.1.3.2)."""
    if not 0 <= index < size:
        return False
    place, last, found = index, size - 1, leaf
    for step in path:
        if last == 0:
            return False
        if place & 1 or place == last:
            found = node_hash(step, found)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            found = node_hash(found, step)
        place, last = place >> 1, last >> 1
    return last == 0 and found == root


def is_consistent(old: int, old_root: bytes, size: int, root: bytes, path: Sequence[bytes]) -> bool:
    """Whether the old tree is the beginning of the new one (RFC 9162, section 2.1.4.2)."""
    if old == size:
        return old > 0 and not path and old_root == root
    if not 0 < old < size or not path:
        return False
    steps = list(path) if old & (old - 1) else [old_root, *path]
    place, last = old - 1, size - 1
    while place & 1:
        place, last = place >> 1, last >> 1
    old_found = found = steps[0]
    for step in steps[1:]:
        if last == 0:
            return False
        if place & 1 or place == last:
            old_found, found = node_hash(step, old_found), node_hash(step, found)
            while not place & 1 and place:
                place, last = place >> 1, last >> 1
        else:
            found = node_hash(found, step)
        place, last = place >> 1, last >> 1
    return last == 0 and old_found == old_root and found == root
