"""The two-zone model: a hot layer over a cool one in one unit, followed through a burn.

Mass and energy of both layers, plume, flow through every opening, thin steel or lined walls, and
pulses of water, after NIST TN 1889v1 where a section is named. The pressure follows at once (it
settles within a fraction of a second), so it is found from the energy balance, not stepped.

Law: plain SI floats and kW inside; temperatures in kelvin here, degrees Celsius at the edge.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cbrt
from typing import Any, NamedTuple

import numpy as np

from facility.calc import plume
from facility.calc.conduction import WallGrid
from facility.calc.constants import (
    AIR_OXYGEN,
    CEILING_JET,
    CEILING_JET_AREA,
    CEILING_JET_HEIGHT,
    CONVECTION_LEVEL,
    CONVECTION_UPRIGHT,
    DOOR_MIXING,
    GAS_DENSITY_KELVIN,
    GAS_SPECIFIC_HEAT,
    GRAVITY,
    MEAN_BEAM,
    MOLAR_AIR,
    MOLAR_OXYGEN,
    OXYGEN_HEAT,
    STEFAN_BOLTZMANN,
    SURFACE_EMISSIVITY,
    WATER_BOILING,
    ZERO_CELSIUS,
)
from facility.calc.cooling import boiling_heat, steam_heat, steam_volume
from facility.calc.plume import HEAT_OF_GAS
from facility.calc.stepping import march
from facility.calc.unit import Fire, NothingOpen, Pulse, Unit
from facility.calc.vent_flow import STILL, Column, Flow, Hole, neutral_height, vented

# Choices of the numbers, not of the physics: the thinnest layer kept, as a share of the height;
# the least warmth [K] that the ceiling jet's flux is referred to; how softly [K] boiling ends.
THINNEST_LAYER, COOLEST_JET, BOILING_BAND = 0.01, 10.0, 10.0
COLDEST, HOTTEST = 200.0, 2500.0  # K: gas beyond these is a step gone wrong
LONGEST_STEP, FIRST_STEP = 30.0, 0.2
ERROR_HEIGHT, ERROR_GAS, ERROR_OXYGEN, ERROR_WALL = 0.005, 1.5, 0.002, 1.5
GAS_STATES = 5  # interface, two temperatures, two shares of oxygen; wall nodes follow
OXYGEN_BY_VOLUME = 100.0 * MOLAR_AIR / MOLAR_OXYGEN  # % by volume per share of mass


@dataclass(frozen=True, slots=True)
class Course:
    """The burn against ``time`` [s, array]: every field an array of the same length.

    Temperatures in °C, heights in m, flows in kg/s over all openings, heat in kW, oxygen in % by
    volume of fire gas taken as air. Where a vent
    opens or a pulse starts the time stands twice, before and after. ``neutral_plane`` is that in
    the first opening, shut or not; ``floor_pressure`` is over the outside, in Pa.
    """

    time: Any
    layer_temperature: Any
    lower_temperature: Any
    interface: Any
    neutral_plane: Any
    outflow: Any
    inflow: Any
    heat_release: Any
    wall_temperature: Any
    floor_temperature: Any
    layer_oxygen: Any
    lower_oxygen: Any
    heat_carried_out: Any
    heat_to_walls: Any
    floor_pressure: Any


@dataclass(slots=True)
class Openness:
    """What stands open and which water flows between two events: the holes in the walls, the same
    with the leak, the first opening, the open area of roof [m2], the running pulses."""

    holes: list[Hole]
    paths: list[Hole]
    first: Hole
    roof: float
    pulses: list[Pulse]


@dataclass(slots=True)
class Now:
    """What the last evaluation found: flows, floor pressure [Pa] and the guess for the next; heat
    released inside, given to the walls and carried out [kW]; heat gained per metre of rise of
    the interface by a fire short of air [kW/m]; a bound on how fast the equations pull [1/s]."""

    flow: Flow = STILL
    pressure: float = 0.0
    guess: float = 0.0
    burning: float = 0.0
    to_walls: float = 0.0
    carried: float = 0.0
    starved: float = 0.0
    pull: float = 1.0


def share_at(schedule: Sequence[tuple[float, float]], time: float) -> float:
    """Share open at a time [s]; shut before the first entry."""
    row = bisect_right(schedule, (time + 1e-9, math.inf))
    return schedule[row - 1][1] if row else 0.0


def opened(unit: Unit, pulses: Sequence[Pulse], time: float) -> Openness:
    """What is open, and which pulses run, from a time [s] to the next event."""
    shares = [share_at(opening.schedule, time) for opening in unit.openings]
    both = [
        Hole(each.width * share, each.sill, each.sill + each.height)
        for each, share in zip(unit.openings, shares, strict=True)
    ]
    holes = [hole for hole in both if hole.width > 0.0]
    first = both[0] if both else Hole(0.0, 0.0, unit.height)
    leak = [Hole(unit.leak_area / unit.height, 0.0, unit.height)] if unit.leak_area > 0.0 else []
    roof = sum(vent.area * share_at(vent.schedule, time) for vent in unit.roof_vents)
    if not holes and not leak and roof <= 0.0:
        raise NothingOpen("openings", f"nothing at {time:g} s", "some opening or leak is needed")
    running = [each for each in pulses if each.start <= time + 1e-9 < each.start + each.duration]
    return Openness(holes, holes + leak, first, roof, running)


def convection(coefficient: float, difference: float) -> float:
    """Natural convection [kW/m2] over a temperature difference [K], signed; for a coefficient
    times an area, the heat [kW]."""
    return coefficient / 1000.0 * difference * cbrt(abs(difference))


class Areas(NamedTuple):
    """Surface [m2] around the hot and the cool layer, and what is open of the hot one's walls."""

    hot: float
    cool: float
    open_hot: float


