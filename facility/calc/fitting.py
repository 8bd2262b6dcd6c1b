"""What a unit's own burns say of the forecast: three factors, fitted with a prior.

A burn is looked at by three traits that do not hang on when exactly it was lit: the greatest rise
of the hot layer, how long the rise took, and how long the layer stayed hot. The forward model of
the forecast is asked for the same traits, as the thermocouples of the unit would have seen them.
Factors are fitted to the logarithms of the traits of all burns at once, by least squares with the
prior as further residuals, and their uncertainty is the posterior covariance. What model and
thermocouples have wrong in every burn alike is a residual of its own, so that no number of burns
makes the factors surer than that.

The forward model takes some 20 ms, so it is not run burn by burn: burns of like charge share one
run and its sensitivities (to the three factors and the mass; more board burning is the same to
the model as more heat of each board), and Gauss-Newton rounds need few of them.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
import numpy.typing as npt

from facility.calc.constants import (
    BOARD_HEAT_PER_AREA,
    CRIB_AND_BOARD_GROWTH,
    FIBRE_CONDUCTIVITY,
    FIBRE_DENSITY,
    FIBRE_SPECIFIC_HEAT,
    LABORATORY_SPREAD,
    TRAINING_FUEL_EFFECTIVE_HEAT,
    VENTILATION_HEAT,
)
from facility.calc.heat import burn_times, heat_at, ventilation_factor
from facility.calc.measured import means, reduced
from facility.calc.unit import Fire, Opening, Unit, Wall
from facility.calc.zones import Course, burn

Floats = npt.NDArray[np.float64]

STEEL_WALL_MM, LINING_MM = 2.0, 25.0  # of a freight container's side, of a lining: common practice
NAMES = ("heat", "loss", "growth")
Z_80 = 1.2816  # of the normal distribution: 10 to 90 %
WEAK_UNDER = 5  # burns


class Factors(NamedTuple):
    """Factors on the heat release of the boards, on the heat the walls take, and on growth."""

    heat: float = 1.0
    loss: float = 1.0
    growth: float = 1.0


AS_CALCULATED = Factors()

# Standard deviations of the logarithms before any burn was seen. Heat: the spread between
# laboratories taken as 10 to 90 %. Walls: what stands in a unit beside its shell, and a lining
# nobody measured; a third either way, our choice. Growth: classes of t-squared fires are a factor
# of four apart; a factor of two and a half either way at 10 to 90 %, our choice. No source.
PRIOR_SD = (math.log(LABORATORY_SPREAD) / 2.0 / Z_80, 0.25, math.log(2.5) / Z_80)
# How far one burn strays from the model in the logarithm of each trait, before burns have told:
# rise, time of the rise, time hot. Our choice, no source; counts as much as this many burns.
STRAY_SD, STRAY_BURNS = (0.08, 0.25, 0.15), 4.0
# How far model and thermocouples may be off in every burn alike: our choice, no source.
SHARED_SD = (0.05, 0.10, 0.05)


class Room(NamedTuple):
    """Inside dimensions and the widest door [m], and whether the walls are lined."""

    length: float
    width: float
    height: float
    door_width: float
    door_height: float
    lined: bool


class Charge(NamedTuple):
    """Dry mass [kg] and the faces of boards that burn [m2]."""

    dry_mass: float
    area: float


class Traits(NamedTuple):
    """Of one burn: greatest rise of the hot layer [K], time from 20 to 80 % of it [s], time above
    half of it [s]."""

    rise: float
    growing: float
    hot: float


# -- the forward model ----------------------------------------------------------------------


def unit_of(room: Room, factors: Factors = AS_CALCULATED, ambient: float = 20.0) -> Unit:
    """The unit as the forecast takes it: its widest door stands open, vents are shut."""
    steel = Wall(STEEL_WALL_MM / 1000.0)
    lining = Wall(
        LINING_MM / 1000.0, FIBRE_CONDUCTIVITY, FIBRE_DENSITY, FIBRE_SPECIFIC_HEAT, thin=False
    )
    door = Opening(room.door_width, room.door_height)
    return Unit(
        room.length, room.width, room.height, lining if room.lined else steel, (door,),
        ambient=ambient, wall_loss=factors.loss,
    )  # fmt: skip


def fire_of(room: Room, charge: Charge, factors: Factors = AS_CALCULATED) -> Fire:
    """The fire of a charge: t-squared to what surface or opening allow, then decay."""
    surface = charge.area * BOARD_HEAT_PER_AREA * factors.heat
    opening = VENTILATION_HEAT * ventilation_factor(room.door_width, room.door_height)
    growth = CRIB_AND_BOARD_GROWTH * factors.growth
    energy = 1000.0 * charge.dry_mass * TRAINING_FUEL_EFFECTIVE_HEAT
    times = burn_times(growth, min(surface, opening), energy)
    even = np.linspace(0.0, times[3], 16)
    rising = np.linspace(0.0, times[1], 7)[1:]
    at = np.unique(np.round(np.concatenate([even, rising, times[1:]]), 3))
    return Fire(tuple(at.tolist()), tuple(heat_at(at, growth, times).tolist()))


def course_of(
    room: Room, charge: Charge, factors: Factors = AS_CALCULATED, ambient: float = 20.0
) -> Course:
    """The burn as the model has it, three minutes beyond the end of its fuel."""
    fire = fire_of(room, charge, factors)
    return burn(unit_of(room, factors, ambient), fire, until=fire.times[-1] + 180.0)


STEP = 2.0  # s between the values at which traits are read
SMOOTHED = 30.0  # s over which they are smoothed


def traits_of(seconds: Floats, rise: Floats) -> Traits | None:
    """The traits of a rise [K] of the hot layer against time [s].

    None where it is over before it is seen: less than 50 K, fewer than ten readings, or a series
    that begins when the layer is hot already.
    """
    known = np.isfinite(rise)
    seconds, rise = seconds[known], rise[known]
    if len(seconds) < 10:
        return None
    moved = np.concatenate([[True], np.diff(seconds) > 0])
    even = np.arange(seconds[0], seconds[-1], STEP)
    smooth = means(np.interp(even, seconds[moved], rise[moved]), round(SMOOTHED / STEP) | 1)
    peak = float(smooth.max()) if len(smooth) else 0.0
    if peak < LEAST_RISE:
        return None
    grown = int(np.argmax(smooth >= 0.8 * peak))
    begun = np.flatnonzero(smooth[:grown] < 0.2 * peak)
    if not begun.size:
        return None
    hot = STEP * float(np.count_nonzero(smooth >= 0.5 * peak))
    growing = _crossed(even, smooth, grown - 1, 0.8 * peak) - _crossed(
        even, smooth, int(begun[-1]), 0.2 * peak
    )
    return Traits(peak, max(growing, STEP), hot)


LEAST_RISE = 50.0  # K: less is no fire in a unit


def _crossed(seconds: Floats, values: Floats, at: int, level: float) -> float:
    """When a series passes a level between a place and the next, in a straight line."""
    low, high = float(values[at]), float(values[at + 1])
    part = 0.0 if high == low else (level - low) / (high - low)
    return float(seconds[at]) + min(max(part, 0.0), 1.0) * float(seconds[at + 1] - seconds[at])


Forward = Callable[[Charge, Factors], Traits]


def forward_in(room: Room, heights: tuple[float, ...] = ()) -> Forward:
    """The forward model of one unit: traits of a charge under factors.

    With ``heights`` [m] of a column of thermocouples the layer is reduced from what they would
    read of it, as that of a recording is; without, it is the model's own.
    """

    def forward(charge: Charge, factors: Factors) -> Traits:
        return _forecast_traits(room, charge, factors, heights)

    return forward


@lru_cache(maxsize=4096)
def _forecast_traits(
    room: Room, charge: Charge, factors: Factors, heights: tuple[float, ...]
) -> Traits:
    course = course_of(room, charge, factors)
    upper = course.layer_temperature
    if heights:
        over = np.array(heights)[:, None] > course.interface[None, :]
        read = np.where(over, course.layer_temperature, course.lower_temperature)
        layer = reduced(heights, read, room.height).upper
        upper = np.where(np.isfinite(layer), layer, read[-1])
    found = traits_of(course.time, upper - 20.0)
    # a fire that barely warms its unit still has traits for the fit to move away from
    return found or Traits(LEAST_RISE, STEP, STEP)


# -- the fit --------------------------------------------------------------------------------


class Seen(NamedTuple):
    """One burn that the fit rests on."""

    charge: Charge
    traits: Traits


@dataclass(frozen=True, slots=True)
class Fit:
    """Factors of a unit. ``covariance`` is of their logarithms; ``stray`` is how far one burn
    strays from the model in the logarithm of each trait; ``runs`` of the model it took."""

    factors: Factors
    covariance: tuple[tuple[float, ...], ...]
    stray: tuple[float, ...]
    burns: int
    runs: int

    @property
    def sd(self) -> tuple[float, ...]:
        """Standard deviations of the logarithms of the factors."""
        return tuple(math.sqrt(self.covariance[at][at]) for at in range(len(NAMES)))

    @property
    def weak(self) -> bool:
        return self.burns < WEAK_UNDER

    def within(self, name: str) -> tuple[float, float]:
        """The range that holds a factor with 80 % (10 to 90 %)."""
        at = NAMES.index(name)
        middle, spread = self.factors[at], math.exp(Z_80 * self.sd[at])
        return middle / spread, middle * spread


FINE, COARSEST = 0.15, 1.2  # widths in the logarithm of mass and area that share a run
MOST_CELLS = 6
PROBE = 0.08  # step in a logarithm by which sensitivities are taken
ROUNDS, SETTLED, FARTHEST = 6, 0.04, 0.7
STEEP = 0.25  # how far the factors may move before the sensitivities are taken anew
BOUND = math.log(5.0)  # factors from a fifth to five


class _Cell(NamedTuple):
    charge: Charge
    members: npt.NDArray[np.int64]


def _cells(charges: Sequence[Charge]) -> list[_Cell]:
    """Burns of like charge together, each lot with its middle; as many as are worth their runs."""
    logs = np.log(np.array(charges, float))
    width, groups = FINE, np.zeros(len(logs), int)
    while width <= COARSEST:
        places = np.round((logs - logs.mean(axis=0)) / width).astype(int)
        _, groups = np.unique(places, axis=0, return_inverse=True)
        groups = groups.ravel()
        if groups.max() < MOST_CELLS:
            break
        width *= 1.5
    found = []
    for group in range(int(groups.max()) + 1):
        members = np.flatnonzero(groups == group)
        mass, area = np.exp(logs[members].mean(axis=0)).tolist()
        found.append(_Cell(Charge(round(mass, 3), round(area, 4)), members))
    return found


def fit(
    burns: Sequence[Seen], forward: Forward, start: Factors = AS_CALCULATED,
    prior_sd: Sequence[float] = PRIOR_SD,
) -> Fit:  # fmt: skip
    """The factors that burns of one unit ask for, and how surely.

    Without burns it is the prior. ``start`` is where to begin, such as the fit before this one;
    it saves runs and moves nothing.
    """
    prior = np.asarray(prior_sd, float)
    if not burns:
        return Fit(AS_CALCULATED, _rows(np.diag(prior**2)), STRAY_SD, 0, 0)
    seen = np.log(np.array([each.traits for each in burns]))
    charges = np.log(np.array([each.charge for each in burns]))
    cells = _cells([each.charge for each in burns])
    theta, runs, stray = np.log(np.asarray(start)), 0, np.array(STRAY_SD)
    slopes_at = np.full(len(NAMES), np.inf)
    own: list[Floats] = []
    for turn in range(ROUNDS):
        here = theta
        if float(np.abs(here - slopes_at).max()) > STEEP:
            slopes_at, own = here, [_slopes(cell, charges, forward, here) for cell in cells]
            runs += len(cells) * (len(NAMES) + 1)
        told, slopes = _linear(cells, charges, forward, theta, own)
        runs += len(cells)
        for _again in range(3):  # the fit tells the stray, and the stray the fit
            theta, shared, covariance = _solved(seen, told, slopes, here, stray, prior)
            stray = _stray(seen - told - slopes @ (theta - here) - shared)
        moved = float(np.abs(theta - here).max())
        if moved < SETTLED or turn == ROUNDS - 1:
            break
    factors = Factors(*np.exp(theta).tolist())
    return Fit(factors, _rows(covariance), tuple(stray.tolist()), len(burns), runs)


def _rows(matrix: Floats) -> tuple[tuple[float, ...], ...]:
    return tuple(tuple(row) for row in matrix.tolist())


def _slopes(cell: _Cell, charges: Floats, forward: Forward, theta: Floats) -> Floats:
    """Slopes of the traits of a cell's middle: in the three factors, then in the mass."""
    middle = _traits(forward, cell.charge, theta)
    more = cell.charge._replace(dry_mass=cell.charge.dry_mass * math.exp(PROBE))
    probed = [_traits(forward, cell.charge, theta + PROBE * each) for each in np.eye(len(NAMES))]
    alike = float(np.ptp(charges[cell.members, 0])) < 1e-3
    probed.append(middle if alike else _traits(forward, more, theta))
    return np.column_stack([(each - middle) / PROBE for each in probed])


