"""Boards: moisture, mass and the energy that is in them.

Moisture is always percent of dry mass here; see ``net_calorific_value`` for why that matters.
"""

from facility.calc.constants import WATER_EVAPORATION
from facility.calc.working import Input, Outcome, Source, Step, calculation

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
