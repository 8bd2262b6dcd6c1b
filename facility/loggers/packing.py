"""A burn's temperatures kept small: whole numbers of a scale, their differences, zlib.

A channel of 3,600 values takes two to three kilobytes. Law: what does not fit the scale is
refused, never cut; a gap stays a gap.
"""

from __future__ import annotations

import zlib
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]

MISSING = -32768
MOST = 32767
SCALES = (1000.0, 100.0, 10.0, 1.0, 0.1, 0.01, 0.001)


def scale_of(values: Floats) -> float:
    """The finest scale [steps per unit] at which every value fits a two-byte number.

    Temperatures up to 3,276 degrees are thus kept in tenths.

    Raises
    ------
    ValueError
        for a value beyond 32 million.
    """
    low, high = float(np.fmin.reduce(values)), float(np.fmax.reduce(values))
    if not (np.isfinite(low) and np.isfinite(high)):
        known = values[np.isfinite(values)]
        low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 0.0)
    highest = max(-low, high)
    for scale in SCALES:
        if highest * scale <= MOST:
            return scale
    raise ValueError(f"{highest:g} is too large to be kept")


def packed(channels: Sequence[Floats]) -> tuple[bytes, list[float]]:
    """Channels of one length as bytes, and the scale of each.

    >>> blob, scales = packed([np.array([20.04, np.nan, 900.0])])
    >>> [float(v) for v in unpacked(blob, scales, 3)[0]]
    [20.0, nan, 900.0]
    """
    scales = [scale_of(values) for values in channels]
    whole = np.empty((len(channels), len(channels[0]) if channels else 0), np.int16)
    for row, values, scale in zip(whole, channels, scales, strict=True):
        row[:] = np.where(np.isfinite(values), np.rint(values * scale), MISSING)
    steps = np.diff(whole, axis=1, prepend=np.int16(0))  # wraps around, and back when summed
    return zlib.compress(steps.astype("<i2").tobytes(), level_for(steps.nbytes)), scales


LARGE = 2_000_000  # bytes


def level_for(size: int) -> int:
    """How hard to press: what is large is pressed lightly, for that costs seconds otherwise."""
    return 1 if size > LARGE else 6


def unpacked(blob: bytes, scales: Sequence[float], length: int) -> list[Floats]:
    """The channels again, each value within half a step of its scale."""
    whole = whole_numbers(blob, len(scales), length)
    return [values_of(row, scale) for row, scale in zip(whole, scales, strict=True)]


def whole_numbers(blob: bytes, channels: int, length: int) -> npt.NDArray[np.int16]:
    """The two-byte numbers that are kept, channels by times: what a cache can hold."""
    steps = np.frombuffer(zlib.decompress(blob), "<i2").reshape(channels, length)
    return np.cumsum(steps, axis=1, dtype=np.int16)


def values_of(row: npt.NDArray[np.int16], scale: float) -> Floats:
    """One channel's values, NaN where there is a gap."""
    return np.where(row == MISSING, np.nan, row / scale)


def packed_times(seconds: Floats) -> bytes:
    """Times in whole milliseconds, their second differences, zlib: an even step costs nothing."""
    whole = np.rint(seconds * 1000).astype("<i8")
    first = np.diff(whole, prepend=np.int64(0))
    return zlib.compress(np.diff(first, prepend=np.int64(0)).tobytes(), 6)


def unpacked_times(blob: bytes) -> Floats:
    """Times again, in seconds."""
    steps = np.frombuffer(zlib.decompress(blob), "<i8")
    return np.cumsum(np.cumsum(steps)) / 1000.0
