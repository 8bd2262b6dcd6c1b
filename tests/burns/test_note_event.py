"""Noting what is seen while a burn runs."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.burns import services as burns
from records.burns.models import EventKind, FireStage, TimelineEvent
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "burns.event_noted"
START = NOW + dt.timedelta(days=1)
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def burn(ground):
    builders.accepted_lot(ground)
    return builders.lit(ground)


def note(ground, burn, **changes):
    given = {"kind": EventKind.STAGE, "stage": FireStage.GROWTH, "by": ground.instructor,
             "happened_at": START + 3 * MINUTE, "at": START + 5 * MINUTE}  # fmt: skip
    return burns.note_event(burn, **{**given, **changes})


def test_an_event_keeps_when_it_happened_and_when_it_was_entered(ground, burn):
    with writes(ACT, TimelineEvent):
        event = note(ground, burn)
    assert (event.happened_at, event.recorded_at) == (START + 3 * MINUTE, START + 5 * MINUTE)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_note_events(ground, burn, role):
    with refuses_role():
        note(ground, burn, by=actor(ground, role))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"kind": "dance", "stage": ""}, "kind"),
        ({"stage": ""}, "stage"),
        ({"stage": "flashover"}, "stage"),
        ({"kind": EventKind.WATER}, "stage"),
        ({"kind": EventKind.WATER, "stage": "", "height_m": Decimal(1)}, "height_m"),
        ({"kind": EventKind.NEUTRAL_PLANE, "stage": ""}, "height_m"),
        ({"kind": EventKind.NEUTRAL_PLANE, "stage": "", "height_m": Decimal("2.41")}, "height_m"),
        ({"kind": EventKind.NEUTRAL_PLANE, "stage": "", "height_m": Decimal("-0.1")}, "height_m"),
        ({"kind": EventKind.STOP, "stage": "", "note": " "}, "note"),
        ({"note": "x" * 201}, "note"),
        ({"note": "\0"}, "note"),
        ({"happened_at": START + 8 * MINUTE}, "happened_at"),
        ({"happened_at": START - 2 * MINUTE}, "happened_at"),
    ],
)
def test_an_event_fits_its_kind_and_its_burn(ground, burn, changes, field):
    with refuses(WrongValue, field):
        note(ground, burn, **changes)


def test_the_neutral_plane_is_noted_up_to_the_ceiling(ground, burn):
    note(ground, burn, kind=EventKind.NEUTRAL_PLANE, stage="", height_m=Decimal("2.4"))


def test_a_closed_burn_takes_no_events(ground):
    builders.accepted_lot(ground)
    burn = builders.closed(ground)
    with refuses(WrongState):
        note(ground, burn, at=START + 60 * MINUTE)


def test_the_same_tap_sent_twice_is_noted_once(ground, burn):
    note(ground, burn, once="tap-1")
    with refuses(AlreadyDone):
        note(ground, burn, once="tap-1")
