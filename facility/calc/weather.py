"""Weather as it is typed in at the unit: the wind's force from its speed."""

from bisect import bisect_right

from facility.calc.working import Input, Outcome, Source, calculation

# Lowest speed of each force from 1 to 12 [m/s], mean over ten minutes at ten metres.
_LOWEST_M_S = (0.3, 1.6, 3.4, 5.5, 8.0, 10.8, 13.9, 17.2, 20.8, 24.5, 28.5, 32.7)


@calculation(
    subject="weather",
    title="Wind force on the Beaufort scale",
    formula=r"B = \#\left\{ i : v \geq v_i \right\}",
    inputs=(
        Input("wind_speed", "m/s", "mean wind speed", low=0, high=75),
    ),
    results={"force": ""},
    source=Source(
        "WMO Manual on Codes (WMO-No. 306), code table 1100, Beaufort scale: the lowest speed of "
        "each force",
        "from memory",
    ),
    cautions=(
        "The scale means ten minutes at ten metres above open ground. A reading in the hand between "
        "buildings is lower, and says nothing of gusts.",
    ),
)  # fmt: skip
def wind_force(wind_speed: float) -> Outcome:
    """The force from 0 to 12 of a mean wind speed [m/s].

    >>> wind_force.of(wind_speed=5.5).value(), wind_force.of(wind_speed=5.4).value()
    (4.0, 3.0)
    """
    return Outcome({"force": float(bisect_right(_LOWEST_M_S, wind_speed))})
