"""Smoke: what a burn gives off, how high it rises and how thick it is downwind.

Law: an order of magnitude, to choose a day and a wind by. It settles no dispute with a neighbour.
"""

import math

from facility.calc.constants import (
    BRIGGS_OPEN_COUNTRY,
    BRIGGS_TOWN,
    GAS_DENSITY_KELVIN,
    GAS_SPECIFIC_HEAT,
    GRAVITY,
    PILED_WOOD_PM10,
    STABLE_GRADIENTS,
    ZERO_CELSIUS,
)
from facility.calc.working import Input, Outcome, Source, Step, calculation

TERRAINS = {"open country": BRIGGS_OPEN_COUNTRY, "town": BRIGGS_TOWN}

# Under 1 m/s a plume has no direction and the formulas no meaning: common practice, no source.
WIND = Input("wind_speed", "m/s", "wind at the height of the smoke", low=0, above_low=True, high=60,
             valid=(1, 30))  # fmt: skip
STABILITY = Input(
    "stability", "", "Pasquill class: A strong sun and light wind, D overcast or windy, F clear "
    "night and light wind", default="D", choices=tuple(BRIGGS_OPEN_COUNTRY)
)  # fmt: skip
LOCAL_RULES = (
    "Permits, smoke-nuisance law and discharge consents are local. Factors for boards with resin "
    "differ from those for plain wood, and none was found.",
)


@calculation(
    subject="smoke",
    title="Emission of a burn",
    formula=r"E = m\,b\,f, \qquad \dot{E} = E / t",
    inputs=(
        Input("mass", "kg", "mass of the charge", low=0, high=1e5),
        Input("factor", "g/kg", "what a kilogram gives off; the default is particles under 10 µm "
              "from piled wood", low=0, high=4000, default=PILED_WOOD_PM10),
        Input("burned_share", "%", "share of the charge that burns", low=0, high=100,
              default=100.0),
        Input("duration", "min", "time over which it is given off", low=0, above_low=True,
              high=1440, default=30.0),
    ),
    results={"emission": "g", "rate": "g/s"},
    source=Source(
        "mass times factor, as in AP-42; default factor CONSUME 4.2, piled clean wood, PM10 "
        "15.5 lb per short ton (read in public code)"
    ),
    cautions=LOCAL_RULES,
)  # fmt: skip
def emission(mass: float, factor: float, burned_share: float, duration: float) -> Outcome:
    """Emission [g] of a charge [kg] by a factor [g/kg], and its mean rate [g/s] over minutes [min].

    >>> burn = emission.of(mass=100, factor=7.75, burned_share=90)
    >>> burn.value(), round(burn.value("rate"), 4)
    (697.5, 0.3875)
    """
    burned = mass * burned_share / 100.0
    total = burned * factor
    return Outcome(
        {"emission": total, "rate": total / (duration * 60.0)},
        steps=[Step("mass burned", burned, "kg")],
    )


def buoyancy_flux(convective_heat: float) -> float:
    """Buoyancy flux [m4/s3] of hot gas that carries a heat [kW] into the open air."""
    return GRAVITY * convective_heat / (math.pi * GAS_SPECIFIC_HEAT * GAS_DENSITY_KELVIN)


def final_rise(flux: float, wind: float, stability_parameter: float) -> tuple[float, float]:
    """Final rise [m] and the distance [m] at which it is reached.

    ``flux`` [m4/s3], ``wind`` [m/s]; ``stability_parameter`` [1/s2] is zero unless the air is
    stable.
    """
    if stability_parameter > 0:
        rise = 2.6 * (flux / (wind * stability_parameter)) ** (1 / 3)
        return rise, 2.0715 * wind / math.sqrt(stability_parameter)
    if flux < 55:
        return 21.425 * flux**0.75 / wind, 49.0 * flux**0.625
    return 38.71 * flux**0.6 / wind, 119.0 * flux**0.4


