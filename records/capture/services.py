"""What can happen to the recording of a burn: a logger's file is taken in."""

from __future__ import annotations

import datetime as dt
import hashlib
import zlib
from collections.abc import Generator, Mapping, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from typing import Any

import numpy as np
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.loggers.layout import NotUnderstood
from facility.loggers.packing import level_for, packed, packed_times
from facility.loggers.reading import Channel as Column
from facility.loggers.reading import Understood, reading
from facility.loggers.summing import ABOVE_C, cycles_of, seconds_above
from facility.look.times import day_in_words
from facility.people.models import Person
from facility.refusals import WrongState, WrongValue, number_between, refuse_if, text_within
from facility.sites.models import Sensor, Site
from records.audit.door import door
from records.burns.models import Burn
from records.capture.models import Channel, Logger, LoggerFile
from records.ground.heating import Dose, Heat, post_heat

MOST_BYTES = 64_000_000
SHOWN_FROM = 1_000_000  # bytes from which how far the reading is, is shown


def read_file(data: bytes, name: str) -> Understood:
    """What a file holds, or the refusal that says why it cannot be read."""
    steps = read_by_steps(data, name)
    while True:
        try:
            next(steps)
        except StopIteration as done:
            found: Understood = done.value
            return found


def read_by_steps(data: bytes, name: str) -> Generator[float, None, Understood]:
    """The same, giving now and then the share that is read."""
    refuse_if(
        len(data) > MOST_BYTES,
        "file",
        _("The file has {size} MB; at most {most} MB are taken.").format(
            size=round(len(data) / 1e6), most=MOST_BYTES // 1_000_000
        ),
    )
    try:
        return (yield from reading(data, name))
    except NotUnderstood as refused:
        raise WrongValue(
            _("This file cannot be read: {why}.").format(why=refused), field="file"
        ) from None


def take_logger_file(
    burn: Burn, *, data: bytes, name: str, logger: str, ignition_s: float,
    sensors: Mapping[int, Sensor], other_day: bool = False, by: Person,
    at: dt.datetime | None = None, once: str = "", found: Understood | None = None,
) -> LoggerFile:  # fmt: skip
    """Keep a logger's file with its burn.

    ``ignition_s`` is the second of the file at which the fire was lit, ``sensors`` says by the
    number of a column, counted from 1, which sensor of the unit it came from. A file whose own
    clock tells another day than the burn's is taken only with ``other_day``. ``found`` is what the
    very same bytes were read as before.
    """
    now = at or timezone.now()
    with ThreadPoolExecutor(2) as aside:  # pressing bytes keeps another core busy meanwhile
        pressed = aside.submit(zlib.compress, data, level_for(len(data)))
        found = _read(data, name, found)
        return _taken(
            burn, data, pressed, aside, name=name, logger=logger, ignition_s=ignition_s, sensors=sensors,
            other_day=other_day, by=by, now=now, once=once, found=found,
        )  # fmt: skip


def _read(data: bytes, name: str, found: Understood | None) -> Understood:
    if found is not None and found.sha256 == hashlib.sha256(data).hexdigest():
        return found
    return read_file(data, name)


