"""Cooling: what water does to hot gas, and what a branch delivers.

Water that evaporates in the gas cools it, and the gas shrinks by more than the steam adds; water
that evaporates on hot steel only adds steam. The share decides whether the gas shrinks or swells.
"""

import math
from bisect import bisect_right
from functools import lru_cache

from facility.calc.constants import (
    FREEMAN,
    GAS_DENSITY_KELVIN,
    GAS_SPECIFIC_HEAT,
    STEAM_HEAT,
    STEAM_VOLUME_PER_KELVIN,
    WATER_BOILING,
    WATER_EVAPORATION_AT_BOILING,
    WATER_SPECIFIC_HEAT,
    ZERO_CELSIUS,
)
from facility.calc.units import convert
from facility.calc.working import Input, Outcome, OutOfSense, Source, Step, calculation

BY_FACTOR, SMOOTH_BORE = "factor", "smooth_bore"

WATER_TEMPERATURE = Input(
    "water_temperature", "degC", "water as it leaves the branch", low=0, high=100, valid=(2, 40),
    default=10.0,
)  # fmt: skip
GAS_VOLUME = Input(
    "gas_volume", "m3", "hot gas that the water meets", low=0, above_low=True, high=10_000,
    valid=(0.1, 500),
)  # fmt: skip
SHARE_IN_GAS = Input(
    "share_in_gas", "%", "share of the water that evaporates in the gas; the rest meets surfaces",
    low=0, above_low=True, high=100,
)  # fmt: skip


def steam_heat(celsius: float) -> float:
    """Heat [kJ/kg] of steam at one bar over steam of 100 °C; straight lines between rows."""
    last = len(STEAM_HEAT) - 1
    row = min(max(bisect_right(STEAM_HEAT, (celsius, math.inf)), 1), last)
    (low, low_heat), (high, high_heat) = STEAM_HEAT[row - 1], STEAM_HEAT[row]
    return low_heat + (high_heat - low_heat) * (celsius - low) / (high - low)


def boiling_heat(water_celsius: float) -> float:
    """Heat [kJ/kg] to warm water from a temperature to boiling and to evaporate it."""
    return WATER_SPECIFIC_HEAT * (WATER_BOILING - water_celsius) + WATER_EVAPORATION_AT_BOILING


def steam_volume(celsius: float) -> float:
    """Volume of steam [m3/kg] at one bar."""
    return STEAM_VOLUME_PER_KELVIN * (celsius + ZERO_CELSIUS)


def gas_heat(volume: float, hot: float, cool: float) -> float:
    """Heat [kJ] in a volume [m3] of gas at ``hot`` over the same gas at ``cool`` [both °C]."""
    mass = GAS_DENSITY_KELVIN * volume / (hot + ZERO_CELSIUS)
    return mass * GAS_SPECIFIC_HEAT * (hot - cool)


def _mixed(volume: float, hot: float, in_gas: float, water_celsius: float) -> float:
    """Temperature [°C] of gas after ``in_gas`` [kg] of water boiled in it; 100 at least."""
    low, high = WATER_BOILING, hot
    for _ in range(60):
        middle = 0.5 * (low + high)
        taken = in_gas * (boiling_heat(water_celsius) + steam_heat(middle))
        low, high = (low, middle) if taken > gas_heat(volume, hot, middle) else (middle, high)
    return 0.5 * (low + high)


