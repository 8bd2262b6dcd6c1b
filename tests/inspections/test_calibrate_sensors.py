"""Thermocouples held against a reference, and how long ago that was."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.refusals import AlreadyDone, WrongValue
from facility.sites.models import Sensor
from records.inspections.calibrating import calibrate_sensors
from records.inspections.gauging_selectors import days_since_calibration, sensor_states
from records.inspections.models import SensorCalibration
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "inspections.sensors_calibrated"
DAY = dt.timedelta(days=1)


def key(ground):
    return ground.unit.sensors.get().public_id


def calibrate(ground, reference="400", shown="401.0", **changes):
    given = {"read": {key(ground): (Decimal(reference), Decimal(shown))}, "against": "dry block",
             "done_on": NOW.date(), "by": ground.inspector, "at": NOW}  # fmt: skip
    return calibrate_sensors(ground.unit, **{**given, **changes})


def test_it_is_kept_with_its_deviation(ground):
    with writes(ACT, SensorCalibration):
        calibrate(ground, shown="402.5")
    (state,) = sensor_states(ground.unit)
    assert (state.newest.deviation_k, state.state) == (2.5, "sensor_right")


def test_three_quarters_of_a_percent_is_allowed_and_no_more(ground):
    """Class 2 of IEC 60584-1, from memory: 0.75 % of 400 degC is 3.0 K; at 100 degC 2.5 K."""
    for reference, shown, state in (
        ("400", "403.0", "sensor_right"), ("400", "403.1", "sensor_off"),
        ("100", "97.5", "sensor_right"), ("100", "97.4", "sensor_off"),
    ):  # fmt: skip
        calibrate(ground, reference, shown)
        assert sensor_states(ground.unit)[0].state == state


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not(ground, role):
    with refuses_role():
        calibrate(ground, by=actor(ground, role))


@pytest.mark.parametrize(
    ("field", "given"),
    [("against", {"read": {}}), ("against", {"against": " "}), ("against", {"reference": "1301"}),
     ("against", {"read": {"no-such": (Decimal(1), Decimal(1))}}),
     ("done_on", {"done_on": NOW.date() + 2 * DAY}), ("done_on", {"done_on": dt.date(1989, 1, 1)})],
)  # fmt: skip
def test_what_cannot_be_is_refused(ground, field, given):
    with refuses(WrongValue, field):
        calibrate(ground, **given)


def test_a_sensor_of_another_unit_is_refused(ground):
    other = builders.commission(ground, "Unit 2")
    foreign = other.sensors.get().public_id
    with refuses(WrongValue, "against"):
        calibrate(ground, read={foreign: (Decimal(1), Decimal(1))})


def test_sent_twice_it_is_kept_once(ground):
    calibrate(ground, once="k")
    with refuses(AlreadyDone):
        calibrate(ground, once="k")


def test_the_oldest_of_the_sensors_counts_and_one_that_never_was_is_not_known(ground):
    today = NOW.date()
    assert days_since_calibration(ground.unit, today) == (
        None, "no calibration is recorded of T1",
    )  # fmt: skip
    calibrate(ground)
    assert days_since_calibration(ground.unit, today + 10 * DAY)[0] == 10
    with opened():
        Sensor(unit=ground.unit, name="T2", x_m=1, z_m=2).save()
    assert days_since_calibration(ground.unit, today)[0] is None
