"""Stepping a set of mildly stiff equations through time without a Jacobian.

The Runge-Kutta-Chebyshev method of second order of Sommeijer, Shampine and Verwer, Journal of
Computational and Applied Mathematics 88 (1998) 315-326, with their step control. More stages
reach further along the negative axis, where the gas layers and the wall have their rates. States
are lists of floats: for so few of them that is faster than arrays.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache

# More damping than the paper's 2/13, since layers and neutral plane swing a little; the method is
# then stable for (stages^2 - 1) times ``REACH``, from its own stability polynomial.
DAMPING, REACH = 0.5, 0.62
FEWEST, MOST = 2, 24

State = list[float]
Rates = Callable[[float, State], State]


@lru_cache(maxsize=MOST)
def _coefficients(stages: int) -> tuple[float, tuple[tuple[float, ...], ...]]:
    """First weight, and per later stage (time, own, last, before last, rate, first rate)."""
    argument = 1.0 + DAMPING / stages**2
    value, first, second = _chebyshev(stages, argument)
    pull = first[stages] / second[stages]
    b = [0.0, 0.0] + [second[j] / first[j] ** 2 for j in range(2, stages + 1)]
    b[0] = b[1] = b[2]
    times = [0.0, 0.0] + [pull * second[j] / first[j] for j in range(2, stages + 1)]
    times[1] = times[2] / first[2]
    rows = []
    for j in range(2, stages + 1):
        last, before = 2.0 * b[j] * argument / b[j - 1], -b[j] / b[j - 2]
        rate = 2.0 * b[j] * pull / b[j - 1]
        start = -(1.0 - b[j - 1] * value[j - 1]) * rate
        rows.append((times[j - 1], 1.0 - last - before, last, before, rate, start))
    return b[1] * pull, tuple(rows)


def _chebyshev(degree: int, x: float) -> tuple[list[float], list[float], list[float]]:
    """Chebyshev polynomials up to a degree at x, with their first and second derivatives."""
    value, first, second = [1.0, x], [0.0, 1.0], [0.0, 0.0]
    for j in range(2, degree + 1):
        value.append(2.0 * x * value[j - 1] - value[j - 2])
        first.append(2.0 * value[j - 1] + 2.0 * x * first[j - 1] - first[j - 2])
        second.append(4.0 * first[j - 1] + 2.0 * x * second[j - 1] - second[j - 2])
    return value, first, second


def step(rates: Rates, time: float, state: State, rate: State, length: float, stages: int) -> State:
    """The state one step of ``length`` [s] later; ``rate`` is that at the start."""
    weight, rows = _coefficients(stages)
    before = state
    last = [y + weight * length * f for y, f in zip(state, rate, strict=True)]
    for at, own, near, far, push, start in rows:
        push, start, now = push * length, start * length, rates(time + at * length, last)
        before, last = (
            last,
            [
                own * y + near * b + far * a + push * f + start * f0
                for y, b, a, f, f0 in zip(state, last, before, now, rate, strict=True)
            ],
        )
    return last


def _error(
    old: State, new: State, rate: State, new_rate: State, length: float, allowed: Sequence[float]
) -> float:
    """Size of the step's error against what is allowed, equation 2.7 of the paper."""
    total = 0.0
    for y, z, f, g, t in zip(old, new, rate, new_rate, allowed, strict=True):
        gap = (0.8 * (y - z) + 0.4 * length * (f + g)) / t
        total += gap * gap
    return math.sqrt(total / len(old))


def march(
    rates: Rates, stiffness: Callable[[], float], start: float, end: float, state: State,
    allowed: Sequence[float], longest: float, first: float,
) -> Iterator[tuple[float, State]]:  # fmt: skip
    """Give (time, state) after each accepted step from ``start`` to ``end`` [s].

    ``allowed`` is the error allowed per step for each part of the state; ``stiffness`` gives a
    bound [1/s] on how fast the equations pull, at the state last handed to ``rates``. When a
    step is given out, ``rates`` has just been called at its end.
    """
    time, length, rate = start, first, rates(start, state)
    while end - time > 1e-9 * max(1.0, end):
        pull = stiffness()
        length = min(length, longest, REACH * (MOST * MOST - 1.0) / pull)
        left = end - time
        length = left / max(1, math.ceil(left / length)) if length > 0.5 * left else length
        stages = max(FEWEST, math.ceil(math.sqrt(1.0 + length * pull / REACH)))
        new = step(rates, time, state, rate, length, stages)
        new_rate = rates(time + length, new)
        error = _error(state, new, rate, new_rate, length, allowed)
        if error <= 1.0:
            time, state, rate = time + length, new, new_rate
            yield time, state
        else:
            rates(time, state)
        length *= min(4.0, max(0.2, 0.8 * max(error, 1e-9) ** (-1.0 / 3.0)))
