"""Burns of tests with a column of thermocouples, written as a logger would write them."""

from __future__ import annotations

import datetime as dt

import numpy as np

from facility.calc.fitting import AS_CALCULATED, Factors, course_of
from facility.guarded import opened
from facility.sites.models import Sensor
from records.capture.comparing import charges_of
from records.plans.forecast import room_of
from tests import builders

HEIGHTS = (0.3, 0.9, 1.3, 1.7, 2.2)


def column(ground, x: float = 1.0, heights=HEIGHTS) -> list[Sensor]:
    """Thermocouples one over the other, T1 the lowest."""
    made = []
    with opened():
        for place, height in enumerate(heights, 1):
            sensor = Sensor(unit=ground.unit, name=f"T{place}", x_m=x, z_m=height)
            sensor.save()
            made.append(sensor)
    return made


def as_file(course, heights=HEIGHTS, *, hotter: float = 1.0, noise: float = 0.0, seed: int = 0):
    """A course of the model as the column would read it, each 5 s from a minute before lighting."""
    seconds = np.arange(-60.0, float(course.time[-1]) + 300.0, 5.0)
    chance = np.random.default_rng(seed)
    upper, lower, level = (
        np.interp(seconds, course.time, series)
        for series in (course.layer_temperature, course.lower_temperature, course.interface)
    )
    rows = [
        20 + hotter * (np.where(height > level, upper, lower) - 20) + chance.normal(0, noise, len(seconds))
        for height in heights
    ]  # fmt: skip
    head = "Time," + ",".join(f"T{place}" for place in range(1, len(heights) + 1))
    lines = [head, "s" + ",C" * len(heights)]
    lines += [
        f"{second:g}," + ",".join(f"{value:.1f}" for value in values)
        for second, *values in zip(seconds, *rows, strict=True)
    ]
    return ("\n".join(lines) + "\n").encode()


def recorded_burn(ground, sensors, *, at=builders.NOW, factors: Factors = AS_CALCULATED, **given):
    """A closed burn with the file of a fire that ran as the model says under some factors."""
    plan = builders.content(ground, 2, starts_at=at + dt.timedelta(days=1))
    burn = builders.closed(ground, plan, at=at)
    charge = charges_of([burn])[burn.pk]
    data = as_file(course_of(room_of(burn.unit), charge, factors), **given)
    builders.logged(ground, burn, data=data, at=at, sensors=dict(enumerate(sensors, start=2)))
    return burn
