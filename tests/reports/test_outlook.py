"""The outlook: what the records say of demand and stock, the page, and the day sheet."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from facility.guarded import opened
from records.plans import services as plans
from records.reports.outlook import outlooks
from records.stock import counting, use
from records.stock import services as stock
from records.stock.models import Movement, MovementKind
from records.stock.reordering import set_reorder
from tests import builders
from tests.builders import NOW
from tests.pages import DAY, Things


def order(
    ground, product=None, *, lead: str = "10", spread: str = "0", at: dt.datetime = NOW
) -> None:
    set_reorder(
        product or ground.board, lead_days=Decimal(lead), spread_days=Decimal(spread),
        service_pct=Decimal(95), multiple=Decimal(20), lasts_days=Decimal(28), by=ground.stores,
        at=at,
    )  # fmt: skip


def of_board(ground, now: dt.datetime = NOW):
    return next(each for each in outlooks(ground.site, now) if each.product == ground.board)


def history(ground, lot, weeks: int, each: int, *, until: dt.datetime = NOW) -> None:
    """So many boards issued every week up to a moment. Written as rows: issuing by hand would
    take a plan, its crew and a burn for each."""
    for week in range(weeks):
        when = until - dt.timedelta(days=7 * (week + 1))
        Movement.objects.bulk_create(
            [
                Movement(
                    lot=lot, kind=MovementKind.ISSUE, sign=-1, quantity=each, plan="past",
                    happened_at=when, recorded_at=when, moved_by=ground.stores,
                )
            ]
        )  # fmt: skip


@pytest.fixture
def past(ground, open_door):
    """Forty boards in store, and seven a week used over the last year."""
    lot = builders.accepted_lot(ground, 40)
    history(ground, lot, 52, 7)
    return lot


@pytest.fixture
def open_door():
    with opened():
        yield


# -- what the records say -----------------------------------------------------------------


def test_use_is_issues_less_returns_by_the_grounds_own_weeks(ground):
    """The ground's week begins half a day before that of UTC: Sunday 11:30 UTC is its Monday."""
    builders.accepted_lot(ground, 40, at=NOW - 3 * DAY)
    builders.issued(ground)
    movement = Movement.objects.get(kind=MovementKind.ISSUE)
    local = movement.happened_at.astimezone(ground.site.zone).date()
    monday = local - dt.timedelta(days=local.weekday())
    today = NOW.astimezone(ground.site.zone).date()
    assert use.weekly_use(ground.site, today) == {ground.board.pk: {monday: 3.0}}


@pytest.mark.parametrize(
    ("when", "monday"),
    [
        (dt.datetime(2026, 1, 25, 10, 59, tzinfo=dt.UTC), dt.date(2026, 1, 19)),
        (dt.datetime(2026, 1, 25, 11, 1, tzinfo=dt.UTC), dt.date(2026, 1, 26)),
    ],
)
def test_a_week_turns_at_the_grounds_midnight(ground, open_door, when, monday):
    """Auckland is 13 hours ahead in January: its Monday begins on Sunday at 11:00 UTC."""
    lot = builders.accepted_lot(ground, 40, at=NOW - 5 * DAY)
    history(ground, lot, 1, 5, until=when + dt.timedelta(days=7))
    today = NOW.astimezone(ground.site.zone).date()
    assert dict(use.weekly_use(ground.site, today)[ground.board.pk]) == {monday: 5.0}


def test_what_is_kept_between_requests_changes_nothing(ground, open_door, monkeypatch):
    """With nothing left unsettled, sums are kept; movements that follow are still seen."""
    lot = builders.accepted_lot(ground, 40, at=NOW - 3 * DAY)
    history(ground, lot, 20, 3)
    today = NOW.astimezone(ground.site.zone).date()
    whole = use.weekly_use(ground.site, today)
    monkeypatch.setattr(use, "UNSETTLED", 5)
    monkeypatch.setattr(use, "_kept", {})
    assert use.weekly_use(ground.site, today) == whole
    history(ground, lot, 10, 2)
    kept = use.weekly_use(ground.site, today)
    monkeypatch.setattr(use, "_kept", {})
    assert kept == use.weekly_use(ground.site, today)
    assert sum(kept[ground.board.pk].values()) == 20 * 3 + 10 * 2


