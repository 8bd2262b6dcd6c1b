"""A logger's file is taken in with its burn: whole, once, and as it came."""

from __future__ import annotations

import numpy as np
import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from facility.guarded import opened
from facility.loggers.packing import MISSING
from facility.refusals import WrongState, WrongValue
from facility.sites.models import Sensor
from records.audit.models import Entry
from records.capture import selectors, series
from records.capture.models import Channel, Logger, LoggerFile
from records.ground.models import UnitHeat
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes

ACT = "capture.file_taken"
LOGGED = builders.LOGGED


@pytest.fixture
def burn(ground):
    ground.lot = builders.accepted_lot(ground)
    return builders.closed(ground)


@pytest.fixture
def sensor(ground):
    with opened():
        made = Sensor(unit=ground.unit, name="T1", x_m=1, z_m=2)
        made.save()
    return made


def test_series_summary_and_original_are_kept(ground, burn, sensor):
    file = builders.logged(ground, burn, sensors={2: sensor})
    channel = file.channels.get(sensor=sensor)
    assert (channel.heading, channel.lowest, channel.highest, channel.highest_s) == (
        "Ceiling", 12, 620, 20,
    )  # fmt: skip
    assert selectors.original_of(ground.site, file.public_id) == ("unit 1.csv", LOGGED)
    line = series.lines_of(burn, selectors.files_of(burn), "temperature")[0]
    assert (line.label, line.height_m) == ("T1", 2.0)
    assert line.seconds.tolist() == [-10, 0, 10, 20]
    assert line.values.tolist() == [12, 20, 420, 620]


def test_time_above_is_counted_between_readings(ground, burn):
    """By hand: 20 to 420 in 10 s crosses 149 after 3.225 s, so 16.8 s of 20 lie above it; 420 to
    620 lies above 400 whole, and 420 - 400 of 400 degrees is half a second before."""
    file = builders.logged(ground, burn)
    above = file.channels.get(heading="Ceiling").above_s
    assert above == {
        "149": pytest.approx(16.8),
        "400": pytest.approx(10.5),
        "600": pytest.approx(1.0),
    }


def test_ignition_sets_the_time_axis(ground, burn):
    builders.logged(ground, burn, ignition_s=10.0)
    lines = series.lines_of(burn, selectors.files_of(burn), "temperature")
    assert lines[0].seconds.tolist() == [-20, -10, 0, 10]


def test_one_entry_tells_the_hash(ground, burn):
    with writes(ACT, UnitHeat, Logger, LoggerFile, Channel):
        file = builders.logged(ground, burn)
    assert file.sha256 in Entry.objects.latest("seq").body


def test_the_same_file_is_refused_and_names_its_burn(ground, burn):
    builders.logged(ground, burn)
    with refuses(WrongState) as refused:
        builders.logged(ground, burn, name="copy.csv")
    assert burn.reference in refused.value.sentence


def test_a_file_of_another_day_needs_a_word(ground, burn):
    data = b"Timestamp,TC1\n2018-12-03 12:22:00,20\n2018-12-03 12:22:10,30\n"
    with refuses(WrongValue, "other_day"):
        builders.logged(ground, burn, data=data)
    assert builders.logged(ground, burn, data=data, other_day=True).rows == 2


def test_a_sensor_stands_at_one_channel_of_its_own_unit(ground, burn, sensor):
    with refuses(WrongValue, "sensors"):
        builders.logged(ground, burn, sensors={2: sensor, 3: sensor})
    other = builders.commission(ground, "Unit 2")
    with opened():
        strange = Sensor(unit=other, name="T9", x_m=1, z_m=2)
        strange.save()
    with refuses(WrongValue, "sensors"):
        builders.logged(ground, burn, sensors={2: strange})


@pytest.mark.parametrize("data", [b"", b"\0\0", b"no\nlogger\n", b"Time,TC1\ns,C\n"])
def test_what_cannot_be_read_is_refused_whole(ground, burn, data):
    with refuses(WrongValue, "file"):
        builders.logged(ground, burn, data=data)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_who_may_not(ground, burn, role):
    with refuses_role():
        builders.logged(ground, burn, by=actor(ground, role))


def test_channels_are_remembered_by_logger_and_unit(ground, burn, sensor):
    builders.logged(ground, burn, sensors={2: sensor})
    assert selectors.remembered(ground.site, "LOGGER 1", ground.unit) == {"Ceiling": sensor.pk}
    assert selectors.remembered(ground.site, "logger 2", ground.unit) == {}


def test_a_file_is_first_shown_then_kept(ground, burn):
    client = Client()
    client.force_login(ground.instructor)
    address = reverse("capture:take", args=[burn.public_id])
    sent = {"logger": "logger 1", "file": SimpleUploadedFile("u.csv", LOGGED)}
    shown = client.post(address, sent)
    assert shown.status_code == 200
    assert "Ceiling" in shown.text
    assert not LoggerFile.objects.exists()
    sent["file"] = SimpleUploadedFile("u.csv", LOGGED)
    assert client.post(address, sent | {"keep": "1"}).status_code == 302
    page = client.get(reverse("capture:recorded", args=[burn.public_id]))
    assert "data:image/svg+xml" in page.text
    assert Channel.objects.count() == 2


def test_a_window_keeps_its_extremes():
    numbers = np.full(100_000, 200, np.int16)
    numbers[77_777], numbers[5], numbers[40_000:40_900] = 9000, MISSING, MISSING
    kept = series.extremes(numbers)
    assert len(kept) <= series.MOST_POINTS
    assert 77_777 in kept
    assert (np.diff(kept) > 0).all()
    assert kept.max() < 100_000
    assert series.extremes(numbers[:50]).tolist() == list(range(50))
