"""Water: how much must stand ready, and what a hose line takes off the pressure.

Law: a computed supply is the least. The flow is checked at the branch before anything is lit.
"""

import math

from facility.calc.constants import (
    CONSTRUCTION_NUMBERS,
    EXPOSURE_FACTOR,
    FOOT,
    GALLON,
    HOSE_COEFFICIENTS,
    HOSE_SMOOTHNESS,
    INCH,
    LEAST_SUPPLY,
    PSI,
    TRAINING_RESERVE,
)
from facility.calc.working import Input, Outcome, Source, Step, calculation

HAZARDS = ("3", "4", "5", "6", "7")


@calculation(
    subject="water",
    title="Least water supply",
    formula=r"S = \max\left(\frac{V}{n_{occ}}\,n_{con}\,e,\; S_{min}\right)",
    inputs=(
        Input("volume", "m3", "volume of the structure, roof space to half the ridge included",
              low=0, above_low=True, high=1e6),
        Input("occupancy_class", "", "occupancy hazard number: 3 severe to 7 light",
              choices=HAZARDS),
        Input("construction", "", "construction type; steel units are II, wood frame is V",
              choices=tuple(CONSTRUCTION_NUMBERS)),
        Input("exposures", "", "whether a building of 9.3 m² or more stands within 15.2 m (any "
              "building for class 3 and 4)", default="no", choices=("no", "yes")),
    ),
    results={"minimum_supply": "L", "with_reserve": "L"},
    source=Source(
        "NFPA 1142 chapters 4 to 6, with the reserve of NFPA 1403 4.2.23; read in slides "
        "(studylib.net/doc/9501653), the construction number of type IV from memory"
    ),
    cautions=(
        "The formula is for buildings. For a single container its floor value always governs. It "
        "is the least: verify the flow at the branch and keep two sources.",
    ),
)  # fmt: skip
def minimum_supply(
    volume: float, occupancy_class: str, construction: str, exposures: str
) -> Outcome:
    """Least water [L] for a structure of a volume [m3], and the same with the training reserve.

    Volume over the occupancy number times the construction number is US gallons per cubic foot;
    exposures add half; at least 2000 gal, 3000 with exposures. The reserve adds half again.

    >>> least = minimum_supply.of(volume=67, occupancy_class="7", construction="II")
    >>> round(least.value()), round(least.value("with_reserve"))
    (7571, 11356)
    """
    cubic_feet = volume / FOOT**3
    asked = cubic_feet / float(occupancy_class) * CONSTRUCTION_NUMBERS[construction]
    factor = EXPOSURE_FACTOR if exposures == "yes" else 1.0
    gallons = max(asked * factor, LEAST_SUPPLY[exposures])
    return Outcome(
        {
            "minimum_supply": gallons * GALLON,
            "with_reserve": gallons * (1.0 + TRAINING_RESERVE) * GALLON,
        },
        steps=[
            Step("volume", cubic_feet, "ft3"),
            Step("by the formula, with exposures", asked * factor, "gallon"),
            Step("least allowed", LEAST_SUPPLY[exposures], "gallon"),
        ],
    )


def hose_coefficient(inches: float) -> float:
    """Fire-service coefficient for a hose [inch]; between two sizes along a power of the size."""
    sizes = sorted(HOSE_COEFFICIENTS)
    upper = next((size for size in sizes[1:] if size >= inches), sizes[-1])
    lower = sizes[sizes.index(upper) - 1]
    low, high = HOSE_COEFFICIENTS[lower], HOSE_COEFFICIENTS[upper]
    power = math.log(high / low) / math.log(upper / lower)
    return float(low * (inches / lower) ** power)


def hazen_williams(flow: float, diameter: float, length: float) -> float:
    """Loss [bar] by Hazen-Williams for a flow [L/min], inner diameter [mm] and length [m]."""
    gallons, inches = flow / GALLON, diameter / INCH
    per_foot = float(4.52 * gallons**1.85 / (HOSE_SMOOTHNESS**1.85 * inches**4.87))
    return per_foot * length / FOOT * PSI


@calculation(
    subject="water",
    title="Pressure lost in a hose line",
    formula=r"p = C\,\left(\frac{Q}{100}\right)^2\,\frac{L}{100}",
    inputs=(
        Input("flow", "L/min", "water flowing", low=0, high=20000),
        Input("diameter", "mm", "nominal diameter of the hose", low=10, high=300,
              valid=(19, 152.4)),
        Input("length", "m", "length of the line", low=0, high=5000),
    ),
    results={"pressure_loss": "bar", "hazen_williams_loss": "bar"},
    source=Source(
        "fire-service formula with tabled coefficients (records.rpcity.org id 366543; "
        "frictionlosscalculator.com/formula); beside it Hazen-Williams, "
        "4.52 Q^1.85/(C^1.85 d^4.87) psi/ft (fire.ezvirtualtools.com), with C 140 from memory"
    ),
    cautions=(
        "Height and fittings come on top. Coefficients of the same size differ by half between "
        "tables and hoses; measure at the branch.",
    ),
)  # fmt: skip
def hose_friction(flow: float, diameter: float, length: float) -> Outcome:
    """Pressure [bar] lost by a flow [L/min] in a hose of diameter [mm] and length [m].

    By the fire-service formula, between tabled sizes along a power of the size; Hazen-Williams
    is given beside it as a check.

    >>> round(hose_friction.of(flow=757.08, diameter=63.5, length=30.48).value(), 3)
    0.552
    """
    coefficient = hose_coefficient(diameter / INCH)
    psi = coefficient * (flow / GALLON / 100.0) ** 2 * length / FOOT / 100.0
    return Outcome(
        {
            "pressure_loss": psi * PSI,
            "hazen_williams_loss": hazen_williams(flow, diameter, length),
        },
        steps=[
            Step("flow", flow / GALLON, "gallon/min"),
            Step("coefficient for the size", coefficient, ""),
            Step("loss", psi, "psi"),
        ],
    )
