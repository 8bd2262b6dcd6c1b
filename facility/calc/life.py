"""Life: how fast a wall thins and how long it will still do.

Law: the rate that gives the shorter life governs, and no measured loss is not endless life.
"""

import math
from collections.abc import Sequence

from facility.calc.working import (
    Input,
    Outcome,
    OutOfSense,
    Source,
    Step,
    calculation,
    check_increasing,
    check_parallel,
    check_whole,
)

LONG_TERM, SHORT_TERM, NO_LOSS = "long term", "short term", "no loss measured"

READINGS = (
    Input("thicknesses", "mm", "wall thickness at one point, oldest reading first", low=0,
          high=500, many=True),
    Input("ages", "year", "age of the wall at each reading, running forward", low=0, high=200,
          many=True),
)  # fmt: skip
LIFE_SOURCE = (
    "long-term and short-term rate of API 570 section 7.1.1 and API 510 section 7.1, the rate that "
    "gives the shorter life being the safe choice (read at fliphtml5.com/nkppv/oldl)"
)
LIFE_CAUTIONS = (
    "A life from thickness readings never extends or replaces an engineer's inspection. One point "
    "tells nothing of the next, and a thin spot behind a lining has no reading.",
)


def wall_rates(thicknesses: Sequence[float], ages: Sequence[float]) -> tuple[float, float]:
    """Loss per year [mm/year] since the first reading and since the one before the last."""
    check_parallel(thicknesses=thicknesses, ages=ages)
    check_increasing("ages", ages)
    if len(ages) < 2:
        raise OutOfSense("thicknesses", "1 value", "two or more values are allowed")
    long_term = (thicknesses[0] - thicknesses[-1]) / (ages[-1] - ages[0])
    short_term = (thicknesses[-2] - thicknesses[-1]) / (ages[-1] - ages[-2])
    return long_term, short_term


def _governing(long_term: float, short_term: float) -> tuple[float, str]:
    rate = max(long_term, short_term)
    if rate <= 0:
        return rate, NO_LOSS
    return rate, LONG_TERM if long_term >= short_term else SHORT_TERM


@calculation(
    subject="life",
    title="Rate of wall loss",
    formula=(
        r"r = \max\left(\frac{s_1 - s_n}{t_n - t_1}, \frac{s_{n-1} - s_n}{t_n - t_{n-1}}\right)"
    ),
    inputs=READINGS,
    results={"rate": "mm/year", "long_term": "mm/year", "short_term": "mm/year"},
    source=Source(LIFE_SOURCE),
    cautions=LIFE_CAUTIONS,
)
def wall_loss_rate(thicknesses: Sequence[float], ages: Sequence[float]) -> Outcome:
    """Wall loss [mm/year] from thickness readings [mm] at ages [year]; the worse rate governs.

    A rate of zero or less means that no loss was measured. Fewer than two readings, ages that
    turn back and series of different length raise ``OutOfSense``.

    >>> loss = wall_loss_rate.of(thicknesses=[7.8, 3.24], ages=[0, 15])
    >>> round(loss.value(), 3), loss.words["governing"]
    (0.304, 'long term')
    """
    long_term, short_term = wall_rates(thicknesses, ages)
    rate, governing = _governing(long_term, short_term)
    grown = "the wall reads thicker than before: check the gauge and the place"
    return Outcome(
        {"rate": rate, "long_term": long_term, "short_term": short_term},
        steps=[
            Step("rate since the first reading", long_term, "mm/year"),
            Step("rate since the reading before", short_term, "mm/year"),
        ],
        notes=[grown] if min(long_term, short_term) < 0 else [],
        words={"governing": governing},
    )


