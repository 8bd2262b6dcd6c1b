"""Whether anything of a device is missing: its events are numbered, and each names the one before.

Pure. A device numbers its events from 1 across all burns. A number that is missing, or an event
that names another one before it, shows; neither is refused, because what did arrive is true.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from facility.yard.event import FIRST


@dataclass(frozen=True, slots=True)
class Link:
    """One event of a device as far as the chain goes."""

    seq: int
    sha256: str
    prev: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Numbers of a device, both included, that never arrived."""

    first: int
    last: int


@dataclass(frozen=True, slots=True)
class Broken:
    """An event that names another one before it than the one that arrived."""

    seq: int


def doubts_of(links: Iterable[Link], *, last_known: int = 0) -> list[Gap | Broken]:
    """Gaps and broken links of one device, by number.

    ``last_known`` is a number that is known to have been given, so that a missing end shows too.

    >>> doubts_of([Link(1, "a", ""), Link(3, "c", "b")])
    [Gap(first=2, last=2)]
    """
    found: list[Gap | Broken] = []
    before = Link(0, FIRST, FIRST)
    for link in sorted(links, key=lambda each: each.seq):
        if link.seq > before.seq + 1:
            found.append(Gap(before.seq + 1, link.seq - 1))
        elif link.prev != before.sha256:
            found.append(Broken(link.seq))
        before = link
    if last_known > before.seq:
        found.append(Gap(before.seq + 1, last_known))
    return found
