"""Setting how a product is ordered."""

from __future__ import annotations

import json
from decimal import Decimal

import pytest

from facility.refusals import WrongValue
from records.audit.models import Entry
from records.stock.models import ReorderRule
from records.stock.reordering import rules_of, set_reorder
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW

ACT = "stock.reorder_set"

RIGHT = {
    "lead_days": Decimal(12), "spread_days": Decimal(4), "service_pct": Decimal(95),
    "multiple": Decimal(20), "lasts_days": Decimal(56),
}  # fmt: skip


def set_it(ground, by=None, **changes):
    return set_reorder(ground.board, by=by or ground.stores, at=NOW, **(RIGHT | changes))


def test_the_newest_rule_counts_and_the_older_one_is_kept(ground):
    with writes(ACT, ReorderRule):
        set_it(ground)
    newest = set_it(ground, lead_days=Decimal(20))
    assert rules_of(ground.site) == {ground.board.pk: newest}
    assert ReorderRule.objects.count() == 2


def test_the_log_tells_before_and_after(ground):
    set_it(ground)
    set_it(ground, lead_days=Decimal(20))
    _first, second = Entry.objects.filter(act=ACT).order_by("seq")
    told = json.loads(second.body)
    assert Decimal(told["before"]["lead_days"]) == 12
    assert Decimal(told["after"]["lead_days"]) == 20
    assert told["obj"] == f"product:{ground.board.public_id}"


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_only_a_stores_officer_sets_it(ground, role):
    with refuses_role():
        set_it(ground, by=actor(ground, role))


WRONG = [
    ("lead_days", "-0.1"), ("lead_days", "366"), ("spread_days", "-1"), ("spread_days", "181"),
    ("service_pct", "49.9"), ("service_pct", "100"), ("service_pct", "0"), ("multiple", "0"),
    ("multiple", "-20"), ("multiple", "2.5"), ("lead_days", "NaN"), ("lasts_days", "0"), ("lasts_days", "400"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), WRONG)
def test_what_makes_no_sense_is_refused_by_name(ground, field, value):
    with refuses(WrongValue, field):
        set_it(ground, **{field: Decimal(value)})


@pytest.mark.parametrize(
    ("field", "value"), [("service_pct", "50"), ("service_pct", "99.9"), ("lead_days", "0")]
)
def test_the_bounds_themselves_are_allowed(ground, field, value):
    assert getattr(set_it(ground, **{field: Decimal(value)}), field) == Decimal(value)


def test_loose_fuel_may_be_ordered_in_parts_of_a_kilogram(ground):
    rule = set_reorder(
        ground.kindling, by=ground.stores, at=NOW, **(RIGHT | {"multiple": Decimal("2.5")})
    )
    assert rule.multiple == Decimal("2.5")