class Losses(NamedTuple):
    """Heat lost by each layer [kW], taken up by the surfaces around each [kW/m2], and how firmly
    the hot layer is tied to its surfaces [kW/K], which have an area [m2]."""

    hot: float
    cool: float
    flux_hot: float
    flux_cool: float
    tie: float
    area: float


class Spray(NamedTuple):
    """Steam made [m3/s], heat taken from the hot layer and from its surfaces [kW]."""

    steam: float
    from_gas: float
    from_walls: float


NO_SPRAY = Spray(0.0, 0.0, 0.0)


class Equations:
    """Rates of change of the state: interface [m], hot and cool layer [K], oxygen in each [share
    of mass], then the wall nodes around the hot and around the cool layer [K]."""

    def __init__(self, unit: Unit, fire: Fire) -> None:
        self.unit, self.fire = unit, fire
        # NumPy's own numbers would make every sum below several times slower.
        self.times, self.heats = [float(t) for t in fire.times], [float(q) for q in fire.heat]
        self.ambient = unit.ambient + ZERO_CELSIUS
        self.floor = unit.length * unit.width
        self.round = 2.0 * (unit.length + unit.width)
        self.grid, self.taken = WallGrid(unit.wall), unit.wall_loss
        area_term = self.floor**CEILING_JET_AREA * unit.height**CEILING_JET_HEIGHT
        self.jet = CEILING_JET / area_term
        self.open = Openness([], [], Hole(0.0, 0.0, unit.height), 0.0, [])
        self.now = Now()

    def start(self) -> list[float]:
        """The state before lighting: a thin layer, one degree warm, under the roof."""
        walls = [self.ambient] * (2 * self.grid.nodes)
        level = self.unit.height * (1.0 - 2.0 * THINNEST_LAYER)
        return [level, self.ambient + 1.0, self.ambient, AIR_OXYGEN, AIR_OXYGEN, *walls]

    def allowed(self) -> list[float]:
        """Error allowed in each part of the state per step."""
        gas = [ERROR_HEIGHT, ERROR_GAS, ERROR_GAS, ERROR_OXYGEN, ERROR_OXYGEN]
        return gas + [ERROR_WALL] * (2 * self.grid.nodes)

    def stiffness(self) -> float:
        return self.now.pull

    def rates(self, time: float, state: list[float]) -> list[float]:
        """Rates of the state, per second; leaves flows and heat in ``now``."""
        thin = THINNEST_LAYER * self.unit.height
        level = min(max(state[0], thin), self.unit.height - thin)
        gas = Column(level, _sane(state[1]), _sane(state[2]), self.ambient)
        outer = GAS_STATES + self.grid.nodes
        areas = self._areas(level)
        burning, convected, fuel, air = self._burning(time, gas, state[4])
        loss = self._to_surfaces(gas, state[GAS_STATES], state[outer], areas, burning, convected)
        spray = self._sprayed(gas, state[GAS_STATES]) if self.open.pulses else NO_SPRAY
        gained = convected - loss.hot - spray.from_gas
        made = gained - loss.cool + GAS_SPECIFIC_HEAT * fuel * gas.lower + HEAT_OF_GAS * spray.steam
        now, opening = self.now, self.open
        now.pressure, now.flow, now.guess = vented(
            opening.paths, opening.roof, self.unit.height, gas, made, now.guess
        )
        now.burning, now.to_walls = burning, loss.hot + loss.cool
        layers = self._layers(gas, state[3], state[4], gained, loss, spray, air, fuel)
        if (state[0] < thin and layers[0] < 0.0) or (state[0] > level and layers[0] > 0.0):
            layers[0] = 0.0
        hot_wall, cool_wall = state[GAS_STATES:outer], state[outer:]
        into_hot = loss.flux_hot - spray.from_walls / areas.hot
        return [
            *layers,
            *self.grid.rates(hot_wall, into_hot, self._outside(hot_wall[-1])),
            *self.grid.rates(cool_wall, loss.flux_cool, self._outside(cool_wall[-1])),
        ]

    def _layers(
        self, gas: Column, oxygen_up: float, oxygen_low: float, gained: float, loss: Losses,
        spray: Spray, air: float, fuel: float,
    ) -> list[float]:  # fmt: skip
        """Rates of interface, layer temperatures and oxygen: TN 1889v1, "Model equations", with
        the pressure held; also the bound on the pull."""
        level, upper, lower, ambient = gas
        flow, cp, now = self.now.flow, GAS_SPECIFIC_HEAT, self.now
        mixed = self._mixed_down(gas) if flow.inward_high > 0.0 else 0.0
        rise, away = air + fuel, mixed + flow.out_upper
        hot_mass = GAS_DENSITY_KELVIN * self.floor * (self.unit.height - level) / upper
        cool_mass = GAS_DENSITY_KELVIN * self.floor * level / lower
        swell = (cp * (rise * lower - away * upper) + gained) / HEAT_OF_GAS + spray.steam
        cold = flow.inward * (ambient - lower) + mixed * (upper - lower)
        used = now.burning / OXYGEN_HEAT + fuel * oxygen_up
        fresh = flow.inward * (AIR_OXYGEN - oxygen_low) + mixed * (oxygen_up - oxygen_low)
        now.carried = cp * (flow.out_upper * (upper - ambient) + flow.out_lower * (lower - ambient))
        now.pull = max(
            (rise + away + loss.tie / cp) / hot_mass
            + rise / cool_mass
            + now.starved / (HEAT_OF_GAS * self.floor),
            (flow.inward + mixed + rise) / cool_mass,
            loss.tie / (loss.area * self.grid.heat[0]) + self.grid.pull,
        )
        return [
            -swell / self.floor,
            (cp * rise * (lower - upper) + gained) / (cp * hot_mass),
            (cp * cold - loss.cool) / (cp * cool_mass),
            (air * (oxygen_low - oxygen_up) - used) / hot_mass,
            fresh / cool_mass,
        ]

    def released(self, time: float) -> float:
        """Heat release [kW] that the curve asks for; the ends hold outside it."""
        row = bisect_right(self.times, time)
        if row <= 0 or row >= len(self.times):
            return self.heats[0 if row <= 0 else -1]
        early, late = self.times[row - 1], self.times[row]
        low, high = self.heats[row - 1], self.heats[row]
        return low + (high - low) * (time - early) / (late - early)

    def _burning(
        self, time: float, gas: Column, oxygen: float
    ) -> tuple[float, float, float, float]:
        """Heat released inside [kW], its convected part, fuel gas [kg/s], air lifted [kg/s].

        No more burns than the lifted gas feeds with its ``oxygen``, a share of mass (TN 1889v1,
        "Heat release rate"; its lower limit of oxygen is left out), and no more gas rises than
        can pierce the hot layer ("Weak plumes").
        """
        fire = self.fire
        asked, keeps = self.released(time), 1.0 - fire.radiative_share
        height = gas.interface - fire.base
        air = plume.entrainment(
            asked, keeps * asked, height, fire.diameter, self.ambient, fire.kind
        )
        burning = min(asked, OXYGEN_HEAT * oxygen * air) if oxygen > 0.0 else 0.0
        convected = keeps * burning
        self.now.starved = convected / height if burning < asked and height > 0.0 else 0.0
        warmer = GAS_SPECIFIC_HEAT * (gas.upper - gas.lower)
        if warmer > 0.0 and air * warmer > convected:
            air = convected / warmer
        return burning, convected, burning / (1000.0 * fire.energy_per_kg), air

    def _areas(self, level: float) -> Areas:
        """Surfaces of both layers, for an interface at a level [m]."""
        open_hot = open_cool = 0.0
        for width, sill, top in self.open.holes:
            middle = sill if level < sill else top if level > top else level
            open_hot += width * (top - middle)
            open_cool += width * (middle - sill)
        hot = self.floor + self.round * (self.unit.height - level) - open_hot
        return Areas(hot, self.floor + self.round * level - open_cool, open_hot)

    def _to_surfaces(
        self, gas: Column, hot_wall: float, cool_wall: float, areas: Areas, burning: float,
        convected: float,
    ) -> Losses:  # fmt: skip
        """Heat from both layers and the flame to the surfaces around them.

        Natural convection and, on the ceiling, the jet's flux to a cool surface (both TN 1889v1,
        "Convection"), which is taken to fade in a straight line as the ceiling warms to the
        layer; radiation; and the flame, which radiates half up, half down. ``wall_loss`` of the
        unit counts the surfaces as so many times their area.
        """
        floor, gap = self.floor, gas.upper - hot_wall
        forced = self.jet * convected / max(gas.upper - gas.ambient, COOLEST_JET)
        still = cbrt(abs(gap)) / 1000.0
        ceiling = max(forced, CONVECTION_LEVEL * still)
        by_hot = gap * (ceiling * floor + CONVECTION_UPRIGHT * still * (areas.hot - floor))
        below = gas.lower - cool_wall
        both = CONVECTION_LEVEL * floor + CONVECTION_UPRIGHT * (areas.cool - floor)
        by_cool = convection(both, below)
        up, down, away, across, tie = self._radiated(gas, hot_wall, cool_wall, areas)
        flame, taken = 0.5 * self.fire.radiative_share * burning, self.taken
        return Losses(
            taken * (by_hot + up + down) + away, taken * by_cool,
            (by_hot + up + flame - across) / areas.hot,
            (by_cool + down + flame + across) / areas.cool, taken * (ceiling * areas.hot + tie),
            areas.hot,
        )  # fmt: skip

    def _radiated(
        self, gas: Column, hot_wall: float, cool_wall: float, areas: Areas
    ) -> tuple[float, float, float, float, float]:
        """Radiation [kW] of a grey hot layer to the surfaces around it, to those below through
        the interface, and out of the openings; from hot to cool surfaces; and the tie [kW/K]."""
        floor, depth = self.floor, self.unit.height - gas.interface
        beam = MEAN_BEAM * floor * depth / (2.0 * floor + self.round * depth)
        passed = math.exp(-self.fire.smoke_absorption * beam)
        shine, black = STEFAN_BOLTZMANN * (1.0 - passed), SURFACE_EMISSIVITY
        glow, hot_glow, cool_glow = gas.upper**4, hot_wall**4, cool_wall**4
        hottest = gas.upper if gas.upper > hot_wall else hot_wall
        return (
            black * shine * (glow - hot_glow) * areas.hot,
            black * shine * (glow - cool_glow) * floor,
            shine * (glow - gas.ambient**4) * areas.open_hot,
            black * STEFAN_BOLTZMANN * passed * (hot_glow - cool_glow) * floor,
            4.0 * shine * hottest**3 * (areas.hot + floor),
        )

    def _sprayed(self, gas: Column, hot_wall: float) -> Spray:
        """What the running pulses do; nothing boils in gas or on surfaces of 100 °C or less."""
        steam = from_gas = from_walls = 0.0
        celsius = gas.upper - ZERO_CELSIUS
        for pulse in self.open.pulses:
            rate = pulse.water / pulse.duration
            in_gas = rate * pulse.share_in_gas * _above_boiling(gas.upper)
            on_walls = rate * (1.0 - pulse.share_in_gas) * _above_boiling(hot_wall)
            per_kg = boiling_heat(pulse.water_temperature) + max(0.0, steam_heat(celsius))
            steam += (in_gas + on_walls) * steam_volume(celsius)
            from_gas += in_gas * per_kg
            from_walls += on_walls * per_kg
        return Spray(steam, from_gas, from_walls)

    def _mixed_down(self, gas: Column) -> float:
        """Hot gas [kg/s] carried down by air that falls in at a door (TN 1889v1, wall vents)."""
        level, upper, lower, ambient = gas
        rho, now = GAS_DENSITY_KELVIN / ambient, self.now
        lift = GRAVITY * (rho - GAS_DENSITY_KELVIN / upper)
        short = -now.pressure - level * GRAVITY * (rho - GAS_DENSITY_KELVIN / lower)
        if short <= 0.0 or lift <= 0.0:
            return 0.0
        plane, fall, broad = level + short / lift, 0.0, 0.0
        for width, sill, top in self.open.holes:
            if top > level and plane > sill:
                depth = (top if top < plane else plane) - (sill if sill > level else level)
                fall = depth if depth > fall else fall
                broad += width
        cooled = now.flow.inward_high * (upper - ambient)
        flux = cbrt(GRAVITY * rho * rho / ambient * cooled)
        return DOOR_MIXING * cbrt(ambient / upper * broad) ** 2 * flux * fall

    def _outside(self, wall: float) -> float:
        """Heat a wall gives to the outside [kW/m2]: natural convection and radiation."""
        ambient = self.ambient
        shine = STEFAN_BOLTZMANN * SURFACE_EMISSIVITY * (wall**4 - ambient**4)
        return convection(CONVECTION_UPRIGHT, wall - ambient) + shine

    def row(self, time: float, state: list[float]) -> tuple[float, ...]:
        """One row of the course, from the state and the evaluation just made there."""
        now, (level, upper, lower, oxygen_up, oxygen_low, hot_wall) = self.now, state[:6]
        thin = THINNEST_LAYER * self.unit.height
        level = min(max(level, thin), self.unit.height - thin)
        plane = neutral_height(
            self.open.first, now.pressure, Column(level, upper, lower, self.ambient)
        )
        return (
            time, upper - ZERO_CELSIUS, lower - ZERO_CELSIUS, level, plane,
            now.flow.out_upper + now.flow.out_lower, now.flow.inward, now.burning,
            hot_wall - ZERO_CELSIUS, state[GAS_STATES + self.grid.nodes] - ZERO_CELSIUS,
            oxygen_up * OXYGEN_BY_VOLUME, oxygen_low * OXYGEN_BY_VOLUME, now.carried,
            now.to_walls, now.pressure,
        )  # fmt: skip


