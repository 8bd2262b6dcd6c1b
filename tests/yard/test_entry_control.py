"""What the server reads of entry control: figures with their origin, who is inside, the log."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest
from django.urls import reverse

from facility.refusals import WrongState
from records.burns import counting
from records.burns import services as burns
from records.burns.models import Burn, TimelineEvent
from records.inspections.checklists import POST_BURN
from records.yard import entry_control
from records.yard import services as yard
from records.yard.entry_figures import figures_of, kit_of, numbers_of
from records.yard.models import YardEvent
from tests import builders
from tests.asking import refuses
from tests.yard.conftest import MINUTE, START
from tests.yard.device import Tablet

CLOSED = START + 30 * MINUTE


def take(ground, tablet, *told, at=CLOSED):
    """Tap and send: kind, value, minutes after ignition, what it corrects."""
    texts = [
        tablet.tap(kind, value, at=START + minute * MINUTE, **more)
        for kind, value, minute, more in ((*each, {})[:4] for each in told)
    ]
    judged = yard.take_events(ground.site, texts, by=ground.instructor, device=tablet.device, at=at)
    assert {str(each.found) for each in judged} <= {"stored"}, [each.reason for each in judged]
    return [json.loads(text)["id"] for text in texts]


def went_in(person, minute, bar=300, **more):
    return "person_in", {"who": person.public_id, "bar": bar, **more}, minute


def came_out(person, minute, bar=180):
    return "person_out", {"who": person.public_id, "bar": bar}, minute


def close(ground, burn, **changes):
    given = {
        "ended_at": CLOSED, "used": builders.used_all(burn), "note": "", "by": ground.instructor,
        "checks": {str(item): True for item in POST_BURN}, "at": CLOSED, **changes,
    }  # fmt: skip
    return burns.close_burn(burn, **given)


def figure(burn, name):
    return next(each for each in figures_of(burn) if each.name == name)


def test_the_cap_is_that_of_the_handover(ground, burn):
    assert figure(burn, "cap").value == burn.unit.max_people
    assert "handover" in figure(burn, "cap").origin


def test_what_nobody_told_is_to_be_typed(ground, burn):
    """No fact tells a cylinder's volume; the air's usual figures come from facility/calc/air.py."""
    assert figure(burn, "cylinder_l").value is None
    assert figure(burn, "stay_min").value is None
    assert (figure(burn, "whistle_bar").value, figure(burn, "l_min").value) == (55, 40)
    assert "usual" in figure(burn, "l_min").origin


AIR_ROWS = [
    {"code": "W-16", "title": "Consumption", "fact": "breathing.planned_consumption", "comparison": ">=", "limit": Decimal(60)},
    {"code": "P-21", "title": "People inside", "fact": "people.in_unit", "comparison": "<=", "limit": Decimal(7)},
    {"code": "P-19", "title": "First call", "fact": "burn.time_first_called", "comparison": "within", "limit": Decimal(15)},
    {"code": "X-20a", "title": "A run", "fact": "burn.planned_minutes", "comparison": "<=", "limit": Decimal(45)},
    {"code": "W-10", "title": "Whistle", "fact": "breathing.whistle_pressure", "comparison": "between", "limit": Decimal(50), "limit_high": Decimal(60)},
]  # fmt: skip


def test_rows_in_force_set_the_figures_and_of_caps_the_lowest_counts(ground):
    more = [{"severity": "note", "clause": "of the test", "basis": "local", "asked_at": "close", **row} for row in AIR_ROWS]  # fmt: skip
    builders.adopt(
        ground,
        rule_rows=[*builders.rows(), *more],
        code="AIR",
        at=builders.NOW,
        day=builders.NOW.date(),
    )
    builders.accepted_lot(ground)
    burn = builders.lit(ground)
    numbers = numbers_of(burn)
    assert (numbers.l_min, numbers.check_min, numbers.stay_min) == (60, 15, 45)
    assert numbers.cap == min(7, burn.unit.max_people)
    assert numbers.whistle_bar == 60  # of a band the end that leaves more air
    assert figure(burn, "l_min").origin.startswith("W-16, ")


def test_nobody_may_be_inside_a_window_unit(ground, burn):
    burn.unit.kind = "window"
    assert figure(burn, "cap").value == 0


def test_the_tablet_takes_along_names_of_those_there_and_figures_as_text(ground, burn):
    kit = kit_of(burn)
    assert {each["who"] for each in kit["people"]} == {
        place.person.public_id for place in burn.attendance.all()
    }
    assert {type(each["value"]) for each in kit["figures"]} == {str, type(None)}
    assert json.dumps(kit)


def test_who_is_inside_and_how_old_that_is(ground, burn, tablet):
    one, two = ground.instructor, ground.learners[0]
    take(ground, tablet, went_in(one, 1), went_in(two, 2), came_out(two, 9), at=START + 10 * MINUTE)
    now = entry_control.inside_now(burn, START + 12 * MINUTE)
    assert now.names == (one.name,)
    assert (now.told_at, now.tablets) == (START + 10 * MINUTE, 1)


def test_somebody_who_should_have_turned_round_is_told(ground, burn, tablet):
    """A sixth litre cylinder at 40 L/min: turned round long before twenty minutes, at a third."""
    take(ground, tablet, ("air_numbers", {"cylinder_l": "6"}, 0), went_in(ground.instructor, 1))
    now = entry_control.inside_now(burn, START + 20 * MINUTE)
    assert now.alarms == (f"{ground.instructor.name}: turn round now",)


def test_two_tablets_tell_of_one_person(ground, burn, tablet):
    """In by one, out by the other; whichever is sent first, nobody is inside and nothing doubted."""
    other = Tablet("office-two", burn.public_id, ground.safety.public_id, START - 5 * MINUTE)
    yard.take_seat(ground.site, other.device, by=ground.instructor, at=START)
    other.person = ground.instructor.public_id
    take(ground, other, came_out(ground.instructor, 8))
    assert entry_control.board_of(burn, CLOSED).doubts[0].code == "out_before_in"
    take(ground, tablet, went_in(ground.instructor, 1))
    made = entry_control.board_of(burn, CLOSED)
    assert (made.inside, made.doubts) == ((), ())
    assert entry_control.inside_now(burn, CLOSED).tablets == 2


def test_an_entry_over_the_cap_is_stored_and_flagged(ground, burn, tablet):
    cap = burn.unit.max_people
    inside = [("person_in", {"who": f"T-{place}", "bar": 300}, 1) for place in range(cap + 1)]
    take(ground, tablet, *inside)
    assert YardEvent.objects.filter(kind="person_in").count() == cap + 1
    assert any(
        f"at most {cap} may be" in each for each in entry_control.entry_log(burn, CLOSED).doubts
    )


def test_minutes_inside_are_whole_and_rounded_up(ground, burn, tablet):
    one, two = ground.instructor, ground.learners[0]
    take(
        ground, tablet, went_in(one, 1), came_out(one, 9.5), went_in(one, 15), came_out(one, 20),
        went_in(two, 2), came_out(two, 12),
    )  # fmt: skip
    expected = {one.public_id: 14, two.public_id: 10}  # 8.5 + 5, and 10
    assert entry_control.minutes_inside(burn, CLOSED) == expected
    assert counting.minutes_inside(burn, CLOSED) == expected


def test_the_log_has_times_pressures_and_the_lowest(ground, burn, tablet):
    one = ground.instructor
    take(
        ground, tablet, went_in(one, 1, team="1"), ("pressure", {"who": one.public_id, "bar": 240}, 5),
        came_out(one, 9, bar=180), ("roll_call", {"missing": []}, 10),
    )  # fmt: skip
    log = entry_control.entry_log(burn, CLOSED)
    (line,) = log.lines
    assert (line.name, line.team, line.minutes) == (one.name, "1", 8)
    assert (line.bar_in, line.bar_out, line.lowest) == (300, 180, 180)
    assert line.read == ((START + 5 * MINUTE, 240),)
    assert log.called_at == START + 10 * MINUTE
    assert log.doubts == ()


def test_a_wrong_pressure_is_corrected_at_the_time_of_the_first(ground, burn, tablet):
    one = ground.instructor
    (wrong,) = take(ground, tablet, went_in(one, 1, bar=300))
    take(
        ground, tablet, (*went_in(one, 6, bar=200), {"corrects": wrong}), came_out(one, 9, bar=150)
    )
    (line,) = entry_control.entry_log(burn, CLOSED).lines
    assert (line.bar_in, line.minutes) == (200, 8)


def test_what_is_struck_out_is_in_no_log_and_no_timeline(ground, burn, tablet):
    (wrong,) = take(ground, tablet, went_in(ground.instructor, 1))
    take(ground, tablet, ("undo", {}, 2, {"corrects": wrong}))
    assert entry_control.board_of(burn, CLOSED).stays == ()
    assert not TimelineEvent.objects.filter(burn=burn).exists()


def test_a_board_never_used_has_no_log(ground, burn):
    assert entry_control.entry_log(burn, CLOSED) is None


def test_a_burn_is_not_closed_while_the_board_has_somebody_in(ground, burn, tablet):
    one = ground.instructor
    take(ground, tablet, went_in(one, 1))
    with refuses(WrongState) as caught:
        close(ground, burn)
    assert one.name in caught.value.sentence
    take(ground, tablet, came_out(one, 9))
    close(ground, burn)
    assert Burn.objects.get(pk=burn.pk).state == "closed"


def test_somebody_missing_at_the_roll_call_keeps_the_burn_open(ground, burn, tablet):
    take(ground, tablet, ("roll_call", {"missing": ["T-09"]}, 10))
    with refuses(WrongState) as caught:
        close(ground, burn)
    assert "T-09" in caught.value.sentence
    take(ground, tablet, ("roll_call", {"missing": []}, 11))
    close(ground, burn)


def test_what_comes_after_the_close_counts_once_it_is_signed(ground, burn, tablet):
    close(ground, burn)
    take(ground, tablet, went_in(ground.instructor, 1), at=CLOSED + MINUTE)
    burn = Burn.objects.get(pk=burn.pk)
    log = entry_control.entry_log(burn, CLOSED)
    assert (log.lines, log.unsigned) == ((), 1)
    assert entry_control.inside_now(burn, CLOSED) is None


@pytest.mark.parametrize(
    ("kind", "value"),
    [
        ("person_in", {"who": "", "bar": 300}),
        ("person_in", {"who": "T-1", "bar": 351}),
        ("person_in", {"who": "T-1", "bar": -1}),
        ("person_in", {"who": "T-1", "bar": "300"}),
        ("person_in", {"who": "T-1"}),
        ("person_in", {"who": "T-1", "bar": 300, "team": "x" * 201}),
        ("pressure", {"who": "T-1"}),
        ("roll_call", {"missing": "T-1"}),
        ("air_numbers", {"cylinder_l": "0"}),
        ("air_numbers", {"cylinder_l": "51"}),
        ("air_numbers", {"cylinder_l": "6.800"}),
        ("air_numbers", {"cap": "5"}),
        ("air_numbers", {"l_min": 9}),
    ],
)
def test_what_cannot_be_is_set_aside(ground, burn, tablet, kind, value):
    text = tablet.tap(kind, value, at=START + MINUTE)
    (judged,) = yard.take_events(
        ground.site, [text], by=ground.instructor, device=tablet.device, at=CLOSED
    )
    assert judged.found == "refused"
    assert entry_control.entry_log(burn, CLOSED) is None


def test_pages_say_who_is_inside(ground, burn, tablet, signed_in):
    """On the burn's page, the day sheet and at the close: names, and how old that is."""
    take(ground, tablet, went_in(ground.instructor, 1), at=START + 2 * MINUTE)
    visitor = signed_in(ground.instructor)
    for address in ("/", f"/burns/{burn.public_id}/", f"/burns/{burn.public_id}/close/"):
        page = visitor.get(address).content.decode()
        assert "1 inside by the entry board" in page, address
        assert ground.instructor.name in page
        assert "As one tablet told by" in page


def test_what_was_recorded_is_read_with_names_and_labels(ground, burn, tablet, signed_in):
    take(
        ground, tablet, went_in(ground.instructor, 1, 293, team="2"),
        ("roll_call", {"missing": [ground.instructor.public_id, "visitor 4"]}, 3),
        ("air_numbers", {"cylinder_l": "6.8", "nominal_bar": 300}, 0),
    )  # fmt: skip
    page = signed_in(ground.instructor).get(f"/yard/{burn.public_id}/").content.decode()
    name = ground.instructor.name
    assert f"went in, {name}, 293 bar, team 2" in page
    assert f"roll call, {name}, visitor 4" in page
    assert "volume of one cylinder 6.8\u202fL, nominal pressure 300 bar" in page
    assert ground.instructor.public_id not in page.partition("<main")[2]


def test_the_burn_as_a_document_has_the_entry_log(ground, burn, tablet, signed_in):
    take(ground, tablet, went_in(ground.instructor, 1), came_out(ground.instructor, 9))
    answer = signed_in(ground.instructor).get(reverse("reports:burn_pdf", args=[burn.public_id]))
    assert answer.status_code == 200
    assert answer.content.startswith(b"%PDF")
