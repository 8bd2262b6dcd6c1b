"""What one standard asks otherwise than another. What is stricter was reasoned by hand."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.rulebook.diff import Turn, compare

ROW = {
    "code": "F-07", "jurisdiction": "", "title": "Energy", "fact": "charge.energy",
    "window": "burn", "comparison": "<=", "limit": Decimal(2000), "limit_high": None,
    "limit_text": "", "unit": "MJ", "severity": "block", "clause": "1", "source": "",
    "basis": "local", "why": "", "exercises": "", "unit_kinds": "", "duties": "", "products": "",
    "asked_at": "", "waivable_by": "", "two_people": False, "on": True,
}  # fmt: skip
CHART = {
    "unit": "Unit 1", "caps_dry_kg": [Decimal(100), Decimal(75)], "burns_before_cooling": 2,
    "cooling_min": 60, "wait_min": 30, "trial_on": dt.date(2026, 1, 5), "trial_note": "trial",
}  # fmt: skip


def row(**changes):
    return {**ROW, **changes}


def turns(old, new):
    """The turn of each field that differs between two rows."""
    rows = compare([row(**old)], [row(**new)]).rows
    assert not rows.added
    assert not rows.dropped
    return {change.field: str(change.turn) for each in rows.changed for change in each.fields}


def test_the_same_standard_differs_in_nothing():
    assert not compare([ROW], [row(limit=Decimal("2000.000"))], [CHART], [dict(CHART)])


def test_rows_are_added_dropped_and_changed_in_the_order_of_their_codes():
    older = [row(code="B"), row(code="A"), row(code="C", clause="old")]
    newer = [row(code="E"), row(code="C", clause="new"), row(code="D")]
    found = compare(older, newer).rows
    assert [each["code"] for each in found.added] == ["D", "E"]
    assert [each["code"] for each in found.dropped] == ["A", "B"]
    (change,) = found.changed
    assert (change.key, change.old["clause"], change.new["clause"]) == ("C", "old", "new")
    (field,) = change.fields
    assert (field.field, field.old, field.new, field.turn) == ("clause", "old", "new", Turn.NEITHER)


@pytest.mark.parametrize(
    ("old", "new", "added", "dropped"),
    [
        ([row()], [row(on=False)], 0, 1),
        ([row(on=False)], [row()], 1, 0),
        ([row(on=False)], [], 0, 0),
        ([], [row(on=False)], 0, 0),
    ],
    ids=["switched off", "switched on", "off, then gone", "new, but off"],
)
def test_a_row_that_is_off_asks_nothing(old, new, added, dropped):
    found = compare(old, new).rows
    assert (len(found.added), len(found.dropped), len(found.changed)) == (added, dropped, 0)


@pytest.mark.parametrize(
    ("comparison", "old", "new", "turn"),
    [
        ("<=", "2000", "1500", "stricter"),
        ("<=", "2000", "2000.5", "looser"),
        ("within", "30", "20", "stricter"),
        ("within", "30", "40", "looser"),
        (">=", "4000", "6000", "stricter"),
        (">=", "4000", "3999.999", "looser"),
        ("=", "1", "2", "neither"),
    ],
)
def test_a_limit_goes_the_way_of_its_comparison(comparison, old, new, turn):
    given = {"comparison": comparison}
    found = turns({**given, "limit": Decimal(old)}, {**given, "limit": Decimal(new)})
    assert found == {"limit": turn}


@pytest.mark.parametrize(
    ("old", "new", "turn"),
    [
        ((8, 12), (9, 11), "stricter"),
        ((8, 12), (8, 11), "stricter"),
        ((8, 12), (7, 13), "looser"),
        ((8, 12), (9, 13), "neither"),
        ((8, 12), (20, 30), "neither"),
    ],
)
def test_a_range_inside_the_old_one_is_stricter(old, new, turn):
    ranges = [
        {"comparison": "between", "limit": Decimal(low), "limit_high": Decimal(high)}
        for low, high in (old, new)
    ]
    assert set(turns(*ranges).values()) == {turn}


def test_another_unit_is_reckoned_with():
    """One pound is 0.45359237 kg (exact, international yard and pound agreement of 1959)."""
    kg = {"fact": "charge.dry_mass", "unit": "kg", "limit": Decimal(100)}
    assert turns(kg, {**kg, "unit": "lb"}) == {"unit": "stricter"}
    heavier = turns(kg, {**kg, "unit": "lb", "limit": Decimal(221)})  # 100.24 kg
    assert heavier == {"unit": "looser", "limit": "looser"}
    assert set(turns(kg, {**kg, "unit": "MJ", "limit": Decimal(5)}).values()) == {"neither"}


@pytest.mark.parametrize(
    "new",
    [
        {"limit": Decimal(1), "comparison": ">="},
        {"limit": Decimal(1), "fact": "charge.dry_mass"},
        {"limit": Decimal(1), "window": "day"},
        {"limit": None},
    ],
)
def test_limits_of_unlike_rows_do_not_compare(new):
    assert set(turns({}, new).values()) == {"neither"}


def test_a_limit_set_where_it_was_open_is_neither():
    assert turns({"limit": None}, {}) == {"limit": "neither"}


@pytest.mark.parametrize(
    ("field", "old", "new", "turn"),
    [
        ("severity", "caution", "block", "stricter"),
        ("severity", "note", "caution", "stricter"),
        ("severity", "block", "note", "looser"),
        ("exercises", "", "attack", "looser"),
        ("exercises", "attack multi", "attack", "looser"),
        ("exercises", "attack", "attack multi", "stricter"),
        ("asked_at", "ignite", "", "stricter"),
        ("duties", "crew", "safety", "neither"),
        ("waivable_by", "", "manager", "looser"),
        ("waivable_by", "manager", "", "stricter"),
        ("waivable_by", "manager", "safety", "neither"),
        ("two_people", False, True, "stricter"),
        ("basis", "local", "read", "neither"),
    ],
)
def test_other_fields_have_their_turns(field, old, new, turn):
    assert turns({field: old}, {field: new}) == {field: turn}


@pytest.mark.parametrize(
    ("comparison", "old", "new", "turn"),
    [
        ("one_of", "pine, spruce", "pine", "stricter"),
        ("one_of", "pine", "pine, spruce", "looser"),
        ("one_of", "pine", "spruce", "neither"),
        ("one_of", "", "spruce", "neither"),
        ("before", "2027-05-31", "2027-04-30", "stricter"),
        ("before", "05-31", "06-01", "looser"),
        ("before", "05-31", "2027-04-30", "neither"),
    ],
)
def test_words_and_days(comparison, old, new, turn):
    given = {"comparison": comparison, "limit": None}
    found = turns({**given, "limit_text": old}, {**given, "limit_text": new})
    assert found == {"limit_text": turn}


def test_a_change_in_a_row_that_is_off_goes_neither_way():
    assert turns({"on": False}, {"on": False, "limit": Decimal(1)}) == {"limit": "neither"}


@pytest.mark.parametrize(
    ("field", "new", "turn"),
    [
        ("caps_dry_kg", [100, 70], "stricter"),
        ("caps_dry_kg", [100], "stricter"),  # no second burn at all
        ("caps_dry_kg", [100, 75, 50], "looser"),
        ("caps_dry_kg", [90, 80], "neither"),
        ("burns_before_cooling", 1, "stricter"),
        ("cooling_min", 90, "stricter"),
        ("wait_min", 20, "looser"),
        ("trial_note", "another", "neither"),
    ],
)
def test_a_chart_goes_the_way_of_its_field(field, new, turn):
    (change,) = compare([], [], [CHART], [{**CHART, field: new}]).charts.changed
    assert (change.key, [each.turn for each in change.fields]) == ("Unit 1", [Turn(turn)])


def test_charts_are_added_and_dropped_by_unit():
    other = {**CHART, "unit": "Unit 2"}
    found = compare([], [], [CHART], [other]).charts
    assert (found.added, found.dropped, found.changed) == ((other,), (CHART,), ())
