"""Series kept small come back as they were, within half a step."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.loggers.packing import packed, packed_times, scale_of, unpacked, unpacked_times
from facility.loggers.summing import seconds_above

VALUES = st.lists(st.floats(-3200, 3200) | st.just(float("nan")), min_size=1, max_size=50)


@given(st.lists(st.tuples(VALUES), min_size=1, max_size=4))
def test_channels_come_back_within_half_a_step(channels):
    length = min(len(values) for (values,) in channels)
    arrays = [np.array(values[:length]) for (values,) in channels]
    blob, scales = packed(arrays)
    for given_values, back, scale in zip(
        arrays, unpacked(blob, scales, length), scales, strict=True
    ):
        assert (np.isnan(given_values) == np.isnan(back)).all()
        known = np.isfinite(given_values)
        assert np.abs(given_values[known] - back[known]).max(initial=0) <= 0.5 / scale + 1e-9


def test_a_jump_over_the_whole_range_wraps_and_comes_back():
    values = np.array([-3276.0, 3276.0, -3276.0])
    blob, scales = packed([values])
    assert unpacked(blob, scales, 3)[0].tolist() == values.tolist()


def test_the_scale_fits_and_what_fits_none_is_refused():
    assert scale_of(np.array([3276.7])) == 10
    assert scale_of(np.array([3276.8])) == 1
    assert scale_of(np.array([np.nan])) == 1000
    with pytest.raises(ValueError, match="too large"):
        scale_of(np.array([1e9]))


@given(st.lists(st.integers(-(10**9), 10**9), min_size=1, max_size=60).map(sorted))
def test_times_come_back_to_the_millisecond(milliseconds):
    seconds = np.array(milliseconds) / 1000
    assert np.allclose(unpacked_times(packed_times(seconds)), seconds, atol=5e-4)


def test_an_even_step_costs_next_to_nothing():
    assert len(packed_times(np.arange(3600.0))) < 100


def test_no_time_is_made_up_across_a_gap():
    seconds = np.array([0.0, 10, 20, 30])
    assert seconds_above(seconds, np.array([100.0, np.nan, 100, 100]), 50) == 10
    assert seconds_above(seconds, np.array([50.0, 50, 50, 50]), 50) == 0
