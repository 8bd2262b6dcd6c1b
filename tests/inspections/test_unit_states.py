"""Every act from every state of a unit, and only the listed pairs pass."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.refusals import LimitExceeded, WrongState
from facility.sites.makeup import PARTS
from records.burns import services as burns
from records.ground import building
from records.ground.selectors import unit_here
from records.inspections import services as inspections
from records.inspections.checklists import PRE_BURN
from records.inspections.selectors import DefectStage, unit_state
from records.inspections.services import DefectFound
from records.plans import services as plans
from records.plans.selectors import plan_here
from tests import builders
from tests.asking import refuses
from tests.builders import NOW, hash_of

LATER = NOW + dt.timedelta(hours=2)
ONE_BOARD = DefectFound("restricts", "roof", "baffle bent", most_boards=1)


class In:
    """A ground, its plan as far as an act needs it, and the defect of its unit."""

    def __init__(self, ground, plan):
        self.ground, self.plan, self.defect = ground, plan, None


# -- the states ----------------------------------------------------------------------------------


def in_service(at):
    pass


def restricted(at):
    builders.inspect(at.ground, at.ground.unit, at=NOW, outcome="defect", defect=ONE_BOARD)
    at.defect = at.ground.unit.defects.get()


def out_of_service(at):
    at.defect = inspections.stop_unit(
        at.ground.unit, place="door", description="hinge torn", by=at.ground.safety, at=NOW
    )


def repaired(at):
    out_of_service(at)
    inspections.record_repair(
        at.defect, what="new hinge", done_by=at.ground.inspector, done_at=NOW,
        by=at.ground.inspector, at=NOW,
    )  # fmt: skip


def failed(at):
    repaired(at)
    builders.verify(at.ground, at.defect, holds=False)


def checked(at):
    repaired(at)
    builders.verify(at.ground, at.defect)


def returned(at):
    checked(at)
    release(at, when=NOW)


def retired(at):
    checked(at)
    with opened():
        at.ground.unit.retired_on = NOW.date()
        at.ground.unit.save()
    at.defect.unit = at.ground.unit


STATES = {each.__name__: each for each in (
    in_service, restricted, out_of_service, repaired, failed, checked, returned, retired)}  # fmt: skip


# -- the acts ------------------------------------------------------------------------------------


def inspect(at):
    builders.inspect(at.ground, at.ground.unit, at=LATER)


def stop(at):
    inspections.stop_unit(
        at.ground.unit, place="vent", description="stuck", by=at.ground.safety, at=LATER
    )


def change(at):
    unit = unit_here(at.ground.site, at.ground.unit.public_id)
    parts = {
        kind: [{"key": each.public_id, **{f: getattr(each, f) for f in each.DESCRIBED}}
               for each in getattr(unit, kind).all()]
        for kind in PARTS
    }  # fmt: skip
    names = ("length_m", "width_m", "height_m", "wall", "max_people")
    building.change_unit(
        unit, kind="modified", description={name: getattr(unit, name) for name in names},
        parts=parts, what="painted", since=LATER, seen_version=1, by=at.ground.inspector, at=LATER,
    )  # fmt: skip


def repair(at):
    inspections.record_repair(
        at.defect, what="more", done_by=at.ground.inspector, done_at=LATER, by=at.ground.inspector,
        at=LATER,
    )  # fmt: skip


def verify(at):
    builders.verify(at.ground, at.defect, at=LATER)


def release(at, when=LATER):
    inspections.release_unit(at.defect, statement="sound", by=at.ground.inspector_two, at=when)


def submit(at):
    plans.submit_plan(at.plan, seen_hash=hash_of(at.plan), by=at.ground.instructor, at=LATER)


def approve(at):
    plans.approve_plan(
        at.plan, meaning="m", shown_hash=hash_of(at.plan), by=at.ground.manager, at=LATER
    )


def issue(at):
    builders.issue(at.ground, at.plan, at=LATER)


def start(at):
    starts_at = plan_here(at.ground.site, at.plan.public_id).version.starts_at
    burns.start_burn(
        at.plan, checks=dict.fromkeys(map(str, PRE_BURN), True), weather="dry",
        present=builders.everyone(at.plan), ignition_method="gas burner", by=at.ground.instructor,
        ignited_at=starts_at, at=starts_at,
    )  # fmt: skip


ACTS = {each.__name__: each for each in (
    inspect, stop, change, repair, verify, release, submit, approve, issue, start)}  # fmt: skip
NEEDS = {"submit": builders.drafted, "approve": builders.submitted, "issue": builders.approved,
         "start": builders.issued}  # fmt: skip
BURNS = {"in_service", "restricted", "returned"}
ALL = set(STATES) - {"retired"}
MAY = {
    "inspect": ALL, "stop": ALL, "change": ALL,
    "repair": {"restricted", "out_of_service", "repaired", "failed", "checked"},
    "verify": {"repaired", "failed", "checked"}, "release": {"checked"},
    "submit": BURNS, "approve": BURNS, "issue": BURNS, "start": BURNS,
}  # fmt: skip
ON_A_DEFECT = {"repair", "verify", "release"}


def test_the_table_of_stages_names_every_act_on_a_defect():
    assert set(inspections.MAY_START_FROM) == ON_A_DEFECT
    assert set().union(*inspections.MAY_START_FROM.values()) == set(DefectStage) - {"closed"}


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize("state", STATES)
def test_an_act_passes_only_from_the_states_listed(ground, state, act):
    builders.accepted_lot(ground)
    plan = NEEDS[act](ground, builders.content(ground, 1)) if act in NEEDS else None
    at = In(ground, plan)
    STATES[state](at)
    if at.defect is None and act in ON_A_DEFECT:
        assert not ground.unit.defects.exists()  # there is nothing to act on
        return
    if state in MAY[act]:
        ACTS[act](at)
        return
    with refuses(LimitExceeded if act in NEEDS else WrongState):
        ACTS[act](at)


@pytest.mark.parametrize(
    ("state", "word"),
    [("in_service", "in_service"), ("restricted", "restricted"), ("out_of_service", "out_of_service"),
     ("repaired", "out_of_service"), ("failed", "out_of_service"), ("checked", "out_of_service"),
     ("returned", "in_service"), ("retired", "out_of_service")],
)  # fmt: skip
def test_the_state_of_a_unit_follows_from_what_is_recorded(ground, state, word):
    at = In(ground, None)
    STATES[state](at)
    assert unit_state(ground.unit, LATER).word == word


def test_a_repair_after_the_check_needs_a_check_of_its_own(ground):
    at = In(ground, None)
    checked(at)
    repair(at)
    with refuses(WrongState):
        release(at, LATER + dt.timedelta(minutes=1))


def test_more_boards_than_the_defect_allows_do_not_pass(ground):
    builders.accepted_lot(ground)
    at = In(ground, builders.drafted(ground, builders.content(ground, 2)))
    restricted(at)
    with refuses(LimitExceeded) as caught:
        submit(at)
    assert {each.rule.code for each in caught.value.findings} == {"D-2"}
    assert Decimal(caught.value.findings[0].rule.limit) == 1
