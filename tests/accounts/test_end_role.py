"""Ending a role: at once or after a day, never one's own."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.people.models import RoleHeld
from facility.people.permissions import Role
from facility.people.selectors import former_on, grounds_of, roles_of
from facility.refusals import AlreadyDone, WrongValue
from records.accounts import services
from records.ground import services as ground_services
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW

ACT = "ground.role_ended"
TODAY = NOW.date()  # 21:00 that day in the ground's zone
DAY = dt.timedelta(days=1)


def end(ground, person=None, **changes):
    given = {"role": Role.STORES, "by": ground.admin, "at": NOW, "last_day": None}
    return services.end_role(ground.site, person or ground.stores, **{**given, **changes})


def test_a_role_ended_at_once_does_not_count_today_but_did_until_yesterday(ground):
    with writes(ACT, alters=[RoleHeld]):
        end(ground)
    assert roles_of(ground.stores, ground.site, TODAY) == set()
    assert grounds_of(ground.stores, NOW) == {}
    assert roles_of(ground.stores, ground.site, TODAY - DAY) == {Role.STORES}
    assert ground.stores in former_on(ground.site, TODAY)


def test_a_role_ended_after_a_day_counts_on_that_day(ground):
    end(ground, last_day=TODAY + 2 * DAY)
    days = [TODAY, TODAY + 2 * DAY, TODAY + 3 * DAY]
    assert [len(roles_of(ground.stores, ground.site, day)) for day in days] == [1, 1, 0]


def test_a_role_that_was_to_begin_later_never_begins(ground):
    ground_services.give_role(
        ground.site, ground.stores, role=Role.SAFETY, since=TODAY + 5 * DAY, by=ground.admin, at=NOW
    )
    end(ground, role=Role.SAFETY)
    assert roles_of(ground.stores, ground.site, TODAY + 9 * DAY) == {Role.STORES}


def test_a_role_begun_today_ends_today(ground):
    ground_services.give_role(
        ground.site, ground.stores, role=Role.SAFETY, since=TODAY, by=ground.admin, at=NOW
    )
    end(ground, role=Role.SAFETY)
    assert roles_of(ground.stores, ground.site, TODAY) == {Role.STORES}


def test_a_role_that_ended_can_be_given_again(ground):
    end(ground)
    ground_services.give_role(
        ground.site, ground.stores, role=Role.STORES, since=TODAY, by=ground.admin, at=NOW
    )
    assert roles_of(ground.stores, ground.site, TODAY) == {Role.STORES}


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_end_roles(ground, role):
    with refuses_role():
        end(ground, ground.stores_two, by=actor(ground, role))


def test_nobody_ends_a_role_of_their_own(ground):
    with refuses_own_work():
        end(ground, ground.admin, role=Role.ADMIN)


def test_the_administrator_of_another_ground_may_not(ground, other):
    with refuses_role():
        end(ground, by=other.admin)


@pytest.mark.parametrize("days", [-1, -400])
def test_a_role_does_not_end_in_the_past(ground, days):
    with refuses(WrongValue, "last_day"):
        end(ground, last_day=TODAY + days * DAY)


def test_a_role_that_is_not_held_cannot_end(ground, other):
    with refuses(WrongValue, "role"):
        end(ground, role=Role.SAFETY)
    with refuses(WrongValue, "role"):
        end(ground, other.stores)


def test_the_same_form_sent_twice_ends_one_role(ground):
    end(ground, once="form-1")
    with refuses(AlreadyDone):
        end(ground, once="form-1")
