"""Progress of a long command: a line for each step, and one for every tenth of it."""

from __future__ import annotations

from typing import Any

from records.audit.backups import Progress

TENTHS = 10


def shown_on(stream: Any) -> Progress:
    """Something to tell of a step, how far it is, and how far it goes."""
    told: set[tuple[str, int]] = set()

    def show(step: str, done: int, size: int) -> None:
        tenth = TENTHS * done // size if size else TENTHS
        if (step, tenth) not in told:
            told.add((step, tenth))
            stream.write(f"{step}: {100 * tenth // TENTHS} %")

    return show
