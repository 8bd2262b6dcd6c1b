"""Correcting a burn's record: a new report, the old one kept, and a ledger that adds up."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, StaleVersion, WrongState, WrongValue
from records.audit.models import Entry
from records.burns import services as burns
from records.burns.models import Burn, BurnFuel, BurnReport, BurnSignature, CloseSheet, Stay
from records.ground.models import UnitUse
from records.ground.selectors import use_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "burns.burn_corrected"
START = NOW + dt.timedelta(days=1)
END = START + dt.timedelta(minutes=30)


@pytest.fixture
def burn(ground):
    """Three boards used: 75 kg, 1297.5 MJ."""
    ground.lot = builders.accepted_lot(ground)
    return builders.closed(ground)


def correct(ground, burn, boards=1, **changes):
    given = {"seen_report": 1, "ended_at": END, "used": {ground.lot.public_id: Decimal(boards)},
             "note": "", "why": "counted again", "by": ground.instructor, "at": END}  # fmt: skip
    return burns.correct_burn(burn, **{**given, **changes})


def test_a_correction_is_a_new_report_and_the_earlier_one_stays(ground, burn):
    added = BurnReport, BurnFuel, UnitUse, CloseSheet, Stay, BurnSignature
    with writes(ACT, *added, alters=[Burn]):
        report = correct(ground, burn)
    first, second = burn.reports.all()
    assert (first.dry_mass_kg, first.why) == (Decimal(75), "")
    assert (second.dry_mass_kg, second.why) == (Decimal(25), "counted again")
    assert burn.fresh().current == report == second
    entry = Entry.objects.first()
    assert entry.why == "counted again"
    assert (entry.before["used"], entry.after["used"]) == (
        [[ground.lot.code, "3"]], [[ground.lot.code, "1"]],
    )  # fmt: skip


def test_the_ledger_of_use_adds_up_to_the_newest_report(ground, burn):
    """75 kg, then 25, then 50: the count of burns stays one."""
    correct(ground, burn)
    correct(ground, burn, 2, seen_report=2)
    use = use_of(ground.unit)
    assert (use.burns, use.dry_mass_kg, use.energy_mj) == (1, 50.0, 865.0)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_correct(ground, burn, role):
    with refuses_role():
        correct(ground, burn, by=actor(ground, role))


def test_a_running_burn_is_not_corrected(ground):
    ground.lot = builders.accepted_lot(ground)
    burn = builders.lit(ground)
    with refuses(WrongState):
        correct(ground, burn)


@pytest.mark.parametrize("seen", [0, 2])
def test_only_the_report_that_was_seen_is_corrected(ground, burn, seen):
    with refuses(StaleVersion):
        correct(ground, burn, seen_report=seen)


@pytest.mark.parametrize("why", ["", " ", "x" * 301, "\0"])
def test_the_reason_is_given_in_plain_text(ground, burn, why):
    with refuses(WrongValue, "why"):
        correct(ground, burn, why=why)


@pytest.mark.parametrize("boards", [-1, 4, "0.5"])
def test_what_burned_is_whole_boards_and_no_more_than_was_issued(ground, burn, boards):
    with refuses(WrongValue, "used"):
        correct(ground, burn, boards)


def test_boards_that_went_back_were_not_burned(ground, burn):
    """One burned and two came back; a later count of two cannot be right."""
    correct(ground, burn, 1)
    burns.return_boards(
        burn.version.plan, ground.lot, Decimal(2), returned_at=END, by=ground.stores, at=END
    )  # fmt: skip
    with refuses(WrongValue, "used"):
        correct(ground, burn, 2, seen_report=2)


@pytest.mark.parametrize("minutes", [0, -5])
def test_a_burn_ends_after_it_was_lit(ground, burn, minutes):
    with refuses(WrongValue, "ended_at"):
        correct(ground, burn, ended_at=START + dt.timedelta(minutes=minutes))


def test_the_same_form_sent_twice_corrects_once(ground, burn):
    correct(ground, burn, once="form-1")
    with refuses(AlreadyDone):
        correct(ground, burn, seen_report=2, once="form-1")
