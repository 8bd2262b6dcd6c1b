"""Recalling lots: everything of the same boards is held in one act."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, LimitExceeded, StaleVersion, WrongState, WrongValue
from records.audit.models import Entry
from records.burns import services as burns
from records.inspections.checklists import PRE_BURN
from records.plans import services as plans
from records.plans.selectors import plan_here, suggested_handouts
from records.stock import counting, recalling
from records.stock import services as stock
from records.stock.models import LotVerdict, Recall, RecalledLot
from records.stock.selectors import verdict_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.pieces import cut

ACT = "stock.lot_recalled"
DAY = dt.timedelta(days=1)


def recall(ground, *lots, **changes):
    given = {"source": "supplier", "notice": "N-7", "reason": "glue gives off gas",
             "used_in": lambda lots: [], "by": ground.manager, "at": NOW}  # fmt: skip
    return recalling.recall_lots(ground.site, lots, **{**given, **changes})


def test_every_lot_of_the_same_boards_is_held_and_what_was_left_is_kept(ground):
    lot, neighbour = builders.accepted_lot(ground, 40), builders.accepted_lot(ground)
    piece = cut(ground, lot, 10, "P-1")
    small = cut(ground, piece, 4, "P-2")
    sister = cut(ground, lot, 5, "P-3")
    with writes(ACT, Recall, RecalledLot, LotVerdict):
        made = recall(ground, piece)
    assert {lot.code: verdict_of(lot) for lot in (lot, piece, small, sister, neighbour)} == {
        lot.code: "held", "P-1": "held", "P-2": "held", "P-3": "held", neighbour.code: "accepted",
    }  # fmt: skip
    left = {row.lot.code: row.on_hand for row in made.lots.all()}
    assert left == {lot.code: 25, "P-1": 6, "P-2": 4, "P-3": 5}


def test_the_log_keeps_lots_burns_reason_and_signature(ground):
    lot = builders.accepted_lot(ground, 40)
    recall(ground, lot, used_in=lambda lots: ["burn2", "burn1"])
    entry = Entry.objects.first()
    told = dict(entry.after)
    assert (entry.act, entry.why) == (ACT, "glue gives off gas")
    assert told["lots"] == [[lot.code, "40"]]
    assert told["burns"] == ["burn1", "burn2"]
    assert (told["meaning"], len(told["hash"])) == (recalling.RECALL, 64)


def test_a_lot_used_up_is_held_as_well_so_that_boards_that_come_back_do_not_burn(ground):
    lot = builders.accepted_lot(ground, 3)
    builders.issued(ground)
    recall(ground, lot)
    assert lot.recalls.get().on_hand == 0
    assert verdict_of(lot) == "held"


def test_nobody_accepts_a_lot_under_a_recall(ground):
    lot = builders.accepted_lot(ground)
    recall(ground, lot)
    with refuses(WrongState):
        stock.accept_lot(lot, by=ground.stores_two, at=NOW)


def test_no_plan_that_counts_on_the_lot_is_approved_issued_or_lit(ground):
    lot = builders.accepted_lot(ground)
    waiting, approved, issued = (
        make(ground, builders.content(ground, starts_at=NOW + (n + 1) * DAY))
        for n, make in enumerate((builders.submitted, builders.approved, builders.issued))
    )
    handouts = suggested_handouts(plan_here(ground.site, approved.public_id).version)
    recall(ground, lot)
    meaning = {"meaning": "approval to burn as planned", "by": ground.manager, "at": NOW}
    with refuses(LimitExceeded):
        plans.approve_plan(waiting, shown_hash=builders.hash_of(waiting), **meaning)
    with refuses(WrongState):
        plans.issue_charge(approved, handouts, by=ground.stores, at=NOW)
    starts_at = NOW + 3 * DAY
    with refuses(WrongState):
        burns.start_burn(
            issued, checks={str(item): True for item in PRE_BURN}, present=builders.everyone(issued),
            ignition_method="gas burner", weather="dry", by=ground.instructor,
            ignited_at=starts_at, at=starts_at,
        )  # fmt: skip


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_recall(ground, role):
    lot = builders.deliver(ground)
    with refuses_role():
        recall(ground, lot, by=actor(ground, role))


@pytest.mark.parametrize("reason", ["", "  ", "x" * 301, "bell\a"])
def test_the_reason_is_given_in_plain_text(ground, reason):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "reason"):
        recall(ground, lot, reason=reason)


def test_source_lots_and_ground_are_checked(ground, other):
    lot, strange = builders.deliver(ground), builders.deliver(other)
    with refuses(WrongValue, "source"):
        recall(ground, lot, source="rumour")
    with refuses(WrongValue, "lots"):
        recall(ground)
    with refuses(WrongValue, "lots"):
        recall(ground, strange)


def test_a_lot_under_a_recall_is_not_recalled_again_and_a_docket_with_one_more_is(ground):
    lot, more = builders.deliver(ground), builders.deliver(ground)
    recall(ground, lot)
    with refuses(WrongState):
        recall(ground, lot)
    recall(ground, lot, more)
    assert verdict_of(more) == "held"


def test_what_was_shown_is_what_is_signed(ground):
    lot = builders.accepted_lot(ground, 40)
    shown = recalling.content_hash(recalling.lots_of_family(ground.site, [lot]), [])
    counting.adjust_stock(
        lot, counted_now=Decimal(39), reason="one broke", by=ground.stores, at=NOW
    )
    with refuses(StaleVersion):
        recall(ground, lot, shown_hash=shown)


def test_the_same_form_sent_twice_gives_one_recall(ground):
    lot = builders.deliver(ground)
    recall(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        recall(ground, lot, once="form-1")
