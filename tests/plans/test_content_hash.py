"""The content hash covers everything a plan says, and only that."""

from __future__ import annotations

import datetime as dt
from dataclasses import fields, replace
from decimal import Decimal

import pytest

from facility.kinds import Duty
from records.plans.content import Line, Place, PlanContent, content_hash, content_of
from records.plans.selectors import plan_here
from tests import builders


def other_unit(ground, content):
    return {"unit": builders.commission(ground, "Unit 2")}


def more_boards(_ground, content):
    return {"charge": (replace(content.charge[0], quantity=Decimal(4)),)}


def other_position(ground, content):
    position = ground.unit.positions.get(name="Crib")
    return {"charge": (replace(content.charge[0], position=position),)}


def other_product(ground, content):
    return {"charge": (replace(content.charge[0], product=ground.kindling),)}


def named_lot(ground, content):
    return {"charge": (replace(content.charge[0], lot=builders.deliver(ground)),)}


def line_added(ground, content):
    return {"charge": (*content.charge, Line(content.charge[0].position, ground.board, Decimal(1)))}


def person_left_out(_ground, content):
    return {"crew": content.crew[1:]}


def duties_swapped(_ground, content):
    first, second, *rest = content.crew
    swapped = (Place(first.person, second.duty), Place(second.person, first.duty))
    return {"crew": (*swapped, *rest)}


CHANGES = {
    "unit": [other_unit],
    "exercise": [lambda *_: {"exercise": "attack"}],
    "starts_at": [lambda _g, c: {"starts_at": c.starts_at + dt.timedelta(minutes=1)}],
    "ends_at": [lambda _g, c: {"ends_at": c.ends_at + dt.timedelta(minutes=1)}],
    "water_l": [lambda *_: {"water_l": Decimal(12001)}],
    "objective": [lambda _g, c: {"objective": c.objective + "."}],
    "stated": [lambda *_: {"stated": (("session.medic", "yes"),)}],
    "abort_criteria": [lambda _g, c: {"abort_criteria": c.abort_criteria + "."}],
    "charge": [more_boards, other_position, other_product, named_lot, line_added],
    "crew": [person_left_out, duties_swapped],
}


def test_every_field_of_a_plan_is_changed_below():
    assert {field.name for field in fields(PlanContent)} == set(CHANGES)


@pytest.mark.parametrize("change", [change for row in CHANGES.values() for change in row])
def test_changing_anything_changes_the_hash(ground, change):
    content = builders.content(ground)
    changed = replace(content, **change(ground, content))
    assert content_hash(changed) != content_hash(content)


def test_the_order_of_people_and_the_zone_of_a_time_do_not_matter(ground):
    content = builders.content(ground)
    local = content.starts_at.astimezone(ground.site.zone)
    same = replace(content, crew=content.crew[::-1], starts_at=local, water_l=Decimal("12000.00"))
    assert content_hash(same) == content_hash(content)


@pytest.mark.parametrize(
    "written",
    [{}, {"objective": "  Show the growth \n"}, {"abort_criteria": "Stop "},
     {"water_l": Decimal("12000.4")}],
)  # fmt: skip
def test_the_stored_version_gives_its_own_hash_again(ground, written):
    """Or a signature could not be checked afterwards."""
    lot = builders.accepted_lot(ground)
    content = builders.content(ground, **written)
    named = replace(content, charge=(replace(content.charge[0], lot=lot),))
    version = plan_here(ground.site, builders.drafted(ground, named).public_id).version
    assert content_hash(content_of(version)) == version.content_hash
    assert version.crew.filter(duty=Duty.LEARNER).count() == 3
