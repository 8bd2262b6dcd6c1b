"""A sheet measured and weighed; its density beside the product's, 500 kg/m3 in a band of 10 %.

The sheet of the small ground is 2.5 m x 1.0 m x 20 mm, so 25 kg are 500 kg/m3.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from facility.refusals import AlreadyDone, WrongState, WrongValue
from records.audit.models import Entry
from records.stock import receipts, receiving
from records.stock import services as stock
from records.stock.models import DensityReason, SheetWeighing
from records.stock.selectors import verdict_of
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT, WHY = "stock.sheet_weighed", "stock.density_explained"


def sheet(mass="25", length="2.5", width="1", thickness="20"):
    return receiving.MeasuredSheet(*map(Decimal, (length, width, thickness, mass)))


def weigh(ground, lot, measured=None, **changes):
    given = {"by": ground.stores, "at": NOW, **changes}
    return receiving.weigh_sheet(lot, measured or sheet(), **given)


def explain(ground, lot, reason="the mill confirms it", **changes):
    return receiving.explain_density(
        lot, reason=reason, **{"by": ground.stores, "at": NOW, **changes}
    )


@pytest.fixture
def lot(ground):
    lot = builders.deliver(ground)
    builders.read(ground, lot)
    return lot


@pytest.mark.parametrize(
    ("mass", "density", "outside"),
    [
        ("25", 500, False), ("27.5", 550, False), ("22.5", 450, False),  # the band itself holds
        ("27.51", 550.2, True), ("22.49", 449.8, True), ("35", 700, True),
    ],
)  # fmt: skip
def test_the_density_is_mass_over_volume_and_flagged_outside_ten_percent(
    ground, lot, mass, density, outside
):
    with writes(ACT, SheetWeighing):
        row = weigh(ground, lot, sheet(mass))
    assert float(row.density_kg_m3) == density
    assert receipts.density_of(lot).outside == outside
    assert f'"outside":{str(outside).lower()}' in Entry.objects.latest("seq").body


def test_the_size_measured_counts_not_the_products(ground, lot):
    """25 kg in 2.4 m x 1.0 m x 19 mm, that is 0.0456 m3."""
    assert float(weigh(ground, lot, sheet("25", "2.4", "1", "19")).density_kg_m3) == 548.2


def test_a_product_may_carry_a_band_of_its_own(ground):
    product = stock.add_product(
        ground.site, name="Even board", kind="osb", calorific_dry_mj_kg=Decimal("17.5"),
        calorific_source="EN 1991-1-2", by=ground.stores, at=NOW, density_band_pct=Decimal(4),
        sheet=stock.Sheet(Decimal("2.5"), Decimal(1), Decimal(20), Decimal(500), Decimal(0)),
    )  # fmt: skip
    lot = builders.deliver(ground, product=product)
    weigh(ground, lot, sheet("26.5"))
    assert receipts.density_of(lot).outside


def test_a_lot_outside_its_band_is_accepted_only_with_a_reason(ground, lot):
    weigh(ground, lot, sheet("30"))
    with refuses(WrongState) as caught:
        stock.accept_lot(lot, by=ground.stores, at=NOW)
    assert "differ +20.0 % from the product's density" in caught.value.sentence
    with writes(WHY, DensityReason):
        explain(ground, lot)
    stock.accept_lot(lot, by=ground.stores, at=NOW)
    assert verdict_of(lot) == "accepted"


def test_a_second_look_may_show_that_it_was_one_heavy_sheet(ground, lot):
    """The mean of all sheets counts: 30 and 24 kg are 27, 8 % over."""
    weigh(ground, lot, sheet("30"))
    weigh(ground, lot, sheet("24"))
    assert not receipts.density_of(lot).outside
    stock.accept_lot(lot, by=ground.stores, at=NOW)


def test_a_reason_does_not_cover_a_sheet_weighed_later(ground, lot):
    weigh(ground, lot, sheet("30"))
    explain(ground, lot)
    weigh(ground, lot, sheet("31"), at=NOW + builders.dt.timedelta(hours=1))
    with refuses(WrongState):
        stock.accept_lot(lot, by=ground.stores, at=NOW + builders.dt.timedelta(hours=2))


def test_nothing_is_explained_where_nothing_is_wrong(ground, lot):
    with refuses(WrongState):
        explain(ground, lot)
    weigh(ground, lot)
    with refuses(WrongState):
        explain(ground, lot)


@pytest.mark.parametrize("reason", ["", "  ", "x" * 301, "bell\a"])
def test_a_reason_is_plain_text(ground, lot, reason):
    weigh(ground, lot, sheet("30"))
    with refuses(WrongValue, "reason"):
        explain(ground, lot, reason)


NONSENSE = [
    ("length_m", sheet(length="18")), ("length_m", sheet(length="0")),
    ("length_m", sheet(length="-2.5")), ("length_m", sheet(length="2500")),
    ("width_m", sheet(width="2.5")), ("width_m", sheet(width="NaN")),
    ("thickness_mm", sheet(thickness="0.02")), ("thickness_mm", sheet(thickness="18000")),
    ("thickness_mm", sheet(thickness="12")), ("sheet_mass_kg", sheet("0")),
    ("sheet_mass_kg", sheet("-25")), ("sheet_mass_kg", sheet("250")),
    ("sheet_mass_kg", sheet("2.5")),  # 50 kg/m3, as a cork board
    ("sheet_mass_kg", sheet("65")),  # 1,300 kg/m3, heavier than water by a third
    ("sheet_mass_kg", sheet("Infinity")),
]  # fmt: skip


@pytest.mark.parametrize(("field", "measured"), NONSENSE)
def test_sizes_and_masses_in_another_unit_or_of_another_board_are_refused(
    ground, lot, field, measured
):
    with refuses(WrongValue, field):
        weigh(ground, lot, measured)


def test_only_boards_are_weighed_by_the_sheet(ground):
    lot = builders.deliver(ground, product=ground.kindling)
    with refuses(WrongValue, "mass_kg"):
        weigh(ground, lot)


@pytest.mark.parametrize("act", [ACT, WHY])
def test_other_roles_may_do_neither(ground, lot, act, subtests):
    weigh(ground, lot, sheet("30"))
    for role in refused_roles(act):
        with subtests.test(str(role)), refuses_role():
            (weigh if act == ACT else explain)(ground, lot, by=actor(ground, role))


def test_the_same_forms_sent_twice_take_effect_once(ground, lot):
    weigh(ground, lot, sheet("30"), once="a")
    explain(ground, lot, once="b")
    with refuses(AlreadyDone):
        weigh(ground, lot, sheet("30"), once="a")
    with refuses(AlreadyDone):
        explain(ground, lot, once="b")