def test_adjustments_and_receipts_are_no_use(ground):
    lot = builders.accepted_lot(ground, 40, at=NOW - 3 * DAY)
    counting.adjust_stock(lot, counted_now=Decimal(30), reason="count", by=ground.stores, at=NOW)
    assert use.weekly_use(ground.site, NOW.date()) == {}


def test_stock_by_what_was_decided(ground):
    builders.accepted_lot(ground, 40)
    builders.deliver(ground, 25)
    held = builders.accepted_lot(ground, 12)
    stock.hold_lot(held, reason="wet", by=ground.stores, at=NOW)
    assert use.standing_of(ground.site) == {ground.board.pk: use.Standing(40, 25, 12)}


def test_days_until_accepted_are_taken_from_the_lots(ground):
    """Two lots, accepted after two days and after six: four on average, two either way."""
    for days in (2, 6):
        lot = builders.deliver(ground, at=NOW - 7 * DAY)
        builders.read(ground, lot, at=NOW - (7 - days) * DAY)
        stock.accept_lot(lot, by=ground.stores, at=NOW - (7 - days) * DAY)
    assert use.readying_of(ground.site)[ground.board.pk] == use.Readying(4, 2, 2)


# -- the outlook --------------------------------------------------------------------------


def test_an_empty_history_goes_by_plans_only(ground):
    builders.accepted_lot(ground, 40)
    builders.approved(ground)
    found = of_board(ground)
    assert found.season is None
    assert found.planned.approved == 3
    assert found.demand.total[-1] == 3
    assert found.dry_on is None


def test_without_any_demand_it_says_so(ground):
    builders.accepted_lot(ground, 40)
    assert "no demand to forecast" in of_board(ground).sentence


def test_approved_and_booked_plans_are_told_apart_and_withdrawn_ones_left_out(ground):
    builders.accepted_lot(ground, 60)
    builders.approved(ground)
    builders.submitted(ground, builders.content(ground, starts_at=NOW + 3 * DAY))
    builders.drafted(ground, builders.content(ground, 2, starts_at=NOW + 4 * DAY))
    gone = builders.drafted(ground, builders.content(ground, 2, starts_at=NOW + 5 * DAY))
    plans.withdraw_plan(gone, reason="no course", by=ground.instructor, at=NOW)
    found = of_board(ground)
    assert (found.planned.approved, found.planned.booked) == (3, 5)


def test_a_charge_that_is_out_is_no_demand(ground):
    builders.accepted_lot(ground, 60)
    builders.issued(ground)
    assert of_board(ground).planned.approved == 0


def test_seven_a_week_from_forty_run_dry_in_forty_days(ground, past):
    """One a day: dry on the fortieth day. The lead time is ten days and the demand certain, so
    the order goes out thirty days from now."""
    order(ground)
    found = of_board(ground)
    assert found.season is not None
    assert (found.dry_on - found.today).days in (39, 40, 41)
    assert 28 <= (found.order_on - found.today).days <= 31
    assert found.quantity % 20 == 0
    assert found.sentence.startswith(f"Order {found.quantity:g} boards by ")
    assert "runs dry about" in found.sentence
    assert not found.is_due


def test_a_longer_wait_for_acceptance_orders_earlier(ground, past):
    order(ground)
    before = of_board(ground).order_on
    slow = builders.deliver(ground, 1, at=NOW - 7 * DAY)
    builders.read(ground, slow, at=NOW)
    stock.accept_lot(slow, by=ground.stores, at=NOW)
    counting.adjust_stock(slow, counted_now=Decimal(0), reason="gone", by=ground.stores, at=NOW)
    assert of_board(ground).order_on < before


def test_boards_that_wait_are_shown_beside_those_accepted(ground, past):
    order(ground)
    builders.deliver(ground, 20)
    found = of_board(ground)
    assert found.standing.waiting == 20
    assert found.dry_without_waiting < found.dry_on


