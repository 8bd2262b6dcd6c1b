"""The store in any order of acts, against a plain reckoning beside it.

Receive, reserve, withdraw, issue, return, cut, split, scrap, count, hold and accept. After each
step: stock is the sum of movements and never negative, what is reserved is the sum of its rows
and never more than the stock, and value is kept to the cent. Nothing of a held lot leaves.

A long run: CHARLINE_MACHINE=500 pytest tests/stock/test_store_machine.py
"""

from __future__ import annotations

import datetime as dt
import os
from collections import defaultdict
from dataclasses import dataclass, field, replace
from decimal import Decimal

import pytest
from django.db import transaction
from django.db.models import F, Sum
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

from facility.refusals import LimitExceeded, StockNotAvailable, WrongState, WrongValue
from records.burns import services as burns
from records.plans import services as plans
from records.plans.selectors import plan_here
from records.stock import counting, cutting, moving, selectors
from records.stock import services as stock
from records.stock.models import (
    SIGNED_VALUE,
    CountState,
    Lot,
    LotBalance,
    Movement,
    ProductStock,
    Reservation,
)
from tests import builders
from tests.builders import NOW

EXAMPLES = int(os.environ.get("CHARLINE_MACHINE", "8"))
FEW = st.integers(min_value=1, max_value=4)
PICK = st.integers(min_value=0, max_value=30)
# Of the ground's sheet, 2.5 x 1 m: four pieces, and an end strip of 0.49 m, 196 of 1000 of it.
PATTERN = cutting.Pattern(Decimal(1), Decimal("0.45"), Decimal(5))
PIECES, OFFCUT_PER_MILLE = 4, 196


def part_of(cents: int, part: int, whole: int) -> int:
    """A share of a value in cents, half up; all of it for the whole."""
    return cents if part == whole else (2 * cents * part + whole) // (2 * whole)


@dataclass
class Reckoned:
    """What a lot should be: plain numbers, and who has a claim on it, the oldest first."""

    lot: Lot
    on_hand: int = 0
    held: bool = False
    claims: dict[str, int] = field(default_factory=dict)
    parent: int | None = None

    @property
    def free(self) -> int:
        return self.on_hand - sum(self.claims.values())


@dataclass
class Out:
    """What is out for a plan: boards and cents, which come back together."""

    plan: object
    lot: int
    boards: int
    cents: int


