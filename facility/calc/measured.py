"""What thermocouples saw: hot layer, its height and its temperatures, reduced from a column.

A column is a set of thermocouples one over the other. ``reduced`` works on whole series; the
calculations are the same for one moment, so that a figure can be asked. Law: temperatures in °C,
heights in m over the floor; what a column cannot tell is NaN, never a guess.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from facility.calc.constants import HOT_AIR_TERMS, ZERO_CELSIUS
from facility.calc.exposure import hot_air_rate, radiant_rate
from facility.calc.working import (
    Input,
    Outcome,
    OutOfSense,
    Source,
    Step,
    calculation,
    check_increasing,
    check_parallel,
)

Floats = npt.NDArray[np.float64]

FEWEST = 3  # thermocouples that make a column: with two no step can be told from a slope
LEAST_CONTRAST = 10.0  # K from lowest to highest under which no layer is told: our choice
MOST_GAPS = 0.2  # share of a thermocouple's readings that may be missing: our choice
# Heights of a person's head [m over the floor] by posture: common practice, no source.
KNEELING, STANDING = 1.0, 1.7

HEIGHTS = Input(
    "heights", "m", "heights of the thermocouples over the floor, lowest first", low=0, high=20,
    many=True,
)  # fmt: skip
TEMPERATURES = Input(
    "temperatures", "degC", "their readings", low=-60, high=2000, many=True
)  # fmt: skip
CEILING = Input("ceiling", "m", "height of the unit, inside", low=0, above_low=True, high=20)
BARE = (
    "Bare thermocouples read low in hot smoke and high beside flames; what stands under the lowest "
    "and over the highest is taken to be as warm as they are.",
)


@dataclass(frozen=True, slots=True)
class Layers:
    """Interface [m over the floor], lower and upper layer [°C]: arrays in time, NaN where no
    layer can be told."""

    interface: Floats
    lower: Floats
    upper: Floats


def reduced(
    heights: Sequence[float] | Floats, temperatures: Floats, ceiling: float,
    least: float = LEAST_CONTRAST,
) -> Layers:  # fmt: skip
    """The layers of a column at each time, by the integral ratio.

    ``heights`` [m] has one value per thermocouple, lowest first; ``temperatures`` [°C] is
    thermocouples by times. Of both layers together the integrals of T and of 1/T over the height
    are kept; the lower one has the temperature of the lowest thermocouple. Where the column spans
    less than ``least`` [K] the result is NaN.
    """
    z = np.concatenate([[0.0], np.asarray(heights, float), [ceiling]])
    read = filled(np.asarray(heights, float), temperatures)
    kelvin = np.vstack([read[:1], read, read[-1:]]) + ZERO_CELSIUS
    gap = np.diff(z)[:, None]
    parts = gap * (kelvin[1:] + kelvin[:-1]) / 2.0
    heat = parts.sum(axis=0)
    thin = (gap * (1.0 / kelvin[1:] + 1.0 / kelvin[:-1]) / 2.0).sum(axis=0)
    low = kelvin[0]
    with np.errstate(divide="ignore", invalid="ignore"):
        level = low * (heat * thin - ceiling**2) / (heat + thin * low**2 - 2.0 * low * ceiling)
    told = np.isfinite(level) & (kelvin.max(axis=0) - low >= least) & (low <= kelvin[-1])
    level = np.clip(np.where(told, level, 0.0), 0.0, ceiling * (1.0 - 1e-9))
    upper = (heat - _below(z, kelvin, parts, level)) / (ceiling - level)
    return Layers(*(
        np.where(told, each, np.nan) for each in (level, low - ZERO_CELSIUS, upper - ZERO_CELSIUS)
    ))  # fmt: skip


def _below(z: Floats, kelvin: Floats, parts: Floats, level: Floats) -> Floats:
    """The integral of temperature from the floor up to a level, for each time."""
    at = np.arange(level.size)
    under = np.clip(np.searchsorted(z, level, side="right") - 1, 0, len(z) - 2)
    summed = np.vstack([np.zeros(level.size), parts.cumsum(axis=0)])
    base, top = kelvin[under, at], kelvin[under + 1, at]
    rest = level - z[under]
    there = base + (top - base) * rest / (z[under + 1] - z[under])
    below: Floats = summed[under, at] + (base + there) / 2.0 * rest
    return below


def filled(heights: Floats, temperatures: Floats) -> Floats:
    """A column whose single missing readings are taken between their neighbours in height."""
    missing = ~np.isfinite(temperatures)
    if not missing.any():
        return temperatures
    whole = temperatures.copy()
    for at in np.flatnonzero(missing.any(axis=0)):
        known = ~missing[:, at]
        if known.sum() >= 2:
            whole[missing[:, at], at] = np.interp(
                heights[missing[:, at]], heights[known], temperatures[known, at]
            )
    return whole


@calculation(
    subject="measured",
    title="Hot layer from a column of thermocouples",
    formula=r"z = \frac{T_l\,(I_1 I_2 - H^2)}{I_1 + I_2 T_l^2 - 2 T_l H}, \qquad "
    r"I_1 = \int_0^H T\,dz, \quad I_2 = \int_0^H \frac{dz}{T}",
    inputs=(HEIGHTS, TEMPERATURES, CEILING),
    results={"interface": "m", "lower_temperature": "degC", "upper_temperature": "degC"},
    source=Source(
        "integral ratio of Janssens and Tran (1992) and of He, Fernando and Luo (1998), as the FDS "
        "User Guide gives it for layer heights", "from memory"
    ),
    cautions=BARE,
)  # fmt: skip
def layer_from_column(
    heights: Sequence[float], temperatures: Sequence[float], ceiling: float
) -> Outcome:
    """Interface [m], lower and upper layer [degC] from readings at ``heights`` [m].

    One reading [degC] per height, lowest first, below ``ceiling`` [m]. Fewer than three, heights
    that do not rise or stand above the ceiling, and a column no warmer above than below raise
    ``OutOfSense``.

    >>> seen = layer_from_column.of(heights=[0.3, 0.9, 1.5, 2.1], temperatures=[20, 20, 300, 300],
    ...                             ceiling=2.4)
    >>> round(seen.value("interface"), 1), round(seen.value("upper_temperature"))
    (1.2, 282)
    """
    _check(heights, temperatures, ceiling)
    found = reduced(heights, np.array(temperatures, float)[:, None], ceiling, least=0.0)
    if not np.isfinite(found.interface[0]):
        raise OutOfSense("temperatures", "no warmer above than below", "a warmer top is needed")
    return Outcome(
        {
            "interface": float(found.interface[0]),
            "lower_temperature": float(found.lower[0]),
            "upper_temperature": float(found.upper[0]),
        },
        steps=[Step("warmer at the top by", max(temperatures) - temperatures[0], "delta_degC")],
        outside=["the column spans too little for a layer"]
        if max(temperatures) - temperatures[0] < LEAST_CONTRAST
        else [],
    )


def _check(heights: Sequence[float], temperatures: Sequence[float], ceiling: float) -> None:
    check_parallel(heights=heights, temperatures=temperatures)
    check_increasing("heights", heights)
    if len(heights) < FEWEST:
        raise OutOfSense("heights", f"{len(heights)} values", f"{FEWEST} or more are allowed")
    if heights[-1] > ceiling:
        raise OutOfSense("heights", f"{heights[-1]:g} m", f"at most the ceiling, {ceiling:g} m")


@calculation(
    subject="measured",
    title="Layer height by the N-percent rule",
    formula=r"T(z) = T_a + \frac{N}{100}\,(T_{max} - T_a)",
    inputs=(
        HEIGHTS, TEMPERATURES,
        Input("ambient", "degC", "air before the fire", low=-60, high=80, default=20.0),
        Input("share", "%", "N: 10, 15 and 20 are usual", low=1, high=90, valid=(10, 30),
              default=15.0),
    ),
    results={"interface": "m"},
    source=Source(
        "Cooper, Harkleroad, Quintiere and Rinkinen, Journal of Heat Transfer 104 (1982) 741-749",
        "from memory",
    ),
    cautions=(
        "The height hangs on N, which is a convention: with a lower layer that has warmed through "
        "it reads too low. The integral ratio needs no such choice.",
    ),
)  # fmt: skip
def layer_by_n_percent(
    heights: Sequence[float], temperatures: Sequence[float], ambient: float, share: float
) -> Outcome:
    """Height [m] at which a column first reaches ``share`` [%] of its greatest rise.

    From the floor up, in a straight line between readings [degC] at ``heights`` [m]. A column that
    is that warm down to its lowest thermocouple gives that height, and says so.

    >>> layer_by_n_percent.of(heights=[0.5, 1.0, 1.5, 2.0], temperatures=[20, 20, 120, 120],
    ...                       share=20).value()
    1.1
    """
    check_parallel(heights=heights, temperatures=temperatures)
    check_increasing("heights", heights)
    if max(temperatures) <= ambient:
        raise OutOfSense("temperatures", "nothing warmer than ambient", "a warmer top is needed")
    wanted = ambient + share / 100.0 * (max(temperatures) - ambient)
    at = next(place for place, read in enumerate(temperatures) if read >= wanted)
    if at == 0:
        return Outcome({"interface": heights[0]}, notes=["warm down to the lowest thermocouple"])
    low, high = temperatures[at - 1], temperatures[at]
    part = (wanted - low) / (high - low)
    return Outcome(
        {"interface": heights[at - 1] + part * (heights[at] - heights[at - 1])},
        steps=[Step("temperature looked for", wanted, "degC")],
    )


# -- heat dose from readings ----------------------------------------------------------------


def at_height(heights: Floats, temperatures: Floats, height: float) -> Floats:
    """The series of a column at a height [m], between its thermocouples in a straight line.

    Above the highest and below the lowest it is theirs.
    """
    whole = filled(heights, temperatures)
    over = int(np.clip(np.searchsorted(heights, height), 1, len(heights) - 1))
    span = heights[over] - heights[over - 1]
    part = float(np.clip((height - heights[over - 1]) / span, 0.0, 1.0))
    series: Floats = whole[over - 1] * (1.0 - part) + whole[over] * part
    return series


def dose_course(
    seconds: Floats, air: Floats, flux: Floats | None = None, clothing: str = "clothed",
    effect: str = "pain",
) -> Floats:  # fmt: skip
    """The heat dose summed up to each time, as ``heat_dose`` sums it; a gap adds nothing."""
    rate = np.nan_to_num(hot_air_rate(air, clothing))
    if flux is not None:
        rate = rate + np.nan_to_num(radiant_rate(np.nan_to_num(flux), effect))
    steps = np.diff(seconds) / 60.0 * (rate[1:] + rate[:-1]) / 2.0
    return np.concatenate([[0.0], steps.cumsum()])


def same_dose(
    seconds: Floats, air: Floats, most: int, clothing: str = "clothed"
) -> tuple[list[float], list[float]]:
    """Few times [min] and temperatures [°C] that carry the dose of many readings.

    Each stretch stands with the steady temperature that gives its dose, so a working over the few
    says what the many come to. Gaps are left out.
    """
    known = np.isfinite(air)
    seconds, air = seconds[known], air[known]
    if len(seconds) < 2:
        return [], []
    power = HOT_AIR_TERMS[clothing][1]
    parts = np.array_split(np.arange(len(seconds)), min(most, len(seconds)))
    minutes = [float(seconds[part].mean() / 60.0) for part in parts]
    steady = [
        float(np.mean(np.maximum(air[part], 0.0) ** power) ** (1.0 / power)) for part in parts
    ]
    return minutes, steady


def means(values: Floats, window: int) -> Floats:
    """Running mean over an odd number of readings, gaps passed over; the ends keep what they have."""
    known = np.isfinite(values)
    summed = np.concatenate([[0.0], np.where(known, values, 0.0).cumsum()])
    counted = np.concatenate([[0], known.cumsum()])
    at, half = np.arange(len(values)), window // 2
    low, high = np.maximum(at - half, 0), np.minimum(at + half + 1, len(values))
    with np.errstate(invalid="ignore", divide="ignore"):
        smooth: Floats = (summed[high] - summed[low]) / (counted[high] - counted[low])
    return smooth
