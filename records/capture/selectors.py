"""Reading what was recorded of a burn: its files, their channels, the loggers of a ground."""

from __future__ import annotations

import zlib
from collections.abc import Iterable
from dataclasses import dataclass

from django.utils.translation import gettext as _

from facility.loggers.summing import ABOVE_C
from facility.refusals import NotHere
from facility.sites.models import Sensor, Site, Unit
from records.burns.models import Burn
from records.capture.models import Channel, Logger, LoggerFile


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
