"""Findings in words: measured, allowed, margin and one sentence, in either system of units."""

from __future__ import annotations

import pytest

from facility.rules import words
from facility.rules.engine import Case, Rule, judge
from facility.rules.facts import Known


def found(comparison, limit, value, fact="charge.dry_mass", why="", high=None):
    rule = Rule("R-1", "Fuel", fact, comparison, "block", "5.2", limit=limit, limit_high=high)
    return judge([rule], [Case({fact: Known(value, why)})])[0]


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
