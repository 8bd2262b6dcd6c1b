"""Taking events in: each once, each as it was sent, and what cannot be taken set aside whole."""

from __future__ import annotations

import datetime as dt
import json
from decimal import Decimal

import pytest

from facility.refusals import TooLarge
from facility.yard.clock import Reading, Sent
from facility.yard.event import sha256_of, spelt
from records.accounts import services as accounts
from records.audit.models import Entry
from records.burns import services as burns
from records.burns.models import TimelineEvent
from records.burns.timeline import timeline_of
from records.inspections.checklists import POST_BURN
from records.yard import selectors
from records.yard import services as yard
from records.yard.models import SetAside, YardEvent
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.yard.conftest import MINUTE, START
from tests.yard.device import Tablet, ms

ACT = "burns.events_taken"


def take(ground, *texts, **given):
    usual = {
        "by": ground.instructor,
        "device": "office-0011223344556677",
        "at": START + 30 * MINUTE,
    }
    return yard.take_events(ground.site, list(texts), **{**usual, **given})


def one(ground, text, **given):
    (judged,) = take(ground, text, **given)
    return judged


def test_an_event_is_kept_as_sent_and_stands_in_the_timeline(ground, burn, tablet):
    opening = burn.unit.openings.get()
    text = tablet.tap("vent_opened", {"opening": opening.public_id}, at=START + 4 * MINUTE,
                      caller=ground.safety.public_id)  # fmt: skip
    with writes(ACT, YardEvent, TimelineEvent):
        assert one(ground, text).found == "stored"
    event = YardEvent.objects.get()
    assert (event.text, event.sha256) == (text, sha256_of(text))
    assert event.happened_at == START + 4 * MINUTE
    (line,) = timeline_of(burn)
    assert (line.words, line.noted_by, line.caller) == (
        "vent opened, door",
        ground.instructor,
        ground.safety,
    )
    assert event.person == ground.instructor


def test_the_entry_names_the_hash_of_every_event(ground, burn, tablet):
    texts = [tablet.tap("steam", at=START + MINUTE), tablet.tap("out", at=START + 2 * MINUTE)]
    take(ground, *texts)
    entry = Entry.objects.first()
    named = {sha for sha, _id in json.loads(entry.body)["after"]["events"]}
    assert named == {sha256_of(text) for text in texts}


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_send(ground, burn, tablet, role):
    text = tablet.tap("steam", at=START + MINUTE)
    with refuses_role():
        take(ground, text, by=actor(ground, role))


def test_the_same_events_again_write_nothing(ground, burn, tablet):
    texts = [tablet.tap("steam", at=START + MINUTE) for _n in range(3)]
    take(ground, *texts)
    before = Entry.objects.count()
    assert {each.found for each in take(ground, *texts)} == {"duplicate"}
    assert {each.found for each in take(ground, *reversed(texts))} == {"duplicate"}
    assert (YardEvent.objects.count(), Entry.objects.count()) == (3, before)


def test_twice_in_one_batch_is_once(ground, burn, tablet):
    text = tablet.tap("steam", at=START + MINUTE)
    assert [each.found for each in take(ground, text, text)] == ["stored", "duplicate"]
    assert YardEvent.objects.count() == 1


def test_the_same_name_with_other_words_is_a_conflict_and_both_are_kept(ground, burn, tablet):
    text = tablet.tap("layers", {"count": 2}, at=START + MINUTE)
    take(ground, text)
    other = text.replace('"count":2', '"count":3')
    with writes(ACT, SetAside):
        assert one(ground, other).found == "conflict"
    assert one(ground, other).found == "conflict"  # and is set aside once
    assert SetAside.objects.get().text == other
    assert YardEvent.objects.get().value == {"count": 2}


def test_the_same_number_with_another_name_is_a_conflict(ground, burn, tablet):
    take(ground, tablet.tap("steam", at=START + MINUTE))
    tablet.seq = 0
    judged = one(ground, tablet.tap("out", at=START + 2 * MINUTE))
    assert judged.found == "conflict"
    assert "1" in judged.reason


def test_two_devices_with_one_name_of_an_event(ground, burn, tablet):
    text = tablet.tap("steam", at=START + MINUTE)
    take(ground, text)
    yard.take_seat(ground.site, "office-two", by=ground.instructor)
    other = spelt({**json.loads(text), "device": "office-two"})
    assert one(ground, other, device="office-two").found == "conflict"


