"""Conditions, rejections, and the second signature under them."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.people.permissions import Role
from facility.refusals import AlreadyDone, StaleVersion, WrongState, WrongValue
from records.audit.models import Entry
from records.ground import services as ground_services
from records.stock import deciding
from records.stock.models import LotVerdict
from records.stock.selectors import burnable_lots, lot_here
from tests import builders
from tests.asking import (
    actor,
    refused_roles,
    refuses,
    refuses_own_work,
    refuses_role,
    writes,
)
from tests.builders import NOW

DAY = dt.timedelta(days=1)
WET = ("11", "12", "13", "14", "15")  # mean 13, limit 12


def lot_read(ground, *readings):
    lot = builders.deliver(ground)
    builders.read(ground, lot, *readings)
    return lot


def accept(ground, lot, **changes):
    return deciding.accept_lot(lot, **{"by": ground.stores_two, "at": NOW, **changes})


def condition(ground, lot, **changes):
    given = {"condition": "floor only", "by": ground.stores_two, "at": NOW}
    return deciding.accept_on_condition(lot, **{**given, **changes})


def reject(ground, lot, **changes):
    given = {"reason": "mould", "by": ground.stores_two, "at": NOW}
    return deciding.reject_lot(lot, **{**given, **changes})


def confirm(ground, lot, **changes):
    return deciding.confirm_verdict(lot, **{"by": ground.manager, "at": NOW, **changes})


def standing(lot):
    return lot_here(lot.site, lot.public_id).standing


def test_a_failed_sample_bars_acceptance_by_anyone(ground):
    lot = lot_read(ground, *WET)
    with refuses(WrongState) as caught:
        accept(ground, lot)
    assert "allowed 12 %" in caught.value.sentence


def test_five_readings_under_the_limit_can_fail_by_their_spread(ground):
    """Mean 9.4, s 2.61, k 1.23 (letter D, AQL 4.0, Z1.9 Table B-1): 12.6 is over 12."""
    lot = lot_read(ground, "6", "8", "9", "12", "12")
    with refuses(WrongState):
        accept(ground, lot)


def test_on_a_condition_a_lot_burns_once_two_have_signed(ground):
    lot = lot_read(ground, *WET)
    with writes("stock.lot_conditioned", LotVerdict):
        condition(ground, lot)
    assert standing(lot) == "unconfirmed"
    assert burnable_lots(ground.site) == []
    with writes("stock.verdict_confirmed", LotVerdict):
        confirm(ground, lot)
    assert standing(lot) == "conditional"
    assert burnable_lots(ground.site) == [lot]


def test_a_rejected_lot_is_out_at_once_and_for_good_when_two_have_signed(ground):
    lot = builders.accepted_lot(ground)
    with writes("stock.lot_rejected", LotVerdict):
        reject(ground, lot)
    assert burnable_lots(ground.site) == []
    confirm(ground, lot, by=ground.safety)
    for verb in (accept, condition, reject):
        with refuses(WrongState):
            verb(ground, lot)
    with refuses(WrongState):
        deciding.hold_lot(lot, reason="again", by=ground.stores, at=NOW)


def test_a_rejection_that_was_wrong_is_held_before_the_lot_is_accepted(ground):
    lot = lot_read(ground)
    reject(ground, lot)
    with refuses(WrongState):
        accept(ground, lot)
    deciding.hold_lot(lot, reason="another pallet", by=ground.safety, at=NOW)
    accept(ground, lot)
    assert burnable_lots(ground.site) == [lot]


def test_whoever_took_the_failed_sample_does_not_accept_on_a_condition(ground):
    lot = lot_read(ground, *WET)  # read by the stores officer
    with refuses_own_work():
        condition(ground, lot, by=ground.stores)


def test_taking_another_sample_does_not_help_whoever_took_the_failed_one(ground):
    lot = lot_read(ground, *WET)
    later = NOW + DAY
    builders.read(ground, lot, at=later)
    with refuses_own_work():
        accept(ground, lot, by=ground.stores, at=later)
    accept(ground, lot, by=ground.stores_two, at=later)
    assert burnable_lots(ground.site) == [lot]


def test_what_was_read_before_an_acceptance_is_settled(ground):
    lot = lot_read(ground, *WET)
    builders.read(ground, lot, at=NOW + DAY)
    accept(ground, lot, at=NOW + DAY)
    deciding.hold_lot(lot, reason="roof leaked", by=ground.stores, at=NOW + 2 * DAY)
    builders.read(ground, lot, at=NOW + 3 * DAY)
    accept(ground, lot, by=ground.stores, at=NOW + 3 * DAY)


def test_nobody_signs_twice_for_one_decision(ground):
    """A burn manager who is stores officer too decided; another one signs as second."""
    lot = lot_read(ground)
    ground_services.give_role(
        ground.site, ground.manager, role=Role.STORES, since=NOW.date(), by=ground.admin, at=NOW
    )
    condition(ground, lot, by=ground.manager)
    with refuses_own_work():
        confirm(ground, lot, by=ground.manager)
    confirm(ground, lot, by=ground.manager_two)


def test_only_a_condition_or_a_rejection_waits_for_a_second_person(ground):
    lot = lot_read(ground)
    for change in (lambda: None, lambda: accept(ground, lot),
                   lambda: deciding.hold_lot(lot, reason="x", by=ground.stores, at=NOW)):  # fmt: skip
        change()
        with refuses(WrongState):
            confirm(ground, lot)
    condition(ground, lot)
    confirm(ground, lot)
    with refuses(WrongState):
        confirm(ground, lot, by=ground.safety)


VERBS = [
    ("stock.lot_conditioned", condition), ("stock.lot_rejected", reject),
    ("stock.verdict_confirmed", confirm),
]  # fmt: skip


@pytest.mark.parametrize(("act", "verb"), VERBS)
def test_other_roles_may_not(ground, act, verb):
    lot = lot_read(ground)
    if verb is confirm:
        condition(ground, lot)
    for role in refused_roles(act):
        with refuses_role():
            verb(ground, lot, by=actor(ground, role))


@pytest.mark.parametrize("verb", [accept, condition, reject])
def test_a_reading_since_the_page_was_shown_makes_it_stale(ground, verb):
    lot = lot_read(ground)
    shown = deciding.shown_hash_of(lot)
    builders.read(ground, lot, "8")
    with refuses(StaleVersion):
        verb(ground, lot, shown_hash=shown)


def test_the_second_signs_for_the_decision_that_was_shown(ground):
    lot = lot_read(ground)
    condition(ground, lot, condition="floor only")
    shown = deciding.shown_hash_of(lot)
    deciding.hold_lot(lot, reason="wait", by=ground.safety, at=NOW)
    condition(ground, lot, condition="anywhere")
    with refuses(StaleVersion):
        confirm(ground, lot, shown_hash=shown)


def test_the_entry_binds_hash_and_meaning(ground):
    lot = lot_read(ground)
    shown = deciding.shown_hash_of(lot)
    accept(ground, lot, shown_hash=shown)
    told = Entry.objects.get(act="stock.lot_accepted").after
    assert (told["hash"], told["verdict"]) == (shown, "accepted")


@pytest.mark.parametrize(("verb", "field"), [(condition, "condition"), (reject, "reason")])
@pytest.mark.parametrize("text", ["", "  ", "x" * 301, "bell\a"])
def test_condition_and_reason_are_plain_text(ground, verb, field, text):
    lot = lot_read(ground)
    with refuses(WrongValue, field):
        verb(ground, lot, **{field: text})


def test_too_few_readings_bar_a_condition_as_well(ground):
    lot = lot_read(ground, "8", "8")
    with refuses(WrongState):
        condition(ground, lot)


@pytest.mark.parametrize("verb", [condition, reject])
def test_the_same_form_sent_twice_decides_once(ground, verb):
    lot = lot_read(ground)
    verb(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        verb(ground, lot, once="form-1")


def test_without_a_limit_in_force_the_readings_bar_nothing(ground):
    """How moist a lot may be is for the rows to say; where none does, no plan can judge."""
    day = NOW.date() + 30 * DAY
    builders.adopt(ground, "T-9", [{**row, "limit": None} if row["code"] == "F-15" else row
                                   for row in builders.rows()], at=NOW, day=day)  # fmt: skip
    lot = lot_read(ground, *WET)
    deciding.accept_lot(lot, by=ground.stores_two, at=NOW + 31 * DAY)
    assert lot.verdicts.get().moisture_mean_pct == Decimal(13)
