"""Boards: moisture, mass and the energy that is in them.

Moisture is always percent of dry mass here; see ``net_calorific_value`` for why that matters.
"""

import math
from collections.abc import Sequence

import numpy as np

from facility.calc.constants import (
    CHARRING_RATES,
    METER_CALIBRATION_TEMPERATURE,
    METER_TEMPERATURE_RULES,
    PANEL_REFERENCE_DENSITY,
    PANEL_REFERENCE_THICKNESS,
    WATER_EVAPORATION,
)
from facility.calc.working import (
    Input,
    Outcome,
    OutOfSense,
    Source,
    Step,
    calculation,
    check_parallel,
)

DRY_BASIS, WET_BASIS = "dry", "wet"

# Beyond 200 % of dry mass a wood-based board would have fallen apart: common practice, no source.
MOISTURE = Input(
    "moisture", "%", "water in the board, percent of its dry mass", low=0, high=200, valid=(0, 30)
)


@calculation(
    subject="boards",
    title="Moisture content by oven-dry mass",
    formula=r"u = 100\,\frac{m_{wet} - m_{dry}}{m_{dry}}",
    inputs=(
        Input("wet_mass", "kg", "mass as sampled", low=0, above_low=True),
        Input(
            "dry_mass", "kg", "mass after drying at 103 °C to constant mass", low=0, above_low=True
        ),
    ),
    results={"moisture": "%", "moisture_wet_basis": "%"},
    source=Source(
        "EN 322:1993, definition of moisture content; the same in ASTM D4442", "from memory"
    ),
)
def moisture_content(wet_mass: float, dry_mass: float) -> Outcome:
    """Moisture [%] of dry mass from a sample weighed wet [kg] and oven-dry [kg].

    Also gives the share of the wet mass, which some meters and fuel dealers use.
    A dry mass above the wet one is marked as outside the definition.

    >>> moisture_content.of(wet_mass=1.15, dry_mass=1.0).value()
    15.0
    """
    water = wet_mass - dry_mass
    outside = ["the dry mass is larger than the wet mass"] if water < 0 else []
    return Outcome(
        {
            "moisture": round(100.0 * water / dry_mass, 12),
            "moisture_wet_basis": 100.0 * water / wet_mass,
        },
        steps=[Step("water driven off", water, "kg")],
        outside=outside,
    )


@calculation(
    subject="boards",
    title="Mass of one board",
    formula=(
        r"m_{dry} = \frac{l\,b\,t\,\rho}{1 + u_{\rho}/100}, \qquad "
        r"m_{wet} = m_{dry}\,(1 + u/100)"
    ),
    inputs=(
        Input("length", "m", "length of the board", low=0, above_low=True, high=15),
        Input("width", "m", "width of the board", low=0, above_low=True, high=5),
        Input("thickness", "mm", "thickness of the board", low=0, above_low=True, high=200),
        Input("density", "kg/m3", "density of the board", low=0, above_low=True, high=1500,
              valid=(100, 1200)),
        MOISTURE,
        Input("density_basis", "", "whether the density is that of the oven-dry board, or of the "
              "board as it is at this moisture", default=WET_BASIS, choices=(DRY_BASIS, WET_BASIS)),
    ),
    results={"dry_mass": "kg", "wet_mass": "kg"},
    source=Source(
        "geometry and the definition of moisture content on dry mass (EN 322); density as "
        "EN 323 measures it, mass over volume at the moisture of the day", "derived"
    ),
)  # fmt: skip
def board_mass(
    length: float, width: float, thickness: float, density: float, moisture: float,
    density_basis: str,
) -> Outcome:  # fmt: skip
    """Dry and wet mass [kg] of a board of length, width [m], thickness [mm], density [kg/m3].

    With ``density_basis`` "wet" the density belongs to the board at the given moisture, as a
    tape and a scale find it; with "dry" to the oven-dry board.

    >>> sheet = board_mass.of(length=2.44, width=1.22, thickness=15.9, density=585, moisture=0)
    >>> round(sheet.value(), 1)
    27.7
    """
    volume = length * width * thickness / 1000.0
    at_density = volume * density
    water_factor = 1.0 + moisture / 100.0
    dry_mass = at_density / water_factor if density_basis == WET_BASIS else at_density
    return Outcome(
        {"dry_mass": dry_mass, "wet_mass": dry_mass * water_factor},
        steps=[Step("volume", volume, "m3"), Step("volume times density", at_density, "kg")],
    )