def test_held_boards_are_not_counted(ground, past):
    before = of_board(ground).dry_on
    held = builders.accepted_lot(ground, 100)
    stock.hold_lot(held, reason="wet", by=ground.stores, at=NOW)
    assert of_board(ground).dry_on == before


def test_a_low_store_orders_now(ground, past):
    order(ground, lead="60")
    found = of_board(ground)
    assert found.state == "order_now"
    assert "now." in found.sentence
    assert found.is_due


def test_without_a_lead_time_no_day_is_told(ground, past):
    found = of_board(ground)
    assert found.order_on is None
    assert found.dry_on is not None
    assert "Set the lead time" in found.sentence


def test_the_workings_of_point_and_quantity_can_be_asked(ground, past):
    order(ground)
    found = of_board(ground)
    assert found.point.name == "reorder_point"
    assert found.order.name == "order_quantity"
    assert found.ahead.level[found.ahead.order_on] == pytest.approx(found.point.value(), abs=0.01)


def test_other_grounds_do_not_count(ground, past):
    other = builders.found_ground("Other ground")
    assert all(each.season is None for each in outlooks(other.site, NOW))
    assert {each.product.site_id for each in outlooks(ground.site, NOW)} == {ground.site.pk}


def test_queries_do_not_grow_with_products_lots_or_plans(ground, past, django_assert_num_queries):
    order(ground)
    outlooks(ground.site, NOW)
    with CaptureQueriesContext(connection) as before:
        outlooks(ground.site, NOW)
    for number in range(4):
        builders.accepted_lot(ground, 10)
        builders.drafted(ground, builders.content(ground, starts_at=NOW + (number + 2) * DAY))
    with django_assert_num_queries(len(before)):
        outlooks(ground.site, NOW)


# -- the pages ----------------------------------------------------------------------------


@pytest.fixture
def things(db) -> Things:
    return Things()


def signed_in(things: Things, who: str = "instructor") -> Client:
    client = Client()
    client.force_login(things.ground.cast[who])
    return client


def test_the_page_shows_every_product_and_the_one_asked_for(things):
    page = signed_in(things).get(reverse("reports:outlook"), {"product": things.product.public_id})
    assert page.status_code == 200
    assert page.context["chosen"].product == things.product
    assert "Kindling" in page.text
    assert "Too little history: based on plans only." in page.text
    assert '<img class="chart"' in page.text


def test_a_product_of_another_ground_is_not_here(things):
    other = Things("Other ground")
    address = reverse("reports:outlook")
    page = signed_in(things).get(address, {"product": other.product.public_id})
    assert page.status_code == 404
    setting = reverse("stock:reorder", args=[other.product.public_id])
    assert signed_in(things, "stores").get(setting).status_code == 404


@pytest.mark.parametrize("wrong", ["x" * 500, "' OR 1=1 --", "\x07"])
def test_a_product_that_is_none_is_not_here(things, wrong):
    assert signed_in(things).get(reverse("reports:outlook"), {"product": wrong}).status_code == 404


def test_an_empty_store_says_what_to_do(db):
    ground = builders.found_ground(at=timezone.now())
    client = Client()
    client.force_login(ground.stores)
    assert client.get(reverse("reports:outlook")).status_code == 200


def test_the_day_sheet_warns_in_time(things):
    builders.submitted(things.ground, things.content(6, boards=4), at=things.now)
    builders.counted(things.ground, things.lot, 3, at=things.now)
    sheet = reverse("reports:day_sheet")
    assert "Boards to order" not in signed_in(things).get(sheet).text
    order(things.ground, at=things.now)
    page = signed_in(things).get(sheet).text
    assert "Boards to order" in page
    assert "Order 20 boards now." in page


def test_the_administrator_is_not_told_of_boards(things):
    order(things.ground, lead="60", at=things.now)
    builders.submitted(things.ground, things.content(6, boards=4), at=things.now)
    page = signed_in(things, "admin").get(reverse("reports:day_sheet"))
    assert "Boards to order" not in page.text
