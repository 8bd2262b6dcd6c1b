"""What a column of a logger's file measures, told from its heading and its unit.

Law: a unit is taken from the file where it has one. Where it has none it is assumed from the
heading, and the channel says so; nothing is turned into another unit unsaid.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from facility.calc.units import Quantity

# The unit in which each quantity is kept, and the words by which a heading names it.
KEPT_IN = {
    "temperature": "degC",
    "velocity": "m/s",
    "heat flux": "kW/m2",
    "heat release": "kW",
    "pressure": "Pa",
    "gas": "%",
    "length": "m",
    "mass": "kg",
    "mass flow": "kg/s",
}
_WORDS = (
    ("heat release", r"heat release|\bhrr"),
    ("heat flux", r"heat flux|\bhfg?\b|\bhf[_\-]|\brad[_\-]|radiomet"),
    ("velocity", r"veloc|\bbd[vp]p?[_\-]|\bvel"),
    ("pressure", r"pressure|\bpress"),
    ("gas", r"oxygen|carbon|\bo2|\bco2?\b|\bco2?[_\-]"),
    ("length", r"\bheight\b|interface"),
    ("temperature", r"temperature|\btemp|\btc[_\-\s]?\w*|thermo|\bt[_\-]|\bt\d+"),
)
# How loggers spell units, folded to lower case, and how pint spells them.
_SPELLED = {
    "c": "degC", "°c": "degC", "degc": "degC", "deg c": "degC", "oc": "degC", "celsius": "degC",
    "f": "degF", "°f": "degF", "degf": "degF", "deg f": "degF", "fahrenheit": "degF",
    "k": "kelvin", "degk": "kelvin", "kelvin": "kelvin",
    "s": "s", "sec": "s", "secs": "s", "second": "s", "seconds": "s", "ms": "ms", "msec": "ms",
    "min": "min", "mins": "min", "minute": "min", "minutes": "min", "h": "h", "hr": "h",
    "m/s": "m/s", "ft/s": "ft/s", "fpm": "ft/min", "ft/min": "ft/min", "km/h": "km/h",
    "kw/m2": "kW/m**2", "kw/m²": "kW/m**2", "kw/m^2": "kW/m**2", "w/m2": "W/m**2",
    "w/m²": "W/m**2", "w/cm2": "W/cm**2",
    "kw": "kW", "w": "W", "mw": "MW",
    "pa": "Pa", "kpa": "kPa", "mbar": "mbar", "bar": "bar", "psi": "psi",
    "%": "percent", "vol%": "percent", "vol %": "percent", "% vol": "percent", "ppm": "ppm",
    "mol/mol": "mol/mol", "mol frac": "mol/mol", "g/g": "g/g",
    "m": "m", "mm": "mm", "cm": "cm", "ft": "ft", "in": "inch",
    "kg": "kg", "g": "g", "lb": "lb", "kg/s": "kg/s", "g/s": "g/s",
    "mg/m3": "mg/m**3", "1/m": "1/m", "v": "V", "mv": "mV", "ma": "mA",
}  # fmt: skip
_QUANTITY = {
    "degC": "temperature", "degF": "temperature", "kelvin": "temperature",
    "m/s": "velocity", "ft/s": "velocity", "ft/min": "velocity", "km/h": "velocity",
    "kW/m**2": "heat flux", "W/m**2": "heat flux", "W/cm**2": "heat flux",
    "kW": "heat release", "W": "heat release", "MW": "heat release",
    "Pa": "pressure", "kPa": "pressure", "mbar": "pressure", "psi": "pressure", "bar": "pressure",
    "percent": "gas", "ppm": "gas", "mol/mol": "gas",
    "m": "length", "mm": "length", "cm": "length", "ft": "length", "inch": "length",
    "kg": "mass", "g": "mass", "lb": "mass", "kg/s": "mass flow", "g/s": "mass flow",
}  # fmt: skip
TIME_UNITS = {"ms": 0.001, "s": 1.0, "min": 60.0, "h": 3600.0}
_BRACKETED = re.compile(r"[\[(]\s*([^\[\]()]{1,12}?)\s*[\])]\s*$")
_TRAILING = re.compile(r"[_\s](degC|degF|deg C|deg F|°C|°F|kW/m2|kW|Pa|m/s|sec|ms)\s*$", re.I)
_DEPTH = re.compile(
    r"(\d+(?:[.,]\d+)?)\s*(mm|cm|m)\s+(?:below|from)\s+(?:the\s+)?(?:ceiling|clng)", re.I
)
_HEIGHT = re.compile(r"(\d+(?:[.,]\d+)?)\s*(mm|cm|m)\s+(?:above|from)\s+(?:the\s+)?(?:floor)", re.I)
_METRES = {"mm": 0.001, "cm": 0.01, "m": 1.0}


def unit_of(cell: str) -> str | None:
    """Pint's spelling of a unit as a logger writes it, brackets or not; None for no unit.

    >>> unit_of("(kW/m2)"), unit_of(" C"), unit_of("Time")
    ('kW/m**2', 'degC', None)
    """
    return _SPELLED.get(cell.strip().strip("()[]").strip().lower())


def unit_in_name(name: str) -> tuple[str, str | None]:
    """A heading without the unit written into it, and that unit.

    >>> unit_in_name("Ceiling [°C]"), unit_in_name("TC_4_degF"), unit_in_name("Door (left)")
    (('Ceiling', 'degC'), ('TC_4', 'degF'), ('Door (left)', None))
    """
    found = _BRACKETED.search(name) or _TRAILING.search(name)
    unit = unit_of(found[1]) if found else None
    if found is None or unit is None:
        return name.strip(), None
    return name[: found.start()].strip(), unit


@dataclass(frozen=True, slots=True)
class Meaning:
    """What a channel measures. ``unit`` is the file's, ``kept_in`` the one its values are kept in.

    Both are empty where neither the file nor the heading tells a unit; such values are kept as
    they stand. ``depth_m`` and ``height_m`` are metres
    below the ceiling and above the floor, where the heading says so.
    """

    quantity: str
    unit: str
    kept_in: str
    assumed: bool = False
    depth_m: float | None = None
    height_m: float | None = None

    def kept(self, value: float) -> float:
        """A value of the file in the unit it is kept in."""
        if self.unit == self.kept_in or not self.unit:
            return value
        return float(Quantity(value, self.unit).to(_pint(self.kept_in)).magnitude)


def _pint(kept_in: str) -> str:
    return {"kW/m2": "kW/m**2", "%": "percent"}.get(kept_in, kept_in)


def meaning_of(name: str, description: str, unit: str | None) -> Meaning:
    """What a column measures, from its heading, the words under it and its unit."""
    words = f"{name} {description}"
    depth, height = _metres(_DEPTH, words), _metres(_HEIGHT, words)
    if unit is not None:
        quantity = _QUANTITY.get(unit, "")
        kept_in = KEPT_IN[quantity] if quantity else unit
        same = unit == _pint(kept_in)
        return Meaning(quantity, kept_in if same else unit, kept_in, False, depth, height)
    for quantity, pattern in _WORDS:
        if re.search(pattern, words, re.I):
            kept_in = KEPT_IN[quantity]
            return Meaning(quantity, kept_in, kept_in, True, depth, height)
    return Meaning("", "", "", False, depth, height)


def _metres(pattern: re.Pattern[str], words: str) -> float | None:
    found = pattern.search(words)
    return float(found[1].replace(",", ".")) * _METRES[found[2].lower()] if found else None
