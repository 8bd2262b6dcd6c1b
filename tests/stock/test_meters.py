"""Meters: on the list with a calibration, calibrated again, corrected for a board."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongValue
from records.stock import measuring
from records.stock.models import Calibration, Meter, ProductCorrection
from records.stock.selectors import meter_here
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

TODAY = NOW.date()
DAY = dt.timedelta(days=1)


def add(ground, **changes):
    given = {"name": "pin meter 7", "kind": "pin", "mark": "no. 77", "calibrated_on": TODAY,
             "due_on": TODAY + 300 * DAY, "note": "block", "by": ground.stores, "at": NOW}  # fmt: skip
    return measuring.add_meter(ground.site, **{**given, **changes})


def calibrate(ground, **changes):
    given = {"calibrated_on": TODAY, "due_on": TODAY + 300 * DAY, "note": "block",
             "by": ground.stores, "at": NOW}  # fmt: skip
    return measuring.calibrate_meter(ground.meter, **{**given, **changes})


def correct(ground, **changes):
    given = {"factor": Decimal("0.9"), "points": Decimal("-0.5"), "source": "five samples",
             "by": ground.stores, "at": NOW, "product": ground.board}  # fmt: skip
    given |= changes
    return measuring.correct_meter(ground.meter, given.pop("product"), **given)


def test_a_meter_comes_with_its_calibration(ground):
    with writes("stock.meter_added", Meter, Calibration):
        meter = add(ground)
    assert meter_here(ground.site, meter.public_id).due_on == TODAY + 300 * DAY


def test_the_newest_calibration_counts(ground):
    with writes("stock.meter_calibrated", Calibration):
        calibrate(ground, due_on=TODAY + 7 * DAY)
    assert meter_here(ground.site, ground.meter.public_id).due_on == TODAY + 7 * DAY


def test_a_correction_is_set_for_a_board(ground):
    with writes("stock.correction_set", ProductCorrection):
        correct(ground)


@pytest.mark.parametrize(
    ("act", "verb"),
    [("stock.meter_added", add), ("stock.meter_calibrated", calibrate), ("stock.correction_set", correct)],
)  # fmt: skip
def test_only_the_stores_officer_keeps_meters(ground, act, verb):
    for role in refused_roles(act):
        with refuses_role():
            verb(ground, by=actor(ground, role))


@pytest.mark.parametrize(
    ("verb", "field", "value"),
    [
        (add, "name", " "), (add, "name", "METER"), (add, "kind", "dowsing rod"), (add, "mark", ""),
        (add, "calibrated_on", TODAY + DAY), (add, "due_on", TODAY),
        (add, "due_on", TODAY + 1101 * DAY), (add, "calibrated_on", dt.date(1989, 12, 31)),
        (calibrate, "note", "x" * 161), (calibrate, "calibrated_on", TODAY + DAY),
        (correct, "factor", Decimal("0.29")), (correct, "factor", Decimal("3.01")),
        (correct, "points", Decimal("20.1")), (correct, "source", ""),
    ],
)  # fmt: skip
def test_what_a_meter_may_not_be(ground, verb, field, value):
    with refuses(WrongValue, field):
        verb(ground, **{field: value})


def test_corrections_are_for_boards_of_this_ground(ground, other):
    for product in (ground.kindling, other.board):
        with refuses(WrongValue, "product"):
            correct(ground, product=product)


@pytest.mark.parametrize("verb", [add, calibrate, correct])
def test_the_same_form_sent_twice_records_once(ground, verb):
    verb(ground, once="form-1")
    with refuses(AlreadyDone):
        verb(ground, **({"name": "another"} if verb is add else {}), once="form-1")


def test_a_meter_of_another_ground_is_none_here(ground, other):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "meter"):
        measuring.record_readings(
            lot, readings=[Decimal(8)], meter=other.meter, read_at=NOW, by=ground.stores, at=NOW
        )
