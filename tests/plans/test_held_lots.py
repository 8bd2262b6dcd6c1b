"""A lot that may not burn is stopped at every door: submitting, approving, issuing, lighting; by the service, the form, the import and the command that judges a file."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from facility.refusals import WrongState
from records.burns import services as burns
from records.inspections.checklists import PRE_BURN
from records.plans import services as plans
from records.plans.content import Line
from records.plans.forms import PlanForm
from records.plans.models import Plan
from records.plans.selectors import plan_here
from records.stock import deciding
from records.stock import services as stock
from tests import builders
from tests.asking import refuses
from tests.builders import NOW


def hold(ground, lot, at=NOW):
    stock.hold_lot(lot, reason="wet corner", by=ground.stores, at=at)


def reject(ground, lot, at=NOW):
    deciding.reject_lot(lot, reason="mould", by=ground.stores, at=at)


def put_under_a_condition(ground, lot, at=NOW):
    deciding.accept_on_condition(lot, condition="floor only", by=ground.stores, at=at)


BARS = [hold, reject, put_under_a_condition]


def naming(ground, lot):
    position = ground.unit.positions.get(name="Ceiling")
    return builders.content(ground, charge=(Line(position, ground.board, Decimal(3), lot),))


@pytest.fixture
def lot(ground):
    return builders.accepted_lot(ground)


@pytest.fixture
def no_row_asks(ground):
    """The doors hold whatever the rows of the ground ask; here none asks for acceptance."""
    rows = [row for row in builders.rows() if row["fact"] != "charge.lots_accepted"]
    builders.adopt(ground, "T-2", rows, at=NOW, day=NOW.date())


@pytest.mark.parametrize("bar", BARS)
def test_a_plan_that_names_it_is_neither_submitted_nor_approved(ground, lot, no_row_asks, bar):
    draft = builders.drafted(ground, naming(ground, lot))
    submitted = builders.submitted(ground, naming(ground, lot))
    bar(ground, lot)
    with refuses(WrongState):
        plans.submit_plan(draft, seen_hash=builders.hash_of(draft), by=ground.instructor, at=NOW)
    with refuses(WrongState):
        plans.approve_plan(
            submitted, meaning="m", shown_hash=builders.hash_of(submitted), by=ground.manager,
            at=NOW,
        )  # fmt: skip


@pytest.mark.parametrize("bar", BARS)
def test_it_is_not_issued(ground, lot, bar):
    plan = builders.approved(ground)
    line = plan_here(ground.site, plan.public_id).version.charge.get()
    bar(ground, lot)
    handout = plans.Handout(line, lot, Decimal(3))
    with refuses(WrongState):
        plans.issue_charge(plan, [handout], by=ground.stores, at=NOW)


@pytest.mark.parametrize("bar", BARS)
def test_what_was_issued_of_it_is_not_lit(ground, lot, bar):
    plan = builders.issued(ground, builders.content(ground, starts_at=NOW))
    bar(ground, lot)
    with refuses(WrongState):
        burns.start_burn(
            plan, checks={str(item): True for item in PRE_BURN},
            present=builders.everyone(plan), ignition_method="burner", weather="dry",
            by=ground.instructor, ignited_at=NOW, at=NOW,
        )  # fmt: skip


@pytest.mark.parametrize("bar", BARS)
def test_forms_do_not_offer_it(ground, lot, bar):
    neighbour = builders.accepted_lot(ground)
    bar(ground, lot)
    form = PlanForm(site=ground.site, today=NOW.date())
    assert set(form.lots) == {neighbour.public_id}


@pytest.mark.parametrize("bar", BARS)
def test_files_that_name_it_are_refused(db, bar, tmp_path):
    """The import drafts nothing; the command that judges a file says that it could not pass."""
    now = timezone.now()
    ground = builders.found_ground("Living ground", at=now)
    lot = builders.accepted_lot(ground, at=now)
    content = builders.content(ground, starts_at=now + dt.timedelta(days=1))
    bar(ground, lot, at=now)
    file = tmp_path / "plans.json"
    file.write_text(json.dumps([{
        "unit": "Unit 1", "exercise": "demonstration", "starts_at": content.starts_at.isoformat(),
        "ends_at": content.ends_at.isoformat(), "water_l": "12000", "objective": "Show growth",
        "abort_criteria": "Stop when the layer drops",
        "charge": [{"position": "Ceiling", "product": "Test board", "quantity": "3",
                    "lot": lot.code}],
        "crew": [{"person": place.person.name, "duty": str(place.duty)} for place in content.crew],
    }]))  # fmt: skip
    count = Plan.objects.count()
    with pytest.raises((CommandError, SystemExit)):
        call_command("import_plans", file, by="living-instructor", ground="Living ground")
    with pytest.raises((CommandError, SystemExit)):
        call_command("judge", ground="Living ground", plans=file)
    assert Plan.objects.count() == count


def test_a_condition_signed_by_two_opens_every_door(ground, lot):
    put_under_a_condition(ground, lot)
    deciding.confirm_verdict(lot, by=ground.safety, at=NOW)
    plan = builders.issued(ground, naming(ground, lot))
    assert [issue.lot for issue in plan_here(ground.site, plan.public_id).version.issues.all()] == [
        lot
    ]
