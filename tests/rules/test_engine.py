"""The rule engine: what it says of a fact at, just inside and just outside a limit."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.rules.engine import Applies, Case, Moment, Rule, Verdict, judge
from facility.rules.facts import REGISTER, Known, Subject

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


def test_one_of_one_is_within_and_not_near():
    assert one(rule(limit=1.0, fact="burn.fires_in_unit"), 1.0).verdict == Verdict.WITHIN
    assert one(rule(limit=2.0, fact="burn.fires_in_unit"), 2.0).verdict == Verdict.NEAR


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


# --- the comparisons of the trade: within a time, on or before a day, one of some words, must not be


@pytest.mark.parametrize(
    ("value", "verdict", "margin"),
    [(53.9, "within", 6.1), (54.0, "near", 6.0), (60.0, "near", 0.0), (60.001, "over", -0.001)],
)
def test_within_a_time_is_a_cap_on_it(value, verdict, margin):
    found = one(rule("within", 60.0, fact="burn.wait"), value)
    assert (found.verdict, found.margin, found.is_cap) == (verdict, margin, True)


REPORT = "unit.report_sent_on"


@pytest.mark.parametrize(
    ("text", "day", "verdict", "margin"),
    [
        ("2027-05-31", "2027-05-30", "within", 1.0),
        ("2027-05-31", "2027-05-31", "within", 0.0),
        ("2027-05-31", "2027-06-01", "over", -1.0),
        ("2027-05-31", "2028-05-01", "over", -336.0),  # 2028 has a 29 February
        ("05-31", "2026-05-30", "within", 1.0),
        ("05-31", "2031-05-31", "within", 0.0),
        ("05-31", "2031-06-01", "over", -1.0),
        ("05-31", "2030-12-31", "over", -214.0),  # 30+31+31+30+31+30+31
    ],
)
def test_on_or_before_a_day_of_one_year_or_of_every_year(text, day, verdict, margin):
    asked = rule("before", None, fact=REPORT, day=text)
    found = one(asked, dt.date.fromisoformat(day))
    assert (found.verdict, found.margin) == (verdict, margin)
    assert found.blocks == (verdict == "over")


@pytest.mark.parametrize(
    ("word", "verdict"), [("HT", "within"), ("none", "within"), ("MB", "over"), ("ht", "over")]
)
def test_one_of_the_words_and_no_other(word, verdict):
    asked = rule("one_of", None, fact="lot.pallet_mark", words=frozenset({"HT", "none"}))
    (found,) = judge([asked], [Case({asked.fact: Known(word)}, Subject.LOT)])
    assert (found.verdict, found.margin, found.blocks) == (verdict, None, verdict == "over")


@pytest.mark.parametrize(("value", "verdict"), [(False, "within"), (True, "over")])
def test_what_must_not_be_so_must_not_be_so(value, verdict):
    found = one(rule("false", None, fact="burn.live_casualty"), value)
    assert (found.verdict, found.margin, found.blocks) == (verdict, None, verdict == "over")


@pytest.mark.parametrize(
    ("comparison", "fact", "value"),
    [("before", REPORT, dt.date(2027, 1, 1)), ("one_of", "burn.ignition_method", "gas burner"),
     ("within", "burn.wait", 1.0)],
)  # fmt: skip
def test_without_a_day_words_or_a_time_it_cannot_be_told(comparison, fact, value):
    found = one(rule(comparison, None, fact=fact, missing="no value set"), value)
    assert (found.verdict, found.known.why, found.blocks) == ("cannot_tell", "no value set", True)


# --- what is asked of whom, and when


def test_a_window_is_a_fact_of_its_own():
    monthly = rule(limit=3.0, fact="unit.burns", window="month")
    facts = {"unit.burns": Known(1.0), "unit.burns@month": Known(4.0), "unit.burns@7d": Known(2.0)}
    assert judge([monthly], [Case(facts)])[0].known.value == 4.0
    assert judge([monthly], [Case({"unit.burns": Known(1.0)})])[0].verdict == "cannot_tell"


def test_two_windows_of_one_fact_are_two_questions():
    rules = [rule(code=window, limit=3.0, fact="unit.burns", window=window)
             for window in ("7d", "month")]  # fmt: skip
    found = judge(rules, [Case({"unit.burns@7d": Known(1.0), "unit.burns@month": Known(4.0)})])
    assert [(each.rule.code, each.verdict) for each in found] == [
        ("month", "over"),
        ("7d", "within"),
    ]


BURN = Case({MASS: Known(900.0)}, exercise="attack", unit_kind="attack")
LEARNER = Case({"person.duties": Known(3.0)}, Subject.PERSON, "A", duties=frozenset({"learner"}))
LIQUID = Case({"lot.moisture_mean": Known(30.0)}, Subject.LOT, "L-1", product="liquid")


@pytest.mark.parametrize(
    ("applies", "fact", "case", "asked"),
    [
        ({"exercises": {"attack"}}, MASS, BURN, True),
        ({"exercises": {"attack", "window"}}, MASS, BURN, True),
        ({"exercises": {"window"}}, MASS, BURN, False),
        ({"unit_kinds": {"attack"}}, MASS, BURN, True),
        ({"unit_kinds": {"window"}}, MASS, BURN, False),
        ({"exercises": {"attack"}, "unit_kinds": {"window"}}, MASS, BURN, False),
        ({"duties": {"learner", "crew"}}, "person.duties", LEARNER, True),
        ({"duties": {"crew"}}, "person.duties", LEARNER, False),
        ({"products": {"liquid"}}, "lot.moisture_mean", LIQUID, True),
        ({"products": {"osb"}}, "lot.moisture_mean", LIQUID, False),
        ({}, "lot.moisture_mean", LIQUID, True),
        ({}, "lot.moisture_mean", BURN, False),  # a rule on lots asks no burn
        ({}, MASS, LIQUID, False),
    ],
)
def test_a_rule_is_asked_only_of_the_cases_it_is_narrowed_to(applies, fact, case, asked):
    narrowed = Applies(**{name: frozenset(listed) for name, listed in applies.items()})
    found = judge([rule(limit=1.0, fact=fact, applies=narrowed)], [case])
    assert bool(blocking(found)) == asked
    assert len(found) == asked


@pytest.mark.parametrize("moment", list(Moment))
@pytest.mark.parametrize("moments", [{"ignite"}, {"submit", "approve"}, set(Moment)])
def test_a_rule_is_asked_only_at_its_moments(moments, moment):
    asked = rule(limit=1.0, applies=Applies(moments=frozenset(moments)))
    found = judge([asked], [Case({MASS: Known(2.0)})], moment=moment)
    assert len(found) == (moment in moments)


# --- several cases, several rules, several editions


def lots(**moistures):
    return [Case({"lot.moisture_mean": Known(value)}, Subject.LOT, code)
            for code, value in moistures.items()]  # fmt: skip


def test_lots_are_judged_one_by_one_and_those_alike_said_once_by_the_one_nearest_the_limit():
    dry = rule(limit=10.0, fact="lot.moisture_mean")
    found = judge([dry], lots(A=6.0, B=11.0, C=8.0, D=7.0, E=12.0, F=9.5, G=None))
    told = [(each.label, each.verdict, each.alike) for each in found]
    assert told == [("B", "over", ()), ("E", "over", ()), ("G", "cannot_tell", ()),
                    ("F", "near", ()), ("C", "within", ("D", "A"))]  # fmt: skip


def test_cases_that_miss_a_caution_alike_are_said_once_and_named():
    dry = rule(limit=10.0, fact="lot.moisture_mean", severity="caution")
    found = judge([dry], lots(A=11.0, B=14.0, C=12.0, D=7.0))
    told = [(each.label, each.verdict, each.alike) for each in found]
    assert told == [("B", "over", ("C", "A")), ("D", "within", ())]


def test_two_rules_on_one_question_leave_one_finding_for_each_lot():
    dry = rule(code="A", limit=10.0, fact="lot.moisture_mean")
    drier = replace(dry, code="B", limit=9.0)
    found = judge([dry, drier], lots(A=8.0, B=9.5, C=12.0))
    told = [(each.label, each.rule.code, each.blocks, [other.rule.code for other in each.also])
            for each in found]  # fmt: skip
    assert sorted(told) == [
        ("A", "B", False, ["A"]),
        ("B", "B", True, ["A"]),
        ("C", "B", True, ["A"]),
    ]


def edition(name, limit, **more):
    return rule(code=f"R-{name}", limit=limit, edition=name, clause=f"{name}, 5.2", **more)


@pytest.mark.parametrize("value", [80.0, 95.0, 120.0, None])
def test_of_two_editions_the_stricter_governs_and_carries_the_other_along(value):
    ours, theirs = edition("ours", 100.0), edition("theirs", 90.0)
    for rules in ([ours, theirs], [theirs, ours]):
        (found,) = judge(rules, [Case({MASS: Known(value)})])
        if value is not None:
            assert found.rule.edition == "theirs"
            assert found.margin == 90.0 - value
        assert len(found.also) == 1
        assert found.blocks == (value is None or value > 90.0)


def test_a_rule_that_blocks_governs_a_stricter_one_that_only_cautions():
    hard, soft = edition("hard", 100.0), edition("soft", 50.0, severity="caution")
    (found,) = judge([soft, hard], [Case({MASS: Known(120.0)})])
    assert (found.rule.edition, found.blocks) == ("hard", True)
    (found,) = judge([soft, hard], [Case({MASS: Known(70.0)})])
    assert (found.rule.edition, found.blocks) == ("soft", False)
    assert found.verdict == "over"


def test_a_minimum_and_a_cap_on_one_fact_are_two_questions():
    found = judge([edition("most", 100.0), edition("least", 50.0, comparison=">=")],
                  [Case({MASS: Known(20.0)})])  # fmt: skip
    assert {(each.rule.edition, each.verdict) for each in found} == {
        ("most", "within"), ("least", "over"),
    }  # fmt: skip


def test_the_stricter_is_found_across_units_of_mass():
    """0.09 t are 90 kg, less than 100 kg; the margin of each is told in its own unit."""
    tonnes = edition("tonnes", 0.09, row_unit="t", scale=0.001)
    (found,) = judge([edition("kilos", 100.0), tonnes], [Case({MASS: Known(95.0)})])
    assert (found.rule.edition, found.verdict, found.margin) == ("tonnes", "over", -0.005)
    assert found.also[0].margin == 5.0
    (found,) = judge([replace(tonnes, limit=0.11), edition("kilos", 100.0)],
                     [Case({MASS: Known(95.0)})])  # fmt: skip
    assert (found.rule.edition, found.margin) == ("kilos", 5.0)


@pytest.mark.parametrize(("litres", "margin"), [(1892.7, -0.0016), (1900.0, 1.9269)])
def test_water_may_be_asked_for_in_us_gallons(litres, margin):
    """A US gallon is 3.785412 L (NIST SP 811, Appendix B.8); 500 of them are 1892.706 L."""
    asked = rule(">=", 500.0, fact="water.on_site", row_unit="gallon", scale=1 / 3.785412)
    found = one(asked, litres)
    assert found.margin == pytest.approx(margin, abs=1e-4)
    assert found.blocks == (margin < 0)
    assert found.rule.unit == "gallon"


# --- waivers


GRANTED = {("E-1", "R-1"): "w-1"}


@pytest.mark.parametrize(
    ("more", "lifted"),
    [
        ({"edition": "E-1", "waivable_by": "manager"}, True),
        ({"edition": "E-1"}, False),  # nobody may
        ({"edition": "E-2", "waivable_by": "manager"}, False),  # another edition's row
        ({"edition": "E-1", "waivable_by": "manager", "code": "R-2"}, False),
    ],
)
@pytest.mark.parametrize("value", [101.0, None])
def test_a_waiver_lifts_the_row_it_names_where_it_may_be_waived(more, lifted, value):
    (found,) = judge([rule(**more)], [Case({MASS: Known(value)})], waivers=GRANTED)
    assert found.unmet
    assert (found.blocks, found.waiver) == (not lifted, "w-1" if lifted else "")


def test_a_waiver_is_not_named_where_the_row_is_met():
    waivable = rule(edition="E-1", waivable_by="manager")
    (found,) = judge([waivable], [Case({MASS: Known(50.0)})], waivers=GRANTED)
    assert (found.verdict, found.waiver) == ("within", "")


def test_a_waiver_of_the_stricter_edition_leaves_the_other_standing():
    waived = edition("E-1", 90.0, waivable_by="manager")
    rules = [replace(waived, code="R-1"), edition("E-2", 100.0)]
    (found,) = judge(rules, [Case({MASS: Known(120.0)})], waivers=GRANTED)
    assert (found.rule.edition, found.blocks) == ("E-2", True)
    (found,) = judge(rules, [Case({MASS: Known(95.0)})], waivers=GRANTED)
    assert not found.blocks


# --- whatever the rules and cases


def days():
    return st.dates(dt.date(2020, 1, 1), dt.date(2035, 12, 31))


def rules_of_every_kind():
    """Rules of every comparison, edition and narrowing, with and without a limit."""
    about = {"severity": st.sampled_from(["block", "caution"]),
             "edition": st.sampled_from(["E-1", "E-2", "E-3"]),
             "waivable_by": st.sampled_from(["", "manager"]),
             "applies": st.builds(Applies, exercises=st.sampled_from([frozenset(), frozenset({"attack"}), frozenset({"window"})]))}  # fmt: skip
    mass = {"fact": st.sampled_from([MASS, "lot.moisture_mean"])}
    numbers = st.builds(rule, st.sampled_from(["<=", ">=", "within"]), st.none() | NUMBERS, **mass, **about)  # fmt: skip
    band = st.builds(
        lambda low, width, **more: rule("between", low, limit_high=low + width, **more),
        NUMBERS, NUMBERS, **mass, **about,
    )  # fmt: skip
    exact = st.builds(rule, st.just("="), NUMBERS, **mass, **about)
    truths = st.builds(rule, st.sampled_from(["true", "false"]), st.none(),
                       fact=st.just("crew.qualified"), **about)  # fmt: skip
    worded = st.builds(rule, st.just("one_of"), st.none(), fact=st.just("burn.ignition_method"),
                       words=st.frozensets(st.sampled_from("abcd")), **about)  # fmt: skip
    dated = st.builds(rule, st.just("before"), st.none(), fact=st.just(REPORT),
                      day=days().map(str) | days().map(lambda day: f"{day:%m}-01"), **about)  # fmt: skip
    any_rule = numbers | band | exact | truths | worded | dated
    many = st.lists(any_rule, min_size=1, max_size=8)
    return many.map(lambda made: [replace(each, code=f"R-{n}") for n, each in enumerate(made)])


@st.composite
def cases_of_every_kind(draw):
    burn = Case(
        {
            MASS: Known(draw(st.none() | NUMBERS)),
            "crew.qualified": Known(draw(st.none() | st.booleans())),
            "burn.ignition_method": Known(draw(st.none() | st.sampled_from("abcde"))),
            REPORT: Known(draw(st.none() | days())),
        },
        exercise=draw(st.sampled_from(["attack", "window"])),
    )
    readings = draw(st.lists(st.none() | NUMBERS, max_size=4))
    fact = "lot.moisture_mean"
    return [burn, *(replace(burn, facts={fact: Known(value)}, subject=Subject.LOT, label=f"L-{n}")
                    for n, value in enumerate(readings))]  # fmt: skip


def some_waivers():
    keys = st.tuples(st.sampled_from(["E-1", "E-2"]), st.sampled_from([f"R-{n}" for n in range(8)]))
    return st.dictionaries(keys, st.just("w"), max_size=3)


def tightened(asked, step):
    """The same rule, asking for more. A rule whose limit is not set is as tight as it can be."""
    if asked.comparison == "one_of":
        return replace(asked, words=frozenset(sorted(asked.words)[1:]))
    if asked.comparison == "before":
        if len(asked.day) == 5:
            return replace(asked, day="01-01")
        day = dt.date.fromisoformat(asked.day) - dt.timedelta(days=int(step))
        return replace(asked, day=str(day))
    if asked.limit is None or asked.comparison not in ("<=", "within", ">=", "between"):
        return asked
    if asked.comparison == "between":
        return replace(asked, limit=asked.limit + step, limit_high=asked.limit_high - step)
    return replace(asked, limit=asked.limit + (step if asked.comparison == ">=" else -step))


@given(rules_of_every_kind(), cases_of_every_kind(), some_waivers(), NUMBERS, st.data())
def test_tightening_any_limit_never_turns_a_refusal_into_a_pass(rules, cases, waivers, step, data):
    at = data.draw(st.integers(0, len(rules) - 1))
    tight = [*rules[:at], tightened(rules[at], step), *rules[at + 1 :]]
    if blocking(judge(rules, cases, waivers=waivers)):
        assert blocking(judge(tight, cases, waivers=waivers))


@given(rules_of_every_kind(), cases_of_every_kind(), some_waivers(), st.randoms())
def test_whatever_the_rules_their_order_and_that_of_the_cases_does_not_matter(
    rules, cases, waivers, chance
):
    told = judge(rules, cases, waivers=waivers)
    mixed, turned = list(rules), list(cases)
    chance.shuffle(mixed)
    chance.shuffle(turned)
    assert judge(mixed, turned, waivers=waivers) == told


@given(rules_of_every_kind(), cases_of_every_kind(), rules_of_every_kind(), some_waivers())
def test_whatever_the_rules_one_more_never_lifts_a_refusal(rules, cases, more, waivers):
    others = [replace(each, code=f"X{each.code}") for each in more]
    if blocking(judge(rules, cases, waivers=waivers)):
        assert blocking(judge([*rules, *others], cases, waivers=waivers))


@given(rules_of_every_kind(), cases_of_every_kind(), some_waivers())
def test_a_burn_is_refused_exactly_when_one_rule_alone_refuses_one_case(rules, cases, waivers):
    """Gathering what is alike and letting the stricter govern hides no refusal."""
    alone = any(
        blocking(judge([each], [case], waivers=waivers)) for each in rules for case in cases
    )
    assert bool(blocking(judge(rules, cases, waivers=waivers))) == alone
