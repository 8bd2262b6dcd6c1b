"""Proposing the boards of a plan: from the form, under the rules in force, writing nothing.

A board of the small ground holds 25 kg of dry wood and, at 8 % moisture, 437.5 - 25 x 0.08 x 2.443
= 432.6 MJ; the standard allows 2,000 MJ, 12 % moisture and 100 kg for the first burn of the day.
"""

from __future__ import annotations

import re
from dataclasses import replace
from decimal import Decimal

import pytest
from django.test import Client
from django.utils import timezone

from records.plans.content import Line
from records.plans.proposing import NoProposal, propose_charge
from records.plans.selectors import available
from records.stock import services as stock
from tests import builders
from tests.builders import NOW
from tests.forms_table import plan_data
from tests.pages import DAY, Things, rows


def proposed(ground, content=None, **asked):
    content = content or builders.content(ground, charge=())
    return propose_charge(content, site=ground.site, at=NOW, **asked)


def boards(found) -> dict[str, int]:
    counts: dict[str, int] = {}
    for line in found.lines:
        if line.lot is not None:
            counts[line.lot.code] = counts.get(line.lot.code, 0) + int(line.quantity)
    return counts


# -- what is chosen -----------------------------------------------------------------------


def test_the_oldest_dry_lot_is_spread_over_the_positions(ground):
    old = builders.accepted_lot(ground, at=NOW - 3 * DAY)
    builders.accepted_lot(ground, at=NOW - DAY)
    found = proposed(ground, target_mj=1300)
    assert boards(found) == {old.code: 3}
    assert [(line.position.name, line.quantity) for line in found.lines] == [
        ("Ceiling", 2),
        ("Crib", 1),
    ]
    assert any("the oldest of 2 dry lots" in reason for reason in found.reasons)


def test_without_a_target_the_charge_stays_clear_of_the_tightest_cap(ground):
    """Three boards: 85 kg is 85 % of the 100 kg that the chart allows, and 75 kg lie nearest."""
    lot = builders.accepted_lot(ground)
    assert boards(proposed(ground)) == {lot.code: 3}


def test_the_second_burn_of_the_day_has_a_smaller_cap(ground):
    """It is 75 kg, so of 60 kg of kindling 15 kg are left, less than a board."""
    lot = builders.accepted_lot(ground, 90)
    start = builders.content(ground).starts_at
    builders.approved(ground, builders.content(ground, starts_at=start - DAY / 12))
    found = proposed(ground, target_mj=1400)
    assert boards(found) == {lot.code: 3}
    place = ground.unit.positions.get(name="Ceiling")
    kindling = Line(place, ground.kindling, Decimal(60))
    with pytest.raises(NoProposal, match=r"15\.0\skg is left for boards: Q-1"):
        proposed(ground, builders.content(ground, charge=(kindling,)), target_mj=1900)


def test_kindling_stays_and_counts(ground):
    lot = builders.accepted_lot(ground)
    crib = ground.unit.positions.get(name="Crib")
    kindling = Line(crib, ground.kindling, Decimal(30))
    found = proposed(ground, builders.content(ground, charge=(kindling,)), target_mj=1400)
    assert boards(found) == {lot.code: 2}
    assert found.lines[-1] == kindling
    assert {line.position.name for line in found.lines[:-1]} == {"Ceiling"}


def test_boards_on_the_plan_are_replaced_at_their_positions(ground):
    lot = builders.accepted_lot(ground)
    found = proposed(ground, builders.content(ground, boards=9), target_mj=860)
    assert [(line.position.name, line.lot, line.quantity) for line in found.lines] == [
        ("Ceiling", lot, 2)
    ]


def test_only_the_products_asked_for(ground):
    sheet = stock.Sheet(Decimal(2), Decimal(1), Decimal(10), Decimal(500), Decimal(0))
    thin = stock.add_product(
        ground.site, name="Thin", kind="plywood", sheet=sheet,
        calorific_dry_mj_kg=Decimal("17.5"), calorific_source="EN 1991-1-2", by=ground.stores,
        at=NOW,
    )  # fmt: skip
    builders.accepted_lot(ground, at=NOW - 2 * DAY)
    lot = builders.accepted_lot(ground, product=thin)
    assert set(boards(proposed(ground, products=[thin.public_id]))) == {lot.code}


