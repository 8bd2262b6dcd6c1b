"""What was checked after a repair is the evidence; without it a defect stays open."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.inspections import services as inspections
from records.inspections.models import Verification
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "inspections.repair_verified"
LATER = NOW + dt.timedelta(hours=2)


@pytest.fixture
def repaired(ground):
    defect = inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=NOW
    )
    inspections.record_repair(
        defect, what="new hinge", done_by=ground.inspector, done_at=NOW, by=ground.inspector, at=NOW
    )
    return defect


def verify(ground, defect, **changes):
    given = {"checked": "swung ten times", "holds": True, "done_at": LATER, "at": LATER,
             "by": ground.inspector_two}  # fmt: skip
    return inspections.verify_repair(defect, **{**given, **changes})


def release(ground, defect):
    inspections.release_unit(defect, statement="sound", by=ground.inspector_two, at=LATER)


def test_a_check_is_recorded_and_the_defect_can_be_closed(ground, repaired):
    with writes(ACT, Verification):
        verify(ground, repaired)
    release(ground, repaired)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_record_a_check(ground, repaired, role):
    with refuses_role():
        verify(ground, repaired, by=actor(ground, role))


def test_a_defect_without_evidence_is_not_closed(ground, repaired):
    with refuses(WrongState) as caught:
        release(ground, repaired)
    assert "evidence" in caught.value.sentence


def test_a_repair_that_does_not_hold_is_no_evidence(ground, repaired):
    verify(ground, repaired, holds=False)
    with refuses(WrongState):
        release(ground, repaired)


@pytest.mark.parametrize("checked", ["", " ", "x" * 501, "\0"])
def test_what_was_checked_is_plain_text(ground, repaired, checked):
    with refuses(WrongValue, "checked"):
        verify(ground, repaired, checked=checked)


@pytest.mark.parametrize("minutes", [-1, 123])
def test_a_check_lies_between_the_repair_and_now(ground, repaired, minutes):
    with refuses(WrongValue, "done_at"):
        verify(ground, repaired, done_at=NOW + dt.timedelta(minutes=minutes))


def test_the_same_form_sent_twice_is_recorded_once(ground, repaired):
    verify(ground, repaired, once="form-1")
    with refuses(AlreadyDone):
        verify(ground, repaired, once="form-1")
