"""Exposure: how much heat a person or a piece of kit has met.

Law: a low figure is never called safe. Clothing fails by dose and by damp, not by air
temperature alone.
"""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from facility.calc.constants import (
    HOT_AIR_TERMS,
    RADIANT_TERMS,
    RADIANT_THRESHOLD,
    THERMAL_CLASSES,
)
from facility.calc.working import (
    Input,
    Outcome,
    OutOfSense,
    Source,
    Step,
    calculation,
    check_increasing,
)

CLASS_NAMES = tuple(THERMAL_CLASSES)
CLASS_MINUTES = [minutes for _, _, minutes in THERMAL_CLASSES.values()]
_TEMPERATURE_CEILINGS = [ceiling for ceiling, _, _ in THERMAL_CLASSES.values()][:-1]
_FLUX_CEILINGS = [ceiling for _, ceiling, _ in THERMAL_CLASSES.values()][:-1]

CLASS_SOURCE = Source(
    "thermal classes of NIST Technical Note 1474 (2006); temperature and time of classes I and II "
    "read at nist.gov, class III, IV and the fluxes from memory", "from memory"
)  # fmt: skip
NOT_SAFETY = (
    "Clothing fails by dose and by damp, not by air temperature alone, and sensors read high or "
    "low: a critical figure means leave, a low one does not mean safe.",
)


def class_number(temperature: Any, flux: Any) -> Any:
    """Number (1 to 4) of the lowest class that covers temperature [degC] and flux [kW/m2]."""
    by_heat = np.searchsorted(_TEMPERATURE_CEILINGS, temperature, side="left")
    by_flux = np.searchsorted(_FLUX_CEILINGS, flux, side="left")
    return np.maximum(by_heat, by_flux) + 1


@calculation(
    subject="exposure",
    title="Thermal class of an exposure",
    formula=r"\mathrm{class} = \max(\mathrm{class}(T), \mathrm{class}(q))",
    inputs=(
        Input("temperature", "degC", "highest air temperature met", low=-60, high=2000),
        Input("flux", "kW/m2", "highest radiant flux met", low=0, high=300, default=0.0),
    ),
    results={"thermal_class": "", "minutes": "min"},
    source=CLASS_SOURCE,
    cautions=NOT_SAFETY,
)
def exposure_class(temperature: float, flux: float) -> Outcome:
    """Class (1 to 4) of an air temperature [degC] and flux [kW/m2], with its minutes [min].

    The minutes are how long equipment of the class is tested at its ceiling; class IV stands for
    less than one minute. The class is also given as a word.

    >>> met = exposure_class.of(temperature=140, flux=1.5)
    >>> met.words["class"], met.value("minutes")
    ('II', 15.0)
    """
    number = int(class_number(temperature, flux))
    name, minutes = CLASS_NAMES[number - 1], CLASS_MINUTES[number - 1]
    return Outcome(
        {"thermal_class": float(number), "minutes": minutes},
        notes=["class IV stands for less than one minute"] if name == "IV" else [],
        words={"class": name},
    )


def hot_air_rate(temperature: Any, clothing: str) -> Any:
    """Dose per minute from air of a temperature [degC]; none at or below freezing."""
    scale, power = HOT_AIR_TERMS[clothing]
    return np.maximum(temperature, 0.0) ** power / scale


def radiant_rate(flux: Any, effect: str) -> Any:
    """Dose per minute from a flux [kW/m2]; none under the threshold."""
    scale, power = RADIANT_TERMS[effect]
    return np.where(np.asarray(flux) < RADIANT_THRESHOLD, 0.0, np.asarray(flux) ** power / scale)


def _spread_out(name: str, values: Sequence[float], number: int) -> Any:
    """One value per time: as given, or a single value held throughout."""
    if len(values) not in (1, number):
        allowed = f"one value, or as many as there are times ({number}), are allowed"
        raise OutOfSense(name, f"{len(values)} values", allowed)
    return np.broadcast_to(np.asarray(values, dtype=float), (number,))