@calculation(
    subject="smoke",
    title="Rise of a smoke plume",
    formula=r"\Delta h = \min\left(\frac{1.6\,F^{1/3}\,x^{2/3}}{u},\; \Delta h_{final}\right)",
    inputs=(
        Input("convective_heat", "kW", "heat that leaves with the smoke", low=0, high=1e6),
        WIND,
        STABILITY,
        Input("distance", "m", "distance downwind", low=0, high=1e5, default=1e4),
        Input("air_temperature", "degC", "temperature of the air outside", low=-60, high=60,
              default=15.0),
    ),
    results={"rise": "m", "final_rise": "m", "distance_of_final_rise": "m"},
    source=Source(
        "Briggs plume rise as in the EPA ISC3 user's guide, vol. II (read in public code; the "
        "gradient of class E from memory); the flux from the heat is derived from its definition"
    ),
    cautions=(
        *LOCAL_RULES,
        "Made for stacks. Smoke that leaks from doors, or is caught behind the unit, rises less.",
    ),
)  # fmt: skip
def plume_rise(
    convective_heat: float, wind_speed: float, stability: str, distance: float,
    air_temperature: float,
) -> Outcome:  # fmt: skip
    """Rise [m] of smoke over its release, at a distance [m] and in the end.

    ``convective_heat`` [kW], ``wind_speed`` [m/s], ``air_temperature`` [degC].

    >>> round(plume_rise.of(convective_heat=5720, wind_speed=4, distance=50).value(), 1)
    20.0
    """
    flux = buoyancy_flux(convective_heat)
    gradient = STABLE_GRADIENTS.get(stability, 0.0)
    parameter = GRAVITY / (air_temperature + ZERO_CELSIUS) * gradient
    final, reached = final_rise(flux, wind_speed, parameter)
    on_the_way = 1.6 * flux ** (1 / 3) * distance ** (2 / 3) / wind_speed
    return Outcome(
        {
            "rise": min(on_the_way, final) if distance < reached else final,
            "final_rise": final,
            "distance_of_final_rise": reached,
        },
        steps=[Step("buoyancy flux", flux, "m⁴/s³")],
    )


def spread(distance: float, stability: str, terrain: str) -> tuple[float, float]:
    """Standard deviations [m] of a plume sideways and upward at a distance [m]."""
    sideways, upward = (
        a * distance * (1.0 + b * distance) ** c for a, b, c in TERRAINS[terrain][stability]
    )
    return sideways, upward


def gaussian(
    rate: float, wind: float, sigmas: tuple[float, float], aside: float, height: float,
    release: float,
) -> float:  # fmt: skip
    """Concentration, in the mass of ``rate`` per m3, with the ground throwing the plume back.

    ``rate`` [mass/s], ``wind`` [m/s], ``sigmas`` sideways and upward [m]; ``aside``, ``height``
    and ``release`` [m].
    """
    sideways, upward = sigmas
    across = math.exp(-(aside**2) / (2 * sideways**2))
    direct = math.exp(-((height - release) ** 2) / (2 * upward**2))
    thrown_back = math.exp(-((height + release) ** 2) / (2 * upward**2))
    return rate / (2 * math.pi * wind * sideways * upward) * across * (direct + thrown_back)


@calculation(
    subject="smoke",
    title="Smoke downwind",
    formula=(
        r"c = \frac{E}{2\pi u \sigma_y \sigma_z}\,e^{-y^2/2\sigma_y^2}"
        r"\left[e^{-(z - H)^2/2\sigma_z^2} + e^{-(z + H)^2/2\sigma_z^2}\right]"
    ),
    inputs=(
        Input("emission_rate", "g/s", "what is given off per second", low=0, high=1e6),
        WIND,
        Input("distance", "m", "distance downwind", low=0, above_low=True, high=1e5,
              valid=(100, 10_000)),
        STABILITY,
        Input("terrain", "", "open country or town between the burn and the place",
              default="open country", choices=tuple(TERRAINS)),
        Input("release_height", "m", "height of the smoke, its rise included", low=0, high=2000,
              default=2.0),
        Input("aside", "m", "distance sideways from the line of the wind", low=-1e5, high=1e5,
              default=0.0),
        Input("height", "m", "height of the place above ground", low=0, high=2000, default=1.5),
    ),
    results={"concentration": "mg/m3", "sigma_y": "m", "sigma_z": "m"},
    source=Source(
        "Gaussian plume with the spread of Briggs, 1973: Fundamentals of Air Pollution, 3rd ed., "
        "pp. 302-305, tables 19-3 to 19-7"
    ),
    cautions=(
        *LOCAL_RULES,
        "Flat ground, steady wind, means over 10 to 60 minutes. Nearer than 100 m the unit's own "
        "wake rules and the figure means little; a training ground often lies nearer.",
    ),
)  # fmt: skip
def plume_concentration(
    emission_rate: float, wind_speed: float, distance: float, stability: str, terrain: str,
    release_height: float, aside: float, height: float,
) -> Outcome:  # fmt: skip
    """Concentration [mg/m3] at a place downwind of a steady release [g/s].

    ``wind_speed`` [m/s]; ``distance``, ``aside``, ``height`` and ``release_height`` [m]. Valid
    from 100 m to 10 km.

    >>> smoke = plume_concentration.of(emission_rate=0.3875, wind_speed=3, distance=500)
    >>> round(smoke.value(), 3)
    0.046
    """
    sigmas = spread(distance, stability, terrain)
    grams = gaussian(emission_rate, wind_speed, sigmas, aside, height, release_height)
    return Outcome(
        {"concentration": grams * 1000.0, "sigma_y": sigmas[0], "sigma_z": sigmas[1]},
        steps=[Step("spread sideways", sigmas[0], "m"), Step("spread upward", sigmas[1], "m")],
    )
