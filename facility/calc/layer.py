"""The hot layer by hand: its temperature rise, the neutral plane in a door, pressure in a unit.

These are single formulas for a moment; ``two_zone`` follows a whole burn.
"""

import math
from typing import NamedTuple

from facility.calc.constants import (
    ATMOSPHERE,
    DOOR_DISCHARGE,
    GAS_DENSITY_KELVIN,
    GAS_SPECIFIC_HEAT,
    MQH_LARGEST_RISE,
    MQH_RISE,
    STEEL_CONDUCTIVITY,
    STEEL_DENSITY,
    STEEL_SPECIFIC_HEAT,
    STEEL_WALL_FALL,
    STEEL_WALL_FIRST,
    STEEL_WALL_PACE,
    ZERO_CELSIUS,
)
from facility.calc.cooling import steam_volume
from facility.calc.vent_flow import (
    Column,
    Drive,
    Flow,
    Hole,
    drive,
    flows,
    neutral_height,
    pressure_at,
)
from facility.calc.working import CalculationRefused, Input, Outcome, Source, Step, calculation

MQH, PEATROSS_BEYLER = "mqh", "peatross_beyler"
LEAKING, SEALED = "leaking", "sealed"
# Above this conductance a wall is no lining that stores heat, as MQH supposes, but a metal sheet:
# the thinnest linings of its tests stay under 0.1 kW/(m2 K), 2 mm of steel has 27.
MOST_CONDUCTIVE = 1.0
HALVINGS = 60

LENGTH = Input("length", "m", "length of the unit, inside", low=0, above_low=True, high=100)
WIDTH = Input("width", "m", "width of the unit, inside", low=0, above_low=True, high=100)
HEIGHT = Input("height", "m", "height of the unit, inside", low=0, above_low=True, high=20)
DOOR_WIDTH = Input("door_width", "m", "clear width of the door", low=0, above_low=True, high=20)
DOOR_HEIGHT = Input("door_height", "m", "clear height of the door", low=0, above_low=True, high=10)
AMBIENT = Input("ambient", "degC", "air outside", low=-60, high=80, default=20.0)
WALL_THICKNESS = Input(
    "wall_thickness", "mm", "thickness of the wall or its lining", low=0, above_low=True, high=2000
)


class WallTooConductive(CalculationRefused):
    """A metal wall where the method needs a lining that stores heat."""


class Wall(NamedTuple):
    """Conductivity [kW/(m K)], density [kg/m3], specific heat [kJ/(kg K)], thickness [m]."""

    conductivity: float
    density: float
    specific_heat: float
    thickness: float


def bounding_area(length: float, width: float, height: float, opening: float) -> float:
    """Walls, floor and ceiling [m2] of a room less an opening [m2]."""
    return 2.0 * (length * width + length * height + width * height) - opening


def penetration_time(wall: Wall) -> float:
    """Time [s] in which heat comes through a lining."""
    return wall.density * wall.specific_heat / wall.conductivity * (wall.thickness / 2.0) ** 2


def lining_transfer(wall: Wall, time: float) -> float:
    """Heat taken by a lining [kW/(m2 K)] at a time [s]: stored before heat comes through it,
    conducted after. The published switch jumps there and is kept as it is."""
    if time > penetration_time(wall):
        return wall.conductivity / wall.thickness
    return math.sqrt(wall.conductivity * wall.density * wall.specific_heat / time)


def steel_transfer(wall: Wall, time: float) -> float:
    """Heat taken by a thin steel wall [kW/(m2 K)] at a time [s]: Peatross and Beyler."""
    stored = 1000.0 * wall.density * wall.specific_heat * wall.thickness
    fallen = 1.0 - math.exp(-STEEL_WALL_PACE * time / stored)
    return (STEEL_WALL_FIRST - STEEL_WALL_FALL * fallen) / 1000.0


