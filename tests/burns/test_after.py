"""After a burn: exposure and rest, remarks, and the second signature."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import StaleVersion, WrongState, WrongValue
from records.burns import aftermath, closing
from records.burns import services as burns
from records.burns.closing import After, Exposed
from records.burns.models import Burn, BurnSignature, CloseSheet, Remark, Stay
from records.ground.models import Exposure
from records.inspections.checklists import POST_BURN
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW
from tests.burns.days import START, ask

END = START + dt.timedelta(minutes=30)
SECOND = [{"code": "P-26", "title": "Countersigned", "fact": "burn.countersigned", "asked_at": "close"}]  # fmt: skip


@pytest.fixture
def burn(ground):
    ask(ground, rows=SECOND, items=[])
    ground.lot = builders.accepted_lot(ground)
    return builders.lit(ground)


def close(ground, burn, **after):
    return burns.close_burn(
        burn, ended_at=END, used=builders.used_all(burn), note="", at=END, by=ground.instructor,
        checks={str(item): True for item in POST_BURN}, after=After(**after),
    )  # fmt: skip


def correct(ground, burn, **changes):
    given = {"seen_report": 1, "ended_at": END, "used": builders.used_all(burn), "note": "",
             "why": "counted again", "by": ground.instructor, "at": END}  # fmt: skip
    return burns.correct_burn(burn, **{**given, **changes})


def minutes(report):
    return {stay.person: stay.minutes for stay in Stay.objects.filter(report=report)}


# -- exposure ------------------------------------------------------------------------------------


def test_those_inside_are_exposed_for_the_whole_burn_the_setter_among_them(ground, burn):
    told = minutes(close(ground, burn))
    assert told[ground.setter] == told[ground.instructor] == told[ground.learners[0]] == 30
    assert told[ground.safety] == 0
    exposed = set(Exposure.objects.values_list("person", flat=True))
    assert ground.setter.pk in exposed and ground.safety.pk not in exposed


def test_who_was_exposed_longer_shorter_or_elsewhere_is_kept_and_counted(ground, burn):
    told = {
        ground.safety.public_id: Exposed(5, "opening"),
        ground.learners[0].public_id: Exposed(0),
        ground.setter.public_id: Exposed(45),
    }
    report = close(ground, burn, exposed=told)
    stay = Stay.objects.get(report=report, person=ground.safety)
    assert (stay.minutes, stay.position, stay.duty) == (5, "opening", "safety")
    exposed = set(Exposure.objects.values_list("person", flat=True))
    assert ground.safety.pk in exposed and ground.learners[0].pk not in exposed


def test_whoever_lit_the_fire_cannot_be_left_out(ground, burn):
    with refuses(WrongValue, f"minutes_{ground.setter.public_id}"):
        close(ground, burn, exposed={ground.setter.public_id: Exposed(0)})


@pytest.mark.parametrize("after", [
    {"water_l": Decimal(-1)}, {"water_l": Decimal("1.25")}, {"unburnt_kg": Decimal(5001)},
])  # fmt: skip
def test_what_cannot_have_been_used_is_refused(ground, burn, after):
    with refuses(WrongValue, next(iter(after))):
        close(ground, burn, **after)


@pytest.mark.parametrize("told", [Exposed(91), Exposed(-1), Exposed(5, "on the moon")])
def test_exposure_that_cannot_be_is_refused(ground, burn, told):
    with refuses(WrongValue):
        close(ground, burn, exposed={ground.safety.public_id: told})


def test_a_stranger_is_not_exposed(ground, burn):
    with refuses(WrongValue, "exposed"):
        close(ground, burn, exposed={ground.manager.public_id: Exposed(5)})


def test_a_correction_follows_the_new_end_and_takes_no_exposure_back(ground, burn):
    close(ground, burn, water_l=Decimal(200), exposed={ground.safety.public_id: Exposed(5)})
    report = correct(ground, burn, ended_at=END - dt.timedelta(minutes=10))
    told = minutes(report)
    assert (told[ground.setter], told[ground.safety]) == (20, 5)
    assert CloseSheet.objects.get(report=report).water_l == 200
    gone = After(exposed={ground.safety.public_id: Exposed(0)})
    with refuses(WrongValue, f"minutes_{ground.safety.public_id}"):
        correct(ground, burn, seen_report=2, after=gone)


def test_rest_is_due_by_the_longest_row_that_fits_the_duty(ground):
    """Ten minutes for everybody, thirty for who lights the fire: 10 and 30 after the end."""
    rest = {"fact": "person.rest", "comparison": ">=", "severity": "caution"}
    ask(ground, items=[], rows=[
        {"code": "X-07a", "title": "Rest", "limit": "10", **rest},
        {"code": "X-20b", "title": "Break", "limit": "30", "duties": "ignition", **rest},
    ])  # fmt: skip
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    due = {each.stay.person: each for each in aftermath.rest_due(burn)}
    ended = burn.current.ended_at
    assert due[ground.setter].until == ended + dt.timedelta(minutes=30)
    assert due[ground.setter].row == "D-1 X-20b"
    assert due[ground.instructor].until == ended + dt.timedelta(minutes=10)
    assert due[ground.safety].until is None


def test_fuel_is_told_planned_issued_burned_returned_and_left(ground, burn):
    used = {ground.lot.public_id: Decimal(1)}
    burns.close_burn(
        burn, ended_at=END, used=used, note="", at=END, by=ground.instructor,
        checks={str(item): True for item in POST_BURN},
    )  # fmt: skip
    burns.return_boards(
        burn.version.plan, ground.lot, Decimal(1), returned_at=END, by=ground.stores, at=END
    )
    (row,) = aftermath.fuel_rows(Burn.objects.get())
    assert (row.planned, row.issued, row.used, row.returned, row.left) == (3, 3, 1, 1, 1)


# -- remarks -------------------------------------------------------------------------------------


def remark(ground, burn, **changes):
    given = {"kind": "injury", "what": "a finger pinched", "then": "cooled", "happened_at": START,
             "person": ground.setter.public_id, "by": ground.safety, "at": END}  # fmt: skip
    return closing.record_remark(burn, **{**given, **changes})


def test_an_injury_is_kept_with_whom_it_concerns_and_what_was_done(ground, burn):
    with writes("burns.remark_recorded", Remark):
        kept = remark(ground, burn)
    assert (kept.person, kept.then, kept.recorded_by) == (ground.setter, "cooled", ground.safety)


@pytest.mark.parametrize("role", refused_roles("burns.remark_recorded"))
def test_other_roles_record_no_remark(ground, burn, role):
    with refuses_role():
        remark(ground, burn, by=actor(ground, role))


@pytest.mark.parametrize(
    ("field", "value"),
    [("kind", "gossip"), ("what", " "), ("what", "x" * 501), ("then", ""),
     ("happened_at", END + dt.timedelta(days=1)), ("happened_at", NOW - dt.timedelta(days=9)),
     ("person", "stranger")],
)  # fmt: skip
def test_a_remark_that_cannot_be_is_refused(ground, burn, field, value):
    with refuses(WrongValue, field):
        remark(ground, burn, **{field: value})


# -- the second signature ------------------------------------------------------------------------


def second(ground, burn, **changes):
    burn = Burn.objects.get()
    given = {"shown_hash": aftermath.sheet_hash(burn.current), "by": ground.safety, "at": END}
    return closing.countersign_burn(burn, **{**given, **changes})


def test_a_burn_waits_for_its_second_signature_where_a_row_asks_for_it(ground, burn):
    close(ground, burn)
    waiting = aftermath.to_countersign(ground.site, ground.safety)
    assert [each.public_id for each in waiting] == [burn.public_id]
    assert aftermath.to_countersign(ground.site, ground.instructor) == []
    with writes("burns.burn_countersigned", BurnSignature):
        second(ground, burn)
    assert aftermath.to_countersign(ground.site, ground.safety) == []
    assert [covers for _each, covers in aftermath.after(Burn.objects.get()).covered] == [True, True]


def test_without_such_a_row_nothing_waits(ground):
    builders.accepted_lot(ground)
    builders.closed(ground)
    assert not aftermath.waits_for_second(ground.site).exists()


def test_the_row_is_no_finding_of_the_close(ground, burn):
    close(ground, burn)
    assert not burn.version.findings.filter(stage="close", code="P-26").exists()


@pytest.mark.parametrize("role", refused_roles("burns.burn_countersigned"))
def test_other_roles_countersign_nothing(ground, burn, role):
    close(ground, burn)
    with refuses_role():
        second(ground, burn, by=actor(ground, role))


def test_nobody_countersigns_what_they_closed_nor_twice_nor_while_it_burns(ground, burn):
    with refuses(WrongState):
        closing.countersign_burn(burn, shown_hash="x", by=ground.safety, at=END)
    close(ground, burn)
    with refuses_own_work():
        second(ground, burn, by=ground.instructor)
    second(ground, burn)
    with refuses(WrongState):
        second(ground, burn, by=ground.manager)


@pytest.mark.parametrize("change", ["remark", "correction"])
def test_what_was_recorded_meanwhile_is_read_first(ground, burn, change):
    close(ground, burn)
    shown = aftermath.sheet_hash(Burn.objects.get().current)
    remark(ground, burn) if change == "remark" else correct(ground, burn)
    with refuses(StaleVersion):
        second(ground, burn, shown_hash=shown)


def test_a_remark_after_the_signatures_shows_that_it_came_after(ground, burn):
    close(ground, burn)
    second(ground, burn)
    remark(ground, burn)
    assert [covers for _each, covers in aftermath.after(Burn.objects.get()).covered] == [False, False]  # fmt: skip


def test_a_correction_waits_for_a_second_signature_again(ground, burn):
    close(ground, burn)
    second(ground, burn)
    correct(ground, burn)
    assert aftermath.waits_for_second(ground.site).count() == 1
    second(ground, burn)
    assert not aftermath.waits_for_second(ground.site).exists()
