"""Heat: how much a fire in the unit releases, how fast it grows and how long it lasts.

The heat release of a charge is a band, never one line: the same kind of board differs by up to
1.8 times between laboratories.
"""

import math
from typing import Any

import numpy as np

from facility.calc.constants import (
    BABRAUSKAS_OPENING,
    DECAY_STARTS_AT,
    GROWTH_REFERENCE_HEAT,
    LABORATORY_SPREAD,
    MQH_FLASHOVER,
    THOMAS_OPENING,
    THOMAS_SURFACE,
    TRAINING_FUEL_EFFECTIVE_HEAT,
    VENTILATION_AIR,
    VENTILATION_BURNING,
    VENTILATION_HEAT,
)
from facility.calc.working import Input, Outcome, OutOfSense, Source, Step, calculation

THOMAS, BABRAUSKAS, MQH = "thomas", "babrauskas", "mqh"
SERIES_POINTS = 121

OPENING_WIDTH = Input("width", "m", "clear width of the opening", low=0, above_low=True, high=20)
OPENING_HEIGHT = Input("height", "m", "clear height of the opening", low=0, above_low=True, high=10)
DRY_MASS = Input("dry_mass", "kg", "dry mass of the charge", low=0, above_low=True, high=100_000)
EXPOSED_AREA = Input(
    "exposed_area", "m2", "board surface that can burn at one time", low=0, above_low=True,
    high=5000,
)  # fmt: skip
ENERGY_PER_KG = Input(
    "energy_per_kg", "MJ/kg", "energy released per kg burned", low=0, above_low=True, high=60,
    valid=(10, 20), default=TRAINING_FUEL_EFFECTIVE_HEAT,
)  # fmt: skip
HEAT_PER_AREA = Input(
    "heat_per_area", "kW/m2", "measured heat release of this board per area", low=0,
    above_low=True, high=2000, valid=(50, 500),
)  # fmt: skip


def ventilation_factor(width: float, height: float) -> float:
    """A sqrt(H) [m^2.5] of an opening of width and height [m]."""
    return width * height * math.sqrt(height)


@calculation(
    subject="heat",
    title="Heat release that one opening can feed",
    formula=r"\dot Q_{max} = 1500\,A\sqrt{H}",
    inputs=(OPENING_WIDTH, OPENING_HEIGHT),
    results={"heat_release": "kW", "burning_rate": "kg/s", "air_inflow": "kg/s"},
    source=Source(
        "Kawagoe, ventilation-controlled burning; PD 7974-1 equation 33; burning rate: Fire "
        "Technology 2022, doi 10.1007/s10694-022-01218-1, equation 1"
    ),
    cautions=(
        "This is heat released inside. Measured totals reach 1.2 to 1.45 times as much, because "
        "gases that find no air in the unit burn outside the opening.",
    ),
)
def ventilation_limit(width: float, height: float) -> Outcome:
    """Largest heat release inside [kW] with one opening of width and height [m].

    Also the wood burned [kg/s] and the air drawn in [kg/s] at that limit. For a unit that burns
    with its full air supply; a smaller fire is limited by its fuel instead.

    >>> round(ventilation_limit.of(width=0.8, height=2.0).value())
    3394
    """
    factor = ventilation_factor(width, height)
    return Outcome(
        {
            "heat_release": VENTILATION_HEAT * factor,
            "burning_rate": VENTILATION_BURNING * factor,
            "air_inflow": VENTILATION_AIR * factor,
        },
        steps=[Step("area of the opening", width * height, "m2")],
    )


@calculation(
    subject="heat",
    title="Heat release at which the unit flashes over",
    formula=r"\dot Q_{fo} = 7.8\,A_T + 378\,A\sqrt{H} \quad \mathrm{or} \quad 750\,A\sqrt{H}"
    r" \quad \mathrm{or} \quad 610\,\sqrt{h_k A_T A\sqrt{H}}",
    inputs=(
        Input("method", "", "whose correlation", default=THOMAS, choices=(THOMAS, BABRAUSKAS, MQH)),
        Input("surface_area", "m2", "walls, floor and ceiling less the opening", low=0,
              above_low=True, high=10_000, valid=(1, 500)),
        OPENING_WIDTH,
        OPENING_HEIGHT,
        Input("wall_transfer", "kW/m2/K", "heat taken through the walls per area and kelvin; only "
              "used by mqh", low=0, high=1, valid=(0, 0.05), default=0.0),
    ),
    results={"heat_release": "kW"},
    source=Source(
        "NUREG-1805 chapter 13 forms of Thomas, Babrauskas, and McCaffrey, Quintiere and "
        "Harkleroad; Thomas and MQH also PD 7974-1 equations 28 and 29"
    ),
    cautions=(
        "The three correlations differ by a factor of two to three for one room: they show the "
        "order of size, not the moment. Fires near walls and thin steel walls are outside their "
        "tests.",
    ),
)  # fmt: skip
def flashover_heat_release(
    method: str, surface_area: float, width: float, height: float, wall_transfer: float
) -> Outcome:
    """Heat release [kW] that brings the unit to flashover.

    ``surface_area`` [m2] is that of all bounding surfaces less the opening of width and height
    [m]; ``wall_transfer`` [kW/(m2 K)] is conductivity over thickness, or its transient form.
    Raises ``OutOfSense`` for mqh without a wall transfer.

    >>> round(flashover_heat_release.of(surface_area=36.6, width=0.914, height=1.829).value())
    1140
    """
    factor = ventilation_factor(width, height)
    if method == MQH and wall_transfer <= 0:
        raise OutOfSense("wall_transfer", wall_transfer, "mqh needs more than 0 kW/(m² K)")
    heat = {
        THOMAS: THOMAS_SURFACE * surface_area + THOMAS_OPENING * factor,
        BABRAUSKAS: BABRAUSKAS_OPENING * factor,
        MQH: MQH_FLASHOVER * math.sqrt(wall_transfer * surface_area * factor),
    }[method]
    return Outcome({"heat_release": heat}, steps=[Step("A sqrt(H)", factor, "m**2.5")])


