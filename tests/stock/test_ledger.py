"""Stock on hand is the sum of movements, never less than zero, whatever is done in which order."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)

from facility.guarded import opened
from facility.refusals import Refused, StockNotAvailable, WrongValue
from records.burns import services as burns
from records.plans import services as plans
from records.plans.selectors import plan_here
from records.stock import services as stock
from records.stock.models import LotBalance, Movement, MovementKind
from records.stock.selectors import sum_of_movements
from tests import builders
from tests.builders import NOW

FEW = st.integers(min_value=1, max_value=5)


class Store(RuleBasedStateMachine):
    """Receive, issue to plans, return and count, against a plain reckoning beside it."""

    @initialize()
    def one_lot(self):
        self.undone = transaction.atomic()
        self.undone.__enter__()
        self.ground = builders.found_ground()
        self.lots, self.expected, self.out = [], {}, []
        self.receive(4)

    @rule(boards=FEW)
    def receive(self, boards):
        lot = builders.accepted_lot(self.ground, boards)
        self.lots.append(lot)
        self.expected[lot.pk] = boards

    @rule(boards=st.integers(min_value=1, max_value=4), pick=st.integers(min_value=0))
    def issue(self, boards, pick):
        lot = self.lots[pick % len(self.lots)]
        if self.expected[lot.pk] < boards:
            return
        day = NOW + dt.timedelta(days=1 + len(self.out))  # one burn a day, so that no cap is met
        content = builders.content(self.ground, boards, starts_at=day)
        line = content.charge[0]
        named = plans.Line(line.position, line.product, line.quantity, lot)
        plan = builders.approved(self.ground, replace(content, charge=(named,)))
        line = plan_here(self.ground.site, plan.public_id).version.charge.get()
        handout = plans.Handout(line, lot, Decimal(boards))
        plans.issue_charge(
            plan, [handout], by=self.ground.stores, at=NOW, why_younger="any lot will do here"
        )
        self.expected[lot.pk] -= boards
        self.out.append([plan, lot, boards])

    @precondition(lambda self: self.out)
    @rule(boards=FEW, pick=st.integers(min_value=0))
    def give_back(self, boards, pick):
        row = self.out[pick % len(self.out)]
        plan, lot, left = row
        given = {"returned_at": NOW, "by": self.ground.stores, "at": NOW}
        if boards > left:
            with pytest.raises(WrongValue):
                burns.return_boards(plan, lot, Decimal(boards), **given)
            return
        burns.return_boards(plan, lot, Decimal(boards), **given)
        self.expected[lot.pk] += boards
        row[2] -= boards

    @rule(counted=st.integers(min_value=-1, max_value=6), pick=st.integers(min_value=0))
    def count(self, counted, pick):
        lot = self.lots[pick % len(self.lots)]
        try:
            stock.adjust_stock(
                lot, counted_now=Decimal(counted), reason="count", by=self.ground.stores, at=NOW
            )
        except Refused:
            assert counted in (-1, self.expected[lot.pk])
        else:
            self.expected[lot.pk] = counted

    def teardown(self):
        if hasattr(self, "undone"):
            transaction.set_rollback(True)
            self.undone.__exit__(None, None, None)

    @invariant()
    def balance_is_the_sum_of_movements(self):
        for lot in getattr(self, "lots", ()):
            on_hand = LotBalance.objects.get(lot=lot).on_hand
            assert on_hand == sum_of_movements(lot) == self.expected[lot.pk] >= 0


def test_balance_is_the_sum_of_movements_in_any_order_of_acts(db):
    quick = settings(
        max_examples=12, stateful_step_count=10, deadline=None, derandomize=True, database=None,
        suppress_health_check=[HealthCheck.too_slow],
    )  # fmt: skip
    run_state_machine_as_test(Store, settings=quick)


def test_more_than_is_on_hand_cannot_leave(ground):
    lot = builders.accepted_lot(ground, 3)
    with opened(), pytest.raises(StockNotAvailable, match="4 asked for, 3 on hand"):
        stock.move(
            lot, MovementKind.ISSUE, Decimal(4), by=ground.stores, happened_at=NOW, recorded_at=NOW
        )
    assert LotBalance.objects.get(lot=lot).on_hand == 3 == sum_of_movements(lot)


def test_the_database_itself_refuses_a_negative_balance(ground):
    lot = builders.accepted_lot(ground, 3)
    with opened(), pytest.raises(IntegrityError):
        LotBalance.objects.filter(lot=lot).update(on_hand=Decimal(-1))


@pytest.mark.parametrize("wrong", [{"quantity": 0}, {"quantity": -1}, {"sign": 0}, {"sign": 2}])
def test_the_database_itself_refuses_a_movement_of_nothing_or_without_direction(ground, wrong):
    lot = builders.accepted_lot(ground, 3)
    whole = {"lot": lot, "kind": "receive", "sign": 1, "quantity": 1, "happened_at": NOW,
             "recorded_at": NOW, "moved_by": ground.stores}  # fmt: skip
    with opened(), pytest.raises(IntegrityError):
        Movement(**{**whole, **wrong}).save()
