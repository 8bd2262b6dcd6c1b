"""In whose units the page being made is read, as Django keeps whose time zone."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

_system: ContextVar[str] = ContextVar("reader_units", default="SI")


@contextmanager
def reading_in(system: str) -> Iterator[None]:
    token = _system.set(system)
    try:
        yield
    finally:
        _system.reset(token)


def current_system() -> str:
    return _system.get()