@calculation(
    subject="boards",
    title="Density of a weighed board",
    formula=r"\rho = \frac{m}{l\,b\,t}, \qquad d = 100\,\frac{\rho - \rho_{e}}{\rho_{e}}",
    inputs=(
        Input("length", "m", "length as measured", low=0, above_low=True, high=15),
        Input("width", "m", "width as measured", low=0, above_low=True, high=5),
        Input("thickness", "mm", "thickness as measured", low=0, above_low=True, high=200),
        Input("mass", "kg", "mass as weighed", low=0, above_low=True, high=1000),
        Input("expected", "kg/m3", "density the product should have", low=0, above_low=True,
              high=1500),
    ),
    results={"density": "kg/m3", "deviation": "%"},
    source=Source("EN 323:1993, mass over volume at the moisture of the day", "from memory"),
    cautions=(
        "Water weighs too: a board of 14 % moisture has some 6 % more mass than the same board "
        "at 8 %. Look at the readings before blaming the board.",
    ),
)  # fmt: skip
def board_density(
    length: float, width: float, thickness: float, mass: float, expected: float
) -> Outcome:
    """Density [kg/m3] of a board of length, width [m], thickness [mm] and mass [kg].

    The second result is how far that lies from the density expected [kg/m3], in percent of it.

    >>> sheet = board_density.of(length=2.5, width=1, thickness=20, mass=27.5, expected=500)
    >>> sheet.value(), sheet.value("deviation")
    (550.0, 10.0)
    """
    volume = length * width * thickness / 1000.0
    density = mass / volume
    outside = [] if 100 <= density <= 1200 else ["no wood-based board has such a density"]
    return Outcome(
        {"density": density, "deviation": 100.0 * (density - expected) / expected},
        steps=[Step("volume", volume, "m3")],
        outside=outside,
    )


@calculation(
    subject="boards",
    title="Net calorific value at moisture",
    formula=r"H_u = H_{u0}\,(1 - 0.01\,w) - 0.025\,w, \qquad w = \frac{u}{1 + u/100}",
    inputs=(
        Input("dry_value", "MJ/kg", "net calorific value of the dry board", low=0, above_low=True,
              high=60, valid=(10, 25)),
        MOISTURE,
        Input("moisture_basis", "", "whether the moisture is percent of the dry mass (as meters "
              "and EN 322 give it) or of the wet mass", default=DRY_BASIS,
              choices=(DRY_BASIS, WET_BASIS)),
    ),
    results={"net_calorific_value": "MJ/kg", "per_dry_mass": "MJ/kg"},
    source=Source("EN 1991-1-2:2002, Annex E, E.2.4, equation (E.4)", "from memory"),
    cautions=(
        "The standard's formula balances exactly when moisture is a share of the wet mass. Put in "
        "as a share of the dry mass it gives 1.7 % too little energy at 12 %, the unsafe side for "
        "a cap, so a dry-basis reading is turned into a wet-basis one first.",
    ),
)  # fmt: skip
def net_calorific_value(dry_value: float, moisture: float, moisture_basis: str) -> Outcome:
    """Energy [MJ/kg] released per kg of moist board, its water leaving as steam.

    ``dry_value`` [MJ/kg] is that of the dry board, ``moisture`` in percent on the stated basis.
    The second result refers the same energy to the dry mass.

    >>> round(net_calorific_value.of(dry_value=17.5, moisture=12).value(), 3)
    15.357
    """
    wet_share = moisture / (1.0 + moisture / 100.0) if moisture_basis == DRY_BASIS else moisture
    if wet_share >= 100.0:
        return Outcome(
            {"net_calorific_value": -WATER_EVAPORATION, "per_dry_mass": 0.0},
            outside=["all of the mass would be water"],
        )
    share = wet_share / 100.0
    value = dry_value * (1.0 - share) - WATER_EVAPORATION * share
    outside = ["the water takes more heat than the wood gives"] if value <= 0 else []
    return Outcome(
        {"net_calorific_value": value, "per_dry_mass": value / (1.0 - share)},
        steps=[
            Step("moisture as a share of the wet mass", wet_share, "%"),
            Step("heat of the dry part", dry_value * (1.0 - share), "MJ/kg"),
            Step("heat taken by the water", WATER_EVAPORATION * share, "MJ/kg"),
        ],
        outside=outside,
    )


