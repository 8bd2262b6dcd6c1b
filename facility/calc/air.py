"""Air: how long a breathing set lasts.

Law: the minutes that count are those to the turnaround. The whistle and the empty cylinder are
given so that nobody has to guess them, not to be planned on.
"""

from typing import Any

import numpy as np

from facility.calc.constants import AIR_FILL_FACTORS, AIR_FILL_PRESSURES
from facility.calc.working import Input, Outcome, Source, Step, calculation, check_whole

REAL, IDEAL = "real", "ideal"


WHOLE_BARS = np.arange(0.0, 501.0)  # fine enough: between whole bars air rises nearly straight


def air_held(pressure: Any, volume: float, gas: str) -> Any:
    """Free air [L] in cylinders of a volume [L] at one pressure [bar] or an array of them."""
    factor = np.interp(pressure, AIR_FILL_PRESSURES, AIR_FILL_FACTORS) if gas == REAL else 1.0
    return volume * pressure * factor


def pressure_of(air: float, volume: float, gas: str) -> float:
    """Pressure [bar] at which cylinders of a volume [L] hold an amount of free air [L]."""
    return float(np.interp(air, air_held(WHOLE_BARS, volume, gas), WHOLE_BARS))


@calculation(
    subject="air",
    title="Breathing-air time",
    formula=(
        r"t = \frac{V\,(f_0\,p_0 - f_w\,p_w)}{q}, \qquad t_{turn} = \frac{t}{1 + r}"
    ),
    inputs=(
        Input("cylinder_volume", "L", "water volume of one cylinder", low=0, above_low=True,
              high=50, valid=(1, 20)),
        Input("start_pressure", "bar", "pressure at the start", low=0, above_low=True, high=500,
              valid=(0, 300)),
        Input("consumption", "L/min", "free air breathed; 40 is the rating, hot work takes more",
              low=0, above_low=True, high=500, default=40.0, valid=(10, 200)),
        Input("reserve_pressure", "bar", "pressure at which the whistle sounds", low=0, high=500,
              default=55.0, valid=(0, 300)),
        Input("way_out_ratio", "", "air kept for the way out, as a multiple of the air for the way "
              "in; 1 turns at half, 2 at a third", low=0, high=10, default=2.0),
        Input("cylinders", "", "cylinders in the set", low=1, high=4, default=1.0),
        Input("gas", "", "real air, which high pressure squeezes less than its share, or the plain "
              "product of volume and pressure", default=REAL, choices=(REAL, IDEAL)),
    ),
    results={
        "to_turnaround": "min", "to_whistle": "min", "to_empty": "min",
        "turnaround_pressure": "bar", "air_held": "L",
    },
    source=Source(
        "volume times pressure over consumption, as in fire-service training sheets "
        "(id.scribd.com/presentation/229048849, foka.com.tr/f7.html); whistle at 55 bar and air "
        "for the way out twice that of the way in (atemschutzlexikon.com)"
    ),
    cautions=(
        "People in heat breathe more than the rating. Leave before the whistle, never plan on the "
        "reserve, and go by the gauge of the lowest set in the team.",
    ),
)  # fmt: skip
def air_time(
    cylinder_volume: float, start_pressure: float, consumption: float, reserve_pressure: float,
    way_out_ratio: float, cylinders: float, gas: str,
) -> Outcome:  # fmt: skip
    """Minutes [min] to the turnaround, to the whistle and to empty, from cylinder and gauge.

    ``cylinder_volume`` [L], pressures [bar], ``consumption`` [L/min] of free air. At the
    turnaround enough air is left over the reserve for ``way_out_ratio`` times the way in. With
    ``gas`` "real" the cylinder holds 4 % less than its product at 200 bar and 8 % at 300 bar.
    A broken number of cylinders raises ``OutOfSense``.

    >>> time = air_time.of(cylinder_volume=6, start_pressure=300, gas="ideal")
    >>> time.value("to_empty"), time.value("to_whistle"), time.value()
    (45.0, 36.75, 12.25)
    """
    volume = cylinder_volume * check_whole("cylinders", cylinders)
    held = float(air_held(start_pressure, volume, gas))
    reserve = float(air_held(reserve_pressure, volume, gas))
    usable = max(0.0, held - reserve)
    inward = usable / (1.0 + way_out_ratio)
    spent = "the gauge is already at or under the whistle"
    return Outcome(
        {
            "to_turnaround": inward / consumption,
            "to_whistle": usable / consumption,
            "to_empty": held / consumption,
            "turnaround_pressure": pressure_of(held - inward, volume, gas),
            "air_held": held,
        },
        steps=[
            Step("air in the cylinders", held, "L"),
            Step("air left at the whistle", reserve, "L"),
            Step("air for the way in", inward, "L"),
        ],
        notes=[] if usable > 0 else [spent],
    )
