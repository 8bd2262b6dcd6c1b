"""How fast the fire calculations are, and how near the two-zone stepper keeps to an exact solver.

``python -m tests.benches.calc`` prints the rows. Times are medians after warm-up on one core.
"""

import statistics
import subprocess
import sys
import time
from collections.abc import Callable
from contextlib import contextmanager
from typing import Any

import numpy as np
from scipy.integrate import solve_ivp

from facility.calc import vent_flow
from facility.calc.heat import heat_release_curve
from facility.calc.layer import hot_layer_rise, neutral_plane
from facility.calc.two_zone import two_zone
from facility.calc.unit import Fire, Opening, Pulse, RoofVent, Unit, Wall
from facility.calc.zones import Course, Equations, burn, opened

STEEL = Wall(0.002)
LINED = Wall(0.025, 0.17, 800.0, 1000.0, thin=False)
SIZE = {"length": 5.9, "width": 2.35, "height": 2.39}
HALF_HOUR = 1800.0
CHARGE = {
    "dry_mass": 80.0, "exposed_area": 8.0, "heat_per_area": 200.0, "energy_per_kg": 14.2,
    "alpha": 0.0117, "opening_width": 1.1, "opening_height": 2.2, "ignition_delay": 0.0,
}  # fmt: skip


def median_ms(work: Callable[[], Any], runs: int = 21) -> float:
    """Median time [ms] of a call, after two calls to warm up."""
    for _ in range(2):
        work()
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        work()
        times.append(1000.0 * (time.perf_counter() - start))
    return statistics.median(times)


def boards_burning() -> Fire:
    """The curve of 80 kg of boards in a container with one leaf open."""
    values = heat_release_curve.plain(**CHARGE).values
    return Fire(tuple(values["time"].tolist()), tuple(values["heat_release"].tolist()))


def container(wall: Wall, **more: Any) -> Unit:
    return Unit(**SIZE, wall=wall, openings=(Opening(1.1, 2.2),), **more)


def busy() -> tuple[Unit, list[Pulse]]:
    """Two doors, one pulled to in between, a roof vent opened twice, and six pulses of water."""
    doors = (
        Opening(1.1, 2.2),
        Opening(0.8, 2.0, 0.0, ((0.0, 0.0), (400.0, 1.0), (700.0, 0.1), (800.0, 1.0))),
    )
    vent = RoofVent(0.4, ((0.0, 0.0), (500.0, 1.0), (560.0, 0.0), (900.0, 1.0)))
    unit = Unit(**SIZE, wall=STEEL, openings=doors, roof_vents=(vent,), leak_area=0.01)
    return unit, [Pulse(600.0 + 20.0 * i, 1.0, 0.8, 0.5) for i in range(6)]


@contextmanager
def tight_pressure():
    """Let the reference find its pressures almost exactly."""
    before = vent_flow.NEAR_BALANCE
    vent_flow.NEAR_BALANCE = 1e-6
    try:
        yield
    finally:
        vent_flow.NEAR_BALANCE = before


def exact(unit: Unit, fire: Fire, times: np.ndarray) -> tuple[float, np.ndarray]:
    """Time taken [ms] and states of the same equations by SciPy's LSODA at 1e-7."""
    equations = Equations(unit, fire)
    equations.open = opened(unit, (), 0.0)
    with tight_pressure():
        start = time.perf_counter()
        solved = solve_ivp(
            lambda t, y: equations.rates(t, y.tolist()), (0.0, float(times[-1])),
            equations.start(), method="LSODA", rtol=1e-7, atol=1e-6, max_step=5.0,
            t_eval=np.unique(times),
        )  # fmt: skip
        taken = 1000.0 * (time.perf_counter() - start)
    return taken, np.array([np.interp(times, solved.t, row) for row in solved.y])


def against_exact(name: str, unit: Unit, fire: Fire) -> list[tuple[str, float, str]]:
    """Speed over the exact solver, and the largest gaps to it."""
    own = median_ms(lambda: burn(unit, fire, until=HALF_HOUR), 9)
    course: Course = burn(unit, fire, until=HALF_HOUR)
    taken, states = exact(unit, fire, course.time)
    warm = np.abs(course.layer_temperature + 273.15 - states[1]).max()
    return [
        (f"two_zone, {name}: times faster than LSODA at 1e-7", taken / own, "x"),
        (f"two_zone, {name}: largest gap of layer temperature", float(warm), "K"),
        (f"two_zone, {name}: largest gap of interface",
         float(np.abs(course.interface - states[0]).max()), "m"),
    ]  # fmt: skip


def register_ms(runs: int = 5) -> float:
    """Median time [ms] to build units and register in a fresh process, NumPy and pint imported."""
    program = (
        "import time, numpy, pint; start = time.perf_counter(); import facility.calc.register; "
        "print(1000 * (time.perf_counter() - start))"
    )
    command = [sys.executable, "-c", program]
    took = [
        float(subprocess.run(command, capture_output=True, check=True).stdout) for _ in range(runs)
    ]
    return statistics.median(took)


def bench_rows() -> list[tuple[str, float, str]]:
    """Rows of (what, value, unit)."""
    fire = boards_burning()
    steel, lined = container(STEEL), container(LINED)
    unit, pulses = busy()
    door = {"door_width": 1.1, "door_height": 2.2}
    typed = {
        **SIZE, **door, "wall_thickness": 2.0, "time": list(fire.times), "heat_release":
        list(fire.heat),
    }  # fmt: skip
    rows = [
        ("two_zone, 30 min, steel", median_ms(lambda: burn(steel, fire, until=HALF_HOUR)), "ms"),
        ("two_zone, 30 min, lined", median_ms(lambda: burn(lined, fire, until=HALF_HOUR)), "ms"),
        ("two_zone, 30 min, two doors, roof vent, six pulses",
         median_ms(lambda: burn(unit, fire, pulses, until=HALF_HOUR)), "ms"),
        ("two_zone with its working", median_ms(lambda: two_zone.of(**typed)), "ms"),
        ("building the register", register_ms(), "ms"),
        ("heat_release_curve", median_ms(lambda: heat_release_curve.plain(**CHARGE)), "ms"),
        ("neutral_plane with its working", median_ms(lambda: neutral_plane.of(
            **door, interface_height=1.0, layer_temperature=400.0)), "ms"),
        ("hot_layer_rise with its working", median_ms(lambda: hot_layer_rise.of(
            **SIZE, **door, heat_release=800.0, time=300.0, wall_thickness=2.0)), "ms"),
    ]  # fmt: skip
    return rows + against_exact("steel", steel, fire) + against_exact("lined", lined, fire)


if __name__ == "__main__":
    for what, value, unit in bench_rows():
        print(f"{what:60} {value:9.3f} {unit}")