@calculation(
    subject="boards",
    title="Fire load of a charge",
    formula=r"Q = \sum_i m_i\,H_i, \qquad q = \frac{Q}{A}",
    inputs=(
        Input(
            "dry_masses", "kg", "dry mass of each line of the charge", low=0, high=1e5, many=True
        ),
        Input(
            "energies", "MJ/kg", "energy of each line per kg of dry mass", low=0, high=60, many=True
        ),
        Input("floor_area", "m2", "floor area of the unit", low=0, above_low=True, high=1e4),
    ),
    results={"energy": "MJ", "per_area": "MJ/m2"},
    source=Source(
        "EN 1991-1-2:2002, Annex E, E.2.1, with no factor for protected loads", "from memory"
    ),
    cautions=(
        "This is the energy in the fuel. What a burn sets free depends on the air it gets and on "
        "how much is left unburnt.",
    ),
)
def fire_load(dry_masses: Sequence[float], energies: Sequence[float], floor_area: float) -> Outcome:
    """Energy [MJ] of a charge and energy per floor area [MJ/m2].

    ``dry_masses`` [kg] and ``energies`` [MJ per kg of dry mass] run in parallel, one pair per
    line of the charge; take ``per_dry_mass`` of ``net_calorific_value``. Lines of different
    number raise ``OutOfSense``.

    >>> load = fire_load.of(dry_masses=[50, 20, 10], energies=[18, 16, 40], floor_area=30)
    >>> load.value(), load.value("per_area")
    (1620.0, 54.0)
    """
    check_parallel(dry_masses=dry_masses, energies=energies)
    lines = [mass * energy for mass, energy in zip(dry_masses, energies, strict=True)]
    total = math.fsum(lines)
    return Outcome(
        {"energy": total, "per_area": total / floor_area},
        steps=[Step(f"line {number}", line, "MJ") for number, line in enumerate(lines, 1)],
    )


# Table 4-2 spans 30 to 270 degF; written in degC and rounded outward so that its edges are in.
SORPTION_RANGE = (-1.12, 132.23)
STORE_AIR = Input(
    "temperature", "degC", "temperature of the air", low=-60, high=200, valid=SORPTION_RANGE
)
SORPTION_SOURCE = Source(
    "Wood Handbook, FPL-GTR-282 (2021), ch. 4, equation (4-5), Table 4-2; read in a fact sheet"
)
SOLID_WOOD_CAUTION = (
    "The equation is for solid wood (Sitka spruce, midway between drying and wetting). Boards with "
    "resin usually settle lower, so weigh and dry a sample before relying on it.",
)


def sorption_moisture(temperature: float, humidity: float) -> float:
    """Moisture [% of dry mass] of solid wood in air of temperature [degC], humidity [0 to 1].

    Beyond the table the temperature of its edge is used: the fitted terms soon change sign there.
    """
    t = min(max(temperature, SORPTION_RANGE[0]), SORPTION_RANGE[1])
    w = 349 + 1.29 * t + 0.0135 * t**2
    k = 0.805 + 0.000736 * t - 0.00000273 * t**2
    k1 = 6.27 - 0.00938 * t - 0.000303 * t**2
    k2 = 1.91 + 0.0407 * t - 0.000293 * t**2
    kh = k * humidity
    single, double = k1 * kh, k1 * k2 * kh**2
    return 1800 / w * (kh / (1 - kh) + (single + 2 * double) / (1 + single + double))


def _edge_note(temperature: float) -> list[str]:
    inside = SORPTION_RANGE[0] <= temperature <= SORPTION_RANGE[1]
    return [] if inside else ["the value given is that of the nearest temperature of the table"]


@calculation(
    subject="boards",
    title="Equilibrium moisture of wood in air",
    formula=(
        r"u = \frac{1800}{W}\left[\frac{K h}{1 - K h} + "
        r"\frac{K_1 K h + 2 K_1 K_2 K^2 h^2}{1 + K_1 K h + K_1 K_2 K^2 h^2}\right]"
    ),
    inputs=(
        STORE_AIR,
        Input("relative_humidity", "%", "relative humidity of the air", low=0, high=100,
              valid=(5, 95)),
    ),
    results={"moisture": "%"},
    source=SORPTION_SOURCE,
    cautions=SOLID_WOOD_CAUTION,
)  # fmt: skip
def equilibrium_moisture(temperature: float, relative_humidity: float) -> Outcome:
    """Moisture [% of dry mass] that wood settles at in air of temperature [degC] and humidity [%].

    Valid from -1.1 to 132.2 degC and from 5 to 95 %; humidity over 100 % is refused.

    >>> round(equilibrium_moisture.of(temperature=21.1, relative_humidity=50).value(), 1)
    9.2
    """
    moisture = sorption_moisture(temperature, relative_humidity / 100.0)
    return Outcome({"moisture": moisture}, notes=_edge_note(temperature))