@calculation(
    subject="layer",
    title="Temperature rise of the hot layer",
    formula=r"\Delta T = 6.85\,\left(\frac{\dot Q^2}{A\sqrt{H}\,h_k A_T}\right)^{1/3}",
    inputs=(
        Input("method", "", "mqh for walls that store heat, peatross_beyler for thin steel",
              default=PEATROSS_BEYLER, choices=(MQH, PEATROSS_BEYLER)),
        Input("heat_release", "kW", "heat released inside", low=0, high=100_000),
        LENGTH, WIDTH, HEIGHT, DOOR_WIDTH, DOOR_HEIGHT,
        Input("time", "s", "time since lighting", low=0, above_low=True, high=86_400,
              valid=(10, 7200)),
        WALL_THICKNESS,
        Input("conductivity", "W/m/K", "conductivity of the wall", low=0, above_low=True,
              high=500, default=STEEL_CONDUCTIVITY),
        Input("density", "kg/m3", "density of the wall", low=0, above_low=True, high=20_000,
              default=STEEL_DENSITY),
        Input("specific_heat", "J/kg/K", "specific heat of the wall", low=0, above_low=True,
              high=10_000, default=STEEL_SPECIFIC_HEAT),
        AMBIENT,
    ),
    results={"rise": "delta_degC", "layer_temperature": "degC", "wall_transfer": "kW/m2/K"},
    source=Source(
        "McCaffrey, Quintiere and Harkleroad: NIST SP 1169, section Natural Ventilation (MQH); "
        "steel walls: the wall transfer of Peatross and Beyler, SFPE Handbook, from memory",
    ),
    cautions=(
        "A mean over the layer at one moment: higher under the roof and near the fire. In open "
        "rooms the correlation ran 4 to 26 % high, in small fires in the door draught 50 %.",
    ),
)  # fmt: skip
def hot_layer_rise(
    method: str, heat_release: float, length: float, width: float, height: float,
    door_width: float, door_height: float, time: float, wall_thickness: float,
    conductivity: float, density: float, specific_heat: float, ambient: float,
) -> Outcome:  # fmt: skip
    """Rise of the hot layer [K] over ambient [degC] in a room with one door, all lengths in m.

    ``heat_release`` [kW] at ``time`` [s]; wall of ``wall_thickness`` [mm], ``conductivity``
    [W/(m K)], ``density`` [kg/m3], ``specific_heat`` [J/(kg K)]. Valid up to a rise of 600 K and
    for fires away from walls. Raises ``WallTooConductive`` for mqh with bare metal, where it
    would give a layer far too cold.

    >>> work = hot_layer_rise.of(method="mqh", heat_release=200, length=6, width=4, height=3,
    ...     door_width=0.76, door_height=2.06, time=60, wall_thickness=100, conductivity=0.463,
    ...     density=1607, specific_heat=1000, ambient=33)
    >>> round(work.value("layer_temperature"), 2)
    111.45
    """
    wall = Wall(conductivity / 1000.0, density, specific_heat / 1000.0, wall_thickness / 1000.0)
    if method == MQH and wall.conductivity / wall.thickness > MOST_CONDUCTIVE:
        raise WallTooConductive(
            "method", f"{MQH} with a wall of {wall_thickness:g} mm at {conductivity:g} W/(m K)",
            f"use {PEATROSS_BEYLER} for thin metal",
        )  # fmt: skip
    taken = lining_transfer(wall, time) if method == MQH else steel_transfer(wall, time)
    opening = door_width * door_height
    area = bounding_area(length, width, height, opening)
    factor = opening * math.sqrt(door_height)
    rise = MQH_RISE * (heat_release**2 / (factor * taken * area)) ** (1.0 / 3.0)
    outside = [f"a rise over {MQH_LARGEST_RISE:g} K is beyond the tests behind it"]
    return Outcome(
        {"rise": rise, "layer_temperature": ambient + rise, "wall_transfer": taken},
        steps=[
            Step("walls, floor and ceiling less the door", area, "m2"),
            Step("A sqrt(H) of the door", factor, "m**2.5"),
            Step("time for heat to come through the wall", penetration_time(wall), "s"),
        ],
        outside=outside if rise > MQH_LARGEST_RISE else [],
    )


def in_balance(hole: Hole, driven: Drive) -> tuple[float, Flow]:
    """Floor pressure [Pa] at which as much air comes in at one opening as gas goes out."""
    reach = (abs(driven.rise_low) + abs(driven.rise_up)) * hole.top + 1e-9
    low, high = -reach, reach
    flow = flows([hole], 0.0, hole.top, 0.0, driven)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        flow = flows([hole], 0.0, hole.top, middle, driven)
        out = flow.out_upper + flow.out_lower
        low, high = (low, middle) if out > flow.inward else (middle, high)
    return 0.5 * (low + high), flow


