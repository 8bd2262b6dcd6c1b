"""The rule engine: what it says of a fact at, just inside and just outside a limit."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.rules.engine import Case, Rule, Verdict, judge
from facility.rules.facts import REGISTER, Known

MASS = "charge.dry_mass"
NUMBERS = st.floats(min_value=0, max_value=1e4, allow_nan=False)
COMPARISONS = ["<=", ">=", "=", "between"]


def rule(comparison="<=", limit=100.0, **more) -> Rule:
    given = {"code": "R-1", "title": "Fuel", "fact": MASS, "severity": "block", "clause": "5.2"}
    return Rule(**{**given, "comparison": comparison, "limit": limit, **more})


def one(a_rule: Rule, value):
    return judge([a_rule], [Case({a_rule.fact: Known(value)})])[0]


def blocking(findings):
    return [finding for finding in findings if finding.blocks]


@pytest.mark.parametrize(
    ("comparison", "value", "verdict", "margin"),
    [
        ("<=", 89.9, "within", 10.1),
        ("<=", 90.0, "near", 10.0),  # a tenth of the limit is left
        ("<=", 100.0, "near", 0.0),
        ("<=", 100.001, "over", -0.001),
        (">=", 100.0, "within", 0.0),
        (">=", 99.999, "over", -0.001),
        (">=", 250.0, "within", 150.0),
        ("=", 100.0, "within", 0.0),
        ("=", 99.0, "over", -1.0),
        ("=", 101.0, "over", -1.0),
        ("between", 100.0, "within", 0.0),
        ("between", 110.0, "within", 10.0),
        ("between", 120.0, "within", 0.0),
        ("between", 99.0, "over", -1.0),
        ("between", 122.0, "over", -2.0),
    ],
)
def test_every_comparison_at_just_inside_and_just_outside(comparison, value, verdict, margin):
    found = one(rule(comparison, limit_high=120.0), value)
    assert (found.verdict, found.margin) == (verdict, margin)
    assert found.blocks == (verdict == "over")


@pytest.mark.parametrize(("value", "verdict"), [(True, "within"), (False, "over")])
def test_a_truth_must_hold(value, verdict):
    found = one(rule("true", None, fact="crew.qualified"), value)
    assert (found.verdict, found.margin, found.blocks) == (verdict, None, verdict == "over")


def test_a_sum_of_decimals_does_not_miss_its_limit_by_the_last_bit():
    """0.1 + 0.2 is 0.30000000000000004 in binary."""
    assert not one(rule(limit=0.3), 0.1 + 0.2).blocks


@pytest.mark.parametrize("comparison", [*COMPARISONS, "true"])
def test_a_missing_fact_is_cannot_tell_which_is_not_a_pass(comparison):
    for facts in ({}, {MASS: Known(None, "no lot")}):
        found = judge([rule(comparison)], [Case(facts)])[0]
        assert (found.verdict, found.margin, found.blocks) == (Verdict.CANNOT_TELL, None, True)


@pytest.mark.parametrize("comparison", COMPARISONS)
def test_a_limit_without_a_value_is_cannot_tell(comparison):
    found = one(rule(comparison, None, missing="the chart is empty"), 1.0)
    assert (found.verdict, found.blocks) == (Verdict.CANNOT_TELL, True)
    assert found.known.why == "the chart is empty"


@pytest.mark.parametrize("severity", ["caution", "note"])
@pytest.mark.parametrize("value", [None, 1.0, 100.0, 1e9])
def test_a_caution_never_blocks(severity, value):
    assert not one(rule(severity=severity), value).blocks


def test_zero_is_a_limit_like_any_other():
    assert not one(rule(limit=0.0), 0.0).blocks
    assert one(rule(limit=0.0), 0.001).blocks


def test_what_blocks_comes_first_then_what_is_near():
    facts = ("people.in_unit", "charge.energy", MASS, "charge.kindling", "charge.liquid")
    limits = (1e3, 105.0, 50.0, 50.0, None)
    rules = [
        rule(code=code, limit=limit, fact=fact, severity="caution" if code == "D" else "block")
        for code, limit, fact in zip("ABCDE", limits, facts, strict=True)
    ]
    found = judge(rules, [Case({fact: Known(100.0) for fact in facts})])
    assert [each.rule.code for each in found] == ["C", "E", "D", "B", "A"]
    assert [each.rule.code for each in blocking(found)] == ["C", "E"]


def rule_lists():
    one_rule = st.builds(
        rule, st.sampled_from(COMPARISONS), st.none() | NUMBERS,
        severity=st.sampled_from(["block", "caution"]),
    )  # fmt: skip
    numbered = st.lists(one_rule, max_size=6)
    return numbered.map(lambda rows: [replace(row, code=f"R-{n}") for n, row in enumerate(rows)])


@given(rule_lists(), st.none() | NUMBERS, st.randoms())
def test_the_order_of_the_rows_does_not_matter(rules, value, chance):
    shuffled = list(rules)
    chance.shuffle(shuffled)
    facts = {MASS: Known(value)}
    assert judge(rules, [Case(facts)]) == judge(shuffled, [Case(facts)])


@given(st.sampled_from(["<=", ">=", "between"]), NUMBERS, NUMBERS, NUMBERS)
def test_tightening_a_limit_never_turns_a_refusal_into_a_pass(comparison, limit, value, step):
    loose = rule(comparison, limit, limit_high=limit + 10)
    if comparison == "<=":
        tight = replace(loose, limit=limit - step)
    else:
        tight = replace(loose, limit=limit + step)
    if one(loose, value).blocks:
        assert one(tight, value).blocks


@given(st.sampled_from(COMPARISONS), NUMBERS, NUMBERS)
def test_a_rule_blocks_exactly_when_its_margin_is_negative(comparison, limit, value):
    found = one(rule(comparison, limit, limit_high=limit + 10), value)
    assert found.blocks == (found.margin < 0)


@given(rule_lists(), NUMBERS, rule_lists())
def test_a_further_rule_never_lifts_a_refusal(rules, value, more):
    facts = {MASS: Known(value)}
    if blocking(judge(rules, [Case(facts)])):
        assert blocking(judge([*rules, *more], [Case(facts)]))


def test_the_register_names_each_fact_once_with_its_unit():
    assert {fact.key for fact in REGISTER.values()} == set(REGISTER)
    assert all(fact.meaning for fact in REGISTER.values())


def test_a_fact_outside_the_register_cannot_be_ruled_on():
    with pytest.raises(KeyError):
        _ = rule(fact="charge.colour").unit
