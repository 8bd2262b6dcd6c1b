"""The plume: how much air a fire lifts from the cool layer into the hot one.

Source: Heskestad's correlations as given in NIST TN 1889v1, "Plume entrainment". Plain floats.
"""

import math

from facility.calc.constants import (
    DRAUGHT_ENTRAINMENT,
    FLAME_HEIGHT_HEAT,
    GAS_DENSITY_KELVIN,
    GAS_SPECIFIC_HEAT,
    GRAVITY,
    PLUME_FLOW,
    PLUME_FLOW_NEAR,
    VIRTUAL_ORIGIN_DIAMETER,
    VIRTUAL_ORIGIN_HEAT,
)

FREE, DRAUGHT, WALL, CORNER = "free", "draught", "wall", "corner"
PLUMES = (FREE, DRAUGHT, WALL, CORNER)
# A fire against a wall or in a corner is one half or one quarter of its mirror image: same source.
MIRRORED = {FREE: 1.0, DRAUGHT: 1.0, WALL: 2.0, CORNER: 4.0}
HEAT_OF_GAS = GAS_DENSITY_KELVIN * GAS_SPECIFIC_HEAT


def flame_and_origin(heat: float, diameter: float) -> tuple[float, float]:
    """Mean flame height, and height of the virtual origin, over the base of a fire [m].

    ``heat`` in kW, ``diameter`` in m.
    """
    strength: float = heat / (HEAT_OF_GAS * math.sqrt(GRAVITY * diameter) * diameter * diameter)
    shape: float = strength**0.4
    flame = diameter * (VIRTUAL_ORIGIN_DIAMETER + FLAME_HEIGHT_HEAT * shape)
    return max(0.0, flame), diameter * (VIRTUAL_ORIGIN_DIAMETER + VIRTUAL_ORIGIN_HEAT * shape)


def entrainment(
    heat: float, convected: float, height: float, diameter: float, ambient: float, kind: str = FREE
) -> float:
    """Air lifted [kg/s] up to a height [m] over the base of a fire.

    ``heat`` and its ``convected`` part in kW, ``diameter`` in m, ``ambient`` in K; ``kind`` says
    where the fire stands. Above the flame Heskestad's far plume, in the flame in proportion to
    height.
    """
    if heat <= 0.0 or height <= 0.0:
        return 0.0
    mirror = MIRRORED[kind]
    flame, origin = flame_and_origin(heat * mirror, diameter * math.sqrt(mirror))
    reached = flame if flame > height else height
    rho, convected = GAS_DENSITY_KELVIN / ambient, convected * mirror
    lead = math.cbrt(GRAVITY * rho * rho / (GAS_SPECIFIC_HEAT * ambient) * convected)
    far = math.cbrt(reached - origin) ** 5 if reached > origin else 0.0
    near = PLUME_FLOW_NEAR * math.cbrt(convected / (math.sqrt(GRAVITY) * HEAT_OF_GAS)) ** 2
    air = PLUME_FLOW * lead * (far + near) * height / reached / mirror
    return air * DRAUGHT_ENTRAINMENT if kind == DRAUGHT else air
