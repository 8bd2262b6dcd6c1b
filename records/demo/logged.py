"""Logger files of the demo burns: an invented fire, written as a logger would write it."""

from __future__ import annotations

import datetime as dt
import math
import random

from records.burns.models import Burn
from records.capture.services import take_logger_file

STEP_S = 5
BEFORE_S, AFTER_S = 120, 600


def log_burn(burn: Burn, chance: random.Random) -> None:
    """Take in the file of one burn: every sensor of its unit, hottest near the roof."""
    burn = Burn.objects.select_related("unit", "site", "current", "started_by").get(pk=burn.pk)
    assert burn.current is not None  # it is closed
    out_at = burn.current.ended_at
    sensors = list(burn.unit.sensors.order_by("id"))
    peak, ambient = chance.uniform(560, 720), chance.uniform(6, 22)
    lasts = (out_at - burn.ignited_at).total_seconds()
    begun = burn.ignited_at.astimezone(burn.site.zone) - dt.timedelta(seconds=BEFORE_S)
    lines = [
        "Time;Clock;" + ";".join(sensor.name for sensor in sensors),
        "s;;" + ";".join("C" for _sensor in sensors),
    ]
    for second in range(0, int(BEFORE_S + lasts + AFTER_S), STEP_S):
        heat = _fire(second - BEFORE_S, lasts)
        values = [
            ambient + (peak - ambient) * heat * _share(float(sensor.z_m / burn.unit.height_m), heat)
            + chance.gauss(0, 1 + 9 * heat)
            for sensor in sensors
        ]  # fmt: skip
        clock = (begun + dt.timedelta(seconds=second)).strftime("%Y-%m-%d %H:%M:%S")
        lines.append(f"{second};{clock};" + ";".join(f"{v:.1f}".replace(".", ",") for v in values))
    take_logger_file(
        burn, data=("\n".join(lines) + "\n").encode(), name=f"{burn.unit.name} {begun:%Y%m%d}.csv",
        logger=f"logger of {burn.unit.name}", ignition_s=float(BEFORE_S),
        sensors=dict(enumerate(sensors, start=3)),
        by=burn.started_by, at=out_at + dt.timedelta(minutes=40),
    )  # fmt: skip


def _fire(second: float, lasts: float) -> float:
    """Share of the peak: up within ten minutes, wavering while water pulses, down after the end."""
    if second <= 0:
        return 0.0
    grown = 1 - math.exp(-((second / 330) ** 2))
    pulses = 1 - 0.12 * (second > 500) * abs(math.sin(second / 47))
    return grown * pulses * math.exp(-max(0.0, second - lasts) / 260)


def _share(height: float, heat: float) -> float:
    """How much of the rise reaches a height, 0 at the floor and 1 at the roof."""
    layer = 0.85 - 0.4 * heat
    return 0.12 + 0.88 / (1 + math.exp(-(height - layer) * 14))
