"""What a burn is given: the unit with its walls and openings, the fire in it, the water.

Law: metres, seconds, kW and °C, plain floats; what cannot be is refused here, by name.
"""

import math
from dataclasses import dataclass
from itertools import pairwise

from facility.calc import plume
from facility.calc.constants import (
    RADIATIVE_SHARE,
    STEEL_CONDUCTIVITY,
    STEEL_DENSITY,
    STEEL_SPECIFIC_HEAT,
    TRAINING_FUEL_EFFECTIVE_HEAT,
    WOOD_SMOKE_ABSORPTION,
)
from facility.calc.working import OutOfSense

Schedule = tuple[tuple[float, float], ...]
ALWAYS: Schedule = ((0.0, 1.0),)


class NothingOpen(OutOfSense):
    """A unit without any way out for its gas, at some time in the burn."""


def _positive(name: str, value: float, high: float) -> None:
    if not 0.0 < value <= high:
        raise OutOfSense(name, value, f"more than 0 and at most {high:g} is allowed")


def _share(name: str, value: float) -> None:
    if not 0.0 <= value <= 1.0:
        raise OutOfSense(name, value, "0 to 1 is allowed")


@dataclass(frozen=True, slots=True)
class Opening:
    """A door or window: width, height and sill over the floor [m].

    ``schedule`` holds (from time [s], share of the width that is open), in order of time.
    """

    width: float
    height: float
    sill: float = 0.0
    schedule: Schedule = ALWAYS

    def __post_init__(self) -> None:
        _positive("opening width", self.width, 20.0)
        _positive("opening height", self.height, 10.0)
        if not 0.0 <= self.sill <= 10.0:
            raise OutOfSense("opening sill", self.sill, "0 to 10 m is allowed")
        for _, share in self.schedule:
            _share("share open", share)


@dataclass(frozen=True, slots=True)
class RoofVent:
    """A hole in the roof of an area [m2], open as ``schedule`` says (see ``Opening``)."""

    area: float
    schedule: Schedule = ALWAYS

    def __post_init__(self) -> None:
        _positive("roof vent area", self.area, 100.0)
        for _, share in self.schedule:
            _share("share open", share)


@dataclass(frozen=True, slots=True)
class Wall:
    """What bounds the unit: thickness [m], conductivity [W/(m K)], density [kg/m3], specific
    heat [J/(kg K)]. ``thin`` walls, such as bare steel, have one temperature right through."""

    thickness: float
    conductivity: float = STEEL_CONDUCTIVITY
    density: float = STEEL_DENSITY
    specific_heat: float = STEEL_SPECIFIC_HEAT
    thin: bool = True

    def __post_init__(self) -> None:
        _positive("wall thickness", self.thickness, 2.0)
        _positive("wall conductivity", self.conductivity, 500.0)
        _positive("wall density", self.density, 20_000.0)
        _positive("wall specific heat", self.specific_heat, 10_000.0)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of length, width and height [m] with its walls and openings; outside at ambient
    [°C]. ``leak_area`` [m2] is spread evenly from floor to roof; ``wall_loss`` is a factor on the
    heat that all surfaces take, as if there were so many times as much of them."""

    length: float
    width: float
    height: float
    wall: Wall
    openings: tuple[Opening, ...]
    roof_vents: tuple[RoofVent, ...] = ()
    leak_area: float = 0.0
    ambient: float = 20.0
    wall_loss: float = 1.0

    def __post_init__(self) -> None:
        for name in ("length", "width", "height"):
            _positive(name, getattr(self, name), 100.0)
        if not 0.0 <= self.leak_area <= 10.0:
            raise OutOfSense("leak_area", self.leak_area, "0 to 10 m² is allowed")
        _positive("wall_loss", self.wall_loss, 10.0)
        if not -60.0 <= self.ambient <= 80.0:
            raise OutOfSense("ambient", self.ambient, "-60 to 80 °C is allowed")
        for opening in self.openings:
            if opening.sill + opening.height > self.height + 1e-9:
                top = opening.sill + opening.height
                raise OutOfSense("opening top", top, f"at most the height, {self.height:g} m")


@dataclass(frozen=True, slots=True)
class Fire:
    """Heat release [kW] against time [s], straight between points, and where the fire stands.

    ``base`` [m] over the floor and ``diameter`` [m] shape the plume; ``kind`` is one of
    ``plume.PLUMES``; ``energy_per_kg`` [MJ/kg] gives the fuel gas; ``smoke_absorption`` [1/m]
    how strongly the hot layer radiates.
    """

    times: tuple[float, ...]
    heat: tuple[float, ...]
    base: float = 0.0
    diameter: float = 1.0
    kind: str = plume.FREE
    radiative_share: float = RADIATIVE_SHARE
    energy_per_kg: float = TRAINING_FUEL_EFFECTIVE_HEAT
    smoke_absorption: float = WOOD_SMOKE_ABSORPTION

    def __post_init__(self) -> None:
        if len(self.times) != len(self.heat) or len(self.times) < 2:
            lengths = f"{len(self.times)} times, {len(self.heat)} values"
            raise OutOfSense("fire curve", lengths, "two or more, as many of each, are allowed")
        if any(after <= before for before, after in pairwise(self.times)):
            raise OutOfSense("fire curve", "times out of order", "each later than the last")
        if not all(math.isfinite(value) and value >= 0.0 for value in (*self.heat, *self.times)):
            raise OutOfSense("fire curve", "a value", "finite numbers from 0 up are allowed")
        if self.kind not in plume.PLUMES:
            raise OutOfSense("plume", self.kind, f"one of {', '.join(plume.PLUMES)} is allowed")
        _share("radiative share", self.radiative_share)
        _positive("fire diameter", self.diameter, 20.0)
        _positive("energy per kg", self.energy_per_kg, 200.0)


@dataclass(frozen=True, slots=True)
class Pulse:
    """A spray: start and duration [s], water [kg] at a temperature [°C], and the share of it that
    evaporates in the hot layer; the rest meets the surfaces around that layer."""

    start: float
    duration: float
    water: float
    share_in_gas: float
    water_temperature: float = 10.0

    def __post_init__(self) -> None:
        _positive("pulse duration", self.duration, 3600.0)
        _positive("pulse water", self.water, 1e5)
        _share("share in gas", self.share_in_gas)
