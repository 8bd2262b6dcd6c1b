"""Recording moisture readings of a lot."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, NotCalibrated, WrongValue
from records.stock import measuring
from records.stock import services as stock
from records.stock.models import LotBalance, MoistureReading
from records.stock.selectors import moisture_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.reading_recorded"


def record(ground, lot, *readings, **changes):
    given = {"readings": [Decimal(each) for each in readings or ("8", "10")], "meter": "pin meter",
             "read_at": NOW, "by": ground.stores, "at": NOW}  # fmt: skip
    stock.record_readings(lot, **{**given, **changes})


def test_readings_are_kept_one_by_one(ground):
    lot = builders.deliver(ground)
    with writes(ACT, MoistureReading, alters=[LotBalance]):
        record(ground, lot, "8", "10", "12")
    kept = moisture_of(lot)
    assert (kept.count, kept.mean_pct, kept.lowest_pct, kept.highest_pct) == (3, 10, 8, 12)


def test_the_newest_round_counts_and_the_older_one_is_kept(ground):
    lot = builders.deliver(ground)
    record(ground, lot, "20", "22")
    later = NOW + dt.timedelta(hours=13)
    record(ground, lot, "9", read_at=later, at=later)
    assert moisture_of(lot).mean_pct == 9
    assert lot.readings.count() == 3


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_record_readings(ground, role):
    lot = builders.deliver(ground)
    with refuses_role():
        record(ground, lot, by=actor(ground, role))


@pytest.mark.parametrize("reading", ["-0.1", "200.1", "NaN", "-Infinity"])
def test_a_reading_is_a_share_of_dry_mass(ground, reading):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "readings"):
        record(ground, lot, "8", reading)


@pytest.mark.parametrize("count", [0, 201])
def test_a_round_has_between_1_and_200_readings(ground, count):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "readings"):
        record(ground, lot, readings=[Decimal(8)] * count)


@pytest.mark.parametrize("meter", ["", "x" * 41, "\0", "nobody's meter"])
def test_the_meter_is_one_of_the_list(ground, meter):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "meter"):
        record(ground, lot, meter=meter)


@pytest.mark.parametrize("off", [dt.timedelta(minutes=3), dt.timedelta(minutes=-1)])
def test_a_lot_is_read_after_it_arrived_and_not_in_the_future(ground, off):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "read_at"):
        record(ground, lot, read_at=NOW + off)


def test_the_same_form_sent_twice_records_one_round(ground):
    lot = builders.deliver(ground)
    record(ground, lot, once="form-1")
    with refuses(AlreadyDone):
        record(ground, lot, once="form-1")


def test_readings_of_another_lot_are_untouched(ground):
    lot, neighbour = builders.accepted_lot(ground), builders.accepted_lot(ground)
    record(ground, lot, "30", read_at=NOW + dt.timedelta(minutes=1))
    assert moisture_of(neighbour).mean_pct == 8


@pytest.mark.parametrize(
    ("since", "until", "taken"),
    [(-30, -1, False), (-30, 0, True), (0, 30, True), (1, 30, False)],
)
def test_a_meter_out_of_calibration_is_not_read(ground, since, until, taken):
    """Due yesterday, due today, calibrated today; and one that was only calibrated tomorrow."""
    lot, day, later = builders.deliver(ground), dt.timedelta(days=1), NOW + dt.timedelta(days=2)
    calibrated_on, due_on = NOW.date() + since * day, NOW.date() + until * day
    builders.add_meter(ground, "old", calibrated_on=calibrated_on, due_on=due_on, at=later)
    if taken:
        record(ground, lot, meter="Old", at=later)
        assert {each.read_with.name for each in lot.readings.all()} == {"old"}
    else:
        with refuses(NotCalibrated, "meter"):
            record(ground, lot, meter="old", at=later)


def test_what_the_meter_showed_is_kept_beside_what_counts(ground):
    """The maker's rule, 0.5 points per 5 degrees beyond 5: a board at 5 degrees reads 1.5 low
    (facility/calc/constants.py); then the line of this meter on this board, 0.9 u + 0.2."""
    lot = builders.deliver(ground)
    measuring.correct_meter(
        ground.meter, lot.product, factor=Decimal("0.9"), points=Decimal("0.2"),
        source="five samples", by=ground.stores, at=NOW,
    )  # fmt: skip
    record(ground, lot, "18", meter=ground.meter, board_temperature_c=Decimal(5))
    kept = lot.readings.get()
    assert (kept.shown_pct, kept.moisture_pct) == (18, Decimal("17.75"))  # 0.9 x 19.5 + 0.2
    assert kept.board_temperature_c == 5


def test_a_correction_reaches_neither_other_boards_nor_other_meters(ground):
    measuring.correct_meter(
        ground.meter, ground.board, factor=Decimal("0.5"), points=Decimal(0), source="samples",
        by=ground.stores, at=NOW,
    )  # fmt: skip
    lot = builders.deliver(ground)
    record(ground, lot, "12", meter="pin meter")
    assert lot.readings.get().moisture_pct == 12


@pytest.mark.parametrize("temperature", [Decimal("-30.1"), Decimal("60.1")])
def test_boards_have_a_temperature_in_sense(ground, temperature):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "board_temperature_c"):
        record(ground, lot, board_temperature_c=temperature)
