"""A burn that runs, and a tablet at it."""

from __future__ import annotations

import datetime as dt

import pytest

from records.yard import services as yard
from tests import builders
from tests.builders import NOW
from tests.yard.device import Tablet

START = NOW + dt.timedelta(days=1)
MINUTE = dt.timedelta(minutes=1)


@pytest.fixture
def burn(ground):
    builders.accepted_lot(ground)
    return builders.lit(ground)


@pytest.fixture
def tablet(ground, burn) -> Tablet:
    device = "office-0011223344556677"
    yard.take_seat(ground.site, device, by=ground.instructor, at=START)
    return Tablet(device, burn.public_id, ground.instructor.public_id, START - 5 * MINUTE)
