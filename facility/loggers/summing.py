"""What a channel comes to: its extremes, and how long it stood above a limit."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from facility.calc.wear import thermal_cycles
from facility.calc.working import Working

Floats = npt.NDArray[np.float64]

# Limits [degC] above which time is counted: concrete elements are to be core tested after 149
# (300 degF), steel loses strength from about 400, and 600 is where a hot layer nears flashover:
# the first two as cited for the inspection of training structures, the last common practice.
ABOVE_C = (149.0, 400.0, 600.0)

# Swings [K] smaller than this are not counted as thermal cycles: a thermocouple in the smoke swings
# by tens of degrees with every puff, and no steel follows. Our choice, no source.
SMALLEST_SWING_K = 100.0
MOST_TURNS = 10_000  # of one channel: more are thinned by stretches, each by its extremes
_READABLE_C = (-273.15, 2000.0)  # what the count takes; beyond it is no reading


def cycles_of(values: Floats) -> Working | None:
    """The thermal cycles in a channel [degC], by rainflow; None where it has no readings.

    Gaps are passed over. Of a series of more than ten thousand turning points the lowest and the
    highest of each stretch count, which loses swings within a five-thousandth of its length.

    >>> cycles_of(np.array([20.0, 600.0, 580.0, 590.0, 30.0])).value()
    1.0
    """
    low, high = _READABLE_C
    with np.errstate(invalid="ignore"):
        read = values[(values >= low) & (values <= high)]
    if not read.size:
        return None
    turns = _turning(read)
    if len(turns) > MOST_TURNS:
        turns = _extremes(turns, MOST_TURNS // 2)
    large = _without_ripple(turns.tolist(), SMALLEST_SWING_K)
    return thermal_cycles.of(temperatures=large, smallest_range=SMALLEST_SWING_K)


def _extremes(turns: Floats, stretches: int) -> Floats:
    """The lowest and the highest of each stretch, in the order in which they came."""
    size = -(-len(turns) // stretches)
    parts = np.concatenate([turns, np.full(-len(turns) % size, turns[-1])]).reshape(-1, size)
    first = np.arange(len(parts)) * size
    ends = np.column_stack([first + parts.argmin(axis=1), first + parts.argmax(axis=1)])
    kept = np.sort(ends, axis=1).ravel()
    found: Floats = turns[np.minimum(kept, len(turns) - 1)]
    return found


def _without_ripple(turns: list[float], smallest: float) -> list[float]:
    """Turning points without the swings smaller than a limit, which the count leaves out anyway.

    A turn is believed once the series came back from it by the limit; swings of the limit and more
    keep their ends, so their count stays. It takes the noise off before the slow count.
    """
    kept, top, bottom, rising = [turns[0]], turns[0], turns[0], 0
    for value in turns[1:]:
        if value > top:
            top = value
        if value < bottom:
            bottom = value
        if rising >= 0 and top - value >= smallest:
            if (rising == 0 and kept[0] != top) or rising > 0:
                kept.append(top)
            rising, bottom, top = -1, value, value
        elif rising <= 0 and value - bottom >= smallest:
            if (rising == 0 and kept[0] != bottom) or rising < 0:
                kept.append(bottom)
            rising, top, bottom = 1, value, value
    last = top if rising > 0 else bottom if rising < 0 else turns[-1]
    kept += [each for each in (last, turns[-1]) if each != kept[-1]]
    return kept


def _turning(read: Floats) -> Floats:
    """The readings at which a series turns, with its ends: all that a count of swings looks at."""
    moved = read[np.concatenate([[True], np.diff(read) != 0])]
    rises = np.diff(moved) > 0
    turns: Floats = moved[np.concatenate([[True], rises[1:] != rises[:-1], [True]])[: len(moved)]]
    return turns


def seconds_above(seconds: Floats, values: Floats, limit: float) -> float:
    """Time [s] for which values stood above a limit, between readings by a straight line.

    A gap counts for nothing: no time is made up across it.

    >>> seconds_above(np.array([0.0, 10.0, 20.0]), np.array([0.0, 100.0, 0.0]), 50.0)
    10.0
    """
    with np.errstate(invalid="ignore"):
        over = values > limit
    if not over.any():
        return 0.0
    span = np.diff(seconds)
    whole = float(span[over[1:] & over[:-1]].sum())
    crossed = np.flatnonzero(over[1:] != over[:-1])
    before, after = values[crossed] - limit, values[crossed + 1] - limit
    with np.errstate(invalid="ignore"):
        share = np.maximum(before, after) / np.abs(after - before)
    return whole + float(np.nansum(share * span[crossed]))
