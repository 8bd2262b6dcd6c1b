"""Closing a burn: what was used, what was found, and one more burn in the unit's count."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.burns import services as burns
from records.burns.models import (
    Burn,
    BurnFuel,
    BurnReport,
    BurnSignature,
    BurnState,
    CloseSheet,
    Stay,
)
from records.ground.models import Exposure, UnitUse
from records.ground.selectors import use_of
from records.inspections.checklists import POST_BURN
from records.inspections.models import Defect, Inspection, InspectionItem
from records.inspections.selectors import unit_state
from records.inspections.services import DefectFound
from records.plans.content import Line
from records.plans.models import Finding, Plan, PlanState
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "burns.burn_closed"
START = NOW + dt.timedelta(days=1)
END = START + dt.timedelta(minutes=30)


@pytest.fixture
def burn(ground):
    ground.lot = builders.accepted_lot(ground)
    return builders.lit(ground)


def boards(ground, count):
    return {ground.lot.public_id: Decimal(count)}


def close(ground, burn, **changes):
    given = {"ended_at": END, "used": boards(ground, 2), "note": "", "at": END,
             "checks": {str(item): True for item in POST_BURN}, "by": ground.instructor}  # fmt: skip
    return burns.close_burn(burn, **{**given, **changes})


def test_a_closed_burn_counts_once_with_what_really_burned(ground, burn):
    """Two boards of 25 kg at 17.3 MJ: 50 kg and 865 MJ."""
    added = (BurnReport, BurnFuel, UnitUse, Exposure, Finding, Inspection, InspectionItem, CloseSheet, Stay, BurnSignature)  # fmt: skip
    with writes(ACT, *added, alters=[Burn, Plan]):
        report = close(ground, burn)
    use = use_of(ground.unit)
    assert (report.number, report.dry_mass_kg, report.energy_mj) == (1, Decimal(50), Decimal(865))
    assert (use.burns, use.dry_mass_kg, use.energy_mj) == (1, 50.0, 865.0)
    assert burn.fresh().state == BurnState.CLOSED
    assert Plan.objects.get().state == PlanState.BURNED


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_close(ground, burn, role):
    with refuses_role():
        close(ground, burn, by=actor(ground, role))


def test_a_burn_is_closed_once(ground, burn):
    close(ground, burn)
    with refuses(WrongState):
        close(ground, burn)


@pytest.mark.parametrize("used", ["-1", "4", "1.5", "NaN"])
def test_what_burned_is_whole_boards_and_no_more_than_was_issued(ground, burn, used):
    with refuses(WrongValue, "used"):
        close(ground, burn, used=boards(ground, used))


def test_every_issued_lot_is_accounted_for_and_no_other(ground, burn, other):
    foreign = builders.accepted_lot(other)
    unissued = builders.accepted_lot(ground)
    mine = ground.lot.public_id
    for used in ({}, {mine: Decimal(1), foreign.public_id: Decimal(0)},
                 {mine: Decimal(1), unissued.public_id: Decimal(1)}):  # fmt: skip
        with refuses(WrongValue, "used"):
            close(ground, burn, used=used)


def test_kindling_that_burned_is_weighed_to_hundredths_at_the_finest(ground):
    ground.lot = builders.accepted_lot(ground)
    kindling = builders.accepted_lot(ground, product=ground.kindling)
    content = builders.content(ground)
    loose = Line(content.charge[0].position, ground.kindling, Decimal(2))
    burn = builders.lit(ground, replace(content, charge=(*content.charge, loose)))
    with refuses(WrongValue, "used"):
        close(ground, burn, used=boards(ground, 3) | {kindling.public_id: Decimal("0.123")})
    close(ground, burn, used=boards(ground, 3) | {kindling.public_id: Decimal("0.12")})


@pytest.mark.parametrize("minutes", [0, -1])
def test_a_burn_ends_after_it_was_lit(ground, burn, minutes):
    with refuses(WrongValue, "ended_at"):
        close(ground, burn, ended_at=START + dt.timedelta(minutes=minutes))


def test_a_burn_that_has_not_ended_is_not_closed(ground, burn):
    with refuses(WrongValue, "ended_at"):
        close(ground, burn, ended_at=END + dt.timedelta(minutes=3))


@pytest.mark.parametrize("note", ["x" * 501, "\0"])
def test_the_note_is_plain_text(ground, burn, note):
    with refuses(WrongValue, "note"):
        close(ground, burn, note=note)


def test_the_check_after_the_burn_is_done_and_a_fault_is_described(ground, burn):
    with refuses(WrongValue, "checks"):
        close(ground, burn, checks={})
    with refuses(WrongValue, "description"):
        close(ground, burn, checks={str(item): item != POST_BURN[0] for item in POST_BURN})


def test_every_item_of_the_check_after_the_burn_is_looked_at(ground, burn):
    with refuses(WrongValue, "checks"):
        close(ground, burn, checks={str(POST_BURN[0]): True})


def test_a_defect_found_takes_the_unit_out_of_service(ground, burn):
    added = (BurnReport, BurnFuel, UnitUse, Exposure, Finding, Inspection, InspectionItem, Defect, CloseSheet, Stay, BurnSignature)  # fmt: skip
    with writes(ACT, *added, alters=[Burn, Plan]):
        close(ground, burn, defect=DefectFound("unsafe", "door", "hinge torn"))
    assert not unit_state(ground.unit, END).in_service


def test_the_burn_count_is_the_number_of_closed_burns(ground):
    builders.accepted_lot(ground)
    second = builders.commission(ground, "Unit 2")
    for day in range(1, 4):
        builders.closed(ground, builders.content(ground, starts_at=NOW + dt.timedelta(days=day)))
        assert use_of(ground.unit).burns == Burn.objects.filter(state="closed").count() == day
    assert use_of(ground.unit).dry_mass_kg == 225.0  # three times three boards
    assert use_of(second).burns == 0


def test_a_running_burn_is_not_counted(ground, burn):
    assert use_of(ground.unit).burns == 0


def test_the_same_form_sent_twice_closes_once(ground, burn):
    close(ground, burn, once="form-1")
    with refuses(AlreadyDone):
        close(ground, burn, once="form-1")
    assert use_of(ground.unit).burns == 1
