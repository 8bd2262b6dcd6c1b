"""Plain decimals read a column of digits at a time are the very numbers that ``float`` gives."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.loggers.plain import plain_table
from facility.loggers.reading import reading, understand
from facility.loggers.summing import SMALLEST_SWING_K, cycles_of, seconds_above

CELL = st.one_of(
    st.just(""),
    st.integers(-(10**9), 10**9).map(str),
    st.decimals(-9999, 9999, places=3).map(lambda value: f"{value:f}"),
    st.sampled_from(["-0.5", ".5", "5.", "007", "-.25", "0"]),
)


@given(st.lists(st.lists(CELL, min_size=3, max_size=3), min_size=1, max_size=30))
def test_as_float_reads_them(rows):
    text = "".join(";".join(row) + "\n" for row in rows)
    found = plain_table(text, ";", 3)
    assert found is not None
    wanted = [[float(cell) if cell else np.nan for cell in row] for row in rows]
    np.testing.assert_array_equal(found, np.array(wanted))


@pytest.mark.parametrize(
    "text",
    ["1,nan\n", "1,2e5\n", "1, 2\n", "1,2,3\n", "1,2\n3\n", "1,2.3.4\n", "1,-\n", "1,.\n", "1,--2\n",
     "1,1234567890123456\n", "1,é\n", "1,+2\n", "1,2\n,3,\n"],
)  # fmt: skip
def test_another_text_goes_the_slow_way(text):
    assert plain_table(text, ",", 2) is None


def test_how_far_the_reading_is_rises_to_the_whole():
    rows = "".join(f"{second},{second % 700}.5\n" for second in range(120_000))
    steps = reading(("Time,TC1\ns,C\n" + rows).encode())
    shares = []
    while True:
        try:
            shares.append(next(steps))
        except StopIteration as done:
            found = done.value
            break
    assert len(shares) > 2
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert found.rows == 120_000


def test_a_part_that_is_not_plain_changes_nothing():
    plain = "".join(f"{second},{second}.25\n" for second in range(50))
    odd = plain.replace("7,7.25", "7,7.25e0").replace("9,9.25", "9, 9.25")
    both = [understand(("Time,TC1\ns,C\n" + body).encode()) for body in (plain, odd)]
    assert both[0].channels[0].values.tolist() == both[1].channels[0].values.tolist()


@given(st.lists(st.floats(0, 900), min_size=2, max_size=120))
def test_taking_the_ripple_off_changes_no_count(values):
    from facility.calc.wear import thermal_cycles

    series = np.array(values)
    whole = thermal_cycles.of(temperatures=values, smallest_range=SMALLEST_SWING_K).value()
    assert cycles_of(series).value() == whole


def test_time_above_by_hand_with_a_gap():
    """0 to 100 crosses 50 half way: 5 s; 100 to 100 is 10 s; then a gap, which counts nothing."""
    seconds = np.array([0.0, 10.0, 20.0, 30.0, 40.0])
    values = np.array([0.0, 100.0, 100.0, np.nan, 100.0])
    assert seconds_above(seconds, values, 50.0) == pytest.approx(15.0)
    assert seconds_above(seconds, values, 100.0) == 0.0