def _linear(
    cells: Sequence[_Cell], charges: Floats, forward: Forward, theta: Floats,
    own: Sequence[Floats],
) -> tuple[Floats, Floats]:  # fmt: skip
    """Traits that the model tells each burn near some factors, and their slopes in the factors."""
    told = np.empty((len(charges), len(Traits._fields)))
    slopes = np.empty((len(charges), len(Traits._fields), len(NAMES)))
    for cell, slope in zip(cells, own, strict=True):
        off = charges[cell.members] - np.log(np.asarray(cell.charge))
        told[cell.members] = (
            _traits(forward, cell.charge, theta)
            + np.outer(off[:, 0], slope[:, -1]) + np.outer(off[:, 1], slope[:, 0])
        )  # fmt: skip
        slopes[cell.members] = slope[:, :-1]
    return told, slopes


def _traits(forward: Forward, charge: Charge, theta: Floats) -> Floats:
    factors = Factors(*(round(float(each), 5) for each in np.exp(theta)))
    logs: Floats = np.log(np.array(forward(charge, factors)))
    return logs


def _solved(
    seen: Floats, told: Floats, slopes: Floats, here: Floats, stray: Floats, prior: Floats
) -> tuple[Floats, Floats, Floats]:
    """One round: least squares about ``here``, the prior as residuals; factors, what is off in
    every burn alike, and the covariance of the factors."""
    from scipy.optimize import least_squares

    count, own = len(NAMES), np.broadcast_to(np.eye(len(stray)), (len(seen), *(len(stray),) * 2))
    by_both = np.concatenate([slopes, own], axis=2) / stray[None, :, None]
    supposed = np.concatenate([prior, SHARED_SD])
    jacobian = np.concatenate([-by_both.reshape(-1, len(supposed)), np.diag(1.0 / supposed)])

    def residuals(both: Floats) -> Floats:
        theta, shared = both[:count], both[count:]
        left = (seen - told - slopes @ (theta - here) - shared) / stray
        return np.concatenate([left.ravel(), both / supposed])

    low, high = np.maximum(here - FARTHEST, -BOUND - 1e-6), np.minimum(here + FARTHEST, BOUND)
    begin = np.concatenate([np.clip(here, low + 1e-9, high - 1e-9), np.zeros(len(stray))])
    wide = np.full(len(stray), np.inf)
    found: Any = least_squares(
        residuals, begin, jac=lambda _both: jacobian, method="trf",
        bounds=(np.concatenate([low, -wide]), np.concatenate([high, wide])),
    )  # fmt: skip
    covariance = np.linalg.inv(jacobian.T @ jacobian)
    return found.x[:count], found.x[count:], covariance[:count, :count]


def _stray(left: Floats) -> Floats:
    """How far burns stray in each trait: what they show, and what was supposed, weighted."""
    supposed = STRAY_BURNS * np.square(STRAY_SD)
    shown = np.square(left).sum(axis=0)
    stray: Floats = np.sqrt((supposed + shown) / (STRAY_BURNS + max(len(left) - 1, 0)))
    return stray


def heat_band(found: Fit) -> tuple[float, float]:
    """Factors on the heat release that hold the next burn with 80 %: low and high.

    The uncertainty of the factor, and how far one burn strays in its rise: the rise goes with the
    heat release to the power of two thirds (McCaffrey, Quintiere and Harkleroad).
    """
    spread = math.exp(Z_80 * math.hypot(found.sd[0], 1.5 * found.stray[0]))
    return found.factors.heat / spread, found.factors.heat * spread
