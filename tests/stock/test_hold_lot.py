"""Holding a lot back."""

from __future__ import annotations

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.audit.models import Entry
from records.stock import services as stock
from records.stock.models import LotVerdict
from records.stock.selectors import burnable_lots, verdict_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.lot_held"


def hold(ground, lot, **changes):
    given = {"reason": "wet corner", "by": ground.stores, "at": NOW}
    return stock.hold_lot(lot, **{**given, **changes})


def test_a_held_lot_can_no_longer_be_burned(ground):
    lot, neighbour = builders.accepted_lot(ground), builders.accepted_lot(ground)
    with writes(ACT, LotVerdict):
        hold(ground, lot)
    assert verdict_of(lot) == "held"
    assert burnable_lots(ground.site) == [neighbour]
    assert Entry.objects.first().why == "wet corner"


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_hold(ground, role):
    lot = builders.deliver(ground)
    with refuses_role():
        hold(ground, lot, by=actor(ground, role))


@pytest.mark.parametrize("reason", ["", "  ", "x" * 301, "bell\a"])
def test_the_reason_is_given_in_plain_text(ground, reason):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "reason"):
        hold(ground, lot, reason=reason)


def test_a_held_lot_is_not_held_again(ground):
    lot = builders.deliver(ground)
    hold(ground, lot)
    with refuses(WrongState):
        hold(ground, lot)


def test_the_same_form_sent_twice_gives_one_verdict(ground):
    lot = builders.deliver(ground)
    hold(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        hold(ground, lot, once="form-1")
