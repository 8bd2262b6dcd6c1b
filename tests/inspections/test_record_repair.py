"""Recording the repair of a defect."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.inspections import services as inspections
from records.inspections.models import Repair
from records.inspections.selectors import unit_state
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW, verify

ACT = "inspections.repair_recorded"
LATER = NOW + dt.timedelta(hours=2)


@pytest.fixture
def defect(ground):
    return inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=NOW
    )  # fmt: skip


def repair(ground, defect, **changes):
    given = {"what": "new hinge", "done_by": ground.inspector, "done_at": LATER, "at": LATER,
             "by": ground.inspector}  # fmt: skip
    return inspections.record_repair(defect, **{**given, **changes})


def test_a_repair_is_recorded_and_the_unit_still_waits_for_its_release(ground, defect):
    with writes(ACT, Repair):
        repair(ground, defect)
    assert unit_state(ground.unit, LATER).word == "out_of_service"


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_record_a_repair(ground, defect, role):
    with refuses_role():
        repair(ground, defect, by=actor(ground, role))


@pytest.mark.parametrize("what", ["", " ", "x" * 501, "\0"])
def test_the_work_is_described_in_plain_text(ground, defect, what):
    with refuses(WrongValue, "what"):
        repair(ground, defect, what=what)


@pytest.mark.parametrize("minutes", [-1, 123])
def test_a_repair_lies_between_the_defect_and_now(ground, defect, minutes):
    with refuses(WrongValue, "done_at"):
        repair(ground, defect, done_at=NOW + dt.timedelta(minutes=minutes))


def test_who_is_not_of_this_ground_did_not_repair_here(ground, defect, other):
    with refuses(WrongValue, "done_by"):
        repair(ground, defect, done_by=other.inspector)


def test_a_closed_defect_takes_no_further_repair(ground, defect):
    repair(ground, defect)
    verify(ground, defect, at=LATER)
    inspections.release_unit(defect, statement="sound", by=ground.inspector_two, at=LATER)
    with refuses(WrongState):
        repair(ground, defect)


def test_the_same_form_sent_twice_is_recorded_once(ground, defect):
    repair(ground, defect, once="form-1")
    with refuses(AlreadyDone):
        repair(ground, defect, once="form-1")
