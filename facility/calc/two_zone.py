"""The two-zone model as a calculation with a working: one door, one roof vent, one spray.

A plan with more openings, or with doors that move, calls ``zones.burn`` itself.
"""

from typing import Any

import numpy as np

from facility.calc.constants import (
    FIBRE_CONDUCTIVITY,
    FIBRE_DENSITY,
    FIBRE_SPECIFIC_HEAT,
    PYROLYSIS_FROM,
    RADIATIVE_SHARE,
    TRAINING_FUEL_EFFECTIVE_HEAT,
    WOOD_SMOKE_ABSORPTION,
)
from facility.calc.cooling import WATER_TEMPERATURE
from facility.calc.layer import (
    AMBIENT,
    DOOR_HEIGHT,
    DOOR_WIDTH,
    HEIGHT,
    LENGTH,
    WALL_THICKNESS,
    WIDTH,
)
from facility.calc.plume import FREE, PLUMES
from facility.calc.unit import Fire, Opening, Pulse, RoofVent, Unit, Wall
from facility.calc.working import Input, Outcome, Source, Step, calculation
from facility.calc.zones import Course, burn

STEEL, LINED = "steel", "lined"
ALWAYS_OPEN = 86_400.0
# Beyond these a layer is no longer level along the unit: limits of NIST TN 1889, from memory.
LONGEST_TO_WIDTH, LONGEST_TO_HEIGHT = 5.0, 6.0
HOTTEST_LAYER = 1200.0  # °C: no compartment test behind the model is hotter


@calculation(
    subject="layer",
    title="Hot layer, interface and neutral plane through a burn",
    formula=r"\frac{dV_u}{dt} = \frac{\dot h_u}{\rho c_p T}, \qquad "
    r"\frac{dT_u}{dt} = \frac{\dot h_u - c_p \dot m_u T_u}{c_p m_u}, \qquad "
    r"\dot h_u + \dot h_l = 0",
    inputs=(
        LENGTH, WIDTH, HEIGHT, DOOR_WIDTH, DOOR_HEIGHT,
        Input("time", "s", "times of the heat release curve", low=0, high=86_400, many=True),
        Input("heat_release", "kW", "heat release at those times", low=0, high=100_000, many=True),
        Input("wall", "", "bare steel, or a lining that stores heat", default=STEEL,
              choices=(STEEL, LINED)),
        WALL_THICKNESS,
        Input("door_sill", "m", "lower edge of the door over the floor", low=0, high=10,
              default=0.0),
        Input("door_opens", "s", "when the door is opened", low=0, high=ALWAYS_OPEN, default=0.0),
        Input("door_shuts", "s", "when the door is shut", low=0, high=ALWAYS_OPEN,
              default=ALWAYS_OPEN),
        Input("leak_area", "m2", "gaps, spread from floor to roof", low=0, high=10, default=0.0),
        Input("roof_vent_area", "m2", "clear area of the roof vent", low=0, high=100, default=0.0),
        Input("roof_vent_opens", "s", "when the roof vent is opened", low=0, high=ALWAYS_OPEN,
              default=0.0),
        Input("lining_conductivity", "W/m/K", "of the lining", low=0, above_low=True, high=500,
              default=FIBRE_CONDUCTIVITY),
        Input("lining_density", "kg/m3", "of the lining", low=0, above_low=True, high=20_000,
              default=FIBRE_DENSITY),
        Input("lining_specific_heat", "J/kg/K", "of the lining", low=0, above_low=True,
              high=10_000, default=FIBRE_SPECIFIC_HEAT),
        Input("plume", "", "free also for boards at a wall or in a corner (tests agree); draught "
              "for a small fire in the path of the air from the door; wall and corner halve and "
              "quarter the plume", default=FREE, choices=PLUMES),
        Input("fire_base", "m", "where the fire begins, over the floor", low=0, high=10,
              default=0.0),
        Input("fire_diameter", "m", "breadth of the fire", low=0, above_low=True, high=20,
              default=1.0),
        Input("radiative_share", "%", "share of the heat that the flame radiates", low=0, high=90,
              valid=(5, 50), default=100.0 * RADIATIVE_SHARE),
        Input("energy_per_kg", "MJ/kg", "energy per kg of fuel burned", low=0, above_low=True,
              high=200, default=TRAINING_FUEL_EFFECTIVE_HEAT),
        Input("smoke_absorption", "1/m", "how strongly the layer radiates", low=0, high=10,
              valid=(0.05, 2), default=WOOD_SMOKE_ABSORPTION),
        Input("spray_water", "L", "water of one spray", low=0, high=10_000, default=0.0),
        Input("spray_start", "s", "when the spray begins", low=0, high=86_400, default=0.0),
        Input("spray_duration", "s", "how long it lasts", low=0, above_low=True, high=3600,
              default=1.0),
        Input("spray_share_in_gas", "%", "share that evaporates in the hot layer", low=0, high=100,
              default=50.0),
        WATER_TEMPERATURE,
        AMBIENT,
        Input("wall_loss", "", "factor on the heat the walls take, as fitted to burns of the unit",
              low=0, above_low=True, high=10, valid=(0.3, 3), default=1.0),
    ),
    results={
        "layer_temperature": "degC", "lower_temperature": "degC", "interface_height": "m",
        "neutral_plane": "m", "outflow": "kg/s", "inflow": "kg/s", "heat_release_inside": "kW",
        "wall_temperature": "degC", "lower_oxygen": "%", "time_of_result": "s",
    },
    source=Source(
        "two-zone balance, plume, vents and convection as in NIST TN 1889v1; entrainment in the "
        "door draught NBSIR 82-2520; wall and spray terms on first principles", "derived",
    ),
    cautions=(
        "Two even layers: under the roof and near the fire it is hotter, near the door cooler. "
        "Checked against 18 gas-burner tests in one room and three in another; not against "
        "container burns.",
        "A layer at head height says nothing of the radiation that reaches a crouching person.",
    ),
)  # fmt: skip
def two_zone(
    length: float, width: float, height: float, door_width: float, door_height: float,
    time: list[float], heat_release: list[float], wall: str, wall_thickness: float,
    door_sill: float, door_opens: float, door_shuts: float, leak_area: float,
    roof_vent_area: float, roof_vent_opens: float, lining_conductivity: float,
    lining_density: float, lining_specific_heat: float, plume: str, fire_base: float,
    fire_diameter: float, radiative_share: float, energy_per_kg: float, smoke_absorption: float,
    spray_water: float, spray_start: float, spray_duration: float, spray_share_in_gas: float,
    water_temperature: float, ambient: float, wall_loss: float,
) -> Outcome:  # fmt: skip
    """Follow the layers [degC, m] and the flow in the door [kg/s] through a burn; arrays in time.

    Unit and door in m, ``time`` [s] and ``heat_release`` [kW] of the curve, wall thickness in mm.
    Where a vent opens or the spray starts, the time stands twice: before and after. Raises
    ``NothingOpen`` when neither door, roof vent nor leak is open, and ``OutOfSense`` for a curve
    whose times do not rise or whose lengths differ.

    >>> work = two_zone.of(length=5.9, width=2.35, height=2.39, door_width=1.1, door_height=2.2,
    ...                    time=[0, 300, 1200], heat_release=[0, 1000, 1000], wall_thickness=2)
    >>> round(float(work.value("neutral_plane")[-1]) / 2.2, 1)  # near half the door's height
    0.5
    """
    unit = Unit(
        length, width, height,
        Wall(wall_thickness / 1000.0) if wall == STEEL else Wall(
            wall_thickness / 1000.0, lining_conductivity, lining_density, lining_specific_heat,
            thin=False,
        ),
        (Opening(door_width, door_height, door_sill, ((door_opens, 1.0), (door_shuts, 0.0))),),
        (RoofVent(roof_vent_area, ((roof_vent_opens, 1.0),)),) if roof_vent_area > 0 else (),
        leak_area, ambient, wall_loss,
    )  # fmt: skip
    fire = Fire(
        tuple(time), tuple(heat_release), fire_base, fire_diameter, plume,
        radiative_share / 100.0, energy_per_kg, smoke_absorption,
    )  # fmt: skip
    share = spray_share_in_gas / 100.0
    spray = Pulse(spray_start, spray_duration, max(spray_water, 1e-9), share, water_temperature)
    course = burn(unit, fire, (spray,) if spray_water > 0 else ())
    asked = float(np.trapezoid(np.interp(course.time, time, heat_release), course.time))
    return Outcome(
        _results(course), steps=_steps(course), notes=_notes(course, asked),
        outside=_beyond(unit, course),
    )  # fmt: skip