def test_unless_others_are_asked_for_the_boards_of_the_plan_stay_its_kind(ground):
    sheet = stock.Sheet(Decimal(2), Decimal(1), Decimal(10), Decimal(500), Decimal(0))
    thin = stock.add_product(
        ground.site, name="Thin", kind="plywood", sheet=sheet,
        calorific_dry_mj_kg=Decimal("17.5"), calorific_source="EN 1991-1-2", by=ground.stores,
        at=NOW,
    )  # fmt: skip
    older = builders.accepted_lot(ground, product=thin, at=NOW - 3 * DAY)
    lot = builders.accepted_lot(ground)
    assert set(boards(proposed(ground, builders.content(ground)))) == {lot.code}
    assert older.code in boards(proposed(ground))


def test_what_is_proposed_passes_the_rules_it_was_chosen_by(ground):
    builders.accepted_lot(ground)
    found = proposed(ground)
    plan = builders.drafted(ground, replace(builders.content(ground), charge=found.lines))
    builders.approve(ground, plan)  # refuses what blocks


# -- what is free -------------------------------------------------------------------------


def test_boards_of_other_approved_plans_are_not_free(ground):
    lot = builders.accepted_lot(ground, 5)
    plan = builders.approved(ground)
    assert available(ground.site) == [(lot, 2)]
    assert available(ground.site, besides=plan) == [(lot, 5)]


def test_issued_boards_are_not_taken_off_twice(ground):
    lot = builders.accepted_lot(ground, 5)
    builders.issued(ground)
    assert available(ground.site) == [(lot, 2)]


def test_held_and_waiting_lots_are_never_proposed(ground):
    held = builders.accepted_lot(ground)
    stock.hold_lot(held, reason="wet floor", by=ground.stores, at=NOW)
    builders.deliver(ground)
    with pytest.raises(NoProposal, match="No accepted, dry lot"):
        proposed(ground)


def test_a_wet_lot_is_left_out_with_the_limit(ground):
    wet = builders.deliver(ground, at=NOW - 2 * DAY)
    builders.read(ground, wet, at=NOW - DAY)
    stock.accept_lot(wet, by=ground.stores, at=NOW - DAY)
    builders.read(ground, wet, *["14"] * 5)  # half a day on, so it is a round of its own
    dry = builders.accepted_lot(ground)
    found = proposed(ground)
    assert set(boards(found)) == {dry.code}
    assert any(wet.code in reason and "F-15" in reason for reason in found.reasons)


# -- what is refused ----------------------------------------------------------------------


def test_a_target_over_the_cap_is_told_the_cap(ground):
    builders.accepted_lot(ground)
    with pytest.raises(NoProposal, match=r"2[\s\u202f]000.*F-07") as refused:
        proposed(ground, target_mj=2000.1)
    assert refused.value.field == "target"
    assert refused.value.status == 422


@pytest.mark.parametrize("target", [0, -1])
def test_a_target_of_nothing_is_refused(ground, target):
    builders.accepted_lot(ground)
    with pytest.raises(NoProposal, match="more than 0 MJ"):
        proposed(ground, target_mj=target)


# -- the form -----------------------------------------------------------------------------


@pytest.fixture
def things(db) -> Things:
    return Things()


def asking(things: Things, who: str = "instructor") -> Client:
    client = Client()
    client.force_login(things.ground.cast[who])
    return client


def ask(things: Things, changes=(), **options):
    data = plan_data(things) | dict(changes)
    return asking(things).post(things.address("plans:propose"), data, **options)