@calculation(
    subject="heat",
    title="Growing fire, t squared",
    formula=r"\dot Q = \alpha\,t^2",
    inputs=(
        Input("alpha", "kW/s2", "growth: slow 0.0029, medium 0.0117, fast 0.0469, ultra-fast "
              "0.1876", low=0, above_low=True, high=10, valid=(0.001, 0.2)),
        Input("time", "s", "time since it began to grow", low=0, high=86_400),
    ),
    results={"heat_release": "kW", "time_to_reference": "s"},
    source=Source("t-squared fire, NFPA 72 and 92; PD 7974-1 equation 22"),
    cautions=(
        "The NFPA classes reach 1055 kW, the Eurocode classes 1000 kW in the same time: mixing "
        "them is an error of 5.5 %.",
    ),
)  # fmt: skip
def growth(alpha: float, time: float) -> Outcome:
    """Heat release [kW] at ``time`` [s] of a fire growing with ``alpha`` [kW/s2].

    Also the time [s] at which it reaches 1055 kW, the reference of the NFPA classes.

    >>> round(growth.of(alpha=0.0117, time=300).value())
    1053
    """
    return Outcome(
        {
            "heat_release": alpha * time * time,
            "time_to_reference": math.sqrt(GROWTH_REFERENCE_HEAT / alpha),
        }
    )


def burn_times(alpha: float, limit: float, energy: float) -> tuple[float, float, float, float]:
    """Peak [kW] and the times [s] of its start, its end and burn-out.

    Growth alpha t2 [kW/s2] up to ``limit`` [kW], held until 70 % of ``energy`` [kJ] is gone, then
    a straight line to nothing. A charge too small for the limit dies from the growth itself.
    """
    spent = DECAY_STARTS_AT * energy
    reached = math.sqrt(limit / alpha)
    growing = alpha * reached**3 / 3.0
    if growing >= spent:
        turn = (3.0 * spent / alpha) ** (1.0 / 3.0)
        peak, begin, end = alpha * turn * turn, turn, turn
    else:
        peak, begin, end = limit, reached, reached + (spent - growing) / limit
    return peak, begin, end, end + 2.0 * (energy - spent) / peak


def heat_at(time: Any, alpha: float, times: tuple[float, float, float, float]) -> Any:
    """Heat release [kW] at times [s, array] for the four figures of ``burn_times``."""
    peak, begin, end, out = times
    decay = peak * (out - time) / max(out - end, 1e-9)
    return np.clip(np.where(time < begin, alpha * time * time, np.where(time <= end, peak, decay)),
                   0.0, peak)  # fmt: skip