@calculation(
    subject="cooling",
    title="What a spray of water does to hot gas",
    formula=r"V_2 = V_1\,\frac{T_2}{T_1} + m_s\,v_s(T_2), \qquad "
    r"m_g c_p (T_1 - T_2) = \beta m_w\,[c_w(100 - T_w) + L + \Delta h_s(T_2)]",
    inputs=(
        Input("water", "L", "water put in", low=0, above_low=True, high=10_000),
        WATER_TEMPERATURE,
        GAS_VOLUME,
        Input("gas_temperature", "degC", "gas before the spray", low=100, above_low=True,
              high=1500, valid=(101, 600)),
        SHARE_IN_GAS,
        Input("wall_temperature", "degC", "surfaces that the rest of the water meets", low=-40,
              high=1200, default=200.0),
    ),
    results={
        "volume_after": "m3", "volume_before": "m3", "volume_change": "%",
        "temperature_after": "degC", "heat_from_gas": "MJ", "heat_from_walls": "MJ",
        "steam": "kg", "run_off": "kg",
    },
    source=Source(
        "heat balance on water and steam of IAPWS-IF97 at one bar and gas of density 353/T; the "
        "way of reckoning is that of the fire service's gas-cooling notes", "derived",
    ),
    cautions=(
        "Gas that shrinks lets the neutral plane lift; gas that swells pushes it down on the "
        "people below. The share that evaporates in the gas is a matter of drop size and skill "
        "and is not measured here.",
    ),
)  # fmt: skip
def spray_cooling(
    water: float, water_temperature: float, gas_volume: float, gas_temperature: float,
    share_in_gas: float, wall_temperature: float,
) -> Outcome:  # fmt: skip
    """Gas volume [m3], temperature [degC], heat taken [MJ] and steam [kg] after a spray.

    ``water`` [L] at ``water_temperature`` [degC] meets ``gas_volume`` [m3] at
    ``gas_temperature`` [degC]; ``share_in_gas`` [%] of it evaporates there. The rest turns to
    steam on surfaces over 100 degC (common practice, no source), which give it all its heat, and
    runs off cooler ones. The gas never gets below 100 degC: water beyond that runs off too.

    About 30 % evaporated in the gas keeps its volume:

    >>> work = spray_cooling.of(water=1.33, gas_volume=10, gas_temperature=600, share_in_gas=30)
    >>> round(work.value("volume_after")), round(work.value("temperature_after"), -1)
    (10, 300.0)
    """
    aimed = water * share_in_gas / 100.0
    most = gas_heat(gas_volume, gas_temperature, WATER_BOILING) / boiling_heat(water_temperature)
    in_gas = min(aimed, most)
    on_walls = water - aimed if wall_temperature > WATER_BOILING else 0.0
    after = _mixed(gas_volume, gas_temperature, in_gas, water_temperature)
    per_kg = boiling_heat(water_temperature) + steam_heat(after)
    steam = in_gas + on_walls
    shrunk = gas_volume * (after + ZERO_CELSIUS) / (gas_temperature + ZERO_CELSIUS)
    volume = shrunk + steam * steam_volume(after)
    return Outcome(
        {
            "volume_after": volume, "volume_before": gas_volume,
            "volume_change": 100.0 * (volume / gas_volume - 1.0),
            "temperature_after": after,
            "heat_from_gas": gas_heat(gas_volume, gas_temperature, after) / 1000.0,
            "heat_from_walls": on_walls * per_kg / 1000.0,
            "steam": steam, "run_off": water - steam,
        },
        steps=[
            Step("the gas alone shrinks to", shrunk, "m3"),
            Step("the steam adds", steam * steam_volume(after), "m3"),
        ],
        notes=_which_way(volume, gas_volume),
        outside=["more water than the gas can evaporate"] if aimed > most else [],
    )  # fmt: skip


def _which_way(after: float, before: float) -> list[str]:
    if after < before:
        return ["the gas shrinks: the neutral plane can lift"]
    return ["the gas swells: it pushes the neutral plane down"]


@calculation(
    subject="cooling",
    title="Water to cool a body of hot gas",
    formula=r"m_w = \frac{m_g c_p (T_1 - T_2)}{c_w(100 - T_w) + L + \Delta h_s(T_2)}\,/\,\beta",
    inputs=(
        GAS_VOLUME,
        Input("from_temperature", "degC", "gas before", low=100, above_low=True, high=1500,
              valid=(101, 900)),
        Input("to_temperature", "degC", "gas after", low=100, high=1500, valid=(100, 600)),
        WATER_TEMPERATURE,
        Input("share_in_gas", "%", "share of the water that evaporates in the gas", low=0,
              above_low=True, high=100, default=100.0),
    ),
    results={"water": "L", "heat": "MJ", "heat_per_litre": "MJ/L"},
    source=Source("heat balance on water and steam of IAPWS-IF97 and gas of density 353/T",
                  "derived"),
    cautions=("A fire that goes on burning heats the gas again at once.",),
)  # fmt: skip
def water_to_cool(
    gas_volume: float, from_temperature: float, to_temperature: float, water_temperature: float,
    share_in_gas: float,
) -> Outcome:  # fmt: skip
    """Water [L] that brings ``gas_volume`` [m3] from one temperature to another [degC].

    ``share_in_gas`` [%] of the water evaporates in the gas; the rest is lost to it. Raises
    ``OutOfSense`` when the gas would get warmer.

    >>> round(water_to_cool.of(gas_volume=40, from_temperature=500, to_temperature=101).value(), 1)
    2.8
    """
    if to_temperature >= from_temperature:
        raise OutOfSense(
            "to_temperature", to_temperature, f"less than {from_temperature:g} °C is allowed"
        )
    heat = gas_heat(gas_volume, from_temperature, to_temperature)
    per_kg = boiling_heat(water_temperature) + steam_heat(to_temperature)
    return Outcome(
        {
            "water": heat / per_kg / (share_in_gas / 100.0),
            "heat": heat / 1000.0,
            "heat_per_litre": per_kg / 1000.0,
        },
        steps=[Step("heat to take from the gas", heat / 1000.0, "MJ")],
    )


