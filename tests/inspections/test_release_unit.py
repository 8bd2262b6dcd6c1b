"""Returning a unit to service: never by those who were on the repair."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.people.permissions import Role
from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.ground import services as ground_services
from records.inspections import services as inspections
from records.inspections.models import Release
from records.inspections.selectors import unit_state
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW, verify

ACT = "inspections.unit_released"
LATER = NOW + dt.timedelta(hours=2)


@pytest.fixture
def defect(ground):
    return inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=NOW
    )  # fmt: skip


@pytest.fixture
def repaired(ground, defect):
    return repair(ground, defect)


def repair(ground, defect, **changes):
    given = {"what": "new hinge", "done_by": ground.inspector, "done_at": NOW, "at": NOW,
             "by": ground.inspector}  # fmt: skip
    inspections.record_repair(defect, **{**given, **changes})
    verify(ground, defect)
    return defect


def release(ground, defect, **changes):
    given = {"statement": "door sound", "by": ground.inspector_two, "at": LATER}
    return inspections.release_unit(defect, **{**given, **changes})


def test_a_release_closes_the_defect_and_the_unit_serves_again(ground, repaired):
    with writes(ACT, Release):
        release(ground, repaired)
    assert unit_state(ground.unit, LATER - dt.timedelta(minutes=1)).word == "out_of_service"
    assert unit_state(ground.unit, LATER).word == "in_service"


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_release(ground, repaired, role):
    with refuses_role():
        release(ground, repaired, by=actor(ground, role))


def test_who_did_the_repair_does_not_release_even_if_another_recorded_it(ground, defect):
    repair(ground, defect, done_by=ground.inspector_two, by=ground.inspector)
    with refuses_own_work():
        release(ground, defect)


def test_who_recorded_the_repair_does_not_release_even_if_another_did_it(ground, defect):
    repair(ground, defect, done_by=ground.stores, by=ground.inspector_two)
    with refuses_own_work():
        release(ground, defect)


def test_every_repair_of_the_defect_counts_not_only_the_last(ground, defect):
    repair(ground, defect, done_by=ground.inspector_two, by=ground.inspector)
    repair(ground, defect)
    with refuses_own_work():
        release(ground, defect)


def test_a_third_inspector_may_release(ground, defect):
    repair(ground, defect, done_by=ground.inspector_two, by=ground.inspector)
    ground_services.give_role(
        ground.site, ground.manager, role=Role.INSPECTOR, since=NOW.date(), by=ground.admin, at=NOW
    )  # fmt: skip
    with writes(ACT, Release):
        release(ground, defect, by=ground.manager)


def test_without_a_repair_there_is_nothing_to_release(ground, defect):
    with refuses(WrongState):
        release(ground, defect)


def test_a_defect_is_released_once(ground, repaired):
    release(ground, repaired)
    with refuses(WrongState):
        release(ground, repaired)


def test_one_release_closes_one_defect(ground, repaired):
    inspections.stop_unit(
        ground.unit, place="vent", description="stuck", by=ground.safety, at=NOW
    )  # fmt: skip
    release(ground, repaired)
    state = unit_state(ground.unit, LATER)
    assert (state.word, [defect.place for defect in state.defects]) == ("out_of_service", ["vent"])


@pytest.mark.parametrize("statement", ["", " ", "x" * 501, "\0"])
def test_the_statement_is_plain_text(ground, repaired, statement):
    with refuses(WrongValue, "statement"):
        release(ground, repaired, statement=statement)


def test_the_same_form_sent_twice_releases_once(ground, repaired):
    release(ground, repaired, once="form-1")
    with refuses(AlreadyDone):
        release(ground, repaired, once="form-1")
