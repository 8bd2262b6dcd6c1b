"""Recording a structural inspection."""

from __future__ import annotations

import datetime as dt

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.inspections import services as inspections
from records.inspections.checklists import STRUCTURAL
from records.inspections.models import Defect, Inspection, InspectionItem
from records.inspections.selectors import unit_state
from records.inspections.services import DefectFound
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "inspections.unit_inspected"
TORN = DefectFound("unsafe", "door", "hinge torn")


def inspect(ground, **changes):
    given = {"outcome": "good", "items": dict.fromkeys(map(str, STRUCTURAL), True), "note": "", "done_at": NOW, "at": NOW,
             "by": ground.inspector}  # fmt: skip
    return inspections.inspect_unit(ground.unit, **{**given, **changes})


def test_an_inspection_is_filed_and_dates_the_unit(ground):
    neighbour = builders.commission(ground, "Unit 2", at=NOW - dt.timedelta(days=3))
    with writes(ACT, Inspection, InspectionItem):
        inspect(ground)
    assert unit_state(ground.unit, NOW).inspected_at == NOW
    assert unit_state(neighbour, NOW).inspected_at == NOW - dt.timedelta(days=3)


def test_every_part_of_the_unit_is_looked_at(ground):
    with refuses(WrongValue, "items"):
        inspect(ground, items={})


def test_a_part_that_is_not_in_order_is_described_as_a_defect(ground):
    torn = {str(item): item != STRUCTURAL[0] for item in STRUCTURAL}
    with refuses(WrongValue, "description"):
        inspect(ground, outcome="monitor", items=torn)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_inspect(ground, role):
    with refuses_role():
        inspect(ground, by=actor(ground, role))


@pytest.mark.parametrize(
    ("severity", "word"),
    [("unsafe", "out_of_service"), ("restricts", "restricted"), ("monitor", "in_service")],
)
def test_the_severity_of_a_defect_makes_the_state_of_the_unit(ground, severity, word):
    found = DefectFound(severity, "door", "hinge torn")
    with writes(ACT, Inspection, InspectionItem, Defect):
        inspect(ground, outcome="defect", defect=found)
    assert unit_state(ground.unit, NOW).word == word


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"outcome": "splendid"}, "outcome"),
        ({"outcome": "defect"}, "description"),
        ({"outcome": "unfit"}, "description"),
        ({"outcome": "good", "defect": TORN}, "outcome"),
        ({"outcome": "unfit", "defect": DefectFound("monitor", "door", "torn")}, "severity"),
        ({"outcome": "defect", "defect": DefectFound("awful", "door", "torn")}, "severity"),
        ({"outcome": "defect", "defect": DefectFound("unsafe", " ", "torn")}, "place"),
        ({"outcome": "defect", "defect": DefectFound("unsafe", "x" * 81, "torn")}, "place"),
        ({"outcome": "defect", "defect": DefectFound("unsafe", "door", "\0")}, "description"),
        ({"note": "x" * 501}, "note"),
        ({"done_at": NOW + dt.timedelta(minutes=3)}, "done_at"),
        ({"done_at": NOW.replace(year=1989)}, "done_at"),
    ],
)
def test_a_result_and_its_defect_fit_together(ground, changes, field):
    with refuses(WrongValue, field):
        inspect(ground, **changes)


def test_the_same_form_sent_twice_is_filed_once(ground):
    first = inspect(ground, once="form-1")
    with refuses(AlreadyDone) as caught:
        inspect(ground, once="form-1")
    assert caught.value.public_id == first.public_id
