"""Oldest lots first, or a reason."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import WrongValue
from records.audit.models import Entry
from records.plans import services as plans
from records.plans.forms import PlanForm
from records.plans.selectors import Handout, plan_here
from records.stock.models import Movement
from tests import builders
from tests.asking import refuses
from tests.builders import NOW
from tests.pages import DAY, Things


@pytest.fixture
def lots(ground):
    day = dt.timedelta(days=1)
    return [builders.accepted_lot(ground, 4, at=NOW - back * day) for back in (3, 2)]


@pytest.fixture
def plan(ground, lots):
    return builders.approved(ground)


def issue(ground, plan, lot, why=""):
    line = plan_here(ground.site, plan.public_id).version.charge.get()
    plans.issue_charge(
        plan, [Handout(line, lot, Decimal(3))], by=ground.stores, at=NOW, why_younger=why
    )


def test_a_younger_lot_needs_a_reason_while_an_older_one_has_boards(ground, plan, lots):
    with refuses(WrongValue, "why_younger") as caught:
        issue(ground, plan, lots[1])
    assert lots[0].code in caught.value.sentence


def test_the_reason_stands_with_the_movement_and_in_the_log(ground, plan, lots):
    issue(ground, plan, lots[1], why="the older ones lie at the back")
    moved = Movement.objects.filter(kind="issue").get()
    assert (moved.lot, moved.reason) == (lots[1], "the older ones lie at the back")
    assert Entry.objects.get(act="plans.charge_issued").why == "the older ones lie at the back"


def test_the_oldest_needs_none(ground, plan, lots):
    issue(ground, plan, lots[0])
    assert Movement.objects.get(kind="issue").reason == ""


def test_a_younger_one_needs_none_once_the_older_is_held(ground, plan, lots):
    builders.stock.hold_lot(lots[0], reason="wet", by=ground.stores, at=NOW)
    issue(ground, plan, lots[1])


def test_a_younger_one_needs_none_once_the_older_is_used_up(ground, plan, lots):
    builders.counted(ground, lots[0], 0)
    issue(ground, plan, lots[1])


def test_lots_of_other_fuel_and_younger_lots_do_not_matter(ground, plan, lots):
    builders.accepted_lot(ground, product=ground.kindling, at=NOW - dt.timedelta(days=5))
    builders.accepted_lot(ground)
    issue(ground, plan, lots[0])


def test_the_plan_form_marks_the_oldest(ground, lots):
    form = PlanForm(site=ground.site, today=NOW.date())
    marked = [label for _key, label in form.fields["lot_0"].choices if "oldest" in str(label)]
    assert marked == [f"{lots[0].code}, Test board, the oldest"]


def test_the_page_asks_why_and_keeps_what_was_typed(db, signed_in):
    """The plan leaves the lot open; whoever issues sets the older lot's count to nothing."""
    things = Things()
    older = builders.accepted_lot(things.ground, 2, at=things.now - 5 * DAY)
    client, address = signed_in(things.ground.stores), things.address("plans:issue")
    assert "Why a younger lot" not in client.get(address).text
    given = {"quantity_0": "", "quantity_1": "1", "once": "k"}
    answer = client.post(address, given | {"quantity_0": "0"})
    assert answer.status_code == 400
    assert older.code in answer.text
    assert "Why a younger lot" in answer.text
    answer = client.post(address, given | {"quantity_0": "0", "why_younger": "lies at the back"})
    assert answer.status_code == 302
