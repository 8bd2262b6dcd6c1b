"""What the store will hold: demand of the days ahead, the season's pattern, when to order.

Demand is counted in whatever the product is counted in: boards, kg or litres.
"""

import datetime as dt
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from statistics import NormalDist

import numpy as np

from facility.calc.working import Input, Outcome, Source, Step, calculation

SHRINK = 1.0  # weeks of average use that each week of the season is mixed with: our choice
LEAST_WEEKS = 8  # of records before they tell a season: our choice, no source
BAND = 0.9  # the upper end of the band; the lower one is its mirror, so 10 to 90 %
NORMAL = NormalDist()


# -- when to order ------------------------------------------------------------------------

COUNT = "boards, kg or litres, as the product is counted"


@calculation(
    subject="forecast",
    title="Reorder point",
    formula=r"R = d\,L + z\,\sqrt{L\,s_d^2 + d^2\,s_L^2}",
    inputs=(
        Input("demand", "1/day", f"mean demand of a day, {COUNT}", low=0, high=1e6),
        Input("demand_spread", "1/day", "standard deviation of a day's demand", low=0, high=1e6),
        Input("lead_time", "day", "from the order until the boards may burn", low=0, high=1000),
        Input("lead_time_spread", "day", "standard deviation of that time", low=0, high=1000,
              default=0.0),
        Input("service_level", "%", "orders that arrive before the store is empty", low=50,
              high=99.9),
    ),
    results={"reorder_point": "", "lead_time_demand": "", "safety_stock": ""},
    source=Source(
        "Stevenson, Operations Management, ch. 12, reorder point with variable demand and lead time"
    ),
    cautions=(
        "Demand and lead time are taken as independent and normally distributed. A course that is "
        "booked tomorrow is in no forecast.",
    ),
)  # fmt: skip
def reorder_point(
    demand: float, demand_spread: float, lead_time: float, lead_time_spread: float,
    service_level: float,
) -> Outcome:  # fmt: skip
    """Stock at which to order, its part for the lead time, and the safety stock.

    ``demand`` and ``demand_spread`` [1/day] are mean and standard deviation of a day's demand,
    ``lead_time`` and its spread [day] those of the wait; ``service_level`` [%], 50 to 99.9, is
    the share of orders that arrive in time.

    >>> point = reorder_point.of(demand=50, demand_spread=5, lead_time=1, service_level=97)
    >>> round(point.value(), 2), round(point.value("safety_stock"), 2)
    (59.4, 9.4)
    """
    z = NORMAL.inv_cdf(service_level / 100)
    ahead = demand * lead_time
    spread = math.sqrt(lead_time * demand_spread**2 + (demand * lead_time_spread) ** 2)
    return Outcome(
        {
            "reorder_point": ahead + z * spread,
            "lead_time_demand": ahead,
            "safety_stock": z * spread,
        },
        steps=[
            Step("standard deviations for the service level", z, ""),
            Step("standard deviation of the demand over the lead time", spread, ""),
        ],
    )


@calculation(
    subject="forecast",
    title="How much to order",
    formula=r"Q = m\,\left\lceil \frac{D + S - H}{m} \right\rceil",
    inputs=(
        Input("demand_ahead", "", "demand until the next order would arrive", low=0, high=1e7),
        Input("safety_stock", "", "safety stock", low=0, high=1e7),
        Input("on_hand", "", "stock when the order goes out", low=0, high=1e7),
        Input("multiple", "", "what an order is a multiple of, such as a pack", low=0,
              above_low=True, high=1e5),
    ),
    results={"order": ""},
    source=Source("order-up-to level, rounded up to whole packs; textbook form", "from memory"),
)  # fmt: skip
def order_quantity(
    demand_ahead: float, safety_stock: float, on_hand: float, multiple: float
) -> Outcome:
    """How much to order, a multiple of the pack; at least one pack.

    ``demand_ahead`` covers the lead time and the time an order is to last.

    >>> order_quantity.of(demand_ahead=95, safety_stock=12.5, on_hand=31, multiple=20).value()
    80
    """
    short = demand_ahead + safety_stock - on_hand
    packs = max(1, math.ceil(short / multiple - 1e-9))
    return Outcome(
        {"order": packs * multiple},
        steps=[Step("short of the level", short, ""), Step("whole packs", packs, "")],
    )


# -- the season ---------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Season:
    """What a week of the year usually takes, and how far weeks stray from it.

    ``weekly`` has 52 values, week 1 first. The variance of a week is ``dispersion`` times what
    is expected of it, as for counts: a week that usually takes nothing strays little.
    """

    weekly: tuple[float, ...]
    dispersion: float
    weeks_seen: int

    def of(self, day: dt.date) -> float:
        return self.weekly[week_of(day)]


@lru_cache(maxsize=4096)
def week_of(day: dt.date) -> int:
    """The week of the year from 0; the odd week 53 counts with the week before."""
    return min(day.isocalendar().week, 52) - 1


def season_of(issued: Mapping[dt.date, float], until: dt.date) -> Season | None:
    """The season's pattern from what left the store, by the Monday of each week.

    Every week from the first of the record up to the last whole one before ``until`` is a
    sample; weeks in which nothing left count as nothing. A week of the year is expected to take
    the mean of its own samples and those of the weeks beside it, mixed with ``SHRINK`` weeks of
    the overall mean: what was seen once leans on the average, what was seen often on itself.
    None while fewer than ``LEAST_WEEKS`` weeks are on record.
    """
    this_monday = until - dt.timedelta(days=until.weekday())
    mondays = [day for day in issued if day < this_monday]
    if not mondays:
        return None
    count = (this_monday - min(mondays)).days // 7
    if count < LEAST_WEEKS:
        return None
    weeks = [min(mondays) + dt.timedelta(days=7 * week) for week in range(count)]
    places = np.array([week_of(day) for day in weeks])
    values = np.array([issued.get(day, 0.0) for day in weeks])
    weekly = _with_neighbours(np.bincount(places, values, 52)) + SHRINK * values.mean()
    weekly /= _with_neighbours(np.bincount(places, minlength=52)) + SHRINK
    expected = weekly[places].sum()
    strayed = ((values - weekly[places]) ** 2).sum()
    dispersion = float(strayed / expected) if expected > 0 else 0.0
    return Season(tuple(weekly.tolist()), dispersion, count)