@calculation(
    subject="heat",
    title="Heat release of a charge against time",
    formula=r"\dot Q = \min(\alpha t^2,\ \dot q'' A_f,\ 1500\,A\sqrt{H}), \qquad "
    r"\int \dot Q\,dt = m\,\Delta H",
    inputs=(
        DRY_MASS,
        EXPOSED_AREA,
        HEAT_PER_AREA,
        ENERGY_PER_KG,
        Input("alpha", "kW/s2", "growth of the fire", low=0, above_low=True, high=10,
              valid=(0.001, 0.2)),
        Input("opening_width", "m", "clear width of the unit's opening", low=0, above_low=True,
              high=20),
        Input("opening_height", "m", "clear height of the unit's opening", low=0, above_low=True,
              high=10),
        Input("ignition_delay", "s", "time from lighting to growth", low=0, high=3600, default=0.0),
    ),
    results={
        "heat_release": "kW", "heat_release_low": "kW", "heat_release_high": "kW", "time": "s",
        "peak": "kW", "peak_low": "kW", "peak_high": "kW", "burnt_out": "s", "energy": "MJ",
    },
    source=Source(
        "t-squared growth to the lesser of fuel surface and Kawagoe's ventilation limit, decay "
        "from 70 % of the energy as in EN 1991-1-2 Annex E.4; band from the spread of cone tests "
        "between laboratories", "derived",
    ),
    cautions=(
        "A band, not a forecast: packages of like size differ by nearly 1 MW (Fire Technology 57, "
        "2021, no. 4). Where the opening limits the fire, more may burn outside it.",
    ),
)  # fmt: skip
def heat_release_curve(
    dry_mass: float, exposed_area: float, heat_per_area: float, energy_per_kg: float, alpha: float,
    opening_width: float, opening_height: float, ignition_delay: float,
) -> Outcome:  # fmt: skip
    """Low, middle and high heat release [kW, arrays] of a charge against time [s, array].

    The charge has ``dry_mass`` [kg], burns on ``exposed_area`` [m2] with ``heat_per_area``
    [kW/m2] as measured, and gives ``energy_per_kg`` [MJ/kg]. High over low is 1.8, the spread
    between laboratories; all three release the same energy.

    >>> work = heat_release_curve.of(dry_mass=55, exposed_area=6, heat_per_area=200, alpha=0.0469,
    ...                              opening_width=1.1, opening_height=2.2)
    >>> round(work.value("peak")), round(work.value("energy"))
    (1200, 781)
    """
    energy = 1000.0 * dry_mass * energy_per_kg
    surface = exposed_area * heat_per_area
    opening = VENTILATION_HEAT * ventilation_factor(opening_width, opening_height)
    spread = math.sqrt(LABORATORY_SPREAD)
    low, middle, high = (
        burn_times(alpha, min(surface * factor, opening), energy)
        for factor in (1.0 / spread, 1.0, spread)
    )
    time = _times(ignition_delay, low, middle, high)
    growing = np.maximum(time - ignition_delay, 0.0)
    return Outcome(
        {
            "heat_release": heat_at(growing, alpha, middle),
            "heat_release_low": heat_at(growing, alpha, low),
            "heat_release_high": heat_at(growing, alpha, high),
            "time": time,
            "peak": middle[0], "peak_low": low[0], "peak_high": high[0],
            "burnt_out": middle[3] + ignition_delay, "energy": energy / 1000.0,
        },
        steps=[
            Step("fuel surface alone", surface, "kW"),
            Step("opening alone", opening, "kW"),
            Step("growth ends after", middle[1] + ignition_delay, "s"),
            Step("decay begins after", middle[2] + ignition_delay, "s"),
        ],
        notes=_what_limits(surface, opening, middle[0]),
    )  # fmt: skip


def _times(delay: float, *curves: tuple[float, float, float, float]) -> Any:
    """One time axis [s] for all curves, their corners among its points."""
    corners = [delay, *(delay + time for curve in curves for time in curve[1:])]
    return np.unique(np.concatenate((np.linspace(0.0, max(corners), SERIES_POINTS), corners)))


def _what_limits(surface: float, opening: float, peak: float) -> list[str]:
    if peak < min(surface, opening):
        return ["the charge is spent before its surface or the opening limits it"]
    if surface > opening:
        return ["the opening limits the fire; the rest of the gases burns outside"]
    return ["the fuel surface limits the fire"]


@calculation(
    subject="heat",
    title="How long the charge burns",
    formula=r"t = \frac{m}{\min(0.09\,A\sqrt{H},\ \dot q'' A_f / \Delta H)}",
    inputs=(
        DRY_MASS, OPENING_WIDTH, OPENING_HEIGHT, EXPOSED_AREA, HEAT_PER_AREA, ENERGY_PER_KG,
    ),
    results={"duration": "min", "by_opening": "min", "by_surface": "min"},
    source=Source(
        "Kawagoe, 0.09 A sqrt(H) (Fire Technology 2022, doi 10.1007/s10694-022-01218-1, equation "
        "1), and the fuel surface; the slower of the two governs", "derived",
    ),
    cautions=(
        "Kawagoe's duration alone is three times too short with a large opening, so the fuel "
        "surface is always reckoned too. Growth and embers are not in it.",
    ),
)  # fmt: skip
def burning_duration(
    dry_mass: float, width: float, height: float, exposed_area: float, heat_per_area: float,
    energy_per_kg: float,
) -> Outcome:  # fmt: skip
    """Time [min] of full burning of ``dry_mass`` [kg] with one opening of width, height [m].

    ``exposed_area`` [m2], ``heat_per_area`` [kW/m2] and ``energy_per_kg`` [MJ/kg] give the rate
    that the fuel surface allows.

    >>> round(burning_duration.of(dry_mass=55, width=1.1, height=2.2, exposed_area=6,
    ...                           heat_per_area=200).value(), 1)
    10.8
    """
    by_opening = dry_mass / (VENTILATION_BURNING * ventilation_factor(width, height)) / 60.0
    surface_rate = exposed_area * heat_per_area / (1000.0 * energy_per_kg)
    by_surface = dry_mass / surface_rate / 60.0
    return Outcome(
        {
            "duration": max(by_opening, by_surface),
            "by_opening": by_opening,
            "by_surface": by_surface,
        },
        steps=[
            Step(
                "rate that the opening allows",
                VENTILATION_BURNING * ventilation_factor(width, height), "kg/s",
            ),
            Step("rate that the surface allows", surface_rate, "kg/s"),
        ],
    )  # fmt: skip
