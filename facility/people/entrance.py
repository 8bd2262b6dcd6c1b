"""By which way the acts of the moment come in: the door keeps it with each of them.

Whoever serves a request says so once (``facility.people.sitting``); outside of one, acts come from
a command.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass


@dataclass(slots=True)
class Entrance:
    """``device``: public id of a shared tablet. ``by_code``: the person was let in by six digits,
    and ``proved`` by the password since, within this one request."""

    src: str = "command"
    device: str = ""
    by_code: bool = False
    proved: bool = False


_now: ContextVar[Entrance | None] = ContextVar("entrance", default=None)


def entrance() -> Entrance:
    return _now.get() or Entrance()


@contextmanager
def entering(way: Entrance) -> Iterator[Entrance]:
    """Acts inside the block come in this way."""
    token = _now.set(way)
    try:
        yield way
    finally:
        _now.reset(token)
