"""Giving a role: duties stay separated."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.guarded import opened
from facility.people.models import RoleHeld
from facility.people.permissions import OPERATIONAL, Role
from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.ground import services
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW

ACT = "ground.role_given"
TODAY = NOW.date()


def give(ground, person, role, **changes):
    given = {"role": role, "since": TODAY, "by": ground.admin, "at": NOW}
    return services.give_role(ground.site, person, **{**given, **changes})


def test_a_second_working_role_is_given(ground):
    with writes(ACT, RoleHeld):
        give(ground, ground.manager, Role.INSTRUCTOR)
    assert set(ground.manager.roles.values_list("role", flat=True)) == {"manager", "instructor"}


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_give_roles(ground, role):
    with refuses_role():
        give(ground, ground.manager_two, Role.STORES, by=actor(ground, role))


@pytest.mark.parametrize("role", list(Role))
def test_nobody_gives_a_role_to_themselves(ground, role):
    with refuses_own_work():
        give(ground, ground.admin, role)


@pytest.mark.parametrize("role", sorted(OPERATIONAL | {Role.ADMIN}))
def test_an_auditor_holds_no_other_role(ground, role):
    with refuses(WrongState):
        give(ground, ground.auditor, role)


@pytest.mark.parametrize("alone", [Role.AUDITOR, Role.ADMIN])
@pytest.mark.parametrize("days", [-30, 0, 30])
def test_who_works_here_does_not_become_auditor_or_administrator(ground, alone, days):
    """Not from an earlier day either: the two roles would be held together later on."""
    with refuses(WrongState):
        give(ground, ground.stores, alone, since=TODAY + dt.timedelta(days=days))


def test_a_role_is_not_given_twice(ground):
    with refuses(WrongValue, "role"):
        give(ground, ground.stores, Role.STORES)


def test_the_database_itself_refuses_a_role_that_ends_before_it_starts(ground):
    held = RoleHeld.objects.get(person=ground.stores)
    held.until = held.since - dt.timedelta(days=1)
    with opened(), pytest.raises(Exception, match="role_ends_after_start"):
        held.save()


def test_the_same_form_sent_twice_gives_one_role(ground):
    give(ground, ground.manager, Role.INSTRUCTOR, once="form-1")
    with refuses(AlreadyDone):
        give(ground, ground.manager, Role.SAFETY, once="form-1")
