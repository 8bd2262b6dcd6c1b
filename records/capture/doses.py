"""The heat dose where people work: from the air that was measured there, and the flux recorded."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from facility.calc.exposure import heat_dose
from facility.calc.measured import KNEELING, STANDING, dose_course, same_dose
from facility.calc.working import CalculationRefused, Working
from facility.loggers.reading import Floats
from records.burns.models import Burn
from records.capture.measuring import columns_of, first_at, measured_in
from records.capture.models import LoggerFile
from records.capture.series import averaged, seconds_in, values_in

POINTS = 60  # of a working: few enough for it to be asked
CLOTHING = "clothed"


@dataclass(frozen=True, slots=True)
class Position:
    """A posture at a column of thermocouples: the hottest air [°C] and when, the dose of the burn,
    and when it reached 1. ``flux`` names the channel whose radiant heat was counted."""

    column: str
    height_m: float
    standing: bool
    hottest_c: float
    hottest_s: float
    dose: Working
    reached_s: float | None
    flux: str = ""


def positions_of(burn: Burn, files: Sequence[LoggerFile], most: int = 8) -> list[Position]:
    """Kneeling and standing at each column of two thermocouples or more, from ignition on."""
    found = []
    flux = _flux_of(burn, files)
    for column in columns_of(burn, files, fewest=2)[: most // 2]:
        measured = measured_in(burn, column)
        lit = measured.seconds >= 0
        seconds = measured.seconds[lit]
        if len(seconds) < 2:
            continue
        for height in (KNEELING, STANDING):
            if measured.heights[0] - REACH <= height <= measured.heights[-1] + REACH:
                air = measured.air_at(height)[lit]
                place = _position(column.name, height, seconds, air, flux)
                found += [place] if place else []
    return found


REACH = 0.5  # m beyond its thermocouples that a column speaks for: our choice


def _flux_of(burn: Burn, files: Sequence[LoggerFile]) -> tuple[str, Floats, Floats] | None:
    """The heat flux channel that read most: name, seconds, kW/m2."""
    channels = [
        (channel.highest, channel.heading, file, channel)
        for file in files
        for channel in file.channels.all()
        if channel.quantity == "heat flux" and channel.highest is not None
    ]
    if not channels:
        return None
    _most, name, file, channel = max(channels, key=lambda each: each[0])
    seconds, rows = averaged(seconds_in(file, burn), np.array(values_in(file, [channel])), 3000)
    return name, seconds, np.maximum(np.nan_to_num(rows[0]), 0.0)


def _position(
    column: str, height: float, seconds: Floats, air: Floats,
    flux: tuple[str, Floats, Floats] | None,
) -> Position | None:  # fmt: skip
    if not np.isfinite(air).any():
        return None
    at = int(np.nanargmax(air))
    radiant = np.interp(seconds, flux[1], flux[2], left=0.0, right=0.0) if flux else None
    course = dose_course(seconds, air, radiant, CLOTHING)
    minutes, steady = same_dose(seconds, air, POINTS, CLOTHING)
    given = {"times": [round(each, 2) for each in minutes],
             "temperatures": [round(each, 1) for each in steady]}  # fmt: skip
    if radiant is not None:
        given["fluxes"] = np.round(np.interp(np.array(minutes) * 60, seconds, radiant), 2).tolist()
    try:
        dose = heat_dose.of(**given, clothing=CLOTHING)
    except CalculationRefused:
        return None
    return Position(
        column, height, height == STANDING, float(air[at]), float(seconds[at]), dose,
        first_at(seconds, course >= 1.0), flux[0] if flux else "",
    )  # fmt: skip
