"""Wear: what heating and cooling do to a unit.

Law: these figures rank units and burns against each other. None of them extends or replaces an
engineer's inspection.
"""

import math
from collections.abc import Sequence

import numpy as np
import rainflow

from facility.calc.constants import STEEL_AT_TEMPERATURE
from facility.calc.working import (
    Input,
    Outcome,
    Source,
    Step,
    calculation,
    check_parallel,
)

NO_INSPECTION = (
    "Wear figures never extend or replace an engineer's inspection: damage hides behind linings "
    "and in welds.",
)


@calculation(
    subject="wear",
    title="Thermal cycles in a temperature history",
    formula=r"T(t) \rightarrow \{(\Delta T_i,\, n_i)\}",
    inputs=(
        Input("temperatures", "degC", "steel or lining temperatures in the order they were met",
              low=-273.15, high=2000, many=True),
        Input("smallest_range", "delta_degC", "swings smaller than this are noise, not counted",
              low=0, high=2000, default=0.0),
    ),
    results={
        "cycles": "", "largest_range": "delta_degC", "ranges": "delta_degC", "counts": "",
    },
    source=Source("rainflow count with half cycles, ASTM E1049-85 (2017) section 5.4.4"),
    cautions=NO_INSPECTION,
)  # fmt: skip
def thermal_cycles(temperatures: Sequence[float], smallest_range: float) -> Outcome:
    """Thermal cycles in a history [degC]: their number, ranges [K] and how often each came.

    ``ranges`` and ``counts`` run in parallel, smallest range first; a swing that never closes is
    half a cycle. ``cycles`` is the sum of the counts.

    >>> count = thermal_cycles.of(temperatures=[-2, 1, -3, 5, -1, 3, -4, 4, -2])
    >>> count.value(), count.value("ranges").tolist(), count.value("counts").tolist()
    (4.0, [3.0, 4.0, 6.0, 8.0, 9.0], [0.5, 1.5, 0.5, 1.0, 0.5])
    """
    # The package sees no swing in a history of two readings unless the first one is repeated.
    history = [temperatures[0], *temperatures]
    counted = [
        (size, count)
        for size, count in rainflow.count_cycles(history)
        if size > 0 and size >= smallest_range
    ]
    ranges = np.array([size for size, _ in counted], dtype=float)
    counts = np.array([count for _, count in counted], dtype=float)
    return Outcome(
        {
            "cycles": float(counts.sum()),
            "largest_range": float(ranges.max(initial=0.0)),
            "ranges": ranges,
            "counts": counts,
        },
        steps=[Step(f"{count:g} of range", size, "delta_degC") for size, count in counted[-3:]],
    )


@calculation(
    subject="wear",
    title="Cycles to failure at a temperature swing",
    formula=r"N = N_0\,\left(\frac{\Delta T_0}{\Delta T}\right)^{m}",
    inputs=(
        Input("ranges", "delta_degC", "temperature swings", low=0, above_low=True, high=2000,
              many=True),
        Input("reference_range", "delta_degC", "swing at which the life is known", low=0,
              above_low=True, high=2000),
        Input("reference_life", "", "cycles borne at that swing", low=0, above_low=True, high=1e12),
        Input("exponent", "", "how fast life falls as the swing grows", low=0, above_low=True,
              high=20, valid=(1.5, 4)),
    ),
    results={"lives": ""},
    source=Source("Coffin-Manson relation in its temperature-swing form", "from memory"),
    cautions=(
        *NO_INSPECTION,
        "The reference life and the exponent belong to one detail of one unit. Whoever designed or "
        "inspects it sets them; no published figure for container steel was found.",
    ),
)  # fmt: skip
def cycle_life(
    ranges: Sequence[float], reference_range: float, reference_life: float, exponent: float
) -> Outcome:
    """Cycles to failure at each swing [K], from the life known at one reference swing [K].

    >>> life = cycle_life.of(ranges=[80], reference_range=25, reference_life=1000, exponent=2.5)
    >>> round(float(1000 / life.value()[0]), 1)
    18.3
    """
    swings = np.asarray(ranges, dtype=float)
    return Outcome({"lives": reference_life * (reference_range / swings) ** exponent})


@calculation(
    subject="wear",
    title="Damage summed over cycles",
    formula=r"D = \sum_i \frac{n_i}{N_i}",
    inputs=(
        Input("cycles", "", "cycles met at each level", low=0, high=1e12, many=True),
        Input("lives", "", "cycles to failure at each level", low=0, above_low=True, high=1e30,
              many=True),
    ),
    results={"damage": "", "left": ""},
    source=Source(
        "linear damage sum of Palmgren and Miner; observed failures between 0.7 and 2.2 as listed "
        "at engineeringniche.com"
    ),
    cautions=(
        *NO_INSPECTION,
        "The sum takes no account of the order of the loads. Failures have been seen from 0.7 on.",
    ),
)  # fmt: skip
def damage_sum(cycles: Sequence[float], lives: Sequence[float]) -> Outcome:
    """Share of life used (1 is failure) by cycles met against cycles to failure, in parallel.

    ``left`` is what remains of 1, never less than zero. Series of different length raise
    ``OutOfSense``.

    >>> round(damage_sum.of(cycles=[10e3, 5e3, 2e3], lives=[20e3, 10e3, 5e3]).value(), 3)
    1.4
    """
    check_parallel(cycles=cycles, lives=lives)
    shares = [met / life for met, life in zip(cycles, lives, strict=True)]
    damage = math.fsum(shares)
    return Outcome(
        {"damage": damage, "left": max(0.0, 1.0 - damage)},
        steps=[Step(f"level {number}", share, "") for number, share in enumerate(shares, 1)],
        notes=["the life by this sum is used up"] if damage >= 1 else [],
    )


@calculation(
    subject="wear",
    title="Strength left in hot steel",
    formula=r"k_{\theta} = f_{\theta} / f_{20}",
    inputs=(
        Input("temperature", "degC", "temperature of the steel", low=-273.15, high=1600,
              valid=(20, 1200)),
    ),
    results={"yield_strength": "", "proportional_limit": "", "stiffness": ""},
    source=Source(
        "EN 1993-1-2:2005 Table 3.1, in proportion between the rows; read in two public codes"
    ),
    cautions=(
        *NO_INSPECTION,
        "These are shares while the steel is hot, not what is left after it has cooled.",
    ),
)  # fmt: skip
def steel_strength_factor(temperature: float) -> Outcome:
    """Shares of cold yield strength, proportional limit and stiffness at a temperature [degC].

    Valid from 20 to 1200 degC; beyond, the end row holds.

    >>> hot = steel_strength_factor.of(temperature=550)
    >>> round(hot.value(), 4), round(hot.value("stiffness"), 4)
    (0.625, 0.455)
    """
    rows = np.array(STEEL_AT_TEMPERATURE)
    names = ("yield_strength", "proportional_limit", "stiffness")
    return Outcome(
        {
            name: float(np.interp(temperature, rows[:, 0], rows[:, column]))
            for column, name in enumerate(names, 1)
        }
    )
