"""Looking a lot over for prohibited marks: nothing that was seen passes in silence."""

from __future__ import annotations

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.audit.models import Entry
from records.stock import receiving
from records.stock import services as stock
from records.stock.marks import CODES, MARKS
from records.stock.models import LotVerdict, MarkCheck
from records.stock.selectors import burnable_lots, verdict_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NONE_SEEN, NOW

ACT = "stock.marks_checked"


def check(ground, lot, *seen, **changes):
    given = {"by": ground.stores, "at": NOW, **changes}
    return receiving.check_marks(lot, NONE_SEEN | dict.fromkeys(seen, True), **given)


@pytest.fixture
def unseen(ground):
    """A lot that nobody has looked over, with its readings taken."""
    lot = builders.deliver(ground, marks=None)
    builders.read(ground, lot)
    return lot


def test_a_lot_nobody_looked_over_cannot_be_accepted_and_one_looked_over_can(ground, unseen):
    with refuses(WrongState):
        stock.accept_lot(unseen, by=ground.stores, at=NOW)
    with writes(ACT, MarkCheck):
        check(ground, unseen)
    stock.accept_lot(unseen, by=ground.stores, at=NOW)
    assert verdict_of(unseen) == "accepted"


@pytest.mark.parametrize("code", CODES)
def test_each_mark_seen_holds_the_lot_and_names_itself(ground, unseen, code):
    with writes(ACT, MarkCheck, LotVerdict):
        check(ground, unseen, code)
    words = next(str(mark.words) for mark in MARKS if mark.code == code)
    assert verdict_of(unseen) == "held"
    assert words in unseen.verdicts.get().reason
    with refuses(WrongState) as caught:
        stock.accept_lot(unseen, by=ground.stores, at=NOW)
    assert words in caught.value.sentence


def test_a_mark_seen_on_an_accepted_lot_takes_it_off_the_fire(ground):
    lot = builders.accepted_lot(ground)
    assert burnable_lots(ground.site) == [lot]
    check(ground, lot, "smell")
    assert burnable_lots(ground.site) == []


def test_all_marks_at_once_fit_the_reason(ground, unseen):
    check(ground, unseen, *CODES)
    assert len(unseen.verdicts.get().reason) <= 300


@pytest.mark.parametrize("code", CODES)
def test_each_mark_is_answered(ground, unseen, code):
    answers = {each: False for each in CODES if each != code}
    with refuses(WrongValue, f"mark_{code}"):
        receiving.check_marks(unseen, answers, by=ground.stores, at=NOW)


def test_what_one_saw_another_clears_with_a_note_and_accepting_stays_an_act(ground, unseen):
    check(ground, unseen, "green")
    with refuses(WrongValue, "note"):
        check(ground, unseen, by=ground.stores_two)
    with refuses_own_work():
        check(ground, unseen, note="only the light")
    check(ground, unseen, note="mould rubbed off, wood is clean", by=ground.stores_two)
    assert verdict_of(unseen) == "held"
    stock.accept_lot(unseen, by=ground.stores, at=NOW)
    assert verdict_of(unseen) == "accepted"


def test_another_mark_may_be_seen_by_the_same_person(ground, unseen):
    check(ground, unseen, "green")
    with writes(ACT, MarkCheck):  # held already
        check(ground, unseen, "green", "mb")


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not(ground, unseen, role):
    with refuses_role():
        check(ground, unseen, by=actor(ground, role))


@pytest.mark.parametrize("note", ["x" * 301, "bell\a"])
def test_a_note_is_plain_text(ground, unseen, note):
    with refuses(WrongValue, "note"):
        check(ground, unseen, note=note)


def test_liquid_carries_no_marks(ground):
    lot = builders.deliver(ground, product=ground.liquid, marks=None)
    stock.accept_lot(lot, by=ground.stores, at=NOW)
    assert verdict_of(lot) == "accepted"


def test_the_answers_stand_in_the_entry_in_clear(ground, unseen):
    check(ground, unseen, "mb")
    assert '"marks":[["mb",true],["cca",false]' in Entry.objects.latest("seq").body


def test_the_same_form_sent_twice_is_one_look(ground, unseen):
    check(ground, unseen, once="k")
    with refuses(AlreadyDone):
        check(ground, unseen, once="k")
