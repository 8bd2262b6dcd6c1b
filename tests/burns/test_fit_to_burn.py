"""Fit to burn: signed by two people for what stands there, and void when anything changes."""

from __future__ import annotations

import datetime as dt
import random
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from facility.kinds import Duty
from facility.refusals import LimitExceeded, OwnWork, Refused, StaleVersion, WrongState
from records.burns import before, readiness
from records.burns import services as burns
from records.burns.models import Burn, FitSignature
from records.plans.content import Place
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.burns.days import START, ask, issued, looks, newest, sign, whole_day

ACT = "burns.fit_signed"


@pytest.fixture
def plan(ground):
    ask(ground)
    return issued(ground)


def start(ground, plan, **changes):
    given = {"ignition_method": "gas burner", "weather": "dry", "by": ground.instructor,
             "ignited_at": START, "at": START}  # fmt: skip
    return burns.start_burn(plan, **{**given, **changes})


def words(plan):
    return [each.word for each in readiness.fit_standing(newest(plan))]


def test_two_people_sign_what_stands_there_and_the_fire_may_be_lit(ground, plan):
    whole_day(ground, plan)
    with writes(ACT, FitSignature):
        signature = sign(plan, ground.instructor)
    assert (signature.duty, words(plan)) == (Duty.IN_CHARGE, ["fit_signed", "fit_unsigned"])
    with refuses(LimitExceeded) as caught:
        start(ground, plan)
    assert [each.rule.code for each in caught.value.findings] == ["P-11a"]
    sign(plan, ground.safety)
    start(ground, plan)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_sign_nothing(ground, plan, role):
    whole_day(ground, plan)
    with refuses_role():
        sign(plan, actor(ground, role))


def test_only_the_two_of_this_burn_sign(ground, plan):
    whole_day(ground, plan)
    with refuses(WrongState):
        sign(plan, ground.setter)


def test_a_signature_covers_what_was_shown_and_nothing_else(ground, plan):
    whole_day(ground, plan)
    shown = readiness.fit_hash(newest(plan))
    looks(plan, "B-22", by=ground.setter)
    with refuses(StaleVersion):
        sign(plan, ground.instructor, shown_hash=shown)


CHANGES = {
    "a mark": lambda ground, plan: looks(plan, "B-22", by=ground.setter),
    "a mark again": lambda ground, plan: looks(plan, "B-21", by=ground.setter),
    "the roll": lambda ground, plan: builders.rolled(plan, by=ground.safety, at=START, crew=ground.manager),
    "a briefing": lambda ground, plan: before.hold_briefing(
        plan, [ground.learners[0].public_id], held_at=START, by=ground.safety, at=START),
    "the weather": lambda ground, plan: before.note_weather(
        plan, words="rain", read_at=START, by=ground.safety, at=START),
    "a board that came back": lambda ground, plan: burns.return_boards(
        plan, newest(plan).issues.first().lot, Decimal(1), returned_at=START, by=ground.stores, at=START),
}  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
def test_what_changes_afterwards_voids_both(ground, plan, change):
    whole_day(ground, plan)
    builders.fit(plan, ground.instructor, ground.safety, at=START)
    assert words(plan) == ["fit_signed", "fit_signed"]
    CHANGES[change](ground, plan)
    assert words(plan) == ["fit_void", "fit_void"]
    with refuses(LimitExceeded):
        start(ground, plan)


def test_a_roll_of_the_same_people_changes_nothing(ground, plan):
    """Who called it is not what was signed; who is there is."""
    whole_day(ground, plan)
    builders.fit(plan, ground.instructor, ground.safety, at=START)
    builders.rolled(plan, by=ground.setter, at=START)
    assert words(plan) == ["fit_signed", "fit_signed"]


def test_nobody_signs_while_something_is_open(ground, plan):
    whole_day(ground, plan)
    looks(plan, "B-21", by=ground.setter, in_order=False, note="hose leaks")
    with refuses(WrongState) as caught:
        sign(plan, ground.instructor)
    assert "Lines charged" in caught.value.sentence


