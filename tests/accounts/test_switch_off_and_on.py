"""Switching an account off and on again, and who may make a link to choose a password."""

from __future__ import annotations

import pytest

from facility.people.models import Person
from facility.people.permissions import Role
from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.accounts import services
from records.ground import services as ground_services
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW

OFF, ON, SET = "ground.person_disabled", "ground.person_enabled", "ground.password_link_made"


def off(ground, person=None, **changes):
    given = {"reason": "left the ground", "by": ground.admin, "at": NOW}
    services.disable_person(ground.site, person or ground.stores, **{**given, **changes})


def on(ground, person=None, **changes):
    given = {"reason": "came back", "by": ground.admin, "at": NOW}
    services.enable_person(ground.site, person or ground.stores, **{**given, **changes})


def let_in(ground, person=None, **changes):
    given = {"reason": "forgot it", "by": ground.admin, "at": NOW}
    return services.make_password_link(ground.site, person or ground.stores, **given | changes)


VERBS = [(OFF, off), (ON, on), (SET, let_in)]


def now(person: Person) -> Person:
    return Person.objects.get(pk=person.pk)


def test_whoever_is_switched_off_can_do_nothing_by_any_entrance(ground):
    with writes(OFF, alters=[Person]):
        off(ground)
    with refuses_role():
        ground_services.add_bay(ground.site, name="Bay 2", by=now(ground.stores), at=NOW)


def test_switched_on_again_the_person_works_as_before(ground):
    off(ground)
    with writes(ON, alters=[Person]):
        on(ground)
    ground_services.add_bay(ground.site, name="Bay 2", by=now(ground.stores), at=NOW)


@pytest.mark.parametrize(("act", "verb"), VERBS)
def test_only_administrators_may(ground, act, verb):
    for role in refused_roles(act):
        with refuses_role():
            verb(ground, ground.stores_two, by=actor(ground, role))


@pytest.mark.parametrize(("act", "verb"), VERBS)
def test_nobody_does_it_to_themselves(ground, act, verb):
    with refuses_own_work():
        verb(ground, ground.admin)


@pytest.mark.parametrize(("act", "verb"), VERBS)
def test_the_administrator_of_another_ground_may_not(ground, other, act, verb):
    with refuses_role():
        verb(ground, by=other.admin)


@pytest.mark.parametrize("verb", [off, let_in])
def test_an_account_that_another_ground_counts_on_is_not_taken_over(ground, other, verb):
    """An administrator of one ground would otherwise choose the password of another's manager."""
    ground_services.give_role(
        ground.site, other.manager, role=Role.STORES, since=NOW.date(), by=ground.admin, at=NOW
    )
    with refuses(WrongState):
        verb(ground, other.manager)


@pytest.mark.parametrize("verb", [off, on, let_in])
def test_a_learner_has_no_account(ground, verb):
    with refuses(WrongState):
        verb(ground, ground.learners[0])


def test_twice_off_and_twice_on_are_refused(ground):
    with refuses(WrongState):
        on(ground)
    off(ground)
    with refuses(WrongState):
        off(ground)


@pytest.mark.parametrize("reason", ["", " ", "x" * 301, "\0"])
@pytest.mark.parametrize("verb", [off, on, let_in])
def test_the_reason_is_plain_text(ground, verb, reason):
    with refuses(WrongValue, "reason"):
        verb(ground, reason=reason)


@pytest.mark.parametrize("verb", [off, let_in])
def test_the_same_form_sent_twice_acts_once(ground, verb):
    verb(ground, once="form-1")
    with refuses(AlreadyDone):
        verb(ground, once="form-1")
