"""Before a burn: items looked at, the briefing, the roll and the weather, each under a name."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.kinds import Duty
from facility.refusals import AlreadyDone, LimitExceeded, WrongState, WrongValue
from records.burns import before, readiness
from records.burns import services as burns
from records.burns.models import Briefed, Briefing, CheckMark, Roll, RollPlace, Weather
from records.inspections.checklists import PRE_BURN
from records.plans.models import KnownAtIgnition
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.burns.days import ITEMS, START, ask, issued, looks, newest, whole_day

LATER = START + dt.timedelta(days=1)


def start(plan, by, **changes):
    given = {"ignition_method": "gas burner", "weather": "dry", "by": by, "ignited_at": START,
             "at": START}  # fmt: skip
    return burns.start_burn(plan, **{**given, **changes})


def words(plan):
    return {each.item.code: each.word for each in readiness.looked_at(newest(plan))}


# -- the check list ------------------------------------------------------------------------------


def test_without_items_in_the_standard_the_fixed_list_applies(ground):
    plan = issued(ground)
    assert [each.item.text for each in readiness.looked_at(newest(plan))] == list(
        map(str, PRE_BURN)
    )


def test_items_are_ticked_over_time_by_several_people_and_the_newest_mark_counts(ground):
    ask(ground)
    plan = issued(ground)
    with writes("burns.items_checked", CheckMark):
        looks(plan, "B-01", "B-21", by=ground.safety)
    looks(plan, "B-21", by=ground.setter, in_order=False, note="hose leaks")
    assert words(plan) == {
        "B-01": "in_order", "B-11": "not_looked", "B-21": "not_in_order", "B-22": "not_looked",
    }  # fmt: skip
    looks(plan, "B-21", by=ground.instructor)
    marks = CheckMark.objects.filter(code="B-21")
    assert [mark.seen_by for mark in marks] == [ground.safety, ground.setter, ground.instructor]
    assert words(plan)["B-21"] == "in_order"


@pytest.mark.parametrize("role", refused_roles("burns.items_checked"))
def test_other_roles_look_at_nothing(ground, role):
    plan = issued(ground)
    with refuses_role():
        looks(plan, "B-1", by=actor(ground, role))


@pytest.mark.parametrize(
    ("codes", "changes"),
    [((), {}), (("B-99",), {}), (("B-01",), {"in_order": False}), (("B-01",), {"note": "x" * 201}),
     (("B-01",), {"at": LATER + dt.timedelta(days=900)})],
)  # fmt: skip
def test_what_cannot_have_been_seen_is_refused(ground, codes, changes):
    ask(ground)
    plan = issued(ground)
    at = changes.pop("at", START)
    seen = {code: before.Look(**{"in_order": True, **changes}) for code in codes}
    with refuses(WrongValue):
        before.look_at(plan, seen, seen_at=at, by=ground.safety, at=START)


def test_a_plan_that_is_not_approved_has_no_day(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    with refuses(WrongState):
        looks(plan, "B-1", by=ground.safety)


def test_items_of_an_edition_are_asked_once_and_the_stricter_one_counts(ground):
    ask(ground, items=[{**ITEMS[0], "blocks": False}])
    usual = {"clause": "2", "basis": "local"}
    builders.adopt(
        ground, "D-2", [], at=builders.NOW, day=builders.NOW.date(), jurisdiction="state",
        items=[{**ITEMS[0], **usual, "code": "S-1"}],
    )  # fmt: skip
    items = readiness.items_for(ground.site, START)
    assert [(each.text, each.blocks) for each in items] == [("Exits clear", True)]


def test_no_fire_while_an_item_that_blocks_is_open(ground):
    ask(ground, rows=ASKED_NOTHING)
    plan = issued(ground)
    looks(plan, "B-01", "B-11", by=ground.safety)
    with refuses(WrongValue, "checks") as caught:
        start(plan, ground.instructor)
    assert "Lines charged" in caught.value.sentence
    burn = start(plan, ground.instructor, checks={"Lines charged": True})
    assert burn.pre_check.items.count() == 3  # the radios do not block, and nobody looked
    assert CheckMark.objects.get(code="B-21").seen_by == ground.instructor


def test_an_item_that_was_in_order_and_is_not_any_more_stops_the_fire(ground):
    ask(ground, rows=ASKED_NOTHING)
    plan = issued(ground)
    builders.checked_off(plan, by=ground.safety, at=START)
    looks(plan, "B-21", by=ground.setter, in_order=False, note="hose leaks")
    with refuses(WrongValue, "checks"):
        start(plan, ground.instructor)


def test_an_item_that_is_not_on_the_list_is_refused(ground):
    plan = issued(ground)
    builders.checked_off(plan, by=ground.safety, at=START)
    with refuses(WrongValue, "checks"):
        start(plan, ground.instructor, checks={"Sun shines": True})


ASKED_NOTHING = [
    {"code": "Z-1", "title": "Objective", "fact": "burn.abort_criteria", "severity": "note"}
]


# -- the briefing --------------------------------------------------------------------------------


def briefing(ground, plan, people, **changes):
    given = {"held_at": START, "by": ground.safety, "at": START}
    return before.hold_briefing(
        plan, [person.public_id for person in people], **{**given, **changes}
    )


def test_a_briefing_says_who_gave_it_who_heard_it_and_what_was_told(ground):
    ask(ground)
    plan = issued(ground)
    with writes("burns.briefing_held", Briefing, Briefed, CheckMark):
        held = briefing(
            ground, plan, ground.learners[:2], given_by=ground.instructor, topics=["B-11"]
        )
    assert (held.given_by, held.recorded_by) == (ground.instructor, ground.safety)
    assert [each.person for each in held.people.all()] == ground.learners[:2]
    assert words(plan)["B-11"] == "in_order"


def test_whoever_missed_it_stops_the_fire_by_name_until_they_are_told(ground):
    ask(ground)
    plan = issued(ground)
    builders.checked_off(plan, by=ground.safety, at=START)
    builders.rolled(plan, by=ground.safety, at=START)
    late = ground.learners[2]
    crew = [place.person for place in readiness.places_on_the_day(newest(plan))]
    briefing(ground, plan, [person for person in crew if person != late])
    builders.fit(plan, ground.instructor, ground.safety, at=START)
    with refuses(LimitExceeded) as caught:
        start(plan, ground.instructor)
    assert [each.rule.code for each in caught.value.findings] == ["P-24d"]
    assert late.name in caught.value.findings[0].known.why
    briefing(ground, plan, [late])
    builders.fit(plan, ground.instructor, ground.safety, at=START)
    start(plan, ground.instructor)


def test_whoever_missed_it_need_not_be_told_when_they_are_sent_home(ground):
    ask(ground)
    plan = issued(ground)
    builders.checked_off(plan, by=ground.safety, at=START)
    builders.rolled(plan, by=ground.safety, at=START, observer=None)
    builders.briefed(plan, by=ground.safety, at=START)
    assert readiness.before(newest(plan)).missed == []
    assert ground.observer not in [p.person for p in readiness.places_on_the_day(newest(plan))]


@pytest.mark.parametrize(
    ("people", "changes", "field"),
    [("nobody", {}, "people"), ("stranger", {}, "people"), ("one", {"topics": ["B-01"]}, "topics"),
     ("one", {"given_by": "stranger"}, "given_by"), ("one", {"held_at": LATER}, "held_at")],
)  # fmt: skip
def test_a_briefing_that_cannot_be_is_refused(ground, people, changes, field):
    ask(ground)
    plan = issued(ground)
    chosen = {"nobody": [], "stranger": [ground.learners[6]], "one": [ground.learners[0]]}[people]
    if "given_by" in changes:
        changes = {"given_by": ground.manager}
    with refuses(WrongValue, field):
        briefing(ground, plan, chosen, **changes)


# -- the roll ------------------------------------------------------------------------------------


def test_the_roll_says_who_stands_in_for_whom_and_the_limits_are_asked_of_them(ground):
    plan = issued(ground)
    with writes("burns.roll_called", Roll, RollPlace):
        builders.rolled(plan, by=ground.safety, at=START, crew=ground.manager)
    away = readiness.stand_ins(readiness.newest_roll(newest(plan)))
    assert [(each.duty, each.planned, each.person) for each in away] == [
        (Duty.CREW, ground.instructor_two, ground.manager)
    ]
    builders.checked_off(plan, by=ground.safety, at=START)
    burn = start(plan, ground.instructor)
    assert burn.attendance.get(duty=Duty.CREW).person == ground.manager


def test_a_stand_in_without_the_qualification_stops_the_fire(ground):
    plan = issued(ground)
    builders.rolled(plan, by=ground.safety, at=START, crew=ground.inspector_two)
    builders.checked_off(plan, by=ground.safety, at=START)
    with refuses(LimitExceeded) as caught:
        start(plan, ground.instructor)
    assert [each.rule.code for each in caught.value.findings] == ["C-03"]


def test_a_stand_in_for_the_setter_may_light_and_the_one_who_is_away_may_not(ground):
    plan = issued(ground)
    builders.rolled(plan, by=ground.safety, at=START, ignition=None)
    builders.checked_off(plan, by=ground.safety, at=START)
    with refuses(WrongState):
        start(plan, ground.setter)


@pytest.mark.parametrize("case", ["nobody", "strange place", "learner", "auditor", "twice"])
def test_a_roll_that_cannot_be_is_refused(ground, case):
    plan = issued(ground)
    crew = newest(plan).crew.select_related("person")
    here = {(each.duty, each.person.public_id): each.person.public_id for each in crew}
    observer = (Duty.OBSERVER, ground.observer.public_id)
    here = {
        "nobody": {},
        "strange place": {(Duty.PUMP, ground.setter.public_id): ground.setter.public_id},
        "learner": here | {(Duty.LEARNER, ground.learners[0].public_id): ground.setter.public_id},
        "auditor": here | {observer: ground.auditor.public_id},
        "twice": here | {observer: "no-such-id"},
    }[case]
    with refuses(WrongValue, "here"):
        before.call_roll(plan, here, by=ground.safety, at=START)


# -- the weather ---------------------------------------------------------------------------------


def read(ground, plan, **changes):
    given = {"words": "dry, westerly", "wind_m_s": Decimal("5.5"), "wind_from": "w",
             "temperature_c": Decimal("-3.5"), "humidity_pct": Decimal(71), "read_at": START,
             "by": ground.safety, "at": START}  # fmt: skip
    return before.note_weather(plan, **{**given, **changes})


def test_the_weather_as_read_is_what_the_standard_is_asked_with(ground):
    plan = issued(ground)
    with writes("burns.weather_noted", Weather):
        read(ground, plan)
    builders.checked_off(plan, by=ground.safety, at=START)
    burn = start(plan, ground.instructor, weather="")
    assert burn.weather == "dry, westerly"
    facts = str(KnownAtIgnition.objects.get().facts)
    assert "site.wind_force" in facts and "site.air_temperature" in facts


def test_a_row_on_the_wind_stops_the_fire_by_what_was_read(ground):
    row = {"code": "E-05c", "title": "Wind force", "fact": "site.wind_force", "comparison": "<=",
           "limit": "3", "asked_at": "ignite"}  # fmt: skip
    ask(ground, rows=[row], items=[])
    plan = issued(ground)
    builders.checked_off(plan, by=ground.safety, at=START)
    read(ground, plan, wind_m_s=Decimal("5.5"))  # force 4 begins at 5.5 m/s
    with refuses(LimitExceeded):
        start(plan, ground.instructor)
    read(ground, plan, wind_m_s=Decimal("5.4"))
    start(plan, ground.instructor)


@pytest.mark.parametrize(
    ("field", "value"),
    [("words", " "), ("wind_m_s", Decimal(76)), ("wind_m_s", Decimal("-0.1")),
     ("wind_m_s", Decimal("1.25")), ("wind_from", "up"), ("temperature_c", Decimal(61)),
     ("humidity_pct", Decimal("100.1")), ("read_at", LATER)],
)  # fmt: skip
def test_weather_that_cannot_be_is_refused(ground, field, value):
    plan = issued(ground)
    with refuses(WrongValue, field):
        read(ground, plan, **{field: value})


@pytest.mark.parametrize("act", ["briefing_held", "roll_called", "weather_noted"])
def test_other_roles_record_nothing_of_the_day(ground, act):
    plan = issued(ground)
    for role in refused_roles(f"burns.{act}"):
        who = actor(ground, role)
        with refuses_role():
            if act == "briefing_held":
                briefing(ground, plan, ground.learners[:1], by=who)
            elif act == "roll_called":
                builders.rolled(plan, by=who, at=START)
            else:
                read(ground, plan, by=who)


def test_a_form_sent_twice_is_kept_once(ground):
    plan = issued(ground)
    read(ground, plan, once="k")
    with refuses(AlreadyDone):
        read(ground, plan, once="k")


def test_a_new_version_of_the_plan_begins_with_an_empty_sheet(ground):
    whole_day(ground, plan := issued(ground))
    assert readiness.before(newest(plan)).recorded
    other = builders.approved(ground, builders.content(ground, 1, starts_at=START))
    assert not readiness.before(newest(other)).recorded
