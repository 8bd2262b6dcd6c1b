"""Oven-dry samples, and how they stand against the meter."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.stock import measuring
from records.stock import services as stock
from records.stock.models import LotBalance, MoistureReading
from records.stock.rounds import moisture_of
from records.stock.selectors import lot_here
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.samples_dried"


def dry(ground, lot, *pairs, **changes):
    given = {"read_at": NOW, "by": ground.stores, "at": NOW}
    samples = [measuring.Dried(Decimal(wet), Decimal(dried)) for wet, dried in pairs]
    measuring.record_dried(lot, samples=samples, **{**given, **changes})


def test_a_sample_is_its_water_over_its_dry_mass(ground):
    """1150 g and 1000 g are 15 % of dry mass, 13 % of wet mass (tests/calc/test_boards.py)."""
    lot = builders.deliver(ground)
    with writes(ACT, MoistureReading, alters=[LotBalance]):
        dry(ground, lot, ("1150", "1000"))
    kept = lot.readings.get()
    assert (kept.moisture_pct, kept.wet_mass_g, kept.dry_mass_g) == (15, 1150, 1000)
    assert kept.method == "oven_dry"


def test_a_whole_round_of_samples_counts_instead_of_the_meter(ground):
    lot = builders.deliver(ground)
    builders.read(ground, lot, "18", "18", "18", "18", "18")
    dry(ground, lot, *[("110", "100")] * 5)
    moisture = moisture_of(lot)
    assert (moisture.mean_pct, moisture.count, moisture.by_oven) == (10, 5, True)
    assert lot_here(ground.site, lot.public_id).moisture_pct == 10


def test_four_samples_where_five_are_needed_leave_the_meter_counting(ground):
    lot = builders.deliver(ground)
    builders.read(ground, lot, "18", "18", "18", "18", "18")
    dry(ground, lot, *[("110", "100")] * 4)
    assert (moisture_of(lot).mean_pct, moisture_of(lot).by_oven) == (18, False)
    assert lot_here(ground.site, lot.public_id).moisture_pct == 18


def test_a_later_round_of_the_meter_replaces_the_samples(ground):
    lot = builders.deliver(ground)
    dry(ground, lot, *[("110", "100")] * 5)
    later = NOW + dt.timedelta(days=30)
    builders.read(ground, lot, *["9"] * 5, at=later)
    assert lot_here(ground.site, lot.public_id).moisture_pct == 9


def test_wet_samples_bar_a_lot_that_the_meter_called_dry(ground):
    lot = builders.deliver(ground)
    builders.read(ground, lot)
    dry(ground, lot, *[("118", "100")] * 5)
    with refuses(WrongState):
        stock.accept_lot(lot, by=ground.stores_two, at=NOW)


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_record_samples(ground, role):
    lot = builders.deliver(ground)
    with refuses_role():
        dry(ground, lot, ("110", "100"), by=actor(ground, role))


@pytest.mark.parametrize(
    "pair", [("100", "110"), ("0", "0"), ("-110", "-100"), ("301", "100"), ("NaN", "100")]
)
def test_masses_in_sense_wet_before_dry(ground, pair):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "samples"):
        dry(ground, lot, ("110", "100"), pair)


@pytest.mark.parametrize("off", [dt.timedelta(minutes=3), dt.timedelta(minutes=-1)])
def test_a_sample_is_cut_after_the_lot_came_and_not_in_the_future(ground, off):
    lot = builders.deliver(ground)
    with refuses(WrongValue, "read_at"):
        dry(ground, lot, ("110", "100"), read_at=NOW + off)


def test_the_same_form_sent_twice_records_one_round(ground):
    lot = builders.deliver(ground)
    dry(ground, lot, ("110", "100"), once="form-1")
    with refuses(AlreadyDone):
        dry(ground, lot, ("110", "100"), once="form-1")