def value_of(page: str, name: str) -> str:
    """What stands in a field of the page."""
    select = re.search(rf'<select name="{name}".*?</select>', page, re.S)
    if select:
        chosen = re.search(r'<option value="([^"]*)" selected', select[0])
        return chosen[1] if chosen else ""
    found = re.search(rf'<input [^>]*name="{name}"[^>]*>', page)
    assert found, name
    value = re.search(r'value="([^"]*)"', found[0])
    return value[1] if value else ""


def test_the_form_is_filled_and_nothing_typed_is_lost(things):
    before = rows()
    typed = {"objective": "", "water_l": "9 000 L", "propose-target": "0.9 GJ"}
    page = ask(things, typed)
    assert page.status_code == 200
    assert value_of(page.text, "quantity_0") == "2"
    assert value_of(page.text, "lot_0") == things.lot.public_id
    assert value_of(page.text, "water_l") == "9 000 L"
    assert value_of(page.text, "in_charge") == things.ground.instructor.public_id
    assert "Why these boards" in page.text
    assert "This field is required" not in page.text
    assert rows() == before


def test_saving_after_a_proposal_goes_to_the_plan(things):
    page = ask(things)
    assert f'action="{things.address("plans:new")}"' in page.text
    plan = things.draft
    page = ask(things, {"plan": plan.public_id})
    assert f'action="{things.address("plans:edit")}"' in page.text


def test_a_live_page_gets_the_charge_alone(things):
    page = ask(things, HTTP_HX_REQUEST="true")
    assert page.status_code == 200
    assert page.text.lstrip().startswith('<fieldset id="charge"')
    assert "<html" not in page.text


WRONG = {
    "over the cap": ("2100", "2\u202f000"),
    "zero": ("0", "more than 0"),
    "negative": ("-5", "more than 0"),
    "another unit": ("5 kg", "needed, not kg"),
    "no number": ("lots", "number is needed"),
    "ambiguous": ("1,234", "could mean either"),
    "too many decimals": ("900.123", "more decimals"),
    "endless": ("1e99", "too large"),
}


@pytest.mark.parametrize(("typed", "words"), WRONG.values(), ids=WRONG)
def test_a_wrong_target_is_refused_beside_its_field_and_kept(things, typed, words):
    before = rows()
    page = ask(things, {"propose-target": typed})
    assert page.status_code == 422
    assert words in page.text
    assert value_of(page.text, "propose-target") == typed
    assert value_of(page.text, "quantity_0") == "3"  # the charge stays as it was
    assert rows() == before


def test_without_unit_or_times_it_says_what_to_choose_first(things):
    page = ask(things, {"unit": ""})
    assert page.status_code == 422
    assert "Choose the unit, the start and the end first." in page.text


def test_an_end_before_the_start_is_refused(things):
    page = ask(things, {"ends_at": things.typed(things.now)})
    assert page.status_code == 422


def test_a_product_of_another_ground_is_no_choice(things):
    other = Things("Other ground")
    page = ask(things, {"propose-fuels": [other.ground.board.public_id]})
    assert page.status_code == 422


def test_a_plan_of_another_ground_is_not_here(things):
    other = Things("Other ground")
    page = ask(things, {"plan": other.draft.public_id})
    assert page.status_code == 404


@pytest.mark.parametrize(
    ("who", "status"), [("manager", 200), ("stores", 403), ("auditor", 403), ("safety", 403)]
)
def test_those_who_may_draft_a_plan_may_ask(things, who, status):
    page = asking(things, who).post(things.address("plans:propose"), plan_data(things))
    assert page.status_code == status


def test_it_is_asked_by_post_alone(things):
    assert asking(things).get(things.address("plans:propose")).status_code in (403, 405)


def test_the_queries_do_not_grow_with_the_lots(things, django_assert_max_num_queries):
    def ask_for(most: int):
        with django_assert_max_num_queries(most):
            assert ask(things, HTTP_HX_REQUEST="true").status_code == 200

    ask_for(70)
    for number in range(12):
        builders.accepted_lot(things.ground, at=timezone.now() - (number + 5) * DAY / 10)
    ask_for(70)
