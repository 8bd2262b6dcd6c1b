"""Switching an account off and on again, and letting somebody in who forgot the password."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.people.models import Person, RecoveryCode, SecondFactor
from facility.people.permissions import Role
from facility.people.selectors import has_second_factor
from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.accounts import services
from records.ground import services as ground_services
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW, PASSWORD

OFF, ON, SET = "ground.person_disabled", "ground.person_enabled", "ground.password_set"
ANOTHER = "quite another long one"


def off(ground, person=None, **changes):
    given = {"reason": "left the ground", "by": ground.admin, "at": NOW}
    services.disable_person(ground.site, person or ground.stores, **{**given, **changes})


def on(ground, person=None, **changes):
    given = {"reason": "came back", "by": ground.admin, "at": NOW}
    services.enable_person(ground.site, person or ground.stores, **{**given, **changes})


def let_in(ground, person=None, **changes):
    given = {"password": ANOTHER, "by": ground.admin, "at": NOW}
    services.set_first_password(ground.site, person or ground.stores, **{**given, **changes})


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
@pytest.mark.parametrize("verb", [off, on])
def test_the_reason_is_plain_text(ground, verb, reason):
    with refuses(WrongValue, "reason"):
        verb(ground, reason=reason)


def test_a_first_password_lets_in_for_a_week_and_is_to_be_changed(ground):
    with writes(SET, alters=[Person]):
        let_in(ground)
    person = now(ground.stores)
    assert person.check_password(ANOTHER)
    assert not person.check_password(PASSWORD)
    assert person.first_password_until == NOW + dt.timedelta(days=7)
    assert person.must_change_password


def test_whoever_lost_the_phone_gets_in_without_the_second_factor(ground):
    builders.with_factor(ground.stores, NOW)
    with writes(SET, alters=[Person, SecondFactor, RecoveryCode]):
        let_in(ground, phone_lost=True)
    assert not has_second_factor(ground.stores)


def test_a_forgotten_password_alone_leaves_the_second_factor_on(ground):
    builders.with_factor(ground.stores, NOW)
    let_in(ground)
    assert has_second_factor(ground.stores)


@pytest.mark.parametrize(
    "password", ["", "fourteen chars", "1q2w3e4r5t6y7u8i9o0p", "the stores officer"]
)
def test_a_first_password_is_no_easier_than_another(ground, password):
    with refuses(WrongValue, "password"):
        let_in(ground, password=password)


@pytest.mark.parametrize("verb", [off, let_in])
def test_the_same_form_sent_twice_acts_once(ground, verb):
    verb(ground, once="form-1")
    with refuses(AlreadyDone):
        verb(ground, once="form-1")
