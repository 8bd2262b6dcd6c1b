"""When an event happened, from clocks that may be wrong.

The figures are made up; what they must give follows from the rule in the module by hand.
"""

from __future__ import annotations

from dataclasses import replace

from facility.yard.clock import Anchor, ClockDoubt, Reading, Sent, Timed, same_time, timed

NOON = 1_770_000_000_000
HOUR, MINUTE = 3_600_000, 60_000
ANCHOR = Anchor(server=NOON, wall=NOON + 500, mono=10_000, rtt=200, boot="a")


def at(minutes: float, *, wall: int = 0, mono: int = 0, boot: str = "a") -> Reading:
    """Both clocks so long after the anchor, each off by so much."""
    later = int(minutes * MINUTE)
    return Reading(ANCHOR.wall + later + wall, ANCHOR.mono + later + mono, boot)


def test_an_event_is_at_the_anchor_plus_what_was_counted():
    found = timed(at(10), ANCHOR, None)
    assert found == Timed(NOON + 10 * MINUTE, 100 + 30, ())  # half the answer; 50 ppm of 600 s


def test_a_wall_clock_set_by_three_hours_moves_nothing_but_is_doubted():
    for moved in (3 * HOUR, -3 * HOUR):
        found = timed(at(10, wall=moved), ANCHOR, None)
        assert found.at == NOON + 10 * MINUTE
        assert found.within_ms >= 3 * HOUR
        assert found.doubts == (ClockDoubt.JUMP,)


def test_clocks_that_differ_by_two_seconds_agree():
    assert timed(at(10, wall=2_000), ANCHOR, None).doubts == ()
    assert timed(at(10, wall=2_001), ANCHOR, None).doubts == (ClockDoubt.JUMP,)


def test_sleep_that_was_not_counted_shows_by_the_wall_clock():
    """20 minutes asleep, of which the count knows nothing."""
    found = timed(at(10, wall=20 * MINUTE), ANCHOR, None)
    assert found.doubts == (ClockDoubt.JUMP,)
    assert found.latest >= NOON + 30 * MINUTE  # the true time lies within


def test_sleep_shows_by_the_server_even_when_the_wall_clock_slept_too():
    sent = Sent(at(15), server=NOON + 35 * MINUTE)
    found = timed(at(10), ANCHOR, sent)
    assert found.doubts == (ClockDoubt.JUMP,)
    assert found.latest >= NOON + 30 * MINUTE


def test_after_a_restart_only_the_wall_clock_is_left():
    found = timed(at(10, boot="b", mono=-600_000), ANCHOR, None)
    assert (found.at, found.doubts) == (NOON + 10 * MINUTE, (ClockDoubt.RESTART,))
    assert found.within_ms > timed(at(10), ANCHOR, None).within_ms


def test_a_device_never_told_the_time_counts_back_from_its_sending():
    sent = Sent(Reading(5 * MINUTE, 40 * MINUTE, "a"), server=NOON)
    found = timed(Reading(0, 30 * MINUTE, "a"), None, sent)
    assert (found.at, found.doubts) == (NOON - 10 * MINUTE, (ClockDoubt.NONE,))


def test_never_told_and_started_anew_leaves_the_wall_clock_as_it_was_off():
    sent = Sent(Reading(NOON + HOUR, 0, "b"), server=NOON)
    found = timed(Reading(NOON + HOUR - MINUTE, 30 * MINUTE, "a"), None, sent)
    assert (found.at, found.doubts) == (NOON - MINUTE, (ClockDoubt.NONE,))
    assert timed(Reading(NOON, 0, "a"), None, None).at == NOON


def test_more_than_five_minutes_ahead_is_doubted():
    sent = Sent(at(0, boot="b"), server=NOON)
    assert ClockDoubt.FUTURE in timed(at(6), ANCHOR, sent).doubts
    assert ClockDoubt.FUTURE not in timed(at(5), ANCHOR, sent).doubts


def test_before_the_anchor_is_doubted():
    assert timed(at(-0.1), ANCHOR, None).doubts == (ClockDoubt.BEFORE_ANCHOR,)
    doubts = timed(at(-0.1, boot="b"), ANCHOR, None).doubts
    assert doubts == (ClockDoubt.RESTART, ClockDoubt.BEFORE_ANCHOR)


def test_events_within_each_others_uncertainty_are_at_the_same_time():
    one = Timed(NOON, 100, ())
    assert same_time(one, replace(one, at=NOON + 200))
    assert not same_time(one, replace(one, at=NOON + 201))
