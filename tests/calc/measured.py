"""Measured fire tests, read from a folder beside the repository; absent, the checks are skipped.

Nothing of the data is kept in the repository. The sources are public: Steckler, Quintiere and
Rinkinen, NBSIR 82-2520, reduced in the repository firemodels/exp (its notice asks that NIST be
acknowledged); FSRI compartments 2018, DOI 10.5281/zenodo.5703474; NBS room fires and the crib
fires of 1993, both in firemodels/exp.
"""

import csv
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pytest

from facility.calc import plume
from facility.calc.unit import Fire, Opening, Unit, Wall

DATA = Path(__file__).resolve().parents[2].parent / "shared" / "data"

# Methane: radiative share and heat of combustion as in the inputs of NIST TN 1889v3 for the
# Steckler tests; absorption of its thin, nearly sootless products from memory.
METHANE = {"radiative_share": 0.2, "energy_per_kg": 50.0, "smoke_absorption": 0.1}
# Ceramic fibre board of the Steckler room: inputs of NIST SP 1169 for these tests, 12.7 mm.
FIBRE_BOARD = Wall(0.0127, 0.1, 200.0, 1000.0, thin=False)
# Gypsum board, 15.9 mm as the README assumes: NUREG-1805 material table, from memory.
GYPSUM = Wall(0.0159, 0.17, 960.0, 1100.0, thin=False)


def folder(name: str) -> Path:
    """A folder of measured data, or a skip that says why."""
    path = DATA / name
    if not path.is_dir():
        pytest.skip(f"measured data {name} is not beside the repository")
    return path


def table(path: Path) -> list[dict[str, str]]:
    """The rows of a CSV file with one header row."""
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def columns(path: Path) -> tuple[list[str], np.ndarray]:
    """Header and numbers of a CSV file; what is no number becomes NaN, other header rows go."""
    with path.open(newline="") as file:
        header, *rows = list(csv.reader(file))

    def number(text: str) -> float:
        try:
            return float(text)
        except ValueError:
            return np.nan

    values = np.array([[number(text) for text in row[: len(header)]] for row in rows])
    return header, values[np.isfinite(values).any(axis=1)]


@dataclass(frozen=True)
class Steckler:
    """One steady test: what was burned where, and what was measured [K, m]."""

    name: str
    where: str
    width: float
    height: float
    sill: float
    heat: float
    ambient: float
    lower: float
    upper: float
    interface: float
    plane: float

    @property
    def rise(self) -> float:
        return self.upper - self.ambient

    @property
    def door(self) -> bool:
        return self.sill == 0.0

    @property
    def smallest(self) -> bool:
        """The narrowest door and the lowest window of the series."""
        return self.width < 0.3 or self.height < 0.5

    @property
    def plume(self) -> str:
        """As NBSIR 82-2520 found (abstract): near walls a free plume does; elsewhere two to three
        times the air, but for the smallest openings."""
        draught = self.where == "Center" and not self.smallest
        return plume.DRAUGHT if draught else plume.FREE

    def unit(self) -> Unit:
        opening = Opening(self.width, self.height, self.sill)
        return Unit(2.8, 2.8, 2.13, FIBRE_BOARD, (opening,), ambient=self.ambient)

    def fire(self, kind: str) -> Fire:
        heat = (self.heat, self.heat)
        return Fire((0.0, 1800.0), heat, base=0.02, diameter=0.3, kind=kind, **METHANE)


def steckler() -> list[Steckler]:
    """Every Steckler test in the data, in the order of its table."""
    path = folder("steckler_room")
    found = {row["test"]: row for row in table(path / "derived_by_us.csv")}
    tests = []
    for row in table(path / "test_matrix.csv"):
        seen = found[row["test"]]
        given = ("opening_width_m", "opening_height_m", "opening_sill_m", "hrr_kW")
        read = ("ambient_C", "lower_C", "upper_C", "interface_m", "neutral_plane_centreline_m")
        tests.append(
            Steckler(
                row["test"], row["burner_location"],
                *(float(row[key]) for key in given), *(float(seen[key]) for key in read),
            )
        )  # fmt: skip
    return tests


@dataclass(frozen=True)
class Room:
    """One FSRI room test: its unit and fire, and the steady window as reduced [s, °C, m]."""

    name: str
    unit: Unit
    fire: Fire
    window: tuple[float, float]
    rise: float
    interface: float
    plane: float | None


def fsri() -> list[Room]:
    """The three open-door gas-burner tests, each with its heat release as measured."""
    path = folder("fsri_compartments_2018")
    return [_room(path, row) for row in table(path / "derived_by_us.csv")]


def _room(path: Path, row: dict[str, str]) -> Room:
    header, values = columns(path / f"{row['test']}.csv")
    time, heat = values[:, 0], values[:, header.index("Heat Release Rate")]
    at = np.arange(0.0, 600.0, 10.0)
    mean = [max(0.0, float(np.nanmean(heat[np.abs(time - t) <= 5.0]))) for t in at]
    ambient = float(row["ambient_C"])
    unit = Unit(3.7, 3.7, 2.4, GYPSUM, (Opening(0.9, 2.0),), ambient=ambient)
    # A burner 0.6 m square has the area of a circle 0.68 m across.
    fire = Fire(tuple(at.tolist()), tuple(mean), diameter=0.68, **METHANE)
    window = (float(row["window_start_s"]), float(row["window_end_s"]))
    return Room(
        row["test"], unit, fire, window, float(row["upper_rise_K"]), float(row["interface_m"]),
        _crossing(header, values, time, window),
    )  # fmt: skip


def _crossing(
    header: list[str], values: np.ndarray, time: np.ndarray, window: tuple[float, float]
) -> float | None:
    """Height where the door velocity changes sign, lintel at 2.0 m; none where it never does.

    Probes that read near nothing low in the door are known bad (README of the data)."""
    steady = (time >= window[0]) & (time <= window[1])
    depths = [0.25, 0.50, 0.75, 1.00, 1.25, 1.50, 1.75]
    names = [f"Doorway Velocity {depth:.2f} m Below Lintel" for depth in depths]
    speed = [float(np.nanmean(values[steady, header.index(name)])) for name in names]
    if speed[-1] > -0.3:
        return None
    row = next(i for i, value in enumerate(speed) if value < 0.0)
    share = speed[row - 1] / (speed[row - 1] - speed[row])
    return 2.0 - depths[row - 1] - share * (depths[row] - depths[row - 1])