def _sane(kelvin: float) -> float:
    """A temperature that gas can have, for a step that went wrong and will be taken again."""
    return COLDEST if kelvin < COLDEST else HOTTEST if kelvin > HOTTEST else kelvin


def _above_boiling(kelvin: float) -> float:
    """Nil at boiling, full a little above it: keeps the end of evaporation smooth."""
    return max(0.0, min(1.0, (kelvin - ZERO_CELSIUS - WATER_BOILING) / BOILING_BAND))


def events(unit: Unit, pulses: Sequence[Pulse], start: float, end: float) -> list[float]:
    """Start, end, and every time between at which a vent moves or a pulse starts or stops."""
    schedules = [each.schedule for each in unit.openings] + [
        each.schedule for each in unit.roof_vents
    ]
    moves = [time for schedule in schedules for time, _ in schedule]
    moves += [time for pulse in pulses for time in (pulse.start, pulse.start + pulse.duration)]
    return [start, *sorted({time for time in moves if start < time < end}), end]


def burn(
    unit: Unit, fire: Fire, pulses: Sequence[Pulse] = (), until: float | None = None
) -> Course:
    """Follow a burn from its lighting to ``until`` [s], the end of its curve when not given.

    Raises ``NothingOpen`` when the unit has no opening and no leak at some time.
    """
    equations = Equations(unit, fire)
    state = equations.start()
    start, end = equations.times[0], equations.times[-1] if until is None else float(until)
    times = events(unit, pulses, start, end)
    rows: list[tuple[float, ...]] = []
    for begin, finish in pairwise(times):
        equations.open = opened(unit, pulses, begin)
        equations.rates(begin, state)
        rows.append(equations.row(begin, state))
        steps = march(
            equations.rates, equations.stiffness, begin, finish, state, equations.allowed(),
            LONGEST_STEP, FIRST_STEP,
        )  # fmt: skip
        for time, after in steps:
            state = after
            rows.append(equations.row(time, state))
    return Course(*np.array(rows).T)
