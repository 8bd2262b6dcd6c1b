"""Adding a person to the ground."""

from __future__ import annotations

import pytest

from facility.people.models import Person, PersonDetails, RoleHeld
from facility.people.permissions import Role
from facility.refusals import AlreadyDone, WrongValue
from records.ground import services
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW, PASSWORD

ACT = "ground.person_added"


def add(ground, **changes):
    given = {"name": "A new one", "sign_in": "new-one", "password": PASSWORD, "at": NOW,
             "role": Role.STORES, "since": NOW.date(), "by": ground.admin}  # fmt: skip
    return services.add_person(ground.site, **{**given, **changes})


def test_a_person_is_added_with_a_first_role(ground):
    with writes(ACT, Person, PersonDetails, RoleHeld):
        person = add(ground, sign_in="New-One")
    assert (person.name, person.sign_in) == ("A new one", "new-one")
    assert person.check_password(PASSWORD)
    assert person.roles.get().role == Role.STORES


def test_a_learner_has_no_sign_in(ground):
    with refuses(WrongValue, "sign_in"):
        add(ground, role=Role.LEARNER, course="Course A")


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_add_people(ground, role):
    with refuses_role():
        add(ground, by=actor(ground, role))


def test_the_administrator_of_another_ground_may_not(ground, other):
    with refuses_role():
        add(ground, by=other.admin)


@pytest.mark.parametrize(
    ("field", "text"),
    [("name", ""), ("name", "x" * 81), ("name", "\0"), ("sign_in", "x" * 41), ("sign_in", "a\ab")],
)
def test_name_and_sign_in_are_plain_and_short(ground, field, text):
    with refuses(WrongValue, field):
        add(ground, **{field: text})


@pytest.mark.parametrize("password", ["short", "12345678901234", "password1234"])
def test_a_password_that_is_easily_guessed_is_refused(ground, password):
    with refuses(WrongValue, "password"):
        add(ground, password=password)


def test_a_sign_in_is_never_used_twice_in_any_case_on_any_ground(ground, other):
    with refuses(WrongValue, "sign_in"):
        add(ground, sign_in="TEST-STORES")
    with refuses(WrongValue, "sign_in"):
        add(other, sign_in="test-stores")


def test_a_learner_belongs_to_a_course_and_has_no_password(ground):
    learner = add(ground, role=Role.LEARNER, sign_in="", password="", course="Course B")
    assert not learner.has_usable_password()
    with refuses(WrongValue, "course"):
        add(ground, role=Role.LEARNER, sign_in="", password="")


def test_the_same_form_sent_twice_adds_one_person(ground):
    first = add(ground, once="form-1")
    with refuses(AlreadyDone) as caught:
        add(ground, sign_in="other", once="form-1")
    assert caught.value.public_id == first.public_id


def test_a_password_kept_by_an_older_hash_still_signs_in_and_is_not_rewritten(ground, settings):
    """The framework would write the new hash at once, without an entry in the log."""
    hashers = "django.contrib.auth.hashers."
    settings.PASSWORD_HASHERS = [f"{hashers}ScryptPasswordHasher", f"{hashers}MD5PasswordHasher"]
    before = ground.stores.password
    assert ground.stores.check_password(PASSWORD)
    assert not ground.stores.check_password("another one")
    assert Person.objects.get(pk=ground.stores.pk).password == before
