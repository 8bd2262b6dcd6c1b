"""What a channel comes to: its extremes, and how long it stood above a limit."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

# Limits [degC] above which time is counted: concrete elements are to be core tested after 149
# (300 degF), steel loses strength from about 400, and 600 is where a hot layer nears flashover:
# the first two as cited for the inspection of training structures, the last common practice.
ABOVE_C = (149.0, 400.0, 600.0)


def seconds_above(seconds: Floats, values: Floats, limit: float) -> float:
    """Time [s] for which values stood above a limit, between readings by a straight line.

    A gap counts for nothing: no time is made up across it.

    >>> seconds_above(np.array([0.0, 10.0, 20.0]), np.array([0.0, 100.0, 0.0]), 50.0)
    10.0
    """
    before, after = values[:-1] - limit, values[1:] - limit
    span = np.diff(seconds)
    both = np.isfinite(before) & np.isfinite(after)
    with np.errstate(divide="ignore", invalid="ignore"):
        rising = np.where(before > 0, 0.0, -before / (after - before))
        falling = np.where(after > 0, 1.0, before / (before - after))
    share = np.clip(falling - rising, 0.0, 1.0)
    share = np.where((before <= 0) & (after <= 0), 0.0, share)
    return float(np.sum(np.where(both, share * span, 0.0)))
