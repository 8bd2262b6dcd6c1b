"""The one pint registry, and the one place that reads and writes a quantity as text.

Law: a number that leaves or enters the program passes through ``parse`` or ``show``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import pint


def _registry() -> pint.UnitRegistry[Any]:
    """The registry, read from pint's cache where there is one: 20 ms instead of 200.

    Without a folder to write to (a service account has none) it is built anew.
    """
    try:
        return pint.UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=":auto:")
    except OSError:
        return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


registry = _registry()
Quantity = registry.Quantity

THIN = "\u202f"  # narrow no-break space: between groups of three digits, and before the unit


class QuantityRefused(ValueError):
    """Text or value that cannot be taken as a quantity.

    ``given`` is what was handed in, ``allowed`` is a sentence saying what would do.
    """

    def __init__(self, given: object, allowed: str) -> None:
        self.given, self.allowed = given, allowed
        super().__init__(f"{given}: {allowed}")


_NUMBER = re.compile(
    r"^\s*(?P<number>[+\-\u2212]?(?:\d{1,3}(?:[\s\u00a0\u202f]\d{3})+(?!\d)|\d+)(?:[.,]\d+)?(?:[eE][+-]?\d+)?)\s*(?P<unit>.*?)\s*$"
)
_AMBIGUOUS = re.compile(r"^[+\-]?[1-9]\d{0,2},\d{3}$")


def parse(text: str, unit: str) -> float:
    """Read typed text and give its value in ``unit``.

    Takes ``18 mm``, ``0,018 m`` or ``18`` (meaning ``unit``); a decimal comma or point.
    ``1,234`` is refused, because half the world would read a thousand more.

    Raises
    ------
    QuantityRefused
        when the text is no number, or its unit has another dimension.

    >>> parse("0,018 m", "mm")
    18.0
    """
    match = _NUMBER.match(text)
    if match is None:
        raise QuantityRefused(text, f"a number is needed, in {pretty_unit(unit) or 'plain count'}")
    raw = re.sub(r"[\s\u00a0\u202f]", "", match["number"]).replace("\u2212", "-")
    if _AMBIGUOUS.match(raw):
        allowed = f"write {raw.replace(',', '')} or {raw.replace(',', '.')}, this could mean either"
        raise QuantityRefused(text, allowed)
    try:
        number = float(raw.replace(",", "."))
    except ValueError:
        raise QuantityRefused(text, "a plain number is needed") from None
    if not math.isfinite(number):
        raise QuantityRefused(text, "the number is too large")
    return number if not match["unit"] else _converted(text, number, match["unit"], unit)


def is_bare(text: str) -> bool:
    """Say whether typed text is a number without a unit.

    >>> is_bare("1e3"), is_bare("1 000"), is_bare("18 mm")
    (True, True, False)
    """
    match = _NUMBER.match(text)
    return match is not None and not match["unit"]


def _converted(text: str, number: float, given_unit: str, unit: str) -> float:
    try:
        return _tidy(float(Quantity(number, _spelled(given_unit)).to(_spelled(unit)).magnitude))
    except pint.DimensionalityError:
        allowed = f"{pretty_unit(unit) or 'a plain count'} is needed, not {given_unit}"
        raise QuantityRefused(text, allowed) from None
    except Exception:  # pint raises many kinds of error for a unit it cannot read
        allowed = f"the unit {given_unit} is not known; use {pretty_unit(unit) or 'no unit'}"
        raise QuantityRefused(text, allowed) from None


def _tidy(value: float) -> float:
    """Drop the last bit noise of a conversion, so that 0.018 m reads 18 mm."""
    return float(f"{value:.12g}")


_SPELLINGS = {"%": "percent", "°C": "degC", "°F": "degF", "m²": "m**2", "m³": "m**3", "l": "L"}


@lru_cache(maxsize=512)
def _spelled(unit: str) -> str:
    """Write a unit as pint reads it."""
    unit = unit.strip()
    unit = _SPELLINGS.get(unit, unit)
    return re.sub(r"\b(m|ft|s|mm)([23])\b", r"\1**\2", unit) or "dimensionless"


def quantity(value: float, unit: str) -> Any:
    """Make a pint quantity from a plain number and a unit written the way people write it."""
    return Quantity(value, _spelled(unit))


def magnitude(given: Any, unit: str) -> Any:
    """Give the plain number (or array) of a pint quantity in ``unit``; pint errors pass through."""
    return given.to(_spelled(unit)).magnitude


def convert(value: float, unit: str, to: str) -> float:
    """Convert a plain number between two units of one dimension."""
    return _tidy(float(Quantity(value, _spelled(unit)).to(_spelled(to)).magnitude))


_PRETTY = {
    "percent": "%", "degC": "°C", "degF": "°F", "m2": "m²", "m3": "m³", "ft2": "ft²", "ft3": "ft³",
    "kg/m3": "kg/m³", "lb/ft3": "lb/ft³", "kW/m2": "kW/m²", "MJ/m2": "MJ/m²", "Btu/ft2": "Btu/ft²",
    "gallon": "gal", "dimensionless": "", "m**2": "m²", "m**3": "m³", "kg/m**3": "kg/m³",
    "delta_degC": "K", "year": "years", "day": "days", "degree": "°", "m**2.5": "m^2.5", "L/min/bar**0.5": "L/min/√bar",
    "W/m/K": "W/(m K)", "J/kg/K": "J/(kg K)", "kW/m2/K": "kW/(m² K)",
}  # fmt: skip


def pretty_unit(unit: str) -> str:
    """The unit as it is printed after a number."""
    if unit in _PRETTY:
        return _PRETTY[unit]
    return re.sub(r"\*\*([23])|(?<=[a-z])([23])(?![0-9])", _raised, unit).replace("delta_deg", "°")


def _raised(match: re.Match[str]) -> str:
    return {"2": "²", "3": "³"}[match[1] or match[2]]


# For each unit that reaches a screen: decimals shown, the unit a US reader gets, its decimals.
_US: dict[str, tuple[int, str, int]] = {
    "kg": (1, "lb", 1), "t": (3, "t", 3), "MJ": (0, "kBtu", 0), "MJ/kg": (2, "Btu/lb", 0), "kg/m3": (0, "lb/ft3", 1),
    "m": (2, "ft", 2), "mm": (0, "inch", 3), "m2": (2, "ft2", 1), "m3": (2, "ft3", 1),
    "degC": (0, "degF", 0), "delta_degC": (1, "delta_degF", 1), "L": (1, "gallon", 2), "kW": (0, "kW", 0), "MW": (1, "MW", 1),
    "kW/m2": (1, "kW/m2", 1), "%": (1, "%", 1), "MJ/m2": (0, "Btu/ft2", 0), "min": (0, "min", 0),
    "year": (1, "year", 1), "mm/year": (2, "inch/year", 4),
    "L/min": (0, "gallon/min", 0), "bar": (0, "psi", 0), "day": (0, "day", 0), "": (0, "", 0),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Shown:
    """A quantity ready to print; number and unit stay apart so a page can quieten the unit."""

    number: str
    unit: str

    def __str__(self) -> str:
        return f"{self.number}{THIN}{self.unit}" if self.unit else self.number


def grouped(value: float, decimals: int) -> str:
    """Write a number with thin spaces between thousands, and a true minus sign."""
    return f"{value:,.{decimals}f}".replace(",", THIN).replace("-", "\u2212")


def usual_decimals(value: float, unit: str) -> int:
    """The decimals a value is shown with; a tenth of a litre means nothing beside thousands."""
    return 0 if abs(value) >= 1000 else _US.get(unit, (2, unit, 2))[0]


def show(value: float, unit: str, system: str = "SI", decimals: int | None = None) -> Shown:
    """Write a stored value in the reader's units; the one place where that is decided.

    >>> show(31.54, "kg").number
    '31.5'
    """
    if not math.isfinite(value):
        return Shown("not known", "")
    _own_decimals, us_unit, us_decimals = _US.get(unit, (2, unit, 2))
    if decimals is None and abs(value) >= 1000:
        us_decimals = 0
    places = usual_decimals(value, unit) if decimals is None else decimals
    if system == "US" and us_unit != unit:
        value = convert(value, unit, us_unit)
        unit, places = us_unit, us_decimals if decimals is None else max(decimals, us_decimals)
    number = grouped(value, places)
    if unit == "inch":
        return Shown(number, "in")
    return Shown(number, unit if number == "1" and unit in ("day", "year") else pretty_unit(unit))


def reader_unit(unit: str, system: str) -> str:
    """The unit in which a reader gets values stored in ``unit``."""
    return _US.get(unit, (2, unit, 2))[1] if system == "US" else unit


# Units a person may choose in place of a calculation's own, the own one first.
_CHOICES = (
    ("m", "cm", "mm", "ft", "inch"), ("mm", "cm", "m", "inch"), ("kg", "g", "t", "lb"),
    ("degC", "degF", "kelvin"), ("L", "m3", "gallon"), ("m3", "L", "ft3", "gallon"),
    ("m2", "cm2", "ft2"), ("kW", "MW", "W", "Btu/s"), ("MJ", "kWh", "kBtu"),
    ("MJ/kg", "kWh/kg", "Btu/lb"), ("kg/m3", "g/cm3", "lb/ft3"), ("s", "min", "hour"),
    ("min", "s", "hour"), ("day", "hour", "week"), ("bar", "MPa", "kPa", "psi"),
    ("L/min", "m3/hour", "gallon/min"), ("m/s", "km/hour", "mile/hour"), ("Pa", "kPa", "bar"),
)  # fmt: skip


def alternatives(unit: str) -> tuple[str, ...]:
    """The units a value in ``unit`` may be given in; only itself when there is no choice."""
    return next((row for row in _CHOICES if row[0] == unit), (unit,))
