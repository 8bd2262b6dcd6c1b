"""How many boards to read, which ones, and when again."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from importlib import import_module

import pytest
from django.apps import apps

from facility.guarded import opened
from records.stock.models import Lot, LotBalance
from records.stock.moving import split_lot
from records.stock.rounds import (
    boards_to_read,
    due_for_reading,
    needed_for,
    plan_for,
    rounds_of,
)
from records.stock.selectors import lot_here
from tests import builders
from tests.builders import NOW

DAY = dt.timedelta(days=1)


@pytest.mark.parametrize(
    ("boards", "readings"),
    [(1, 1), (2, 2), (3, 3), (15, 3), (16, 4), (25, 4), (26, 5), (50, 5), (51, 7), (90, 7),
     (91, 10), (150, 10), (151, 15), (280, 15), (400, 20), (500, 25), (1200, 35), (3200, 50)],
)  # fmt: skip
def test_readings_by_the_size_of_the_lot(boards, readings):
    """ANSI/ASQ Z1.9-2008 Tables A-2 (level II) and B-1 (AQL 4.0), as checked cell by cell in
    tests/calc/test_sampling.py; a lot under three boards is read whole."""
    assert plan_for(boards).value() == readings


@pytest.mark.parametrize("boards", [1, 2, 15, 16, 51, 280, 281])
def test_the_database_asks_for_as_many_readings_as_the_plan(ground, boards):
    """One reading less leaves the moisture of the lot unknown; the last one makes it known."""
    lot = builders.deliver(ground, boards)
    needed = needed_for(lot)
    if needed > 1:
        builders.read(ground, lot, *["8"] * (needed - 1))
        assert lot_here(ground.site, lot.public_id).moisture_pct is None
    builders.read(ground, lot, "8")
    assert lot_here(ground.site, lot.public_id).moisture_pct == 8


def test_the_boards_to_read_are_drawn_once_a_month_and_lie_in_the_lot(ground):
    lot = builders.deliver(ground, 200)
    drawn = boards_to_read(lot, Decimal(200), NOW.date(), in_a_pack=40)
    assert drawn == boards_to_read(lot, Decimal(200), NOW.date() + DAY, in_a_pack=40)
    assert drawn != boards_to_read(lot, Decimal(200), NOW.date() + 35 * DAY, in_a_pack=40)
    assert len(set(drawn)) == 15
    assert {each.pack for each in drawn} <= set(range(1, 6))
    assert {each.board for each in drawn} <= set(range(1, 41))


def test_where_few_boards_are_left_each_is_named(ground):
    lot = builders.deliver(ground, 200)
    drawn = boards_to_read(lot, Decimal(3), NOW.date())
    assert [(each.pack, each.board) for each in drawn] == [(1, 1), (1, 2), (1, 3)]


def test_the_newest_round_in_short_counts_what_the_lot_counts(ground):
    lot, neighbour = builders.deliver(ground), builders.deliver(ground)
    builders.read(ground, lot, "20", "30")
    builders.read(ground, lot, "9", "11", at=NOW + DAY)
    builders.read(ground, neighbour, "7")
    found = rounds_of([lot, neighbour], NOW + DAY)
    assert (found[lot.pk].count, found[lot.pk].highest_pct) == (2, 11)
    assert (found[neighbour.pk].count, found[neighbour.pk].highest_pct) == (1, 7)


def test_readings_grow_old_in_a_month(ground):
    lot = builders.accepted_lot(ground)
    builders.accepted_lot(ground, product=ground.kindling)  # is never read

    def due(days: float):
        return due_for_reading(ground.site, NOW + days * DAY)

    assert due(30.9).lots == []
    assert (due(31.1).lots, due(31.1).count) == ([lot], 1)


def test_the_oldest_are_named_and_the_rest_is_counted(ground):
    lots = [builders.accepted_lot(ground, at=NOW + days * DAY) for days in range(3)]
    due = due_for_reading(ground.site, NOW + 60 * DAY, shown=2)
    assert (due.lots, due.count, due.more) == (lots[:2], 3, 1)


def test_a_part_grows_old_with_the_readings_it_goes_by_until_it_has_its_own(ground):
    whole = builders.accepted_lot(ground)
    part = split_lot(
        whole, quantity=Decimal(5), code="P-5", bay=ground.bay, by=ground.stores, at=NOW + DAY
    )
    due = due_for_reading(ground.site, NOW + 40 * DAY)
    assert (due.lots, due.count) == ([whole, part], 2)
    builders.read(ground, part, at=NOW + 30 * DAY)
    assert due_for_reading(ground.site, NOW + 40 * DAY).lots == [whole]
    due = due_for_reading(ground.site, NOW + 70 * DAY)
    assert [each.balance.read_at for each in due.lots] == [NOW, NOW + 30 * DAY]


def test_a_store_from_before_is_told_when_each_lot_was_read(ground):
    """The migration finds what the services have kept since."""
    whole = builders.accepted_lot(ground)
    for code in ("P-5", "P-6"):
        split_lot(whole, quantity=Decimal(5), code=code, bay=ground.bay, by=ground.stores, at=NOW)
    builders.read(ground, Lot.objects.get(code="P-6"), at=NOW + DAY)
    builders.deliver(ground)  # not read yet
    kept = dict(LotBalance.objects.values_list("lot", "read_at"))
    assert sorted(kept.values(), key=str) == [NOW, NOW, NOW + DAY, None]
    with opened():
        LotBalance.objects.update(read_at=None)
        import_module("records.stock.migrations.0010_fill_when_read").fill_in(apps, None)
    assert dict(LotBalance.objects.values_list("lot", "read_at")) == kept


def test_the_standard_says_how_old_readings_may_grow(ground):
    row = {"code": "F-15d", "title": "Age", "fact": "lot.days_since_reading", "comparison": "within",
           "limit": Decimal(10)}  # fmt: skip
    lot = builders.accepted_lot(ground)
    given = {"severity": "block", "clause": "test", "basis": "local"}
    builders.adopt(ground, "T-2", [*builders.rows(), given | row], at=NOW, day=NOW.date() + DAY)
    assert due_for_reading(ground.site, NOW + 11 * DAY).lots == [lot]
    assert due_for_reading(ground.site, NOW + 9 * DAY).count == 0
