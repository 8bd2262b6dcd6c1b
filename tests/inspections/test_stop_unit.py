"""Taking a unit out of service at once."""

from __future__ import annotations

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.inspections import services as inspections
from records.inspections.models import Defect
from records.inspections.selectors import unit_state
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "inspections.unit_stopped"


def stop(ground, **changes):
    given = {"place": "door", "description": "hinge torn", "by": ground.instructor, "at": NOW}
    return inspections.stop_unit(ground.unit, **{**given, **changes})


@pytest.mark.parametrize("who", ["stores", "manager", "instructor", "safety", "inspector"])
def test_anyone_who_works_here_may_stop_a_unit(ground, who):
    neighbour = builders.commission(ground, "Unit 2")
    with writes(ACT, Defect):
        stop(ground, by=ground.cast[who])
    assert unit_state(ground.unit, NOW).word == "out_of_service"
    assert unit_state(neighbour, NOW).word == "in_service"


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_stop_a_unit(ground, role):
    with refuses_role():
        stop(ground, by=actor(ground, role))


def test_people_of_another_ground_may_not(ground, other):
    with refuses_role():
        stop(ground, by=other.safety)


@pytest.mark.parametrize(
    ("field", "text"),
    [("place", ""), ("place", "x" * 81), ("description", " "), ("description", "x" * 501),
     ("description", "\a")],
)  # fmt: skip
def test_where_and_what_are_plain_text(ground, field, text):
    with refuses(WrongValue, field):
        stop(ground, **{field: text})


def test_the_same_tap_sent_twice_opens_one_defect(ground):
    stop(ground, once="tap-1")
    with refuses(AlreadyDone):
        stop(ground, once="tap-1")