def _results(course: Course) -> dict[str, Any]:
    return {
        "layer_temperature": course.layer_temperature,
        "lower_temperature": course.lower_temperature,
        "interface_height": course.interface,
        "neutral_plane": course.neutral_plane,
        "outflow": course.outflow,
        "inflow": course.inflow,
        "heat_release_inside": course.heat_release,
        "wall_temperature": course.wall_temperature,
        "lower_oxygen": course.lower_oxygen,
        "time_of_result": course.time,
    }


def _steps(course: Course) -> list[Step]:
    return [
        Step("hottest layer", float(course.layer_temperature.max()), "degC"),
        Step("lowest interface", float(course.interface.min()), "m"),
        Step("lowest neutral plane", float(course.neutral_plane.min()), "m"),
        Step("hottest wall around the layer", float(course.wall_temperature.max()), "degC"),
        Step("largest inflow", float(course.inflow.max()), "kg/s"),
    ]


def _notes(course: Course, asked: float) -> list[str]:
    """What a planner should see: burning outside, and when boards under the roof begin to gas."""
    notes = []
    inside = float(np.trapezoid(course.heat_release, course.time))
    if asked > 0.0 and inside < 0.98 * asked:
        notes.append(f"{100.0 * (1.0 - inside / asked):.0f} % of the heat finds no air inside")
    hot = np.flatnonzero(course.layer_temperature >= PYROLYSIS_FROM)
    if hot.size:
        notes.append(
            f"wood in the layer gives off gas from about {course.time[hot[0]]:.0f} s on, "
            f"{PYROLYSIS_FROM:g} °C (common practice, no source)"
        )
    return notes


def _beyond(unit: Unit, course: Course) -> list[str]:
    reasons = []
    long, short = max(unit.length, unit.width), min(unit.length, unit.width)
    if long > LONGEST_TO_WIDTH * short or long > LONGEST_TO_HEIGHT * unit.height:
        reasons.append("the unit is so long that its layer is not level along it")
    if float(course.layer_temperature.max()) > HOTTEST_LAYER:
        reasons.append(f"a layer over {HOTTEST_LAYER:g} °C is beyond the tests behind the model")
    return reasons