@calculation(
    subject="boards",
    title="Humidity that keeps a board at its moisture",
    formula=r"h: \quad u(T, h) = u",
    inputs=(
        STORE_AIR,
        Input("moisture", "%", "moisture to hold, percent of dry mass", low=0, high=200),
    ),
    results={"relative_humidity": "%"},
    source=SORPTION_SOURCE,
    cautions=SOLID_WOOD_CAUTION,
)
def equilibrium_humidity(temperature: float, moisture: float) -> Outcome:
    """Relative humidity [%] at which wood at a temperature [degC] settles at a moisture [%].

    The inverse of ``equilibrium_moisture``, found by halving. A moisture that even saturated air
    does not give is marked, with 100 % as the result.

    >>> round(equilibrium_humidity.of(temperature=20, moisture=12).value(), 1)
    65.0
    """
    low, high = 0.0, 1.0
    for _ in range(60):  # halves the interval down to the last bit of a float
        middle = (low + high) / 2
        too_dry = sorption_moisture(temperature, middle) < moisture
        low, high = (middle, high) if too_dry else (low, middle)
    humidity = 100.0 * high
    stray = f"the humidity of {humidity:.0f} % is outside the source, 5 to 95 %"
    return Outcome(
        {"relative_humidity": humidity},
        notes=_edge_note(temperature),
        outside=[] if 5 <= humidity <= 95 else [stray],
    )


SOLID_WOOD = "solid wood"
PRODUCTS = (SOLID_WOOD, "plywood", "OSB", "particle board", "fibreboard")


def _meter_shift(rule: str, board_temperature: float) -> float:
    """Points to add to a reading [%] under one rule; cold boards read low, so it adds there."""
    slope, no_need_within = METER_TEMPERATURE_RULES[rule]
    away = board_temperature - METER_CALIBRATION_TEMPERATURE
    return 0.0 if abs(away) <= no_need_within else -slope * away


@calculation(
    subject="boards",
    title="Pin-meter reading corrected for board temperature",
    formula=r"u = u_{read} - c\,(T - 20\,\mathrm{°C})",
    inputs=(
        Input("reading", "%", "moisture as the pin meter shows it", low=0, high=200, valid=(7, 25)),
        Input("board_temperature", "degC", "temperature of the board where the pins go in",
              low=-60, high=120, valid=(0, 50)),
        Input("product", "", "what the board is made of", choices=PRODUCTS),
        Input("rule", "", "whose correction is used", default="meter manual",
              choices=tuple(METER_TEMPERATURE_RULES)),
    ),
    results={"moisture": "%", "lowest": "%", "highest": "%"},
    source=Source(
        "three published rules: Wood Handbook FPL-GTR-282 p. 13-3 (0.5 points per 10 °F), a meter "
        "maker's manual (0.5 points per 5 °C beyond 5 °C), SP report PX21326 (1.6 points per 10 °C)"
    ),
    cautions=(
        "No single size of this correction is agreed: keep the rule with the reading. The meter "
        "itself is good to about 2 points on one piece.",
    ),
)  # fmt: skip
def meter_correction(reading: float, board_temperature: float, product: str, rule: str) -> Outcome:
    """Moisture [%] from a reading [%] on a board of a temperature [degC], by the rule chosen.

    ``lowest`` and ``highest`` span what the three published rules would give. The rules are for
    solid wood and no published one for panels was found, so for panels the result is marked.

    >>> cold = meter_correction.of(reading=18, board_temperature=5, product="solid wood")
    >>> cold.value()
    19.5
    """
    shifts = {each: _meter_shift(each, board_temperature) for each in METER_TEMPERATURE_RULES}
    band = sorted(max(0.0, reading + shift) for shift in shifts.values())
    panel = f"the rules were made on solid wood, not on {product}"
    return Outcome(
        {"moisture": max(0.0, reading + shifts[rule]), "lowest": band[0], "highest": band[-1]},
        steps=[Step(f"points added by the {rule} rule", shifts[rule], "%")],
        outside=[] if product == SOLID_WOOD else [panel],
    )


