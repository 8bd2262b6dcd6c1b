"""A small plot of a working: its series against time, or its result against its main input."""

from __future__ import annotations

from typing import Any

import numpy as np

from facility.calc.units import magnitude, pretty_unit
from facility.calc.working import Calculation, CalculationRefused, Input, Working
from facility.look.charts import Chart, Curve, thinned

POINTS = 31


def plot_of(calculation: Calculation, working: Working) -> Chart | None:
    """The chart that says most of a working; None when nothing of it can be drawn."""
    if np.ndim(working.value()) == 1:
        return _against_time(working)
    main = next((each for each in calculation.inputs if not each.choices and not each.many), None)
    return _swept(calculation, working, main) if main else None


def _axis(name: str, unit: str) -> str:
    shown = pretty_unit(unit)
    return f"{name.replace('_', ' ')}, {shown}" if shown else name.replace("_", " ")


def _against_time(working: Working) -> Chart | None:
    times = next((name for name in working.results if name.startswith("time")), None)
    if times is None:
        return None
    name = working.result_name
    curve = Curve(thinned(working.value(times)), thinned(working.value()))
    return Chart((curve,), _axis(times, working.units[times]), _axis(name, working.units[name]))


def _swept(calculation: Calculation, working: Working, main: Input) -> Chart | None:
    """The result while the main input goes from a fifth of its value to twice it."""
    given = {name: _plain(working, name) for name in working.inputs}
    here = given[main.name]
    points: list[tuple[float, float]] = []
    for value in np.linspace(0.2 * here, 2.0 * here, POINTS):
        try:
            result = calculation.of(**{**given, main.name: float(value)}).value()
        except CalculationRefused:
            continue
        if np.ndim(result) == 0 and np.isfinite(result):
            points.append((float(value), float(result)))
    if len(points) < 3:
        return None
    xs, ys = zip(*points, strict=True)
    name = working.result_name
    return Chart((Curve(xs, ys),), _axis(main.name, main.unit), _axis(name, working.units[name]))


def _plain(working: Working, name: str) -> Any:
    given = working.inputs[name]
    if isinstance(given, str):
        return given
    number = magnitude(given, working.units[name])
    return number.tolist() if hasattr(number, "tolist") else number
