"""The ledger of recorded heat starts with the files that were taken before it existed."""

import datetime as dt

from django.db import migrations

from facility.loggers.packing import unpacked, unpacked_times
from facility.loggers.summing import ABOVE_C, cycles_of

DOSE = ("above_149_s", "above_400_s", "above_600_s", "cycles")


def post(apps, schema_editor):
    heats = apps.get_model("records_ground", "UnitHeat").objects
    channels = apps.get_model("records_capture", "Channel").objects.select_related("sensor")
    files = apps.get_model("records_capture", "LoggerFile").objects.defer("original")
    for file in files.select_related("burn").order_by("recorded_at", "id").iterator(chunk_size=20):
        every = list(channels.filter(file=file).order_by("place"))
        warm = [each for each in every if each.above_s and each.highest is not None]
        if not warm:
            continue
        series = unpacked(bytes(file.series), [each.scale for each in every], file.rows)
        seconds = unpacked_times(bytes(file.times))
        began = file.zero_at + dt.timedelta(seconds=float(seconds[0]))
        ended = file.zero_at + dt.timedelta(seconds=float(seconds[-1]))
        counted = [cycles_of(series[each.place]) for each in warm]
        dose = [max(each.above_s[f"{limit:g}"] for each in warm) for limit in ABOVE_C]
        dose.append(max((float(each.value()) for each in counted if each is not None), default=0.0))
        earlier = list(heats.filter(burn=file.burn.public_id))
        same = [each for each in earlier if each.began_at < ended and each.ended_at > began]
        added = {
            name: max(0.0, value - sum(getattr(each, name) for each in same))
            for name, value in zip(DOSE, dose, strict=True)
        }
        hottest = max(warm, key=lambda each: each.highest)
        heats.create(
            unit_id=file.burn.unit_id, burn=file.burn.public_id, file=file.public_id,
            ignited_at=file.burn.ignited_at, began_at=began, ended_at=ended,
            burns=0 if earlier else 1, hottest_c=hottest.highest,
            sensor=hottest.sensor.name if hottest.sensor else hottest.heading,
            recorded_at=file.recorded_at, **added,
        )


class Migration(migrations.Migration):
    dependencies = [
        ("records_capture", "0001_initial"),
        ("records_ground", "0004_recorded_heat"),
    ]

    operations = [migrations.RunPython(post, migrations.RunPython.noop)]