@calculation(
    subject="boards",
    title="Meter reading corrected for the product",
    formula=r"u = f\,u_{read} + p",
    inputs=(
        Input("reading", "%", "moisture as the meter gives it, corrected for temperature already",
              low=0, high=200, valid=(5, 25)),
        Input("factor", "", "by which the reading is multiplied", low=0.3, high=3, default=1.0),
        Input("points", "", "percent points added after it", low=-20, high=20, default=0.0),
    ),
    results={"moisture": "%"},
    source=Source(
        "straight line through oven-dry samples against meter readings, temperature first, as in "
        "ASTM D4444", "from memory"
    ),
    cautions=(
        "Meters are made for solid wood; glue and density shift what they show on panels. No "
        "published correction for panels was found: take the maker's figure for this meter and "
        "this board, or fit one to oven-dry samples of it.",
    ),
)  # fmt: skip
def product_correction(reading: float, factor: float, points: float) -> Outcome:
    """Moisture [%] from a reading [%] by the line of one meter on one product; never below 0.

    >>> product_correction.of(reading=10, factor=0.8, points=1.5).value()
    9.5
    """
    return Outcome({"moisture": max(0.0, factor * reading + points)})


@calculation(
    subject="boards",
    title="Time constant of drying, from two rounds of readings",
    formula=r"\tau = \frac{t}{\ln\frac{u_0 - u_e}{u_1 - u_e}}",
    inputs=(
        Input("first", "%", "mean moisture of the earlier round", low=0, high=200, valid=(0, 30)),
        Input("second", "%", "mean moisture of the later round", low=0, high=200, valid=(0, 30)),
        Input("equilibrium", "%", "moisture the board settles at in this store", low=0, high=200,
              valid=(0, 30)),
        Input("days", "day", "between the rounds", low=0, above_low=True, high=3650),
    ),
    results={"time_constant": "day"},
    source=Source("first-order drying solved for its time constant, textbook form", "derived"),
)  # fmt: skip
def drying_time_constant(first: float, second: float, equilibrium: float, days: float) -> Outcome:
    """Time constant [day] of first-order drying, from two mean moistures [%] and the days between.

    Rounds that did not come nearer to the equilibrium say nothing and raise ``OutOfSense``.

    >>> round(drying_time_constant.of(first=20, second=14.943, equilibrium=12, days=30).value(), 1)
    30.0
    """
    if not first > second > equilibrium:
        raise OutOfSense(
            "second", f"{second:g} %", f"between {equilibrium:g} % and {first:g} % is allowed"
        )
    return Outcome(
        {"time_constant": days / math.log((first - equilibrium) / (second - equilibrium))}
    )


@calculation(
    subject="boards",
    title="Days until a board is dry enough",
    formula=r"t = \tau\,\ln\frac{u_0 - u_e}{u_t - u_e}",
    inputs=(
        MOISTURE,
        Input("target", "%", "moisture to reach", low=0, high=200, valid=(0, 30)),
        Input("equilibrium", "%", "moisture the board settles at in this store", low=0, high=200,
              valid=(0, 30)),
        Input("time_constant", "day", "days for 63 % of the way, fitted to own readings",
              low=0, above_low=True, high=3650),
        Input("spread", "", "factor by which the time constant may be wrong either way", low=1,
              high=10, default=1.5),
    ),
    results={"days": "day", "earliest": "day", "latest": "day"},
    source=Source(
        "first-order drying toward equilibrium, textbook form; the spread of 1.5 is common "
        "practice, no source", "from memory"
    ),
    cautions=(
        "The time constant changes with board, stack and season. Fit it to readings of the same "
        "store, plan with the latest day, and measure before use.",
    ),
)  # fmt: skip
def days_to_dry(
    moisture: float, target: float, equilibrium: float, time_constant: float, spread: float
) -> Outcome:
    """Days [day] for a board to dry from one moisture [%] to a target [%], as a band.

    ``earliest`` and ``latest`` divide and multiply the time constant [day] by ``spread``.
    A board at or under its target needs no day; a target that is not above the equilibrium is
    never reached and raises ``OutOfSense``.

    >>> wait = days_to_dry.of(moisture=20, target=14.943, equilibrium=12, time_constant=30)
    >>> round(wait.value(), 1), round(wait.value("earliest")), round(wait.value("latest"))
    (30.0, 20, 45)
    """
    if moisture <= target:
        return Outcome({"days": 0.0, "earliest": 0.0, "latest": 0.0}, notes=["already dry enough"])
    if target <= equilibrium:
        allowed = f"more than the equilibrium of {equilibrium:g} % is allowed, it dries no further"
        raise OutOfSense("target", f"{target:g} %", allowed)
    constants = math.log((moisture - equilibrium) / (target - equilibrium))
    days = constants * time_constant
    return Outcome(
        {"days": days, "earliest": days / spread, "latest": days * spread},
        steps=[Step("time constants needed", constants, "")],
    )