@calculation(
    subject="cooling",
    title="Where a spray cone meets the ceiling",
    formula=r"x_{near} = \frac{h}{\tan(\beta + \alpha/2)}, \quad "
    r"x_{far} = \frac{h}{\tan(\beta - \alpha/2)}, \quad e = \frac{\cos\beta}{\cos(\alpha/2)}",
    inputs=(
        Input("cone_angle", "degree", "full angle of the spray cone", low=0, above_low=True,
              high=150, valid=(5, 90)),
        Input("branch_angle", "degree", "how far the branch points up from level", low=0,
              above_low=True, high=90),
        Input("height", "m", "from the branch up to the ceiling", low=0, above_low=True, high=20,
              valid=(0.2, 6)),
    ),
    results={
        "area": "m2", "nearest": "m", "farthest": "m", "breadth": "m", "cone_volume": "m3",
    },
    source=Source("geometry of a cone cut by a plane", "derived"),
    cautions=("A spray slows down and falls: the cone is straight only near the branch.",),
)  # fmt: skip
def spray_footprint(cone_angle: float, branch_angle: float, height: float) -> Outcome:
    """Area [m2] on the ceiling that a spray cone covers, its reach and breadth [m].

    ``cone_angle`` is the full angle, ``branch_angle`` the tilt over level [both degree],
    ``height`` [m] the ceiling over the branch. Raises ``OutOfSense`` when the lower edge of the
    cone never meets the ceiling.

    >>> work = spray_footprint.of(cone_angle=60, branch_angle=90, height=4)
    >>> round(work.value("breadth") / 2, 3), round(work.value("cone_volume"), 2)
    (2.309, 22.34)
    """
    half, tilt = math.radians(cone_angle / 2.0), math.radians(branch_angle)
    if tilt <= half:
        allowed = f"more than {cone_angle / 2.0:g}°, or the lower edge never meets the ceiling"
        raise OutOfSense("branch_angle", f"{branch_angle:g}°", allowed)
    near, far = height / math.tan(tilt + half), height / math.tan(tilt - half)
    long_half = 0.5 * (far - near)
    short_half = long_half * math.sqrt(1.0 - (math.cos(tilt) / math.cos(half)) ** 2)
    area = math.pi * long_half * short_half
    return Outcome(
        {
            "area": area, "nearest": near, "farthest": far, "breadth": 2.0 * short_half,
            "cone_volume": area * height / 3.0,
        },
        steps=[Step("half length of the ellipse", long_half, "m"),
               Step("half breadth of the ellipse", short_half, "m")],
    )  # fmt: skip


@lru_cache(maxsize=1)
def _freeman() -> float:
    """Freeman's coefficient for mm, bar and L/min."""
    area = convert(1.0, "inch", "mm") ** 2
    gallon, root = convert(1.0, "gallon/min", "L/min"), math.sqrt(convert(1.0, "bar", "psi"))
    return FREEMAN * gallon / area * root


@calculation(
    subject="cooling",
    title="Flow of a branch",
    formula=r"q = K\sqrt{p} \quad \mathrm{or} \quad q = 0.664\,d^2\sqrt{p}",
    inputs=(
        Input("method", "", "by the branch's own factor, or by the bore of a smooth nozzle",
              default=BY_FACTOR, choices=(BY_FACTOR, SMOOTH_BORE)),
        Input("pressure", "bar", "pressure at the branch", low=0, above_low=True, high=60,
              valid=(1, 40)),
        Input("k_factor", "L/min/bar**0.5", "factor of the branch, from its sheet", low=0,
              high=5000, default=0.0),
        Input("bore", "mm", "bore of a smooth nozzle", low=0, high=100, default=0.0),
    ),
    results={"flow": "L/min", "per_second": "L/s"},
    source=Source("q = K sqrt(p), definition of the factor; smooth bore: Freeman, 29.7 d^2 "
                  "sqrt(p) in US units, a fire training sheet and a nozzle maker's page"),
    cautions=("Pressure at the branch, not at the pump: hose and height take their part.",),
)  # fmt: skip
def branch_flow(method: str, pressure: float, k_factor: float, bore: float) -> Outcome:
    """Flow [L/min] of a branch at a pressure [bar] with factor K [L/min/bar^0.5] or bore [mm].

    Raises ``OutOfSense`` when the figure that the method needs is missing.

    >>> round(branch_flow.of(pressure=5, k_factor=43.466).value(), 2)
    97.19
    """
    needed, given = ("k_factor", k_factor) if method == BY_FACTOR else ("bore", bore)
    if given <= 0:
        raise OutOfSense(needed, given, f"method {method} needs more than 0")
    factor = k_factor if method == BY_FACTOR else _freeman() * bore * bore
    flow = factor * math.sqrt(pressure)
    return Outcome(
        {"flow": flow, "per_second": flow / 60.0},
        steps=[Step("factor", factor, "L/min/bar**0.5")],
    )
