"""Wrong passwords slow down whoever guesses, and lock nobody out."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.people import throttle
from facility.people.models import Tries
from facility.people.throttle import LONGEST_WAIT_S, take, wait_after, watched
from tests.builders import NOW

ACCOUNT = watched("account", "somebody")


def after(seconds: float) -> dt.datetime:
    return NOW + dt.timedelta(seconds=seconds)


@pytest.mark.parametrize(
    ("count", "wait"),
    [(0, 0), (2, 0), (3, 1), (4, 2), (5, 4), (12, 512), (13, 900), (99, 900), (10**6, 900)],
)
def test_the_wait_doubles_from_the_third_on_and_stays_at_a_quarter_of_an_hour(count, wait):
    """The series 1, 2, 4 s is our own choice; common practice, no source."""
    assert wait_after(count, free=3) == wait


def judged(times: list[float]) -> list[float]:
    """At which of these moments a try would be judged, all of them wrong."""
    return [second for second in times if take([ACCOUNT], after(second)).wait_s == 0]


def test_of_a_thousand_tries_in_a_minute_at_most_ten_are_judged(db):
    """Three at once, then at 1, 3, 7, 15 and 31 s: eight; the next would come at 63 s."""
    assert len(judged([0.06 * number for number in range(1000)])) == 8


def test_a_day_of_guessing_judges_about_a_hundred_tries(db):
    """A quarter of an hour each: 96 a day, and those before the wait has grown."""
    assert 96 <= len(judged([10 * number for number in range(8640)])) <= 110


def test_what_is_turned_away_does_not_prolong_the_wait(db):
    for second in (0, 0, 0):
        assert take([ACCOUNT], after(second)).wait_s == 0
    assert take([ACCOUNT], after(0.5)).wait_s == 1
    assert take([ACCOUNT], after(0.9)).wait_s == 1
    assert take([ACCOUNT], after(1)).wait_s == 0


def test_only_the_first_turned_away_in_a_wait_is_untold(db):
    """So that whoever guesses cannot fill the log either."""
    for _try in range(3):
        take([ACCOUNT], NOW)
    assert [take([ACCOUNT], NOW).untold for _try in range(3)] == [True, False, False]


def test_a_right_try_forgets_the_wrong_ones(db):
    for _try in range(3):
        take([ACCOUNT], NOW)
    throttle.forget([ACCOUNT])
    assert take([ACCOUNT], NOW).wait_s == 0


def test_wrong_tries_are_forgotten_after_a_day(db):
    for second in range(0, 9000, 1000):
        take([ACCOUNT], after(second))
    assert take([ACCOUNT], after(8001)).wait_s > 0
    assert take([ACCOUNT], after(8000 + 86_401)).wait_s == 0
    assert Tries.objects.get().count == 1


def test_counts_of_yesterday_are_removed_when_a_new_one_begins(db):
    take([watched("account", "old")], NOW)
    take([ACCOUNT], after(86_401))
    assert list(Tries.objects.values_list("key", flat=True)) == [ACCOUNT.key]


def test_one_thing_watched_does_not_slow_another(db):
    for _try in range(9):
        take([ACCOUNT], NOW)
    assert take([watched("account", "another")], NOW).wait_s == 0
    assert take([watched("code", "somebody")], NOW).wait_s == 0


def test_the_longer_wait_of_several_counts_and_a_try_turned_away_counts_on_none(db):
    address = watched("address", "192.0.2.1", free=20)
    for _try in range(4):
        take([ACCOUNT], NOW)
    assert take([ACCOUNT, address], NOW).wait_s == 2 ** (3 - 3)
    assert Tries.objects.get(key=address.key).count == 0


def test_names_and_addresses_are_not_kept_in_the_clear(db):
    take([watched("account", "somebody"), watched("address", "192.0.2.1")], NOW)
    kept = " ".join(Tries.objects.values_list("key", flat=True))
    assert "somebody" not in kept
    assert "192.0.2.1" not in kept


def test_the_longest_wait_is_no_lock():
    assert LONGEST_WAIT_S <= 15 * 60