def _taken(
    burn: Burn, data: bytes, pressed: Future[bytes], aside: ThreadPoolExecutor, *, name: str,
    logger: str, ignition_s: float, sensors: Mapping[int, Sensor], other_day: bool, by: Person,
    now: dt.datetime, once: str, found: Understood,
) -> LoggerFile:  # fmt: skip
    first, last = float(found.seconds[0]), float(found.seconds[-1])
    number_between("ignition_s", ignition_s, first - 3600, last + 3600, "s")
    refuse_if(
        any(sensor.unit_id != burn.unit_id for sensor in sensors.values()),
        "sensors",
        _("A sensor of another unit was named."),
    )
    told = [sensor.pk for sensor in sensors.values()]
    refuse_if(len(told) != len(set(told)), "sensors", _("One sensor stands at two channels."))
    _refuse_other_day(burn, found, other_day)
    columns = found.channels
    packing = aside.submit(packed, [column.values for column in columns])
    summaries = [_summary(column, found) for column in columns]
    with door("capture.file_taken", by=by, site=burn.site, on=burn, at=now, once=once) as entry:
        _refuse_again(burn.site, found.sha256)
        series, scales = packing.result()
        kept = LoggerFile(
            site=burn.site, burn=burn, logger=_logger(burn.site, logger),
            name=text_within("name", name, 120), sha256=found.sha256, size=len(data),
            original=pressed.result(), rows=found.rows, step_s=found.step_s,
            zero_at=burn.ignited_at - dt.timedelta(seconds=ignition_s),
            times=packed_times(found.seconds), series=series, notes=list(found.notes),
            recorded_at=entry.at, taken_by=by,
        )  # fmt: skip
        kept.save()
        channels = Channel.objects.bulk_create(
            Channel(
                file=kept, place=place, scale=scale, sensor=sensors.get(column.column), **summary
            )
            for place, (column, scale, summary) in enumerate(
                zip(columns, scales, summaries, strict=True)
            )
        )
        heat = _heat_of(kept, found, channels)
        if heat is not None:
            post_heat(
                burn.unit, heat, burn=burn.public_id, file=kept.public_id,
                ignited_at=burn.ignited_at, at=entry.at,
            )  # fmt: skip
        entry.changed(hash=found.sha256, size=len(data), channels=len(columns), rows=found.rows)
    return kept


def _refuse_other_day(burn: Burn, found: Understood, other_day: bool) -> None:
    lit = burn.ignited_at.astimezone(burn.site.zone)
    if found.begun is None or other_day:
        return
    days = {found.begun.date(), (found.begun + dt.timedelta(seconds=found.span_s)).date()}
    refuse_if(
        lit.date() not in days,
        "other_day",
        _("By its own clock the file is of {file}, the burn was on {burn}; say that it is of this "
          "burn.").format(file=day_in_words(found.begun), burn=day_in_words(lit)),
    )  # fmt: skip


def _refuse_again(site: Site, sha256: str) -> None:
    before = LoggerFile.objects.filter(site=site, sha256=sha256).select_related("burn").first()
    if before is not None:
        raise WrongState(
            _("This very file was taken before, with burn {burn}.").format(
                burn=before.burn.reference
            )
        )


def _logger(site: Site, name: str) -> Logger:
    name = text_within("logger", name, 40)
    found = Logger.objects.filter(site=site, name__iexact=name).first()
    if found is None:
        found = Logger(site=site, name=name)
        found.save()
    return found


def _summary(column: Column, found: Understood) -> dict[str, Any]:
    """What is kept of a channel beside its series."""
    span = column.span
    hottest = int(np.nanargmax(column.values)) if span else 0
    warm = column.meaning.quantity == "temperature" and span is not None
    return {
        "heading": column.name[:200],
        "quantity": column.meaning.quantity,
        "unit": column.meaning.kept_in[:12],
        "lowest": span[0] if span else None,
        "highest": span[1] if span else None,
        "highest_s": float(found.seconds[hottest]) if span else None,
        "gaps": column.gaps,
        "above_s": {
            f"{limit:g}": round(seconds_above(found.seconds, column.values, limit), 1)
            for limit in ABOVE_C
        } if warm else {},
        "notes": list(column.notes),
    }  # fmt: skip


def _heat_of(file: LoggerFile, found: Understood, channels: Sequence[Channel]) -> Heat | None:
    """What the file adds to the heat of the unit; None where it holds no temperatures.

    Of each figure the channel with the most counts: the worst place is what wears.
    """
    warm = [channel for channel in channels if channel.above_s and channel.highest is not None]
    if not warm:
        return None
    hottest = max(warm, key=lambda channel: channel.highest or 0.0)
    above = {
        f"above_{limit:g}_s": max(channel.above_s[f"{limit:g}"] for channel in warm)
        for limit in ABOVE_C
    }
    counted = [cycles_of(found.channels[channel.place].values) for channel in warm]
    cycles = max((float(each.value()) for each in counted if each is not None), default=0.0)
    zero = file.zero_at
    return Heat(
        began_at=zero + dt.timedelta(seconds=float(found.seconds[0])),
        ended_at=zero + dt.timedelta(seconds=float(found.seconds[-1])),
        hottest_c=float(hottest.highest or 0.0),
        sensor=hottest.sensor.name if hottest.sensor else hottest.heading,
        dose=Dose(**above, cycles=cycles),
    )