def _minutes_by_class(times: Sequence[float], temperatures: Any, fluxes: Any) -> list[float]:
    """Minutes in each class; a stretch between two times takes the higher class of its ends."""
    numbers = class_number(temperatures, fluxes)
    stretches = zip(pairwise(times), pairwise(numbers), strict=True)
    minutes = [0.0] * len(CLASS_NAMES)
    for (start, end), classes in stretches:
        minutes[max(classes) - 1] += end - start
    return minutes


@calculation(
    subject="exposure",
    title="Heat dose against time",
    formula=(
        r"D = \int \left(\frac{T^{b}}{a} + \frac{q^{d}}{c}\right) dt, \qquad "
        r"q \geq 2.5\,\mathrm{kW/m^2}"
    ),
    inputs=(
        Input("times", "min", "times of the readings, running forward", low=0, high=1440,
              many=True),
        Input("temperatures", "degC", "air temperature at each time, or one value held throughout",
              low=-60, high=2000, valid=(-60, 200), many=True, default=[20.0]),
        Input("fluxes", "kW/m2", "radiant flux at each time, or one value held throughout", low=0,
              high=300, many=True, default=[0.0]),
        Input("clothing", "", "clothing of the person", default="lightly clothed",
              choices=tuple(HOT_AIR_TERMS)),
        Input("effect", "", "effect of radiant heat that ends the dose", default="pain",
              choices=tuple(RADIANT_TERMS)),
    ),
    results={
        "heat_dose": "", "hot_air_dose": "", "radiant_dose": "", "class_time_used": "",
        "minutes_in_class_1": "min", "minutes_in_class_2": "min", "minutes_in_class_3": "min",
        "minutes_in_class_4": "min",
    },
    source=Source(
        "ISO 13571:2012, convective and radiant terms of the fractional effective dose; set "
        "against the thermal classes of NIST Technical Note 1474", "from memory"
    ),
    cautions=(
        *NOT_SAFETY,
        "The dose is made for people in ordinary clothes who flee a fire: 1 means that half of "
        "them would be stopped. It says nothing of what firefighting kit stands.",
    ),
)  # fmt: skip
def heat_dose(
    times: Sequence[float], temperatures: Sequence[float], fluxes: Sequence[float],
    clothing: str, effect: str,
) -> Outcome:  # fmt: skip
    """Heat dose (1 is the limit) over times [min] of temperatures [degC] and fluxes [kW/m2].

    Trapezoids between readings. Also the minutes met in each thermal class, and the largest
    share used of the minutes of a class from II up (time in a higher class counts in the lower
    ones). Fewer than two times, times that turn back and series of another length raise
    ``OutOfSense``.

    >>> dose = heat_dose.of(times=[0, 1], temperatures=[100, 100], clothing="clothed")
    >>> round(dose.value(), 5), dose.words["worst_class"]
    (0.04048, 'I')
    """
    check_increasing("times", times)
    if len(times) < 2:
        raise OutOfSense("times", "1 value", "two or more values are allowed")
    air = _spread_out("temperatures", temperatures, len(times))
    flux = _spread_out("fluxes", fluxes, len(times))
    hot_air = float(np.trapezoid(hot_air_rate(air, clothing), times))
    radiant = float(np.trapezoid(radiant_rate(flux, effect), times))
    minutes = _minutes_by_class(times, air, flux)
    used = [sum(minutes[rank:]) / CLASS_MINUTES[rank] for rank in range(1, len(minutes))]
    return Outcome(
        {
            "heat_dose": hot_air + radiant,
            "hot_air_dose": hot_air,
            "radiant_dose": radiant,
            "class_time_used": max(used),
            **{f"minutes_in_class_{rank}": each for rank, each in enumerate(minutes, 1)},
        },
        steps=[Step("dose from hot air", hot_air, ""), Step("dose from radiant heat", radiant, "")],
        words={"worst_class": CLASS_NAMES[int(max(class_number(air, flux))) - 1]},
    )