class Store(RuleBasedStateMachine):
    @initialize()
    def a_ground(self):
        self.undone = transaction.atomic()
        self.undone.__enter__()
        self.ground = builders.found_ground()
        self.lots: dict[int, Reckoned] = {}
        self.cents: dict[int, int] = defaultdict(int)  # by product
        self.boards: dict[int, int] = defaultdict(int)
        self.approved: list[tuple[object, int, int]] = []  # plan, lot, boards
        self.out: list[Out] = []
        self.days, self.marks = 0, 0
        self.receive(4, 1234)

    def pick(self, number) -> Reckoned:
        return self.lots[sorted(self.lots)[number % len(self.lots)]]

    def mark(self) -> str:
        self.marks += 1
        return f"M-{self.marks}"

    def enters(self, known: Reckoned, boards: int, cents: int):
        known.on_hand += boards
        self.boards[known.lot.product_id] += boards
        self.cents[known.lot.product_id] += cents

    def leaves(self, known: Reckoned, boards: int) -> int:
        product = known.lot.product_id
        cents = part_of(self.cents[product], boards, self.boards[product])
        self.enters(known, -boards, -cents)
        return cents

    def known(self, lot: Lot, boards: int, cents: int, parent: Reckoned | None = None):
        made = Reckoned(lot, parent=parent.lot.pk if parent else None)
        self.lots[lot.pk] = made
        self.enters(made, boards, cents)

    @rule(boards=FEW, cents=st.integers(min_value=0, max_value=3000))
    def receive(self, boards, cents):
        lot = builders.accepted_lot(self.ground, boards, unit_cost=Decimal(cents) / 100)
        self.known(lot, boards, boards * cents)

    @rule(boards=FEW, pick=PICK)
    def reserve(self, boards, pick):
        known = self.pick(pick)
        self.days += 1  # one burn a day, so that no cap is met
        content = builders.content(self.ground, starts_at=NOW + dt.timedelta(days=self.days))
        line = replace(
            content.charge[0], product=known.lot.product, quantity=Decimal(boards), lot=known.lot
        )
        content = replace(content, charge=(line,))
        if known.held:
            with pytest.raises(LimitExceeded):
                builders.approved(self.ground, content)
        elif known.free < boards:
            with pytest.raises(StockNotAvailable):
                builders.approved(self.ground, content)
        else:
            plan = builders.approved(self.ground, content)
            known.claims[plan.public_id] = boards
            self.approved.append((plan, known.lot.pk, boards))

    @precondition(lambda self: self.approved)
    @rule(pick=PICK)
    def withdraw(self, pick):
        plan, key, _boards = self.approved.pop(pick % len(self.approved))
        plans.withdraw_plan(plan, reason="rain", by=self.ground.manager, at=NOW)
        self.lots[key].claims.pop(plan.public_id, None)

    @precondition(lambda self: self.approved)
    @rule(pick=PICK)
    def issue(self, pick):
        number = pick % len(self.approved)
        plan, key, boards = self.approved[number]
        known = self.lots[key]
        line = plan_here(self.ground.site, plan.public_id).version.charge.get()
        given = [plans.Handout(line, known.lot, Decimal(boards))]
        own = known.claims.get(plan.public_id, 0)
        refused = (
            WrongState if known.held else StockNotAvailable if known.free + own < boards else None
        )
        if refused:
            with pytest.raises(refused):
                plans.issue_charge(plan, given, by=self.ground.stores, at=NOW)
            return
        plans.issue_charge(plan, given, by=self.ground.stores, at=NOW)
        known.claims.pop(plan.public_id, None)
        self.approved.pop(number)
        self.out.append(Out(plan, key, boards, self.leaves(known, boards)))

    @precondition(lambda self: self.out)
    @rule(boards=FEW, pick=PICK)
    def give_back(self, boards, pick):
        row = self.out[pick % len(self.out)]
        known = self.lots[row.lot]
        given = {"returned_at": NOW, "by": self.ground.stores, "at": NOW}
        if boards > row.boards:
            with pytest.raises(WrongValue):
                burns.return_boards(row.plan, known.lot, Decimal(boards), **given)
            return
        burns.return_boards(row.plan, known.lot, Decimal(boards), **given)
        cents = part_of(row.cents, boards, row.boards)
        row.boards, row.cents = row.boards - boards, row.cents - cents
        self.enters(known, boards, cents)

    def refused(self, known, boards, act) -> bool:
        """Whether the act was refused as it must be, for a held lot or for want of free boards."""
        refusal = WrongState if known.held else StockNotAvailable
        if not known.held and known.free >= boards:
            return False
        with pytest.raises((WrongState, StockNotAvailable)) as caught:
            act()
        # a held lot with too little free may be refused for either
        assert caught.type is refusal or known.free < boards
        return True

    @rule(boards=FEW, pick=PICK)
    def scrap(self, boards, pick):
        known = self.pick(pick)

        def act():
            return moving.scrap(
                known.lot, quantity=Decimal(boards), reason="x", by=self.ground.stores, at=NOW
            )

        if not self.refused(known, boards, act):
            act()
            self.leaves(known, boards)

    @rule(boards=FEW, pick=PICK)
    def split(self, boards, pick):
        known, mark = self.pick(pick), self.mark()

        def act():
            return moving.split_lot(
                known.lot, quantity=Decimal(boards), code=mark, bay=self.ground.bay,
                by=self.ground.stores, at=NOW,
            )  # fmt: skip

        if not self.refused(known, boards, act):
            child = act()
            self.known(child, boards, self.leaves(known, boards), known)

    @rule(sheets=FEW, pick=PICK, keep=st.booleans())
    def cut(self, sheets, pick, keep):
        whole = [each for each in self.lots.values() if not each.lot.product.piece_of_id]
        known, mark = whole[pick % len(whole)], self.mark()

        def act():
            return cutting.cut_sheets(
                known.lot, sheets=Decimal(sheets), pattern=PATTERN, code=mark, keep_offcuts=keep,
                by=self.ground.stores, at=NOW,
            )  # fmt: skip

        if not self.refused(known, sheets, act):
            pieces = act()
            cents = self.leaves(known, sheets)
            kept = (2 * cents * OFFCUT_PER_MILLE + 1000) // 2000 if keep else 0
            self.known(pieces, sheets * PIECES, cents - kept, known)
            if keep:
                self.known(Lot.objects.get(code=f"{mark}-E"), sheets, kept, known)

    @rule(counted=st.integers(min_value=0, max_value=8), pick=PICK)
    def count(self, counted, pick):
        """A burn manager approves what is over the threshold."""
        known = self.pick(pick)
        given = {
            "counted_now": Decimal(counted),
            "reason": "x",
            "by": self.ground.stores,
            "at": NOW,
        }
        if counted == known.on_hand:
            with pytest.raises(WrongValue):
                counting.adjust_stock(known.lot, **given)
            return
        stocktake = counting.adjust_stock(known.lot, **given)
        if stocktake.lines.get().state == CountState.SIGNED:
            assert LotBalance.objects.get(lot=known.lot).on_hand == known.on_hand
            shown = counting.content_hash(stocktake, CountState.SIGNED)
            counting.approve_stocktake(stocktake, shown_hash=shown, by=self.ground.manager, at=NOW)
        change = counted - known.on_hand
        if change > 0:
            product = known.lot.product_id
            stood = self.boards[product]
            self.enters(known, change, part_of(self.cents[product], change, stood) if stood else 0)
            return
        for plan in reversed(list(known.claims)):
            too_many = max(0, sum(known.claims.values()) - counted)
            known.claims[plan] -= min(too_many, known.claims[plan])
            if not known.claims[plan]:
                del known.claims[plan]
        self.leaves(known, -change)

    @rule(pick=PICK)
    def hold(self, pick):
        known = self.pick(pick)
        if known.held:
            with pytest.raises(WrongState):
                stock.hold_lot(known.lot, reason="x", by=self.ground.stores, at=NOW)
            return
        stock.hold_lot(known.lot, reason="x", by=self.ground.stores, at=NOW)
        family = {known.lot.pk}
        for key in sorted(self.lots):  # a child has a higher key than its parent
            if key in family or self.lots[key].parent in family:
                family.add(key)
                self.lots[key].held = True

    @precondition(lambda self: any(each.held for each in self.lots.values()))
    @rule(pick=PICK)
    def accept(self, pick):
        held = [each for each in self.lots.values() if each.held]
        known = held[pick % len(held)]
        stock.accept_lot(known.lot, by=self.ground.stores, at=NOW)
        known.held = False

    def teardown(self):
        if hasattr(self, "undone"):
            transaction.set_rollback(True)
            self.undone.__exit__(None, None, None)

    @invariant()
    def stock_claims_and_value_are_as_reckoned(self):
        if not getattr(self, "lots", None):
            return
        moved = sums(Movement.objects.all(), "lot", F("sign") * F("quantity"))
        claimed = sums(Reservation.objects.all(), "lot", F("sign") * F("quantity"))
        balances = {each.lot_id: each for each in LotBalance.objects.all()}
        assert set(balances) == set(self.lots)
        for key, known in self.lots.items():
            assert balances[key].on_hand == moved[key] == known.on_hand >= 0
            reserved = sum(known.claims.values())
            assert balances[key].reserved == claimed.get(key, 0) == reserved <= known.on_hand
            assert (selectors.verdict_of(known.lot) == "held") == known.held
        worth = sums(Movement.objects.all(), "lot__product", SIGNED_VALUE)
        for each in ProductStock.objects.filter(product__in=self.boards):
            assert each.quantity == self.boards[each.product_id]
            assert each.value * 100 == self.cents[each.product_id]
            assert each.value == worth[each.product_id]


def sums(rows, key, what) -> dict[int, Decimal]:
    """To the hundredth: SQLite sums in floating point."""
    found = rows.order_by().values_list(key).annotate(total=Sum(what))
    return {of: round(Decimal(total), 2) for of, total in found}


def test_the_store_holds_in_any_order_of_acts(db):
    quick = settings(
        max_examples=EXAMPLES, stateful_step_count=14, deadline=None, derandomize=EXAMPLES < 20,
        database=None, suppress_health_check=[HealthCheck.too_slow],
    )  # fmt: skip
    run_state_machine_as_test(Store, settings=quick)
