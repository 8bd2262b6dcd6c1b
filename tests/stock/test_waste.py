"""Ash and waste dockets."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, StaleVersion, WrongState, WrongValue
from records.ground import services as ground_services
from records.stock import waste
from records.stock.models import WasteDocket, WasteSignOff
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW

GOOD = {
    "kind": "ash", "docket": "W-1", "container": "steel bin 2", "destination": "licensed landfill",
    "mass_kg": Decimal("84.5"), "unburnt_kg": Decimal("3"), "untreated": True,
    "cooled_since": NOW - dt.timedelta(days=2), "weighed_at": NOW,
}  # fmt: skip


def record(ground, *, by=None, once="", **changes):
    given = waste.Waste(**{**GOOD, **changes})
    return waste.record_waste(ground.site, given, by=by or ground.stores, at=NOW, once=once)


def sign(ground, row, **changes):
    given = {"shown_hash": waste.waste_hash(row), "by": ground.safety, "at": NOW}
    return waste.sign_off_waste(row, **{**given, **changes})


def test_a_container_is_recorded_and_signed_off_by_somebody_else(ground):
    with writes("stock.waste_recorded", WasteDocket):
        row = record(ground)
    with writes("stock.waste_signed_off", WasteSignOff):
        sign(ground, row)
    kept = waste.waste_here(ground.site, row.public_id)
    assert (kept.mass_kg, kept.sign_off.signed_by) == (Decimal("84.5"), ground.safety)
    with refuses(WrongState):
        sign(ground, row, by=ground.manager)


def test_treated_waste_gets_no_ash_docket(ground):
    with refuses(WrongValue, "untreated") as caught:
        record(ground, untreated=False)
    assert "transfer note" in caught.value.sentence


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("kind", "no-such-kind"), ("docket", " "), ("docket", "x" * 41), ("container", ""),
        ("container", "x" * 81), ("destination", ""), ("destination", "bell\a"),
        ("mass_kg", Decimal(0)), ("mass_kg", Decimal(-1)), ("mass_kg", Decimal("1.23")),
        ("mass_kg", Decimal(20001)), ("unburnt_kg", Decimal(-1)), ("unburnt_kg", Decimal("84.6")),
        ("cooled_since", NOW + dt.timedelta(minutes=1)), ("cooled_since", NOW + dt.timedelta(days=1)),
        ("weighed_at", NOW + dt.timedelta(days=1)),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(ground, field, wrong):
    with refuses(WrongValue, field):
        record(ground, **{field: wrong})


def test_a_docket_number_is_used_once(ground):
    record(ground)
    with refuses(WrongValue, "docket"):
        record(ground, docket="w-1")


def test_whoever_weighed_it_does_not_sign_it_off(ground):
    ground_services.give_role(
        ground.site, ground.safety, role="stores", since=NOW.date(), by=ground.admin, at=NOW
    )
    row = record(ground, by=ground.safety)
    with refuses_own_work():
        sign(ground, row)


def test_what_is_signed_is_what_was_shown(ground):
    row = record(ground)
    with refuses(StaleVersion):
        sign(ground, row, shown_hash="0" * 64)


@pytest.mark.parametrize("role", refused_roles("stock.waste_recorded"))
def test_other_roles_may_not_record(ground, role):
    with refuses_role():
        record(ground, by=actor(ground, role))


@pytest.mark.parametrize("role", refused_roles("stock.waste_signed_off"))
def test_other_roles_may_not_sign_off(ground, role):
    row = record(ground)
    with refuses_role():
        sign(ground, row, by=actor(ground, role))


def test_the_same_form_sent_twice_records_once(ground):
    record(ground, once="form-1")
    with refuses(AlreadyDone):
        record(ground, docket="W-2", once="form-1")
