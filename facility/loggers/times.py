"""The times of a logger's rows: seconds, minutes, a clock, or date and clock.

Times of the day without a zone are kept without one; whose clock it was is for the reader of the
file to say.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

_CLOCK = re.compile(
    r"^(?:(?P<date>\d{4}[-/.]\d{1,2}[-/.]\d{1,2}|\d{1,2}[-/.]\d{1,2}[-/.]\d{2,4})[T\s\-]+)?"
    r"(?P<h>\d{1,3}):(?P<m>\d{2})(?::(?P<s>\d{2}(?:[.,]\d+)?))?\s*(?P<half>[AaPp][Mm])?"
    r"(?P<zone>Z|[+-]\d{2}:?\d{2})?$"
)
DAY = 86400.0


def looks_like_clock(cell: str) -> bool:
    """Whether a cell is a time of day, a span as h:mm:ss, or a date with a time."""
    return _CLOCK.match(cell.strip()) is not None


def clock_seconds(cells: Sequence[str]) -> tuple[Floats, dt.datetime | None]:
    """Seconds since the first readable cell, and the date and time that one stood for.

    A clock without a date that jumps back by more than half a day passed midnight. A cell that is
    no time gives NaN. Where no cell tells day from month, the date is not told.

    Shapes: one float per cell.
    """
    found = [_CLOCK.match(cell.strip()) for cell in cells]
    seconds = np.array([np.nan if m is None else _second_of_day(m) for m in found], np.float64)
    days = _days([None if m is None else m["date"] for m in found])
    known = np.flatnonzero(np.isfinite(seconds))
    if not known.size:
        return seconds, None
    first = days[known[0]]
    if first is None:
        seconds = _past_midnight(seconds)
    else:
        seconds = seconds + DAY * np.array(
            [np.nan if d is None else (d - first).days for d in days]
        )
    start = float(seconds[known[0]])
    begun = (
        None
        if first is None
        else dt.datetime.combine(first, dt.time()) + dt.timedelta(seconds=start)
    )
    return seconds - start, begun


def _past_midnight(seconds: Floats) -> Floats:
    steps = np.diff(seconds, prepend=seconds[:1])
    return seconds + DAY * np.cumsum(np.nan_to_num(steps) < -DAY / 2)


def _second_of_day(match: re.Match[str]) -> float:
    hour = int(match["h"])
    if match["half"]:
        hour = hour % 12 + (12 if match["half"].lower() == "pm" else 0)
    second = float((match["s"] or "0").replace(",", "."))
    return hour * 3600.0 + int(match["m"]) * 60.0 + second


def _days(dates: Sequence[str | None]) -> list[dt.date | None]:
    """The dates of a column, all read the same way; none where day and month could be swapped."""
    parts = {text: [int(part) for part in re.split(r"[-/.]", text)] for text in dates if text}
    order = _order(list(parts.values()))
    if order is None:
        return [None] * len(dates)
    read = {text: _date(*(given[at] for at in order)) for text, given in parts.items()}
    return [read[text] if text else None for text in dates]


def _order(parts: list[list[int]]) -> tuple[int, int, int] | None:
    """Where year, month and day stand; None where that cannot be told."""
    if parts and parts[0][0] > 31:
        return 0, 1, 2
    if any(given[0] > 12 for given in parts):
        return 2, 1, 0
    if any(given[1] > 12 for given in parts):
        return 2, 0, 1
    return None


def _date(year: int, month: int, day: int) -> dt.date | None:
    try:
        return dt.date(year if year > 99 else 2000 + year, month, day)
    except ValueError:
        return None
