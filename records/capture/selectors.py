"""Reading what was recorded of a burn: files, channels, and a window of their series."""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from django.utils.translation import gettext as _

from facility.loggers.packing import unpacked, unpacked_times
from facility.loggers.reading import Floats
from facility.loggers.summing import ABOVE_C
from facility.refusals import NotHere
from facility.sites.models import Sensor, Site, Unit
from records.burns.models import Burn
from records.capture.models import Channel, Logger, LoggerFile

MOST_POINTS = 600  # of one line of a chart: more would not be seen


def loggers_of(site: Site) -> list[Logger]:
    return list(Logger.objects.filter(site=site))


def sensors_of(unit: Unit) -> list[Sensor]:
    return list(unit.sensors.order_by("name", "id"))


def files_of(burn: Burn) -> list[LoggerFile]:
    """The files of a burn without their bytes, channels and all."""
    files = LoggerFile.objects.filter(burn=burn).defer("original", "series", "times")
    return list(
        files.select_related("logger", "taken_by__details").prefetch_related("channels__sensor")
    )


def remembered(site: Site, logger: str, unit: Unit) -> dict[str, int]:
    """Sensor by heading, as the newest file of that logger in that unit had it."""
    newest = (
        LoggerFile.objects.filter(site=site, logger__name__iexact=logger.strip(), burn__unit=unit)
        .order_by("-id")
        .values_list("pk", flat=True)
        .first()
    )
    told = (
        Channel.objects.filter(file=newest, sensor__isnull=False)
        if newest
        else Channel.objects.none()
    )
    return dict(told.values_list("heading", "sensor"))


def original_of(site: Site, public_id: str) -> tuple[str, bytes]:
    """A file's name, and the file as it came."""
    found = LoggerFile.objects.filter(site=site, public_id=public_id).first()
    if found is None:
        raise NotHere(f"No logger file {public_id} on this ground.")
    if gone := found.gone:
        raise NotHere(_("The file as it came was {words}.").format(words=gone))
    return found.name, zlib.decompress(bytes(found.original))


@dataclass(frozen=True, slots=True)
class Line:
    """One channel within a window: seconds since ignition, and values in the channel's unit."""

    label: str
    height_m: float | None
    seconds: Floats
    values: Floats


def lines_of(
    burn: Burn, quantity: str, since_s: float | None = None, until_s: float | None = None
) -> list[Line]:
    """The channels of a burn that measure one quantity, highest sensor first, thinned."""
    lines: list[Line] = []
    files = (
        LoggerFile.objects.filter(burn=burn).defer("original").prefetch_related("channels__sensor")
    )
    for file in files:
        channels = list(file.channels.all())
        scales = [channel.scale for channel in channels]
        if not any(channel.quantity == quantity for channel in channels):
            continue
        series = unpacked(bytes(file.series), scales, file.rows)
        shift = (file.zero_at - burn.ignited_at).total_seconds()
        seconds = unpacked_times(bytes(file.times)) + shift
        within = np.ones(len(seconds), bool)
        if since_s is not None:
            within &= seconds >= since_s
        if until_s is not None:
            within &= seconds <= until_s
        for channel in channels:
            if channel.quantity != quantity or channel.highest is None:
                continue
            kept = thinned(seconds[within], series[channel.place][within])
            sensor = channel.sensor
            label = sensor.name if sensor else channel.heading
            height = float(sensor.z_m) if sensor else None
            lines.append(Line(label, height, *kept))
    return sorted(lines, key=lambda line: -(line.height_m if line.height_m is not None else -1.0))


def thinned(seconds: Floats, values: Floats, most: int = MOST_POINTS) -> tuple[Floats, Floats]:
    """The lowest and the highest value of each stretch, so that no peak is lost."""
    if len(seconds) <= most:
        return seconds, values
    edges = np.linspace(0, len(seconds), most // 2 + 1, dtype=int)
    kept: list[int] = []
    for start, end in pairwise(edges.tolist()):
        part = values[start:end]
        if np.isfinite(part).any():
            kept += sorted({start + int(np.nanargmin(part)), start + int(np.nanargmax(part))})
        else:
            kept.append(start)
    return seconds[kept], values[kept]


@dataclass(frozen=True, slots=True)
class Above:
    """How long the hottest sensor of a burn stood above a limit."""

    limit_c: float
    longest_s: float
    sensor: str


def above_of(files: Iterable[LoggerFile]) -> list[Above]:
    """Time above each limit, at the channel that stood above it longest."""
    channels = [channel for file in files for channel in file.channels.all() if channel.above_s]
    told = []
    for limit in ABOVE_C:
        key = f"{limit:g}"
        longest = max(channels, key=lambda channel: channel.above_s[key], default=None)
        if longest is not None and longest.above_s[key] > 0:
            name = longest.sensor.name if longest.sensor else longest.heading
            told.append(Above(limit, longest.above_s[key], name))
    return told
