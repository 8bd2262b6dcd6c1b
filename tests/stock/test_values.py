"""Values at cost: a printed stock card, rounding that loses nothing, and totals of a period."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.guarded import opened
from records.stock import ledger, moving
from records.stock.models import Movement, MovementKind, ProductStock
from records.stock.values import period_of
from tests import builders
from tests.builders import NOW

DAY = dt.timedelta(days=1)


def issue(ground, lot, quantity, *, plan="", at=NOW):
    """A movement out for a plan, without the plan: only its value is looked at here."""
    with opened():
        return ledger.move(
            lot, MovementKind.ISSUE, Decimal(quantity), by=ground.stores, happened_at=at,
            recorded_at=at, plan=plan,
        )  # fmt: skip


def give_back(ground, lot, quantity, *, plan, at=NOW):
    with opened():
        return ledger.move(
            lot, MovementKind.RETURN, Decimal(quantity), by=ground.stores, happened_at=at,
            recorded_at=at, plan=plan,
        )  # fmt: skip


def test_the_printed_moving_average_card_is_reproduced(ground):
    """300 at 8; issue 175; receive 375 at 10, average 9.50; issue 280 for 2660; 220 left for 2090:
    homeworksource.com/p/1123599 (read; S-W1 of the checks)."""
    first = builders.deliver(ground, 300, unit_cost=Decimal(8), at=NOW - 4 * DAY)
    assert issue(ground, first, 175, at=NOW - 3 * DAY).value == 1400
    second = builders.deliver(ground, 375, unit_cost=Decimal(10), at=NOW - 2 * DAY)
    stock = ProductStock.objects.get(product=ground.board)
    assert (stock.quantity, stock.value, stock.value / stock.quantity) == (
        500,
        4750,
        Decimal("9.5"),
    )
    out = issue(ground, first, 125, at=NOW).value + issue(ground, second, 155, at=NOW).value
    assert out == 2660
    stock.refresh_from_db()
    assert (stock.quantity, stock.value) == (220, 2090)

    today = NOW.astimezone(ground.site.zone).date()
    period = period_of(ground.site, today - 2 * DAY, today)
    card = next(each for each in period.cards if each.product == ground.board)
    assert card.opening == (125, 1000)
    assert card.moved["received"] == (375, 3750)
    assert card.moved["issued"] == (-280, -2660)
    assert card.closing == (220, 2090)
    assert card.average == Decimal("9.50")
    assert period.totals["closing"] == 2090


def test_what_comes_back_brings_what_it_took_along_whatever_was_bought_meanwhile(ground):
    lot = builders.deliver(ground, 10, unit_cost=Decimal("1.11"))
    out = issue(ground, lot, 3, plan="p")
    builders.deliver(ground, 10, unit_cost=Decimal(20))
    back = [give_back(ground, lot, 1, plan="p").value for _board in range(3)]
    assert sum(back) == out.value == Decimal("3.33")


def test_boards_found_come_in_at_the_average_and_none_in_stock_have_no_value(ground):
    lot = builders.deliver(ground, 3, unit_cost=Decimal(10))
    with opened():
        kinds = [MovementKind.ADJUST_UP, MovementKind.ADJUST_DOWN, MovementKind.ADJUST_UP]
        made = [
            ledger.move(
                lot, kind, Decimal(count), by=ground.stores, happened_at=NOW, recorded_at=NOW
            )
            for kind, count in zip(kinds, (1, 4, 2), strict=True)
        ]
    assert [each.value for each in made] == [10, 40, 0]


@given(
    cost=st.decimals(min_value="0.01", max_value=99, places=2),
    boards=st.integers(min_value=1, max_value=400),
    parts=st.lists(st.integers(min_value=1, max_value=40), max_size=30),
)
def test_shares_of_a_value_give_the_whole_to_the_cent(cost, boards, parts):
    """Whatever is taken in whichever steps, what is left is the rest, and the last takes it all."""
    value, left, taken = cost * boards, Decimal(boards), []
    whole = value
    for part in [*parts, 10**6]:
        part = min(Decimal(part), left)
        if part:
            taken.append(ledger.share(value, part, left))
            value, left = value - taken[-1], left - part
    assert sum(taken) == whole
    assert min(taken) >= 0
    assert all(each == round(each, 2) for each in taken)


def test_thirds_of_ten_lose_no_cent(ground):
    """10.00 for three boards, by hand: 3.33, then 3.34 (6.67 / 2 half up), then 3.33."""
    lot = builders.deliver(ground, 3, unit_cost=Decimal("3.33"))
    with opened():
        ProductStock.objects.update(value=Decimal(10))
    values = [issue(ground, lot, 1).value for _board in range(3)]
    assert values == [Decimal("3.33"), Decimal("3.34"), Decimal("3.33")]


@pytest.mark.parametrize("split_at", [1, 3, 7])
def test_splitting_a_lot_moves_its_share_and_changes_no_average(ground, split_at):
    lot = builders.accepted_lot(ground, 8, unit_cost=Decimal("7.77"))
    child = moving.split_lot(
        lot, quantity=Decimal(split_at), code="L-S", bay=ground.bay, by=ground.stores, at=NOW
    )
    out, back = Movement.objects.filter(kind__startswith="moved_").order_by("id")
    assert (out.lot, back.lot) == (lot, child)
    assert out.value == back.value == Decimal("7.77") * split_at
    assert ProductStock.objects.get(product=ground.board).value == Decimal("7.77") * 8


def test_deliveries_without_a_cost_are_counted_on_the_page(ground):
    builders.deliver(ground, 3)
    builders.deliver(ground, 3, unit_cost=Decimal(1))
    today = NOW.astimezone(ground.site.zone).date()
    assert period_of(ground.site, today, today).without_cost == 1


def test_another_grounds_stock_is_not_in_the_totals(ground, other):
    builders.deliver(other, 3, unit_cost=Decimal(1))
    today = NOW.astimezone(ground.site.zone).date()
    assert period_of(ground.site, today, today).cards == []
