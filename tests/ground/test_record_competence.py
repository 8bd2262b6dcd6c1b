"""Recording a qualification."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.people.models import Competence
from facility.refusals import WrongValue
from records.ground import services
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW

ACT = "ground.competence_recorded"
TODAY = NOW.date()


def record(ground, **changes):
    given = {"kind": "live_fire", "issued_on": TODAY, "expires_on": TODAY + dt.timedelta(days=365),
             "by": ground.admin, "at": NOW}  # fmt: skip
    person = changes.pop("person", ground.inspector)
    return services.record_competence(ground.site, person, **{**given, **changes})


def test_a_qualification_is_recorded_with_its_end(ground):
    with writes(ACT, Competence):
        record(ground)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_record_it(ground, role):
    with refuses_role():
        record(ground, person=ground.observer, by=actor(ground, role))


def test_nobody_records_a_qualification_of_their_own(ground):
    with refuses_own_work():
        record(ground, person=ground.manager, by=ground.manager)


@pytest.mark.parametrize("days", [0, -1])
def test_it_ends_after_it_was_issued(ground, days):
    with refuses(WrongValue, "expires_on"):
        record(ground, expires_on=TODAY + dt.timedelta(days=days))


def test_an_unknown_kind_is_refused(ground):
    with refuses(WrongValue, "kind"):
        record(ground, kind="swimming")


def test_people_of_another_ground_are_not_here(ground, other):
    with refuses(WrongValue, "person"):
        record(ground, person=other.instructor)
