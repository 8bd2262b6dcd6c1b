"""The service calendar: what stands in it, and its feed at a private address (RFC 5545)."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.utils import timezone
from icalendar import Calendar

from facility.guarded import opened
from facility.people.permissions import Role
from facility.refusals import NotAllowed, WrongState
from records.accounts import services as accounts
from records.plans import services as plans
from records.reports import calendar, feeds, services
from records.reports.models import FeedKey
from tests import builders
from tests.asking import actor, refused_roles, refuses
from tests.builders import NOW, ZONE

DAY, MINUTE = dt.timedelta(days=1), dt.timedelta(minutes=1)
HOSTILE = 'Unit ",;:\\n\\N\r\nBEGIN:VEVENT\r\nUID:x@y\r\n' + "ß" * 60


def events(ground, start=NOW - 30 * DAY, end=NOW + 400 * DAY, now=NOW):
    return calendar.events_between(ground.site, start, end, now)


def of_kind(ground, kind, **more):
    return [each for each in events(ground, **more) if each.kind == kind]


def parsed(ground, now=NOW):
    return Calendar.from_ical(feeds.feed_of(ground.site, now))


# -- what stands in it -----------------------------------------------------------------------------


def test_submitted_and_approved_plans_stand_in_it_and_drafts_do_not(ground):
    builders.accepted_lot(ground)
    builders.drafted(ground, builders.content(ground, starts_at=NOW + 3 * DAY))
    builders.submitted(ground, builders.content(ground, starts_at=NOW + 2 * DAY))
    builders.approved(ground, builders.content(ground))
    booked = of_kind(ground, "booking")
    assert [each.state for each in booked] == ["approved", "submitted"]
    assert booked[0].start == NOW + DAY
    assert booked[0].end == NOW + DAY + 45 * MINUTE


def test_a_burned_plan_stands_at_the_times_of_the_burn(ground):
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    (booked,) = of_kind(ground, "booking", now=NOW + 3 * DAY)
    assert (booked.state, booked.start) == ("burned", burn.ignited_at)
    assert booked.end == type(burn).objects.get(pk=burn.pk).current.ended_at


def test_after_as_many_burns_as_the_chart_allows_comes_the_cool_down(ground):
    """The chart of the small standard: two burns, then 60 min."""
    builders.accepted_lot(ground)
    builders.submitted(ground, builders.content(ground))
    assert of_kind(ground, "cooling") == []
    second = NOW + DAY + 90 * MINUTE  # 45 min after the end of the first
    builders.submitted(ground, builders.content(ground, boards=2, starts_at=second))
    (cooling,) = of_kind(ground, "cooling")
    assert cooling.start == second + 45 * MINUTE
    assert cooling.end - cooling.start == 60 * MINUTE


def test_a_pause_as_long_as_the_cool_down_starts_the_count_anew(ground):
    builders.accepted_lot(ground)
    builders.submitted(ground, builders.content(ground))
    builders.submitted(
        ground, builders.content(ground, boards=2, starts_at=NOW + DAY + 105 * MINUTE)
    )
    assert of_kind(ground, "cooling") == []


def test_an_inspection_is_due_365_days_after_the_last_one_in_the_grounds_calendar(ground):
    """U-04 of the small standard; the unit was inspected a week ago, at 21:00 of that zone."""
    inspected = (NOW - 7 * DAY).astimezone(ground.site.zone).date()
    (due,) = of_kind(ground, "inspection")
    assert due.start == inspected + 365 * DAY
    (told,) = calendar.inspections_due(ground.site, [ground.unit], NOW)[ground.unit.pk]
    assert (told.on, told.burns_left, due.sequence) == (due.start, 3, 1)


def test_a_unit_never_inspected_has_no_day(ground):
    unit = builders.commission(ground, "Unit 2", inspected=False)
    (due,) = calendar.inspections_due(ground.site, [unit], NOW)[unit.pk]
    assert (due.on, due.last, due.overdue) == (None, None, True)


def test_nothing_of_another_ground_stands_in_it(ground, other):
    builders.accepted_lot(other)
    builders.submitted(other, builders.content(other))
    assert {each.unit.site_id for each in events(ground)} == {ground.site.pk}


def test_week_and_month_are_shown_to_readers(ground, signed_in):
    client = signed_in(ground.auditor)
    for address in ("/calendar/", "/calendar/?view=month&day=2026-02-28", "/calendar/?day=soon"):
        assert "Unit 1" in client.get(address).text or "view=month" in address
    assert signed_in(ground.admin).get("/calendar/").status_code == 403


# -- the private address ---------------------------------------------------------------------------


@pytest.fixture
def here(db):
    """A ground of today: views read the clock."""
    return builders.found_ground("Feed ground", at=timezone.now())


def asked(key: str, **headers):
    return Client().get(f"/calendar/feed/{key}.ics", headers=headers)


def test_a_key_is_kept_as_its_hash_and_logged_without_it(ground, log):
    log.mark()
    key = services.make_feed_key(ground.site, by=ground.manager)
    assert log.acts == ["reports.feed_made"]
    kept = FeedKey.objects.get()
    assert len(key) >= 43  # 256 bits in base64
    assert key not in f"{kept.__dict__}"
    assert kept.key_hash == feeds.hash_of(key)


@pytest.mark.parametrize("act", ["reports.feed_made", "reports.feed_ended"])
@pytest.mark.parametrize("role", refused_roles("reports.feed_made"))
def test_who_does_not_read_here_makes_and_ends_no_address(ground, act, role):
    verb = services.make_feed_key if act.endswith("made") else services.end_feed_key
    with refuses(NotAllowed, logged=["audit.refused"]):
        verb(ground.site, by=actor(ground, role))


def test_the_feed_answers_its_key_and_nothing_else(here):
    key = services.make_feed_key(here.site, by=here.manager)
    answer = asked(key)
    assert answer.status_code == 200
    assert answer["Content-Type"].startswith("text/calendar")
    assert asked("x" * 43).status_code == asked("x").status_code == 404


def test_a_new_address_ends_the_old_one(here):
    old = services.make_feed_key(here.site, by=here.manager)
    new = services.make_feed_key(here.site, by=here.manager)
    assert (asked(old).status_code, asked(new).status_code) == (404, 200)


def test_an_ended_address_answers_no_more(here, log):
    key = services.make_feed_key(here.site, by=here.manager)
    log.mark()
    services.end_feed_key(here.site, by=here.manager)
    assert log.acts == ["reports.feed_ended"]
    assert asked(key).status_code == 404
    with refuses(WrongState):
        services.end_feed_key(here.site, by=here.manager)


def test_a_person_switched_off_ends_the_feed_at_once_and_for_good(here):
    key = services.make_feed_key(here.site, by=here.stores)
    accounts.disable_person(here.site, here.stores, reason="left", by=here.admin)
    assert asked(key).status_code == 404
    accounts.enable_person(here.site, here.stores, reason="came back", by=here.admin)
    assert asked(key).status_code == 404


def test_the_end_of_the_role_is_the_end_of_the_feed(here):
    key = services.make_feed_key(here.site, by=here.stores)
    accounts.end_role(here.site, here.stores, role=Role.STORES, by=here.admin)
    assert asked(key).status_code == 404


def test_the_page_shows_the_address_once(here, signed_in):
    client = signed_in(here.manager)
    page = client.post("/calendar/feed/new/", follow=True).text
    address = page.split('<p class="key">')[1].split("</p>")[0]
    assert Client().get(address).status_code == 200
    again = client.get("/calendar/").text
    assert address not in again
    assert "You made a private address" in again
    client.post("/calendar/feed/end/")
    assert Client().get(address).status_code == 404


def test_unchanged_it_is_not_sent_again(here):
    key = services.make_feed_key(here.site, by=here.manager)
    first = asked(key)
    again = asked(key, **{"If-None-Match": first["ETag"]})
    assert (again.status_code, again.content) == (304, b"")
    builders.accepted_lot(here, at=timezone.now())
    builders.submitted(here, builders.content(here, starts_at=timezone.now() + 2 * DAY), at=timezone.now())  # fmt: skip
    assert asked(key, **{"If-None-Match": first["ETag"]}).status_code == 200


# -- read back by the library ------------------------------------------------------------------------


def test_the_feed_read_back_says_what_was_planned(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground, builders.content(ground))
    feed = parsed(ground)
    assert feed["VERSION"] == "2.0"
    assert "METHOD" not in feed
    (booked,) = [each for each in feed.walk("VEVENT") if "plan-" in each["UID"]]
    assert booked["DTSTART"].dt == NOW + DAY
    assert booked["DTEND"].dt == NOW + DAY + 45 * MINUTE
    assert str(booked["DTSTART"].dt.tzinfo) == "UTC"  # though the ground lies elsewhere
    assert str(ground.site.zone) == ZONE
    assert booked["UID"] == f"plan-{plan.public_id}-{ground.site.public_id}@charline"
    assert booked["STATUS"] == "CONFIRMED"
    assert booked["DTSTAMP"].dt == booked["LAST-MODIFIED"].dt
    (due,) = [each for each in feed.walk("VEVENT") if "inspection-" in each["UID"]]
    assert type(due["DTSTART"].dt) is dt.date
    assert due["DTEND"].dt - due["DTSTART"].dt == DAY
    assert feed.walk("VALARM") == []


def test_the_identity_stays_and_the_sequence_grows_when_a_plan_is_revised(ground):
    builders.accepted_lot(ground)
    plan = builders.submitted(ground, builders.content(ground))

    def booked():
        (found,) = [each for each in parsed(ground).walk("VEVENT") if "plan-" in each["UID"]]
        return found

    before = booked()
    assert before["STATUS"] == "TENTATIVE"
    plans.send_back_plan(
        plan, reason="later", shown_hash=builders.hash_of(plan), by=ground.manager, at=NOW
    )
    later = NOW + 2 * DAY
    plans.revise_plan(
        plan, builders.content(ground, starts_at=later), seen_version=1, by=ground.instructor, at=NOW + 5 * MINUTE,
    )  # fmt: skip
    plans.submit_plan(
        plan, seen_hash=builders.hash_of(plan), by=ground.instructor, at=NOW + 6 * MINUTE
    )
    after = booked()
    assert after["UID"] == before["UID"]
    assert after["SEQUENCE"] > before["SEQUENCE"]
    assert after["LAST-MODIFIED"].dt > before["LAST-MODIFIED"].dt
    assert after["DTSTART"].dt == later


def test_no_person_is_named_in_it(ground):
    builders.accepted_lot(ground)
    builders.approved(ground, builders.content(ground))
    text = feeds.feed_of(ground.site, NOW).decode()
    unfolded = text.replace("\r\n ", "")
    for person in (*ground.cast.values(), *ground.learners):
        assert person.name not in unfolded
        assert person.public_id not in unfolded


def test_a_hostile_title_stays_one_text(ground):
    with opened():
        ground.unit.name = HOSTILE[:40]
        ground.unit.save()
        ground.site.name = HOSTILE[:80]
        ground.site.save()
    builders.accepted_lot(ground)
    builders.approved(ground, builders.content(ground))
    raw = feeds.feed_of(ground.site, NOW)
    feed = Calendar.from_ical(raw)
    booked = [each for each in feed.walk("VEVENT") if "plan-" in each["UID"]]
    assert len(booked) == 1
    assert {each["UID"] for each in feed.walk("VEVENT")} & {"x@y"} == set()
    shown = "".join(char for char in HOSTILE[:40] if char.isprintable())
    # The library takes the two characters \\N for a line break; so does RFC 5545, in a file.
    assert str(booked[0]["SUMMARY"]).startswith(shown.replace("\\N", "\n"))
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))  # RFC 5545, 3.1


def test_the_same_calendar_gives_the_same_bytes(ground):
    assert feeds.feed_of(ground.site, NOW) == feeds.feed_of(ground.site, NOW)
