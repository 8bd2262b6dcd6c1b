"""What a row must be, and how it comes before the engine in a unit of its own."""

from __future__ import annotations

import pytest

from facility.rulebook.checks import check_row, scale_to
from facility.rulebook.models import Edition, LimitRow
from facility.rulebook.selectors import rule_of
from facility.rules.engine import Case, judge
from facility.rules.facts import Known

ROW = {"code": "X-1", "title": "A row", "fact": "charge.dry_mass", "comparison": "<=",
       "limit": "100", "severity": "block", "basis": "read", "clause": "5.2"}  # fmt: skip
MASS, REPORT = {}, {"fact": "unit.report_sent_on", "comparison": "before", "limit": ""}
MARK = {"fact": "lot.pallet_mark", "comparison": "one_of", "limit": "", "limit_text": "HT"}
EXPOSED = {"fact": "person.exposures", "window": "day"}


def faulty(**changes):
    return [fault.field for fault in check_row({**ROW, **changes}).faults]


@pytest.mark.parametrize(
    "changes",
    [
        MASS, {"limit": "0"}, {"limit": "1,5"}, {"limit": "99.999"}, {"limit": 3},
        {"comparison": "between", "limit_high": "120"}, {"unit": "t"}, {"unit": "kg"},
        {**REPORT, "limit_text": "05-31"}, {**REPORT, "limit_text": "2028-02-29"}, MARK, EXPOSED,
        {**EXPOSED, "duties": "crew, learner"}, {"basis": "memory", "severity": "caution"},
        {"basis": "local", "limit": ""}, {"two_people": "yes", "waivable_by": "safety"},
        {"asked_at": "ignite close"}, {"on": "no"},
    ],
)  # fmt: skip
def test_a_whole_row_has_no_fault(changes):
    assert faulty(**changes) == []


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"code": ""}, "code"), ({"code": "x" * 13}, "code"), ({"code": "a b"}, "code"),
        ({"title": ""}, "title"), ({"title": "x" * 121}, "title"), ({"clause": "a\x00"}, "clause"),
        ({"colour": "red"}, "colour"), ({"fact": "charge.colour"}, "fact"), ({"fact": None}, "fact"),
        ({"comparison": "before"}, "comparison"), ({"comparison": "within"}, "comparison"),
        ({**MARK, "comparison": "<="}, "comparison"), ({"comparison": "true", "limit": ""}, "comparison"),
        ({"window": "month"}, "window"), ({**EXPOSED, "window": "burn"}, "window"),
        ({"duties": "crew"}, "duties"), ({"products": "osb"}, "products"),
        ({**EXPOSED, "duties": "king"}, "duties"), ({"exercises": "picnic"}, "exercises"),
        ({"unit": "L"}, "unit"), ({"unit": "furlong"}, "unit"), ({**EXPOSED, "unit": "kg"}, "unit"),
        ({"fact": "person.core_temperature", "unit": "degF"}, "unit"),
        ({"unit": "long_hundredweight"}, "unit"),
        ({"limit": ""}, "limit"), ({"limit": "-1"}, "limit"), ({"limit": "nan"}, "limit"),
        ({"limit": "1_0"}, "limit"), ({"limit": "0.0001"}, "limit"), ({"limit": "1e10"}, "limit"),
        ({**EXPOSED, "limit": "2.5"}, "limit"), ({"limit_high": "200"}, "limit_high"),
        ({"comparison": "between"}, "limit_high"),
        ({"comparison": "between", "limit_high": "99"}, "limit_high"),
        ({"limit_text": "HT"}, "limit_text"), ({**MARK, "limit_text": " , "}, "limit_text"),
        *(({**REPORT, "limit_text": text}, "limit_text")
          for text in ("", "02-29", "2027-02-29", "31.05.", "2027-W22-1", "W22-1", "0531")),
        ({"basis": "memory"}, "severity"), ({"two_people": True}, "two_people"),
        ({"waivable_by": "learner"}, "waivable_by"), ({"on": "perhaps"}, "on"),
        ({"asked_at": "noon"}, "asked_at"),
    ],
)  # fmt: skip
def test_a_fault_is_named_by_its_field(changes, field):
    assert field in faulty(**changes)


def test_blanks_around_a_fact_are_dropped():
    """Kept, no register would know the fact, and no plan of the ground could be judged."""
    assert check_row({**ROW, "fact": " charge.dry_mass "}).values["fact"] == "charge.dry_mass"


@pytest.mark.parametrize(
    ("unit", "other", "factor"),
    [  # NIST SP 811, Appendix B.8
        ("kg", "t", 0.001), ("kg", "lb", 1 / 0.45359237), ("L", "gallon", 1 / 3.785412),
        ("L", "m3", 0.001), ("L/min", "gallon/min", 1 / 3.785412), ("min", "hour", 1 / 60),
        ("kg/m3", "lb/ft3", 1 / 16.01846), ("kg", "kg", 1.0), ("m", "ft", 1 / 0.3048),
    ],
)  # fmt: skip
def test_a_value_is_scaled_to_the_row_s_unit(unit, other, factor):
    assert scale_to(unit, other) == pytest.approx(factor, rel=1e-6)


@pytest.mark.parametrize(("unit", "other"), [("degC", "degF"), ("kg", "L"), ("", "kg"), ("date", "day")])  # fmt: skip
def test_there_is_no_scale_with_an_offset_or_to_another_dimension(unit, other):
    assert scale_to(unit, other) is None


@pytest.mark.parametrize(
    ("fact", "limit", "unit", "at", "margin"),
    [
        ("charge.dry_mass", "0.1", "t", 100.0, 0.0), ("charge.dry_mass", "0.1", "t", 101.0, -0.001),
        ("charge.liquid", "0.5", "gallon", 1.892, 0.000187), ("charge.liquid", "0.5", "gallon", 1.893, -0.000078),
    ],
)  # fmt: skip
def test_a_row_in_a_unit_of_its_own_is_judged_in_it(fact, limit, unit, at, margin):
    """Half a US gallon is 1.892706 L; the margins are (1.892706 - litres) / 3.785412."""
    values = check_row({**ROW, "fact": fact, "limit": limit, "unit": unit}).values
    rule = rule_of(LimitRow(**values), Edition(code="E-1"))
    (found,) = judge([rule], [Case({fact: Known(at)})])
    assert found.rule.unit == unit
    assert found.margin == pytest.approx(margin, abs=2e-6)
    assert found.blocks == (margin < 0)