def test_nobody_signs_before_the_roll_and_the_charge(ground):
    ask(ground)
    builders.accepted_lot(ground)
    plan = builders.approved(ground)
    builders.checked_off(plan, by=ground.safety, at=START)
    with refuses(WrongState):
        sign(plan, ground.instructor)
    builders.issue(ground, plan)
    with refuses(WrongState) as caught:
        sign(plan, ground.instructor)
    assert "roll" in caught.value.sentence


def test_someone_with_both_duties_signs_one_of_them(ground):
    ask(ground)
    builders.accepted_lot(ground)
    crew = (*(p for p in builders.crew(ground) if p.duty != Duty.SAFETY),
            Place(ground.safety, Duty.SAFETY), Place(ground.safety, Duty.PUMP))  # fmt: skip
    plan = builders.issued(ground, builders.content(ground, crew=crew[:-1]))
    builders.checked_off(plan, by=ground.safety, at=START)
    builders.rolled(plan, by=ground.safety, at=START, safety=ground.instructor)
    sign(plan, ground.instructor)
    with refuses_own_work():
        sign(plan, ground.instructor)
    assert not readiness.fit_known(newest(plan)).value


def test_the_database_lets_nobody_sign_the_same_content_twice(ground, plan):
    whole_day(ground, plan)
    first = sign(plan, ground.instructor)
    again = FitSignature(
        version=first.version, duty=Duty.SAFETY, meaning="x", content_hash=first.content_hash,
        signed_by=ground.instructor, signed_at=START,
    )  # fmt: skip
    from facility.guarded import opened  # the test goes past the service on purpose

    with pytest.raises(IntegrityError), transaction.atomic(), opened():
        again.save()


def test_present_people_other_than_the_roll_are_not_what_was_signed(ground, plan):
    whole_day(ground, plan)
    builders.fit(plan, ground.instructor, ground.safety, at=START)
    there = [p.person.public_id for p in readiness.places_on_the_day(newest(plan))]
    with refuses(LimitExceeded):
        start(ground, plan, present=[key for key in there if key != ground.learners[0].public_id])


@pytest.mark.parametrize("seed", range(8))
def test_whatever_the_order_no_fire_without_closed_items_and_two_who_sign(ground, plan, seed):
    """Walks of thirty steps by chance, against a plain reckoning of what stands beside them."""
    chance = random.Random(seed)
    good: dict[str, bool] = {}
    rolled = False
    holding: set[str] = set()
    builders.rolled(plan, by=ground.safety, at=START)
    builders.briefed(plan, by=ground.safety, at=START)
    rolled = True
    signers = {Duty.IN_CHARGE: ground.instructor, Duty.SAFETY: ground.safety}
    for minute in range(30):
        at = START + dt.timedelta(minutes=minute)
        step = chance.choice(["tick", "tick", "tick", "untick", "sign", "sign", "sign", "weather", "light"])  # fmt: skip
        code = chance.choice(["B-01", "B-11", "B-21", "B-22"])
        is_open = not all(good.get(each) for each in ("B-01", "B-11", "B-21"))
        if step in ("tick", "untick"):
            looks(plan, code, by=ground.setter, at=at, in_order=step == "tick", note="seen")
            good[code] = step == "tick"
            holding.clear()
        elif step == "weather":
            before.note_weather(plan, words="dry", read_at=at, by=ground.safety, at=at)
            holding.clear()
        elif step == "sign":
            duty = chance.choice([*signers])
            allowed = rolled and not is_open and duty not in holding
            refused = None
            try:
                with transaction.atomic():
                    sign(plan, signers[duty], at=at)
            except Refused as error:
                refused = error
            assert (refused is None) == allowed
            if duty in holding and not is_open:
                assert isinstance(refused, OwnWork)
            if allowed:
                holding.add(duty)
        else:
            allowed = not is_open and len(holding) == 2
            refused = None
            try:
                with transaction.atomic():
                    start(ground, plan, ignited_at=at, at=at)
            except Refused as error:
                refused = error
            assert (refused is None) == allowed
            if allowed:
                assert FitSignature.objects.filter(version=newest(plan)).count() >= 2
                return
            assert not Burn.objects.exists()
