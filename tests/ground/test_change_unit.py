"""A unit is modified, moved or relined: a new version, and the old ones stay."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, StaleVersion, WrongMakeUp, WrongState, WrongValue
from facility.sites.makeup import PARTS, from_data
from facility.sites.models import ChargePosition, Opening, Unit
from records.burns import services as burns
from records.ground import building
from records.ground.models import UnitVersion
from records.ground.selectors import relined_at, unit_here, versions_of
from records.inspections.checklists import PRE_BURN
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "ground.unit_changed"
LATER = NOW + dt.timedelta(days=1)


def parts_of(unit):
    return {
        kind: [
            {"key": part.public_id, **{name: getattr(part, name) for name in part.DESCRIBED}}
            for part in getattr(unit, kind).all()
        ]
        for kind in PARTS
    }


def change(ground, **changes):
    unit = unit_here(ground.site, ground.unit.public_id)
    described = {
        "length_m": unit.length_m, "width_m": unit.width_m, "height_m": unit.height_m,
        "wall": unit.wall, "max_people": unit.max_people, **changes.pop("described", {}),
    }  # fmt: skip
    parts = {**parts_of(unit), **changes.pop("parts", {})}
    given = {"kind": "modified", "description": described, "parts": parts, "what": "second door",
             "since": LATER, "seen_version": 1, "by": ground.inspector, "at": LATER, **changes}  # fmt: skip
    return building.change_unit(unit, **given)


DOOR = {"name": "side door", "kind": "door", "side": "left", "x_m": Decimal(6), "y_m": None,
        "width_m": Decimal(1), "height_m": Decimal(2), "sill_m": Decimal(0)}  # fmt: skip


def with_door(ground):
    unit = unit_here(ground.site, ground.unit.public_id)
    return {"openings": [*parts_of(unit)["openings"], DOOR]}


def test_a_change_is_a_new_version_and_the_old_one_is_read_as_it_was(ground):
    ground.unit.refresh_from_db()
    with writes(ACT, UnitVersion, Opening):
        change(ground, parts=with_door(ground))
    newest, first = versions_of(ground.unit)
    assert [each.name for each in from_data("", newest.make_up).openings] == ["door", "side door"]
    assert [each.name for each in from_data("", first.make_up).openings] == ["door"]
    assert (first.kind, newest.kind, newest.since) == ("commissioned", "modified", LATER)


def test_a_part_keeps_its_key_and_one_left_out_is_no_longer_offered(ground):
    unit = unit_here(ground.site, ground.unit.public_id)
    ceiling, crib = parts_of(unit)["positions"]
    moved = {**ceiling, "x_m": Decimal(1)}
    with writes(ACT, UnitVersion, alters=[ChargePosition]):
        change(ground, parts={"positions": [moved]})
    (left,) = ground.unit.positions.all()
    assert (left.public_id, left.x_m) == (ceiling["key"], 1)
    gone = ChargePosition._base_manager.get(public_id=crib["key"])
    assert not gone.fitted  # the row stays, for the plans that name it


def test_limits_of_the_handover_change_with_it(ground):
    with writes(ACT, UnitVersion, alters=[Unit]):
        change(ground, kind="moved", what="to the north pad", described={"max_people": 6})
    ground.unit.refresh_from_db()
    assert ground.unit.max_people == 6
    assert [each.limits["max_people"] for each in versions_of(ground.unit)] == [6, 10]


def test_relining_starts_a_count(ground):
    assert relined_at(ground.unit) is None
    change(ground, kind="relined", what="new board over the ceiling")
    assert relined_at(ground.unit) == LATER


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_change_a_unit(ground, role):
    with refuses_role():
        change(ground, by=actor(ground, role))


def test_what_cannot_be_is_refused_whole(ground):
    high = {**DOOR, "height_m": Decimal("2.5")}
    with refuses(WrongMakeUp) as caught:
        change(ground, parts={"openings": [high]})
    (fault,) = caught.value.faults
    assert (fault.kind, fault.row, fault.field) == ("openings", 0, "height_m")


@pytest.mark.parametrize(
    ("field", "value"),
    [("what", ""), ("what", "x" * 501), ("what_happened", "painted"), ("document", "x" * 121),
     ("since", LATER + dt.timedelta(hours=1)), ("since", dt.datetime(2020, 1, 1, tzinfo=dt.UTC))],
)  # fmt: skip
def test_a_change_says_what_when_and_of_which_kind(ground, field, value):
    with refuses(WrongValue, field):
        change(ground, **{"kind" if field == "what_happened" else field: value})


def test_a_change_made_meanwhile_is_not_written_over(ground):
    change(ground)
    with refuses(StaleVersion):
        change(ground)


def test_the_same_form_sent_twice_is_recorded_once(ground):
    change(ground, once="form-1")
    with refuses(AlreadyDone):
        change(ground, once="form-1")


def test_a_window_unit_lets_nobody_in(ground):
    with refuses(WrongValue, "max_people"):
        change(ground, described={"kind": "window"})


def test_a_plan_with_a_position_that_was_taken_out_is_neither_written_nor_lit(ground):
    builders.accepted_lot(ground)
    whole = builders.content(ground, 1, starts_at=NOW + dt.timedelta(days=2))
    plan = builders.issued(ground, whole)
    change(ground, parts={"positions": []})
    with refuses(WrongState) as caught:
        burns.start_burn(
            plan, checks=dict.fromkeys(map(str, PRE_BURN), True), present=builders.everyone(plan),
            ignition_method="gas burner", weather="dry", by=ground.instructor,
            ignited_at=whole.starts_at, at=whole.starts_at,
        )  # fmt: skip
    assert "Ceiling is no longer in the unit" in caught.value.sentence
    gone = ChargePosition._base_manager.get(name="Ceiling", unit=ground.unit)
    line = replace(whole.charge[0], position=gone)
    with refuses(WrongValue, "charge"):
        builders.drafted(ground, replace(whole, charge=(line,)), at=LATER)
