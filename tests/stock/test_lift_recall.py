"""Lifting a recall: a second person, and the lots stay held."""

from __future__ import annotations

import pytest

from facility.refusals import StaleVersion, WrongState, WrongValue
from records.audit.models import Entry
from records.stock import recalling
from records.stock import services as stock
from records.stock.models import RecallLifted
from records.stock.selectors import verdict_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW
from tests.stock.test_recall_lots import recall

ACT = "stock.recall_lifted"


def lift(ground, made, **changes):
    given = {"reason": "tested, sound", "by": ground.safety, "at": NOW}
    return recalling.lift_recall(made, **{**given, **changes})


def test_the_lots_stay_held_until_each_is_accepted_anew(ground):
    lot = builders.accepted_lot(ground)
    made = recall(ground, lot)
    with writes(ACT, RecallLifted):
        lift(ground, made)
    assert verdict_of(lot) == "held"
    stock.accept_lot(lot, by=ground.stores, at=NOW)
    assert verdict_of(lot) == "accepted"
    assert recalling.standing_recalls(ground.site).count() == 0


def test_whoever_called_it_does_not_lift_it(ground):
    made = recall(ground, builders.deliver(ground))
    with refuses_own_work():
        lift(ground, made, by=ground.manager)
    lift(ground, made, by=ground.manager_two)


def test_it_is_signed_for_the_recall_as_it_was_called(ground):
    made = recall(ground, builders.deliver(ground))
    with refuses(StaleVersion):
        lift(ground, made, shown_hash="0" * 64)
    lift(ground, made, shown_hash=recalling.lifting_hash(made))
    assert dict(Entry.objects.first().after)["meaning"] == recalling.LIFT


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_lift(ground, role):
    made = recall(ground, builders.deliver(ground))
    with refuses_role():
        lift(ground, made, by=actor(ground, role))


def test_it_is_lifted_once_and_with_a_reason(ground):
    made = recall(ground, builders.deliver(ground))
    with refuses(WrongValue, "reason"):
        lift(ground, made, reason=" ")
    lift(ground, made)
    with refuses(WrongState):
        lift(ground, made)
