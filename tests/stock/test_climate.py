"""The air of a bay: typed, from a file, and what it does to boards."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.audit.models import Entry
from records.stock import drying, storing
from records.stock.climate_files import Air, read_log
from records.stock.models import BayClimate
from records.stock.rounds import moisture_of
from records.stock.selectors import lot_here
from tests import builders
from tests.asking import actor, acts_after, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW
from tests.pages import Things

ACT = "stock.climate_recorded"
DAY = dt.timedelta(days=1)
ZONE = ZoneInfo("Europe/London")


def air(days_ago: float = 0, temperature: str = "20", humidity: str = "65") -> Air:
    return Air(NOW - days_ago * DAY, Decimal(temperature), Decimal(humidity))


def log(ground, *given, **changes):
    return storing.record_climate(
        ground.bay, list(given) or [air()], **{"by": ground.stores, "at": NOW, **changes}
    )


def test_each_moment_is_a_row(ground):
    with writes(ACT, BayClimate):
        assert log(ground, air(1), air()) == 2


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_log(ground, role):
    with refuses_role():
        log(ground, by=actor(ground, role))


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (air(temperature="-40.1"), "temperature_c"), (air(temperature="60.1"), "temperature_c"),
        (air(humidity="-0.1"), "humidity_pct"), (air(humidity="100.1"), "humidity_pct"),
        (air(-1), "measured_at"),
    ],
)  # fmt: skip
def test_air_out_of_sense_logs_nothing_at_all(ground, wrong, field):
    with refuses(WrongValue, field):
        log(ground, air(1), wrong)


def test_the_same_moments_twice_are_recognised(ground):
    log(ground, air(1), air())
    with refuses(WrongState):
        log(ground, air(1), air())
    with refuses(WrongValue, "file"):
        log(ground, air(2), air(1))


def test_the_same_form_sent_twice_logs_once(ground):
    log(ground, once="form-1")
    with refuses(AlreadyDone):
        log(ground, air(1), once="form-1")


def test_boards_settle_at_what_the_handbook_gives_for_the_month(ground):
    """70 degF and 50 %: 9.2 in Wood Handbook FPL-GTR-282 Table 4-2. What is older is left out."""
    log(ground, air(45, "30", "95"), air(20, "21.1", "45"), air(0, "21.1", "55"))
    climate = drying.climate_of(ground.bay)
    assert (climate.count, climate.humidity_pct) == (2, 50)
    assert climate.equilibrium.value() == pytest.approx(9.2, abs=0.06)


def test_a_bay_without_a_log_says_nothing(ground):
    assert drying.climate_of(ground.bay) is None
    assert drying.chart_of(ground.bay) is None


# -- drying ----------------------------------------------------------------------------------


def seen(ground, lot, limit=12.0, at=NOW):
    found = lot_here(ground.site, lot.public_id)
    return drying.outlook(found, moisture_of(found), limit, at.date())


def wet_lot(ground, *means, every=6):
    start = NOW - every * (len(means) - 1) * DAY
    lot = builders.deliver(ground, at=start)
    for number, mean in enumerate(means):
        builders.read(ground, lot, *[mean] * 5, at=start + every * number * DAY)
    return lot


def test_a_dry_lot_has_no_outlook(ground):
    log(ground, air(0, "20", "30"))
    assert seen(ground, wet_lot(ground, "11")) is None


def test_the_band_is_the_time_constant_over_and_times_one_and_a_half(ground):
    """20 degC, 65 % settle at 12 % (Wood Handbook fact sheet: 65.0 % for 12). From 18 % to 15 % is
    ln 2 time constants of 21 days: 14.6 days; 9.7 and 21.8 with the factor of 1.5."""
    log(ground)
    found = seen(ground, wet_lot(ground, "18"), limit=15.0)
    assert found.fitted is None
    assert found.days.value() == pytest.approx(14.6, abs=0.15)
    assert found.earliest == NOW.date() + 10 * DAY
    assert found.latest == NOW.date() + 22 * DAY


def test_two_rounds_of_the_lot_tell_how_fast_it_dries(ground):
    """From 18 % to 15 % in six days while 12 % is the end: half the way, so 6 / ln 2 = 8.66."""
    log(ground)
    found = seen(ground, wet_lot(ground, "18", "15"), limit=14.0)
    assert found.fitted.value() == pytest.approx(8.66, abs=0.1)


def test_a_bay_too_damp_for_the_limit_is_said(ground):
    log(ground, air(0, "20", "80"))  # about 16 %: traguiden.se, in tests/calc/test_boards.py
    found = seen(ground, wet_lot(ground, "18"))
    assert found.days is None
    assert found.settles_at.value() == pytest.approx(16, abs=0.5)


# -- files -----------------------------------------------------------------------------------

GOOD = [
    "time,temperature,humidity\n2026-01-05 08:00,4.5,81\n2026-01-05 09:00,5,80.5\n",
    "\ufeffZeit;Grad;Feuchte\n05.01.2026 08:00;4,5;81,0\n05.01.2026 09:00;5,0;80,5\n",
    "2026-01-05T08:00+00:00\t4.5 °C\t81 %\r\n\r\n2026-01-05T09:00+00:00\t5 °C\t80.5 %\r\n",
    "2026-01-05 08:00|4.5|81\n2026-01-05 09:00|5|80.5",
    '"2026-01-05 08:00";"4,5";"81"\n"2026-01-05 09:00";"5";"80,5"\n',
]


@pytest.mark.parametrize("text", GOOD)
def test_a_log_is_read_whatever_parts_its_cells(text):
    found = read_log(text.encode(), ZONE)
    assert found.faults == []
    start = dt.datetime(2026, 1, 5, 8, tzinfo=dt.UTC)  # London keeps UTC in winter
    assert found.air == [
        Air(start, Decimal("4.5"), Decimal("81.0")),
        Air(start + dt.timedelta(hours=1), Decimal("5.0"), Decimal("80.5")),
    ]


@pytest.mark.parametrize(
    ("text", "places"),
    [
        ("", [(0, "")]), ("time,temperature,humidity\n", [(0, "")]), (b"\xff\xfe\x00a", [(0, "")]),
        ("2026-01-05 08:00,4\n2026-01-05 09:00,4,80,1", [(1, ""), (2, "")]),
        ("2026-02-31 08:00,4,80\n2026-01-05 09:00,x,80\n2026-01-05 10:00,4,101",
         [(1, "time"), (2, "temperature"), (3, "humidity")]),
        ("2026-01-05,4,80", [(1, "time")]), ("0001-01-05 08:00,4,80", [(1, "time")]),
        ("2026-01-05 08:00,70 °F,80", [(1, "temperature")]),
        ("2026-01-05 08:00,4,80\n2026-01-05 08:00,5,80", [(2, "time")]),
        ("2026-01-05 08:00,4,80\n2026-01-05 09:00,-99,999",
         [(2, "temperature"), (2, "humidity")]),
        ('2026-01-05 08:00,4,"80\n', [(0, "")]), ("x" * 5_000_001, [(0, "")]),
    ],
)  # fmt: skip
def test_every_line_that_is_wrong_is_named(text, places):
    data = text if isinstance(text, bytes) else text.encode()
    assert [(each.line, each.column) for each in read_log(data, ZONE).faults] == places


@pytest.fixture
def things(db) -> Things:
    return Things()


def send(things, signed_in, text: str, once: str = "k"):
    client = signed_in(things.ground.stores)
    file = SimpleUploadedFile("log.csv", text.encode())
    return client.post(things.address("stock:climate_file"), {"file": file, "once": once})


def test_a_file_of_the_page_is_logged_whole(things, signed_in):
    answer = send(things, signed_in, GOOD[0])
    assert answer.status_code == 302
    assert BayClimate.objects.count() == 2


def test_one_bad_line_logs_nothing_and_is_shown(things, signed_in):
    assert things.bay
    count = Entry.objects.count()
    answer = send(things, signed_in, GOOD[0] + "2026-01-05 10:00,4,<b>\n")
    assert answer.status_code == 400
    assert "line 4, humidity, &lt;b&gt;" in answer.text
    assert BayClimate.objects.count() == 0
    assert acts_after(count) == []


def test_the_same_file_again_is_409(things, signed_in):
    send(things, signed_in, GOOD[0])
    answer = send(things, signed_in, GOOD[0], once="k2")
    assert answer.status_code == 409
    assert BayClimate.objects.count() == 2
