"""What a burn's recording says of its hot layer, by the column with the most thermocouples."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from threading import Lock

import numpy as np

from facility.calc.fitting import Traits, traits_of
from facility.calc.measured import (
    FEWEST,
    MOST_GAPS,
    Layers,
    at_height,
    layer_from_column,
    means,
    reduced,
)
from facility.calc.working import CalculationRefused, Working
from facility.loggers.reading import Floats
from records.burns.models import Burn
from records.capture.models import Channel, LoggerFile
from records.capture.series import averaged, place_of, seconds_in, values_in

MOST_READ = 1500  # times at which a layer is worked out
LEAST_CONTRAST = 30.0  # K: in a unit that smokes less tells no layer; our choice
SMOOTHED_S = 30.0
HEAD_HEIGHT_M = 1.7  # of a standing person: common practice, no source


@dataclass(frozen=True)
class Column:
    """Thermocouples one over the other: channels of one file, lowest first, heights in m."""

    name: str
    file: LoggerFile
    channels: tuple[Channel, ...]
    heights: tuple[float, ...]


@dataclass(frozen=True)
class Measured:
    """The layer of one burn against ``seconds`` since ignition; readings are thermocouples by
    times."""

    column: str
    heights: Floats
    seconds: Floats
    readings: Floats
    ceiling_m: float
    layers: Layers
    ambient_c: float
    traits: Traits | None

    @property
    def upper(self) -> Floats:
        """The hot layer [°C]; where none is told, the highest thermocouple."""
        return np.where(np.isfinite(self.layers.upper), self.layers.upper, self.readings[-1])

    @property
    def peak_c(self) -> float | None:
        return self.ambient_c + self.traits.rise if self.traits else None

    @property
    def half_s(self) -> float | None:
        """When half of the greatest rise was reached."""
        if self.traits is None:
            return None
        return first_at(self.seconds, self.upper - self.ambient_c >= 0.5 * self.traits.rise)

    @cached_property
    def height(self) -> Floats:
        """The interface [m], smoothed over half a minute."""
        step = float(np.median(np.diff(self.seconds))) or 1.0
        return means(self.layers.interface, round(SMOOTHED_S / step) | 1)

    @property
    def lowest(self) -> tuple[float, float] | None:
        """Lowest interface [m] while the layer had half its greatest rise, and when."""
        if self.traits is None:
            return None
        hot = self.upper - self.ambient_c >= 0.5 * self.traits.rise
        level = np.where(hot, self.height, np.nan)
        if not np.isfinite(level).any():
            return None
        at = int(np.nanargmin(level))
        return float(level[at]), float(self.seconds[at])

    @property
    def head_s(self) -> float | None:
        """When the layer first stood at head height."""
        with np.errstate(invalid="ignore"):
            return first_at(self.seconds, (self.height <= HEAD_HEIGHT_M) & (self.seconds > 0))

    @property
    def at_peak(self) -> Working | None:
        """The layer at its hottest as a working, to be asked."""
        if not np.isfinite(self.layers.upper).any():
            return None
        at = int(np.nanargmax(self.layers.upper))
        try:
            return layer_from_column.of(
                heights=self.heights.tolist(), ceiling=self.ceiling_m,
                temperatures=np.round(self.readings[:, at], 1).tolist(),
            )  # fmt: skip
        except CalculationRefused:
            return None

    def air_at(self, height_m: float) -> Floats:
        """The air [°C] at a height of this column."""
        return at_height(self.heights, self.readings, height_m)


def first_at(seconds: Floats, reached: np.ndarray) -> float | None:
    places = np.flatnonzero(reached)
    return float(seconds[places[0]]) if places.size else None


def columns_of(burn: Burn, files: Sequence[LoggerFile], fewest: int = FEWEST) -> list[Column]:
    """The columns of a burn's files, the one with the most thermocouples first."""
    found: list[Column] = []
    ceiling = float(burn.unit.height_m)
    for file in files:
        groups: dict[str, list[tuple[float, Channel]]] = {}
        for channel in file.channels.all():
            if channel.quantity != "temperature" or channel.gaps > MOST_GAPS * file.rows:
                continue
            place = place_of(channel, ceiling)
            if place.height_m is not None and 0.0 <= place.height_m <= ceiling:
                groups.setdefault(place.group, []).append((place.height_m, channel))
        for name, placed in groups.items():
            by_height = dict(sorted(placed, key=lambda each: each[0]))
            if len(by_height) >= fewest:
                found.append(Column(name, file, tuple(by_height.values()), tuple(by_height)))
    return sorted(found, key=lambda column: -len(column.heights))


def measured_of(burn: Burn, files: Sequence[LoggerFile]) -> Measured | None:
    """The layer by the best column; None where fewer than three heights are known."""
    columns = columns_of(burn, files)
    return measured_in(burn, columns[0]) if columns else None


def measured_in(burn: Burn, column: Column) -> Measured:
    """One column of a burn, worked out once in a process."""
    shift = (column.file.zero_at - burn.ignited_at).total_seconds()
    key = (column.file.public_id, column.name, column.heights, shift, float(burn.unit.height_m))
    found = _known.get(key)
    if found is None:
        found = _worked(burn, column)
        with _one_at_a_time:
            _known[key] = found
            while len(_known) > MOST_KNOWN:
                _known.pop(next(iter(_known)))
    return found


_known: dict[tuple[object, ...], Measured] = {}
_one_at_a_time = Lock()
MOST_KNOWN = 300


def _worked(burn: Burn, column: Column) -> Measured:
    ceiling = float(burn.unit.height_m)
    rows = np.array(values_in(column.file, column.channels))
    seconds, readings = averaged(seconds_in(column.file, burn), rows, MOST_READ)
    layers = reduced(column.heights, readings, ceiling, LEAST_CONTRAST)
    before = readings[:, seconds < 0]
    still = before if np.isfinite(before).any() else readings[:, :3]
    ambient = float(np.nanmedian(still)) if np.isfinite(still).any() else 20.0
    upper = np.where(np.isfinite(layers.upper), layers.upper, readings[-1])
    return Measured(
        column.name, np.array(column.heights), seconds, readings, ceiling, layers, ambient,
        traits_of(seconds, upper - ambient),
    )  # fmt: skip