def _with_neighbours(weeks: np.ndarray) -> np.ndarray:
    """Each week with the one before and the one after it; the year closes on itself."""
    three: np.ndarray = weeks + np.roll(weeks, 1) + np.roll(weeks, -1)
    return three


# -- the days ahead -----------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Demand:
    """Mean and variance of what leaves the store on each day from ``start`` on, summed up.

    ``total[n]`` and ``variance[n]`` are those of the first n days, so both begin with 0.
    """

    start: dt.date
    total: np.ndarray
    variance: np.ndarray

    def between(self, first: int, end: int) -> tuple[float, float]:
        """Mean and variance of the days from ``first`` up to before ``end``."""
        end = min(end, len(self.total) - 1)
        return (
            float(self.total[end] - self.total[first]),
            float(self.variance[end] - self.variance[first]),
        )


def demand_ahead(
    planned: Mapping[dt.date, float], season: Season | None, start: dt.date, days: int
) -> Demand:
    """Demand day by day: what plans ask for, filled up to what the season takes in that week.

    A week takes the larger of the two. Plans stand on their own day and are certain; what the
    season adds is spread over the days left of the week and strays as the season does.
    """
    mean = np.array([planned.get(start + dt.timedelta(days=n), 0.0) for n in range(days)])
    variance = np.zeros(days)
    if season is not None:
        first = 0
        while first < days:
            day = start + dt.timedelta(days=first)
            end = min(first + 7 - day.weekday(), days)
            left = season.of(day) * (end - first) / 7 - mean[first:end].sum()
            if left > 0:
                mean[first:end] += left / (end - first)
                variance[first:end] += season.dispersion * left / (end - first)
            first = end
    return Demand(
        start, np.concatenate([[0.0], mean.cumsum()]), np.concatenate([[0.0], variance.cumsum()])
    )


@dataclass(frozen=True, slots=True)
class Supply:
    """How orders come: lead time [day] with its spread, the service level [%], the multiple
    ordered, and the days an order is to last."""

    lead_time: float
    lead_time_spread: float
    service_level: float
    multiple: float
    lasts: float


@dataclass(frozen=True, slots=True)
class Ahead:
    """Stock on each morning ahead, with its band, and the level at which to order; clipped at 0.

    Days are counted from the demand's start: ``order_on`` is the first on which the stock is at
    the level, ``dry_on`` that on which it runs out, ``dry_earliest`` and ``dry_latest`` where the
    ends of the band do. None where it does not happen within the days looked at.
    """

    middle: np.ndarray
    low: np.ndarray
    high: np.ndarray
    level: np.ndarray | None
    order_on: int | None
    dry_on: int | None
    dry_earliest: int | None
    dry_latest: int | None


def stock_ahead(on_hand: float, demand: Demand, supply: Supply | None, days: int) -> Ahead:
    """The stock of the next days when nothing more is delivered.

    The band is 10 to 90 % of the demand summed up to each day. The level is the reorder point of
    the lead time that begins that day.
    """
    stray = NORMAL.inv_cdf(BAND) * np.sqrt(demand.variance[: days + 1])
    middle = on_hand - demand.total[: days + 1]
    level = None
    if supply is not None:
        level = _levels(demand, supply, days)
    if demand.total[-1] <= 0:  # an empty store that nobody draws on is neither dry nor short
        return Ahead(middle, middle, middle, level, None, None, None, None)
    return Ahead(
        middle=middle.clip(0), low=(middle - stray).clip(0), high=(middle + stray).clip(0),
        level=level,
        order_on=None if level is None else _first(middle <= level),
        dry_on=_first(middle <= 0),
        dry_earliest=_first(middle - stray <= 0),
        dry_latest=_first(middle + stray <= 0),
    )  # fmt: skip


def _first(reached: np.ndarray) -> int | None:
    days = np.flatnonzero(reached)
    return int(days[0]) if days.size else None


def lead_window(demand: Demand, supply: Supply, day: int) -> dict[str, float]:
    """The inputs of the reorder point for an order that goes out on a day."""
    length = max(supply.lead_time, 1.0)
    mean, variance = demand.between(day, day + math.ceil(length))
    return {
        "demand": mean / length,
        "demand_spread": math.sqrt(max(variance, 0.0) / length),
        "lead_time": length,
        "lead_time_spread": supply.lead_time_spread,
        "service_level": supply.service_level,
    }


def _levels(demand: Demand, supply: Supply, days: int) -> np.ndarray:
    """The reorder point of every day at once: the formula of ``reorder_point`` on series."""
    length = max(supply.lead_time, 1.0)
    first = np.arange(days + 1)
    end = np.minimum(first + math.ceil(length), len(demand.total) - 1)
    mean = demand.total[end] - demand.total[first]
    variance = demand.variance[end] - demand.variance[first]
    by_length = mean / length * supply.lead_time_spread
    z = NORMAL.inv_cdf(supply.service_level / 100)
    level: np.ndarray = mean + z * np.sqrt(variance.clip(0) + by_length**2)
    return level


def together(series: Sequence[float]) -> float:
    """The spread of independent parts together."""
    return math.sqrt(sum(each**2 for each in series))
