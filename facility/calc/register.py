"""Every calculation in one register: importing this module fills it."""

from __future__ import annotations

from facility.calc import (
    air,
    boards,
    cooling,
    cutting,
    exposure,
    forecast,
    heat,
    layer,
    life,
    measured,
    sampling,
    smoke,
    two_zone,
    water,
    wear,
    weather,
)
from facility.calc.working import REGISTER, Calculation

__all__ = ["FILLED_BY", "REGISTER", "subjects"]

FILLED_BY = (
    boards, cutting, sampling, heat, layer, two_zone, measured, cooling, air, exposure, wear, life, water, smoke,
    forecast, weather,
)  # fmt: skip


def subjects() -> dict[str, list[Calculation]]:
    """The calculations by subject, in the order they were written down."""
    found: dict[str, list[Calculation]] = {}
    for calculation in REGISTER.values():
        found.setdefault(calculation.subject, []).append(calculation)
    return found