@calculation(
    subject="life",
    title="Remaining life of a wall",
    formula=r"L = \frac{s_n - s_{req}}{r}, \qquad t_{next} = \min(L/2,\, t_{max})",
    inputs=(
        *READINGS,
        Input("required_thickness", "mm", "thickness below which the wall is no longer fit", low=0,
              high=500),
        Input("longest_interval", "year", "longest time allowed to the next reading", low=0,
              above_low=True, high=50, default=10.0),
    ),
    results={"remaining_life": "year", "next_reading": "year", "rate": "mm/year"},
    source=Source(
        f"{LIFE_SOURCE}; next reading by half the remaining life (read at weldfabworld.com), at "
        "most 10 years (API 510 section 6.5.1.1, read in a public sheet)"
    ),
    cautions=LIFE_CAUTIONS,
)  # fmt: skip
def remaining_life(
    thicknesses: Sequence[float], ages: Sequence[float], required_thickness: float,
    longest_interval: float,
) -> Outcome:  # fmt: skip
    """Years [year] until a wall reaches its required thickness [mm], and to the next reading.

    Counted from the last reading. Without a measured loss the life is not known and the longest
    interval [year] holds; a wall at or under its required thickness has no life left. Refuses what
    ``wall_loss_rate`` refuses.

    >>> life = remaining_life.of(thicknesses=[7.8, 3.24], ages=[0, 15], required_thickness=0.37)
    >>> round(life.value(), 3), round(life.value("next_reading"), 2)
    (9.441, 4.72)
    """
    rate, governing = _governing(*wall_rates(thicknesses, ages))
    spare = thicknesses[-1] - required_thickness
    unknown, outside = math.nan, []
    if spare <= 0:
        life, outside = 0.0, ["the wall is at or under its required thickness"]
    elif governing == NO_LOSS:
        life, outside = unknown, ["no loss was measured, so the readings give no life"]
    else:
        life = spare / rate
    half = longest_interval if math.isnan(life) else life / 2.0
    return Outcome(
        {
            "remaining_life": life,
            "next_reading": min(half, longest_interval),
            "rate": rate,
        },
        steps=[Step("thickness to spare", spare, "mm"), Step("governing rate", rate, "mm/year")],
        outside=outside,
        words={"governing": governing},
    )


@calculation(
    subject="life",
    title="When a count is reached",
    formula=(
        r"t = T\,\frac{k}{n+1/2}\,F_{p}(2k,\,2n+1), \qquad \lambda \sim \Gamma(n+1/2,\,T)"
    ),
    inputs=(
        Input("events_left", "", "events until the count is reached", low=1, high=100_000),
        Input("events_seen", "", "events seen in the time observed", low=1, high=100_000),
        Input("days_seen", "day", "time observed", low=0, above_low=True, high=36_525),
        Input("share", "%", "share of the cases that the band holds", low=0, above_low=True,
              high=99.9, default=80.0),
    ),
    results={"days": "day", "early": "day", "late": "day"},
    source=Source(
        "waiting time to the k-th event of a Poisson process whose rate has the gamma posterior of "
        "n events in time T under the prior of Jeffreys; as a multiple of an F-distributed figure "
        "(Gelman et al., Bayesian Data Analysis, section 2.6; Hahn and Meeker, Statistical "
        "Intervals, chapter on Poisson prediction; both from memory)"
    ),
    cautions=(
        "It takes for granted that burns go on as they went in the time observed; a season that "
        "is planned otherwise ends otherwise.",
    ),
)  # fmt: skip
def time_to_count(
    events_left: float, events_seen: float, days_seen: float, share: float
) -> Outcome:
    """Days [day] until ``events_left`` more events have come, with the band around them.

    ``events_seen`` came within ``days_seen`` [day]. ``days`` is the median; ``early`` and ``late``
    hold ``share`` [%] of the cases between them. Counts are whole. Refuses a rate that nothing was
    seen of: without an event there is nothing to go by.

    >>> found = time_to_count.of(events_left=5, events_seen=7, days_seen=150, share=90)
    >>> round(found.value("early")), round(found.value("late"))
    (35, 254)
    """
    from scipy.special import fdtri  # costs a fifth of a second to load

    left = check_whole("events_left", events_left)
    seen = check_whole("events_seen", events_seen)
    per_event = days_seen / (seen + 0.5)
    outside = (100.0 - share) / 200.0
    early, middle, late = (
        float(left * per_event * fdtri(2 * left, 2 * seen + 1, each))
        for each in (outside, 0.5, 1.0 - outside)
    )
    return Outcome(
        {"days": middle, "early": early, "late": late},
        steps=[Step("time from one event to the next", days_seen / seen, "day")],
    )
