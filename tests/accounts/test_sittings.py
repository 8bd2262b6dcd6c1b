"""A sitting ends after 30 minutes of nothing, and after 12 hours in any case."""

from __future__ import annotations

import datetime as dt

import pytest
from django.utils import timezone

from facility.people import sitting
from tests import builders


@pytest.fixture
def ground(db):
    return builders.found_ground(at=timezone.now() - dt.timedelta(days=1))


@pytest.fixture
def clock(monkeypatch):
    """A clock that the tests move on."""

    class Clock:
        start = timezone.now()
        minutes = 0.0

        def now(self) -> dt.datetime:
            return self.start + dt.timedelta(minutes=self.minutes)

    clock = Clock()
    monkeypatch.setattr(sitting.timezone, "now", clock.now)
    return clock


def opens(client) -> bool:
    return client.get("/store/").status_code == 200


@pytest.mark.parametrize(("idle", "open_still"), [(29, True), (30, True), (31, False)])
def test_half_an_hour_of_nothing_ends_it(ground, signed_in, clock, idle, open_still):
    client = signed_in(ground.stores)
    assert opens(client)
    clock.minutes += idle
    assert opens(client) is open_still


def test_an_ended_sitting_can_neither_read_nor_write_again(ground, signed_in, clock):
    client = signed_in(ground.stores)
    assert opens(client)
    clock.minutes += 31
    assert client.post("/store/products/new/", {}).status_code == 302
    clock.minutes -= 31
    assert not opens(client)


@pytest.mark.parametrize(("minutes", "open_still"), [(12 * 60, True), (12 * 60 + 20, False)])
def test_twelve_hours_end_it_however_busy(ground, signed_in, clock, minutes, open_still):
    client = signed_in(ground.stores)
    while clock.minutes <= minutes - 20:
        assert opens(client)
        clock.minutes += 20
    clock.minutes = minutes
    assert opens(client) is open_still


@pytest.mark.parametrize(("touched", "open_still"), [(True, True), (False, False)])
def test_a_script_that_asks_by_itself_keeps_no_sitting_open(
    ground, signed_in, clock, touched, open_still
):
    """The yard page asks every quarter of a minute, and says for how long nobody touched it."""
    client = signed_in(ground.instructor)
    assert client.get("/yard/hello/").status_code == 200
    for minute in range(1, 32):
        clock.minutes = minute
        untouched = "0" if touched else str(minute * 60)
        last = client.get("/yard/hello/", headers={"X-Untouched": untouched}).status_code
    assert (last == 200) is open_still


def test_it_is_noted_once_a_minute_that_it_goes_on(ground, signed_in, clock):
    client = signed_in(ground.stores)
    assert opens(client)
    first = client.session[sitting.SEEN]
    clock.minutes += 0.5
    assert opens(client)
    assert client.session[sitting.SEEN] == first
    clock.minutes += 0.6
    assert opens(client)
    assert client.session[sitting.SEEN] > first
