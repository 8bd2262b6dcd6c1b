"""Findings in words: measured, allowed, margin and one sentence, in either system of units."""

from __future__ import annotations

import pytest

from facility.rules import words
from facility.rules.engine import Case, Rule, judge
from facility.rules.facts import Known


def found(comparison, limit, value, fact="charge.dry_mass", why="", high=None):
    rule = Rule("R-1", "Fuel", fact, comparison, "block", "5.2", limit=limit, limit_high=high)
    return judge([rule], [Case({fact: Known(value, why)}, rule.subject)])[0]


@pytest.mark.parametrize(
    ("comparison", "value", "sentence"),
    [
        ("<=", 125.0, "Fuel: 125.0 kg, at most 100.0 kg allowed, 25.0 kg over."),
        ("<=", 75.0, "Fuel: 75.0 kg, at most 100.0 kg allowed, 25.0 kg left."),
        ("<=", 100.0, "Fuel: 100.0 kg, at most 100.0 kg allowed, 0.0 kg left."),
        (">=", 60.0, "Fuel: 60.0 kg, at least 100.0 kg needed, 40.0 kg short."),
        (">=", 120.0, "Fuel: 120.0 kg, at least 100.0 kg needed, 20.0 kg left."),
        ("=", 90.0, "Fuel: 90.0 kg, exactly 100.0 kg needed, 10.0 kg off."),
        ("between", 130.0, "Fuel: 130.0 kg, 100.0 kg to 120.0 kg allowed, 10.0 kg off."),
    ],
)
def test_a_finding_is_one_sentence(comparison, value, sentence):
    """Masses are written to a tenth of a kilogram, as everywhere on the pages."""
    plain = words.sentence(found(comparison, 100.0, value, high=120.0)).replace("\u00a0", " ")
    assert plain.replace("\u202f", " ") == sentence


def test_a_margin_too_small_for_a_tenth_is_shown_all_the_same():
    """100.04 kg against 100 kg reads over by 0.04 kg, not by nothing."""
    finding = found("<=", 100.0, 100.04)
    assert words.measured(finding).replace("\u202f", " ") == "100.04 kg"
    assert words.margin(finding).replace("\u202f", " ") == "0.04 kg over"


def test_a_count_has_no_unit_and_a_share_of_one_keeps_a_decimal():
    finding = found("<=", 5.0, 16 / 3, "people.learners_per_instructor")
    assert words.measured(finding) == "5.3"
    assert words.allowed(finding) == "at most 5"


def test_cannot_tell_says_why():
    missing = found("<=", 100.0, None, why="no lot is accepted")
    assert words.sentence(missing) == "Fuel: cannot tell, no lot is accepted."
    assert words.measured(missing) == "not known"
    assert words.margin(missing) == ""


def test_cannot_tell_without_a_reason_says_not_recorded():
    assert words.sentence(found("<=", 100.0, None)) == "Fuel: cannot tell, not recorded."


def test_a_limit_without_a_value_says_so():
    assert words.allowed(found("<=", None, 4.0)) == "no value set"


@pytest.mark.parametrize(
    ("value", "why", "sentence"),
    [(True, "", "Fuel: yes."), (False, "the wall is torn", "Fuel: no, the wall is torn."),
     (False, "", "Fuel: no, it does not hold.")],
)  # fmt: skip
def test_a_truth_is_answered_with_yes_or_no(value, why, sentence):
    finding = found("true", None, value, "unit.in_service", why)
    assert words.sentence(finding) == sentence
    assert words.allowed(finding) == "must hold"


def test_us_readers_read_pounds_of_the_same_finding():
    """100 kg is 220.46 lb: NIST SP 811, Appendix B.8."""
    assert words.measured(found("<=", 100.0, 100.0), system="US").startswith("220")


def test_every_word_passes_through_the_translator():
    asked = []

    def say(text):
        asked.append(text)
        return text

    words.sentence(found("<=", 100.0, 125.0), say)
    assert {"Fuel", "at most {limit}", "{size} over"} <= set(asked)


@pytest.mark.parametrize(
    ("limit", "value", "fact", "sentence"),
    [
        (38.5, 38.6, "person.core_temperature", "Fuel: 38.6 °C, at most 38.5 °C allowed, 0.1 °C over."),
        (45.0, 45.4, "burn.planned_minutes", "Fuel: 45.4 min, at most 45 min allowed, 0.4 min over."),
        (1297.4, 1297.5, "charge.energy", "Fuel: 1297.5 MJ, at most 1297.4 MJ allowed, 0.1 MJ over."),
        (2.25, 3.0, "charge.liquid", "Fuel: 3.00 L, at most 2.25 L allowed, 0.75 L over."),
    ],
)  # fmt: skip
def test_no_limit_is_rounded_away_and_no_breach_is_by_nothing(limit, value, fact, sentence):
    """A limit of 38.5 degC read "at most 38", and 45.4 min were "over 45 by 0"."""
    said = words.sentence(found("<=", limit, value, fact)).replace("\u202f", " ")
    assert said.replace("1 297", "1297") == sentence


def test_what_must_not_be_so_says_that_and_not_why_something_else_is_not_so():
    finding = found("false", None, True, "crew.safety_distinct", "the officer has another duty")
    assert words.sentence(finding) == "Fuel: yes, it must not be so."
    assert words.allowed(finding) == "must not be so"


def test_a_measure_is_told_in_the_unit_of_the_row():
    rule = Rule("R-1", "Fuel", "charge.dry_mass", "<=", "block", "5.2", limit=0.1, row_unit="t",
                scale=0.001)  # fmt: skip
    (finding,) = judge([rule], [Case({"charge.dry_mass": Known(125.0)})])
    said = words.sentence(finding).replace("\u202f", " ")
    assert said == "Fuel: 0.125 t, at most 0.100 t allowed, 0.025 t over."