@calculation(
    subject="layer",
    title="Neutral plane and flow in a door",
    formula=r"\dot m = \frac{2}{3} C \sqrt{2\rho}\,w\,(t-b)\,"
    r"\frac{|p_t| + \sqrt{|p_t p_b|} + |p_b|}{\sqrt{|p_t|} + \sqrt{|p_b|}}, \qquad "
    r"\dot m_{out} = \dot m_{in}",
    inputs=(
        DOOR_WIDTH, DOOR_HEIGHT,
        Input("sill", "m", "lower edge of the opening over the floor", low=0, high=10,
              default=0.0),
        Input("interface_height", "m", "where the hot layer begins, over the floor", low=0,
              high=20),
        Input("layer_temperature", "degC", "hot layer", low=-60, high=1500, valid=(30, 1200)),
        Input("lower_rise", "delta_degC", "how much warmer than outside the gas below is", low=0,
              high=1000, default=0.0),
        AMBIENT,
    ),
    results={"neutral_plane": "m", "outflow": "kg/s", "inflow": "kg/s", "pressure_at_top": "Pa"},
    source=Source(
        'NIST TN 1889v1, "Calculating flow through wall vents", after Emmons; discharge '
        f"coefficient {DOOR_DISCHARGE:g} after Steckler"
    ),
    cautions=(
        "Two even layers and no wind. On measured layers it places the plane within 0.03 m for "
        "fires in mid-room and up to 0.29 m off for fires in corners.",
    ),
)  # fmt: skip
def neutral_plane(
    door_width: float, door_height: float, sill: float, interface_height: float,
    layer_temperature: float, lower_rise: float, ambient: float,
) -> Outcome:  # fmt: skip
    """Height of the neutral plane [m] over the floor and the flows [kg/s] through one opening.

    The opening has width, height and sill [m]; the hot layer begins at ``interface_height`` [m]
    and has ``layer_temperature`` [degC]; the gas below is ``lower_rise`` [K] over ``ambient``
    [degC]. In and out are equal: a steady burn, its fuel gas left aside.

    >>> work = neutral_plane.of(door_width=1, door_height=1, interface_height=0,
    ...                         layer_temperature=200)
    >>> round(work.value(), 2)
    0.46
    """
    outside_air = ambient + ZERO_CELSIUS
    hole = Hole(door_width, sill, sill + door_height)
    column = Column(
        interface_height, layer_temperature + ZERO_CELSIUS, outside_air + lower_rise, outside_air
    )
    pressure, flow = in_balance(hole, drive(column))
    return Outcome(
        {
            "neutral_plane": neutral_height(hole, pressure, column),
            "outflow": flow.out_upper + flow.out_lower,
            "inflow": flow.inward,
            "pressure_at_top": pressure_at(hole.top, pressure, column),
        },
        steps=[Step("pressure at the floor", pressure, "Pa")],
        outside=_no_layer(hole, column),
    )


def _no_layer(hole: Hole, column: Column) -> list[str]:
    reasons = []
    if column.interface >= hole.top:
        reasons.append("the hot layer lies wholly above the opening")
    if column.upper <= column.ambient:
        reasons.append("the layer is no warmer than the air outside")
    return reasons


@calculation(
    subject="layer",
    title="Pressure in a shut unit",
    formula=r"\Delta p = \frac{1}{2\rho}\left(\frac{\dot m}{C A}\right)^2 \quad \mathrm{or} \quad "
    r"\Delta p = p_0\left(\frac{T_2}{T_1} - 1\right)",
    inputs=(
        Input("method", "", "leaking through an area, or sealed", default=LEAKING,
              choices=(LEAKING, SEALED)),
        Input("gas_temperature", "degC", "gas that leaks out, or gas at the end", low=-60,
              high=1500),
        Input("leak_area", "m2", "all gaps together", low=0, high=50, default=0.0),
        Input("heat_to_gas", "kW", "heat that the gas gains, wall losses taken off", low=0,
              high=100_000, default=0.0),
        Input("steam", "kg/s", "steam made", low=0, high=100, default=0.0),
        Input("air_supply", "m3/s", "air blown in, as it is outside", low=0, high=100,
              default=0.0),
        AMBIENT,
    ),
    results={"overpressure": "Pa", "volume_flow": "m3/s"},
    source=Source(
        'NIST TN 1889v1 and v3: orifice flow, "Air flow through a single compartment", and the '
        "sealed room of its verification chapter"
    ),
    cautions=(
        "Steady flow and a strong box: doors and seals of a unit give way at a few hundred "
        "pascal (common practice, no source), long before these pressures are reached.",
    ),
)  # fmt: skip
def overpressure(
    method: str, gas_temperature: float, leak_area: float, heat_to_gas: float, steam: float,
    air_supply: float, ambient: float,
) -> Outcome:  # fmt: skip
    """Pressure over the outside [Pa] in a shut unit.

    Leaking: gas that swells by ``heat_to_gas`` [kW], ``steam`` [kg/s] and ``air_supply`` [m3/s]
    leaves through ``leak_area`` [m2] at ``gas_temperature`` [degC]. Sealed: gas brought from
    ``ambient`` to ``gas_temperature`` [degC]. Raises ``CalculationRefused`` without a leak.

    >>> round(overpressure.of(method="sealed", gas_temperature=25, ambient=20).value())
    1728
    """
    kelvin, start = gas_temperature + ZERO_CELSIUS, ambient + ZERO_CELSIUS
    if method == SEALED:
        return Outcome({"overpressure": ATMOSPHERE * (kelvin / start - 1.0), "volume_flow": 0.0})
    if leak_area <= 0:
        raise CalculationRefused("leak_area", leak_area, "leaking needs more than 0 m²")
    volume = heat_to_gas / (GAS_SPECIFIC_HEAT * GAS_DENSITY_KELVIN)
    volume += steam * steam_volume(gas_temperature) + air_supply * kelvin / start
    thin = 0.5 * GAS_DENSITY_KELVIN / kelvin * (volume / (DOOR_DISCHARGE * leak_area)) ** 2
    # The gas is denser at the pressure sought, so p (1 + p / p0) equals the thin-gas answer.
    pressure = 0.5 * ATMOSPHERE * (math.sqrt(1.0 + 4.0 * thin / ATMOSPHERE) - 1.0)
    return Outcome(
        {"overpressure": pressure, "volume_flow": volume},
        steps=[Step("speed in the gaps", volume / leak_area, "m/s")],
    )
