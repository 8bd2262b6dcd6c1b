"""Logger files of the demo burns: an invented fire, written as a logger would write it.

The fire is the forward model's under factors that the ground does not know, straying from burn to
burn, with noise and a logger's clock that runs ahead. It is a scenario of our own and says
nothing about any real unit.
"""

from __future__ import annotations

import datetime as dt
import math
import random
from functools import lru_cache

import numpy as np

from facility.calc.fitting import Charge, Factors, Room, course_of
from facility.calc.zones import Course
from records.burns.models import Burn
from records.capture.comparing import charges_of
from records.capture.fitting import evidence_of, fit_unit
from records.capture.services import take_logger_file
from records.demo.setting import Setting
from records.plans.forecast import room_of

STEP_S = 5
BEFORE_S, AFTER_S = 120, 600
CLOCK_AHEAD_S = 47  # so that ignition by the clock is not ignition
# What each unit does to its fires: the story's secret, which the fit is to find.
TRUE = {"Unit 1": Factors(0.7, 1.5, 0.5), "Unit 2": Factors(0.9, 0.85, 0.7)}
OTHER = Factors(0.75, 1.4, 0.6)
SHARP = 10.0  # 1/m: how sharply the layers part


def log_burn(burn: Burn, chance: random.Random) -> None:
    """Take in the file of one burn: every sensor of its unit, hottest near the roof."""
    burn = Burn.objects.select_related("unit", "site", "current", "started_by", "version").get(
        pk=burn.pk
    )
    assert burn.current is not None  # it is closed
    out_at = burn.current.ended_at
    room, charge = room_of(burn.unit), charges_of([burn]).get(burn.pk)
    if room is None or charge is None:
        return
    sensors = list(burn.unit.sensors.order_by("id"))
    lasts = (out_at - burn.ignited_at).total_seconds()
    begun = burn.ignited_at.astimezone(burn.site.zone) - dt.timedelta(seconds=BEFORE_S)
    shown = begun + dt.timedelta(seconds=CLOCK_AHEAD_S)
    fire = _Fire(room, charge, TRUE.get(burn.unit.name, OTHER), lasts, chance)
    lines = [
        "Time;Clock;" + ";".join(sensor.name for sensor in sensors),
        "s;;" + ";".join("C" for _sensor in sensors),
    ]
    for second in range(0, int(BEFORE_S + lasts + AFTER_S), STEP_S):
        values = fire.readings(second - BEFORE_S, [float(sensor.z_m) for sensor in sensors])
        clock = (shown + dt.timedelta(seconds=second)).strftime("%Y-%m-%d %H:%M:%S")
        lines.append(f"{second};{clock};" + ";".join(f"{v:.1f}".replace(".", ",") for v in values))
    take_logger_file(
        burn, data=("\n".join(lines) + "\n").encode(), name=f"{burn.unit.name} {begun:%Y%m%d}.csv",
        logger=f"logger of {burn.unit.name}", ignition_s=float(BEFORE_S),
        sensors=dict(enumerate(sensors, start=3)),
        by=burn.started_by, at=out_at + dt.timedelta(minutes=40),
    )  # fmt: skip


class _Fire:
    """Readings of one burn: a model's course, lit late, and whatever a burn has of its own."""

    def __init__(
        self, room: Room, charge: Charge, factors: Factors, lasts: float, chance: random.Random
    ) -> None:
        self.course = _course(room, charge, factors)
        self.chance, self.lasts = chance, lasts
        self.ambient = chance.uniform(6, 22)
        self.late, self.slower = chance.uniform(40, 140), math.exp(chance.gauss(0, 0.06))
        self.hotter = math.exp(chance.gauss(0, 0.05))

    def readings(self, second: float, heights: list[float]) -> list[float]:
        course, clock = self.course, (second - self.late) / self.slower
        upper, lower, level = (
            float(np.interp(clock, course.time, series))
            for series in (course.layer_temperature, course.lower_temperature, course.interface)
        )
        fading = math.exp(-max(0.0, clock - float(course.time[-1])) / 420)
        puffs = 1 - 0.05 * (upper > 300) * abs(math.sin(second / 47))
        told = []
        for height in heights:
            share = 1 / (1 + math.exp(-(height - level) * SHARP))
            rise = (lower - 20.0) + (upper - lower) * share
            noise = self.chance.gauss(0, 0.6 + 0.008 * abs(rise))
            told.append(self.ambient + self.hotter * puffs * fading * rise + noise)
        return told


@lru_cache(maxsize=64)
def _course(room: Room, charge: Charge, factors: Factors) -> Course:
    """Charges of the demo differ by the moisture of their lots alone: near enough is the same."""
    return course_of(room, charge, factors)


def fit_units(setting: Setting, at: dt.datetime) -> None:
    """The factors of every unit that has recordings to tell them."""
    for unit in setting.units:
        if any(each.seen for each in evidence_of(unit)):
            fit_unit(unit, by=setting.people["instructor"], at=at)