REFUSED = {
    "of another device": {"device": "office-two"},
    "of no burn here": {"burn": "abcdefghjk"},
    "of nobody known": {"person": "abcdefghjk"},
    "called by nobody known": {"caller": "abcdefghjk"},
    "of no kind": {"kind": "dance"},
    "of a wrong value": {"kind": "layers", "value": {"count": 9}},
    "above the ceiling": {"kind": "neutral_plane", "value": {"height_m": "2.41"}},
    "an undo of nothing": {"kind": "undo"},
    "a correction that is no undo": {"corrects": "6f1c0c1e-7a53-4d9e-8a1f-2f0d9c3b5a10"},
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be_taken_is_set_aside_whole_with_the_reason(ground, burn, tablet, name):
    text = tablet.tap(**{"kind": "steam", "at": START + MINUTE, **REFUSED[name]})
    with writes(ACT, SetAside):
        judged = one(ground, text)
    assert judged.found == "refused"
    kept = SetAside.objects.get()
    assert (kept.text, kept.reason) == (text, judged.reason)
    assert kept.reason


@pytest.mark.parametrize("text", ["", "{", "[1]", "null", "{}", "x" * 5000, "\x00", "\ud800"])
def test_what_is_no_event_is_set_aside_as_well(ground, burn, tablet, text):
    assert one(ground, text).found == "refused"
    assert one(ground, text).found == "refused"
    assert SetAside.objects.count() == 1


def test_what_is_no_text_is_set_aside_as_well(ground, burn, tablet):
    assert [each.found for each in take(ground, None, 5, {"a": 1}, [])] == ["refused"] * 4
    assert SetAside.objects.count() == 4


def test_good_events_beside_a_refused_one_are_taken(ground, burn, tablet):
    texts = [tablet.tap("steam", at=START + MINUTE), "{", tablet.tap("out", at=START + 2 * MINUTE)]
    assert [each.found for each in take(ground, *texts)] == ["stored", "refused", "stored"]


def test_more_than_200_are_refused_whole(ground, burn, tablet):
    texts = [tablet.tap("steam", at=START + MINUTE) for _n in range(201)]
    with refuses(TooLarge, "events"):
        take(ground, *texts)
    take(ground, *texts[:200])
    assert YardEvent.objects.count() == 200


def test_a_batch_that_fails_midway_leaves_nothing(ground, burn, tablet, monkeypatch):
    """The timeline is written after the events; where that fails, the events are gone as well."""

    def broken(*given, **more):
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(yard, "feed_timeline_behind_door", broken)
    text = tablet.tap("steam", at=START + MINUTE)
    with pytest.raises(RuntimeError):
        take(ground, text)
    assert not YardEvent.objects.exists()
    monkeypatch.undo()
    assert one(ground, text).found == "stored"


def test_whoever_never_signed_in_at_the_device_recorded_nothing_there(ground, burn, tablet):
    text = tablet.tap("steam", at=START + MINUTE, person=ground.instructor_two.public_id)
    judged = one(ground, text)
    assert judged.found == "refused"
    assert "never signed in" in judged.reason


def test_it_is_the_persons_who_recorded_it_whoever_sends_it(ground, burn, tablet):
    text = tablet.tap("steam", at=START + MINUTE)
    one(ground, text, by=ground.instructor_two)
    event = YardEvent.objects.get()
    assert (event.person, event.received_by) == (ground.instructor, ground.instructor_two)


def test_somebody_without_the_role_on_that_day_recorded_nothing(ground, burn, tablet):
    yard_two = Tablet(tablet.device, burn.public_id, ground.instructor_two.public_id, START)
    yard.take_seat(ground.site, tablet.device, by=ground.instructor_two, at=START)
    accounts.end_role(
        ground.site, ground.instructor_two, role="instructor", by=ground.admin, at=START
    )
    judged = one(ground, yard_two.tap("steam", at=START + 2 * dt.timedelta(days=1)))
    assert judged.found == "refused"
    assert "role" in judged.reason


def test_somebody_switched_off_later_recorded_it_but_it_is_doubted(ground, burn, tablet):
    early = tablet.tap("steam", at=START + MINUTE)
    late = tablet.tap("out", at=START + 9 * MINUTE)
    accounts.disable_person(
        ground.site, ground.instructor, reason="left", by=ground.admin, at=START + 5 * MINUTE
    )
    found = take(ground, early, late, by=ground.instructor_two)
    assert [each.found for each in found] == ["stored", "refused"]
    assert YardEvent.objects.get().doubts == ["person_off"]


DOUBTED = {
    "before_ignition": {"at": START - 4 * MINUTE},
    "clock_jump": {"at": START + MINUTE, "wall": ms(START + 180 * MINUTE)},
    "clock_none": {"at": START + MINUTE, "anchor": None},
    "clock_restart": {"at": START + MINUTE, "boot": "boot-2"},
    "clock_future": {"at": START + 60 * MINUTE},
    "clock_before_anchor": {"at": START - 5 * MINUTE - dt.timedelta(seconds=20)},
}


@pytest.mark.parametrize("doubt", DOUBTED)
def test_a_doubt_is_kept_beside_the_event_and_has_to_be_settled(ground, burn, tablet, doubt):
    text = tablet.tap("steam", **DOUBTED[doubt])
    now = START + 30 * MINUTE
    one(ground, text, sent=Sent(Reading(ms(now), 0, "boot-9"), ms(now)))
    assert doubt in YardEvent.objects.get().doubts
    keys = {each.key.partition(":")[0] for each in selectors.open_doubts(burn)}
    assert doubt in keys


def test_what_is_seen_after_the_fire_was_out_is_doubted(ground, burn, tablet):
    take(ground, tablet.tap("out", at=START + 5 * MINUTE))
    take(ground, tablet.tap("flames_ceiling", at=START + 6 * MINUTE))
    assert [each.doubts for each in YardEvent.objects.all()] == [[], ["after_end"]]


def test_a_missing_number_and_a_broken_link_show(ground, burn, tablet):
    texts = [tablet.tap("steam", at=START + MINUTE) for _n in range(4)]
    take(ground, texts[0], texts[3])
    (doubt,) = selectors.open_doubts(burn)
    assert doubt.key == f"gap:{tablet.device}:2-3"
    take(ground, texts[1], texts[2])  # it was only late
    assert selectors.open_doubts(burn) == []
    take(ground, tablet.tap("steam", at=START + MINUTE, prev="0" * 64))
    (doubt,) = selectors.open_doubts(burn)
    assert doubt.key == f"broken:{tablet.device}:5"


def test_an_undo_strikes_out_and_takes_nothing_away(ground, burn, tablet):
    seen = tablet.tap("flames_ceiling", at=START + 3 * MINUTE)
    undo = tablet.tap("undo", at=START + 4 * MINUTE, corrects=json.loads(seen)["id"])
    take(ground, undo)  # came first
    assert [line.words for line in timeline_of(burn)] == ["struck out"]
    take(ground, seen)
    (line,) = timeline_of(burn)
    assert (line.words, line.struck_by) == ("flames at the ceiling", ground.instructor)
    assert line.struck_at == START + 4 * MINUTE


def test_the_entry_board_is_kept_but_is_no_part_of_the_timeline(ground, burn, tablet):
    with writes(ACT, YardEvent):
        take(
            ground,
            tablet.tap("person_in", {"who": "T-1", "name": "one", "bar": 300}, at=START + MINUTE),
        )


def test_a_stage_and_a_height_stand_in_their_columns(ground, burn, tablet):
    take(ground, tablet.tap("stage", {"stage": "growth_middle"}, at=START + MINUTE),
         tablet.tap("neutral_plane", {"height_m": "1.15"}, at=START + 2 * MINUTE))  # fmt: skip
    stage, plane = TimelineEvent.objects.all()
    assert stage.stage == "growth_middle"
    assert plane.height_m == Decimal("1.15")
    assert [line.words for line in timeline_of(burn)] == [
        "growth, middle",
        "neutral plane, 1.15\u202fm",
    ]


def close(ground, burn):
    burns.close_burn(
        burn, ended_at=START + 30 * MINUTE, used=builders.used_all(burn), note="",
        checks={str(item): True for item in POST_BURN}, by=ground.instructor, at=START + 31 * MINUTE,
    )  # fmt: skip


def test_after_the_close_events_wait_for_a_signature(ground, burn, tablet):
    text = tablet.tap("steam", at=START + 4 * MINUTE)
    close(ground, burn)
    with writes(ACT, YardEvent):
        take(ground, text, at=START + 40 * MINUTE)
    assert YardEvent.objects.get().late
    assert [each.text for each in selectors.late_of(burn)] == [text]


def test_events_of_another_ground_are_of_no_burn_here(ground, other, burn, tablet):
    yard.take_seat(other.site, tablet.device, by=other.instructor)
    text = tablet.tap("steam", at=START + MINUTE)
    (judged,) = yard.take_events(other.site, [text], by=other.instructor, device=tablet.device)
    assert judged.found == "refused"
    assert SetAside.objects.get().burn is None
    assert len(selectors.doubts_without_burn(other.site)) == 1
    assert selectors.doubts_without_burn(ground.site) == []
