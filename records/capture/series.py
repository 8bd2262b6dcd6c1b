"""The series of a burn's files: unpacked, windowed, thinned for a chart, put in groups.

What was unpacked is remembered in the process. Files are never changed, so it cannot be stale.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from facility.loggers.meaning import meaning_of
from facility.loggers.packing import (
    MISSING,
    MOST,
    unpacked_times,
    values_of,
    whole_numbers,
)
from facility.loggers.reading import Floats
from records.burns.models import Burn
from records.capture.models import Channel, LoggerFile

MOST_POINTS = 600  # of one line of a chart: more would not be seen
KEPT_FILES = 12  # unpacked ones in the process; one of 20 MB takes 6


class Whole(NamedTuple):
    """A file's times [s] as it counts them, and its two-byte numbers, channels by times."""

    seconds: Floats
    numbers: npt.NDArray[np.int16]


@lru_cache(maxsize=KEPT_FILES)
def _whole(public_id: str) -> Whole:
    rows = LoggerFile.objects.filter(public_id=public_id)
    times, series, length = rows.values_list("times", "series", "rows")[0]
    seconds = unpacked_times(bytes(times))
    return Whole(seconds, whole_numbers(bytes(series), -1, length))


def values_in(file: LoggerFile, channels: Iterable[Channel]) -> list[Floats]:
    """The values of some channels of a file, in their units."""
    numbers = _whole(file.public_id).numbers
    return [values_of(numbers[each.place], each.scale) for each in channels]


def seconds_in(file: LoggerFile, burn: Burn) -> Floats:
    """The times of a file's rows [s] since the burn was lit."""
    shift = (file.zero_at - burn.ignited_at).total_seconds()
    return _whole(file.public_id).seconds + shift


# -- what stands together --------------------------------------------------------------------

_PLACED = re.compile(r"^(.*?)[\s_\-]*\d+(?:[.,]\d+)?\s*(?:mm|cm|m)\s+(?:below|above|from)\b", re.I)
_COUNTED = re.compile(r"^(.*?)[\s_\-]*(?:\d+|\(\d+\))$")


class Place(NamedTuple):
    """Where a channel was read: its group, and its height [m over the floor] if that is known."""

    group: str
    height_m: float | None


def place_of(channel: Channel, ceiling_m: float) -> Place:
    """By its sensor, else by what its heading says: a height, or a depth below the ceiling."""
    sensor = channel.sensor
    if sensor is not None:
        across = "" if sensor.y_m is None else f", {sensor.y_m:.2f}"
        return Place(f"{sensor.x_m:.2f}{across} m", float(sensor.z_m))
    meaning = meaning_of(channel.heading, "", None)
    height = meaning.height_m
    if height is None and meaning.depth_m is not None:
        height = ceiling_m - meaning.depth_m
    found = _PLACED.match(channel.heading) or _COUNTED.match(channel.heading)
    return Place((found[1] if found else "") or channel.heading, height)


@dataclass(frozen=True, slots=True)
class Line:
    """One channel within a window: seconds since ignition, and values in the channel's unit."""

    label: str
    height_m: float | None
    group: str
    seconds: Floats
    values: Floats


def groups_of(files: Sequence[LoggerFile], quantity: str, ceiling_m: float) -> list[str]:
    """The groups of the channels that measure one quantity, in the order of the files."""
    found = dict.fromkeys(
        place_of(channel, ceiling_m).group
        for file in files
        for channel in file.channels.all()
        if channel.quantity == quantity and channel.highest is not None
    )
    return list(found)


def lines_of(
    burn: Burn, files: Sequence[LoggerFile], quantity: str, since_s: float | None = None,
    until_s: float | None = None, without: Iterable[str] = (),
) -> list[Line]:  # fmt: skip
    """The channels of a burn that measure one quantity, highest sensor first, thinned."""
    lines: list[Line] = []
    ceiling, left_out = float(burn.unit.height_m), frozenset(without)
    for file in files:
        wanted = [
            (channel, place)
            for channel in file.channels.all()
            if channel.quantity == quantity and channel.highest is not None
            and (place := place_of(channel, ceiling)).group not in left_out
        ]  # fmt: skip
        if not wanted:
            continue
        seconds = seconds_in(file, burn)
        start = 0 if since_s is None else int(np.searchsorted(seconds, since_s, side="left"))
        end = len(seconds) if until_s is None else int(np.searchsorted(seconds, until_s, "right"))
        for channel, place in wanted:
            numbers = _whole(file.public_id).numbers[channel.place, start:end]
            places = extremes(numbers)
            kept = seconds[start:end][places], values_of(numbers[places], channel.scale)
            label = channel.sensor.name if channel.sensor else channel.heading
            lines.append(Line(label, place.height_m, place.group, *kept))
    return sorted(lines, key=lambda line: -(line.height_m if line.height_m is not None else -1.0))


def extremes(numbers: npt.NDArray[np.int16], most: int = MOST_POINTS) -> npt.NDArray[np.int64]:
    """Where the lowest and the highest of each stretch stand, so that no peak is lost.

    On the two-byte numbers that are kept, a gap being the least of them, which is quick.
    """
    count = len(numbers)
    if count <= most:
        return np.arange(count)
    size = -(-count // (most // 2))
    stretches = -(-count // size)
    padded = np.full(stretches * size, MISSING, np.int16)
    padded[:count] = numbers
    parts, first = padded.reshape(stretches, size), np.arange(stretches) * size
    high = first + parts.argmax(axis=1)
    low = first + np.where(parts == MISSING, np.int16(MOST), parts).argmin(axis=1)
    return np.unique(np.concatenate([low, high]))


def averaged(seconds: Floats, rows: Floats, most: int) -> tuple[Floats, Floats]:
    """Series (rows by times) as means of at most so many stretches; gaps are passed over."""
    count = len(seconds)
    size = -(-count // most)
    if size <= 1:
        return seconds, rows
    stretches = -(-count // size)
    padded = np.full((len(rows) + 1, stretches * size), np.nan)
    padded[0, :count], padded[1:, :count] = seconds, rows
    parts = padded.reshape(len(rows) + 1, stretches, size)
    known = np.isfinite(parts)
    with np.errstate(invalid="ignore"):
        means = np.where(known, parts, 0.0).sum(axis=2) / known.sum(axis=2)
    return means[0], means[1:]
