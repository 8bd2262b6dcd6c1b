"""Doubts are answered for, late events signed; neither takes anything away."""

from __future__ import annotations

import pytest

from facility.refusals import AlreadyDone, NotHere, StaleVersion, WrongState, WrongValue
from records.audit.models import Entry
from records.burns.models import TimelineEvent
from records.ground import services as ground_services
from records.yard import selectors
from records.yard import services as yard
from records.yard.models import Amended, Settled
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.yard.conftest import MINUTE, START
from tests.yard.test_take_events import close, take

LATER = START + 50 * MINUTE
MEANING = "I have read these events and they belong to this burn"


@pytest.fixture
def doubt(ground, burn, tablet):
    take(ground, tablet.tap("steam", at=START - 4 * MINUTE))
    (doubt,) = selectors.open_doubts(burn)
    return doubt.key


def settle(ground, burn, key, **changes):
    given = {"site": ground.site, "reason": "lit early", "by": ground.instructor, "at": LATER}
    yard.settle_doubt(burn, key, **{**given, **changes})


def test_a_settled_doubt_stays_to_be_read(ground, burn, doubt):
    with writes("burns.doubt_settled", Settled):
        settle(ground, burn, doubt)
    assert selectors.open_doubts(burn) == []
    (kept,) = selectors.doubts_of(burn)
    assert (kept.settled.reason, kept.settled.by) == ("lit early", ground.instructor)


@pytest.mark.parametrize("role", refused_roles("burns.doubt_settled"))
def test_other_roles_settle_nothing(ground, burn, doubt, role):
    with refuses_role():
        settle(ground, burn, doubt, by=actor(ground, role))


def test_a_doubt_is_settled_once_with_a_reason(ground, burn, doubt):
    with refuses(WrongValue, "reason"):
        settle(ground, burn, doubt, reason="  ")
    with refuses(WrongValue, "reason"):
        settle(ground, burn, doubt, reason="x" * 301)
    with refuses(NotHere):
        settle(ground, burn, "gap:nobody:1-2")
    settle(ground, burn, doubt, once="once-1")
    with refuses(WrongState):
        settle(ground, burn, doubt)
    with refuses(AlreadyDone):
        settle(ground, burn, doubt, once="once-1")


def test_one_reason_may_settle_all_of_a_kind(ground, burn, tablet, doubt):
    """The second lies before the ignition as the first does; the gap is another kind."""
    tablet.tap("steam", at=START + MINUTE)  # is never sent
    take(ground, tablet.tap("steam", at=START - 3 * MINUTE))
    assert [each.alike for each in selectors.open_doubts(burn) if each.key == doubt] == [1]
    settle(ground, burn, doubt, alike=True)
    assert [each.kind for each in selectors.open_doubts(burn)] == ["gap"]
    assert {each.doubt for each in Settled.objects.all()} == {
        each.key for each in selectors.doubts_of(burn) if each.kind == "before_ignition"
    }


def test_a_burn_is_not_closed_over_an_open_doubt(ground, burn, doubt):
    with refuses(WrongState):
        close(ground, burn)
    settle(ground, burn, doubt)
    close(ground, burn)
    burn.refresh_from_db()
    assert burn.state == "closed"


def test_what_names_no_burn_is_settled_for_the_ground(ground, burn, tablet):
    take(ground, "{")
    (doubt,) = selectors.doubts_without_burn(ground.site)
    settle(ground, None, doubt.key)
    assert selectors.doubts_without_burn(ground.site)[0].settled


def sign(ground, burn, **changes):
    given = {"reason": "no signal until noon", "meaning": MEANING, "by": ground.instructor,
             "shown_hash": yard.late_hash(burn), "at": LATER}  # fmt: skip
    return yard.sign_late_events(burn, **{**given, **changes})


@pytest.fixture
def late(ground, burn, tablet):
    texts = [tablet.tap("steam", at=START + 4 * MINUTE), tablet.tap("out", at=START + 9 * MINUTE)]
    close(ground, burn)
    take(ground, *texts, at=START + 40 * MINUTE)
    burn.refresh_from_db()
    return burn


def test_signed_late_events_stand_in_the_timeline(ground, late):
    with writes("burns.late_events_signed", Amended, TimelineEvent):
        assert sign(ground, late) == 2
    assert selectors.late_of(late) == []
    assert MEANING in Entry.objects.first().said["after"]["meaning"]
    with refuses(WrongState):
        sign(ground, late)


@pytest.mark.parametrize("role", refused_roles("burns.late_events_signed"))
def test_other_roles_sign_no_late_events(ground, late, role):
    with refuses_role():
        sign(ground, late, by=actor(ground, role))


def test_only_somebody_who_was_there_signs(ground, late):
    absent = ground_services.add_person(
        ground.site, name="The absent one", sign_in="absent", password=builders.PASSWORD,
        lasting=True, role="instructor", since=START.date(), by=ground.admin, at=START,
    )  # fmt: skip
    with refuses(WrongState):
        sign(ground, late, by=absent)


def test_what_came_since_is_read_before_it_is_signed(ground, late, tablet):
    shown = yard.late_hash(late)
    take(ground, tablet.tap("knock_down", at=START + 10 * MINUTE), at=START + 45 * MINUTE)
    with refuses(StaleVersion):
        sign(ground, late, shown_hash=shown)


def test_a_signature_says_why(ground, late):
    with refuses(WrongValue, "reason"):
        sign(ground, late, reason="")