PANELS = ("plywood", "wood-based panel", "wood panelling")
CHAR_INPUTS = (
    Input(
        "density", "kg/m3", "characteristic density of the board", low=0, above_low=True, high=1500
    ),
    Input("thickness", "mm", "thickness of the board", low=0, above_low=True, high=500),
    Input("kind", "", "row of the table", choices=tuple(CHARRING_RATES)),
)
CHAR_SOURCE = Source(
    "EN 1995-1-2:2004, 3.4.2, Table 3.1 and equations (3.2) to (3.5); solid wood and factors read "
    "in public code, panel rows from memory", "from memory"
)  # fmt: skip
CHAR_CAUTION = (
    "Measured in the standard furnace, one side heated. A training burn is another fire, hotter or "
    "starved of air: read it as an indication.",
)


def _solid_rate(kind: str, density: float) -> tuple[float, list[str]]:
    """Rate [mm/min] of solid wood, and why it may lie beyond the table."""
    lightest = 480 if kind == "LVL" else 290
    outside = [f"the table starts at {lightest} kg/m³ for {kind}"] if density < lightest else []
    if kind != "hardwood":
        return CHARRING_RATES[kind], outside
    light, dense = CHARRING_RATES["softwood"], CHARRING_RATES["hardwood"]
    return float(np.interp(density, [290, 450], [light, dense])), outside


@calculation(
    subject="boards",
    title="Charring rate in the standard fire",
    formula=(
        r"\beta = \beta_0\,k_{\rho}\,k_h, \qquad k_{\rho} = \sqrt{450/\rho}, \qquad "
        r"k_h = \sqrt{20/h} \geq 1"
    ),
    inputs=CHAR_INPUTS,
    results={"charring_rate": "mm/min"},
    source=CHAR_SOURCE,
    cautions=CHAR_CAUTION,
)
def charring_rate(density: float, thickness: float, kind: str) -> Outcome:
    """Depth charred per minute [mm/min] for a board of density [kg/m3] and thickness [mm].

    Panels take the factors for density and, under 20 mm, thickness; solid wood takes the rate of
    its row (hardwood between 290 and 450 kg/m3 in proportion).

    >>> round(charring_rate.of(density=500, thickness=18, kind="plywood").value(), 4)
    1.0
    """
    if kind not in PANELS:
        rate, outside = _solid_rate(kind, density)
        return Outcome({"charring_rate": rate}, outside=outside)
    by_density = math.sqrt(PANEL_REFERENCE_DENSITY / density)
    by_thickness = math.sqrt(max(1.0, PANEL_REFERENCE_THICKNESS / thickness))
    return Outcome(
        {"charring_rate": CHARRING_RATES[kind] * by_density * by_thickness},
        steps=[
            Step("rate of the table", CHARRING_RATES[kind], "mm/min"),
            Step("factor for density", by_density, ""),
            Step("factor for thickness", by_thickness, ""),
        ],
    )


@calculation(
    subject="boards",
    title="Time until a board is burnt through",
    formula=r"t = \frac{h}{\beta}",
    inputs=CHAR_INPUTS,
    results={"burn_through_time": "min"},
    source=CHAR_SOURCE,
    cautions=CHAR_CAUTION,
)
def burn_through_time(density: float, thickness: float, kind: str) -> Outcome:
    """Minutes [min] until a board of density [kg/m3] and thickness [mm] is charred through.

    One side exposed to the standard fire; see ``charring_rate``.

    >>> round(burn_through_time.of(density=600, thickness=18, kind="wood-based panel").value(), 1)
    21.9
    """
    charring = charring_rate.plain(density, thickness, kind)
    rate = charring.values["charring_rate"]
    return Outcome(
        {"burn_through_time": thickness / rate},
        steps=[*charring.steps, Step("charring rate", rate, "mm/min")],
        outside=charring.outside,
    )
