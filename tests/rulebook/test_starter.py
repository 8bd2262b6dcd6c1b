"""The starter rulebook, the contrasting edition and the demo's choices, as data alone."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from pathlib import Path

import pytest

from facility.calc import units
from facility.rules.fact import COUNT, DATE, WORD, YES_NO, Subject
from facility.rules.facts import REGISTER
from facility.rules.stated import STATED
from facility.rules.worked_out import WORKED_OUT
from facility.sites.models import Exercise, UnitKind
from records.plans.models import Duty
from records.stock.models import ProductKind

FIXTURES = Path(__file__).parents[2] / "fixtures"


def fixture(name):
    return json.loads((FIXTURES / name).read_text())


STARTER = fixture("rulebook.json")
CONTRAST = fixture("rulebook_contrast.json")
BY_CODE = {row["code"]: row for row in STARTER["rows"]}
DEMO = [{**BY_CODE[choice["code"]], **choice} for choice in fixture("demo.json")["standard"]]

ALL = [*STARTER["rows"], *CONTRAST["rows"], *DEMO]
NAMES = [
    f"{book} {row['code']}"
    for book, rows in (
        ("starter", STARTER["rows"]),
        ("contrast", CONTRAST["rows"]),
        ("demo", DEMO),
    )
    for row in rows
]
every_row = pytest.mark.parametrize("row", ALL, ids=NAMES)
every_starter_row = pytest.mark.parametrize("row", STARTER["rows"], ids=list(BY_CODE))

NEEDED = {
    "code",
    "jurisdiction",
    "title",
    "fact",
    "comparison",
    "severity",
    "basis",
    "clause",
    "on",
}
ALLOWED = NEEDED | {
    "limit", "limit_high", "limit_text", "window", "exercises", "unit_kinds", "duties", "products",
    "asked_at", "waivable_by", "two_people", "source", "why",
}  # fmt: skip
LONGEST = {"code": 12, "jurisdiction": 60, "title": 120, "limit_text": 200, "duties": 120,
           "products": 120, "asked_at": 60, "clause": 160, "source": 200, "why": 300}  # fmt: skip
WORDS = {
    "comparison": {"<=", ">=", "between", "=", "one_of", "true", "false", "before", "within"},
    "severity": {"block", "caution", "note"},
    "basis": {"read", "memory", "local", "derived"},
    "waivable_by": {"manager", "inspector", "safety"},
}
LISTS = {
    "exercises": set(Exercise.values),
    "unit_kinds": set(UnitKind.values),
    "duties": set(Duty.values),
    "products": set(ProductKind.values),
    "asked_at": {"draft", "submit", "approve", "ignite", "close"},
}
COMPARED_AS = {YES_NO: {"true", "false"}, WORD: {"one_of"}, DATE: {"before"}}
NUMBERS = {"<=", ">=", "between", "=", "within"}
ELAPSED = {"min", "day", "year"}
A_DAY = re.compile(r"(\d{4}-)?(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])")

# The codes of the trade notes, by hand: how far each family is numbered, and the codes with a letter.
# U-14b to U-14d are the burn-sequence chart itself, and U-14 stands only with its letters.
LAST = {"P": 25, "C": 13, "X": 20, "F": 19, "U": 21, "W": 16, "E": 12, "K": 13}
LETTERED = ["C-01b", "C-01c", "U-14a", "U-14e", "U-14f", "U-14j", "W-01b", "E-01b"]
NUMBERED = [f"{family}-{n:02}" for family, last in LAST.items() for n in range(1, last + 1)]
CODES = [code for code in NUMBERED if code != "U-14"] + LETTERED

# Rows of the ten rules that make the product, on although a person answers for their fact.
ON_THOUGH_STATED = {"X-07b", "U-11", "W-01", "E-01"}

# What the ground has judged its burns by all along: fact and comparison of each row.
LONG_STANDING = {
    "P-01": ("people.learners_per_instructor", "<="),
    "P-06": ("crew.in_charge", "="),
    "P-07": ("crew.safety", ">="),
    "P-08": ("crew.safety_distinct", "true"),
    "P-09": ("crew.ignition_team", ">="),
    "C-03": ("crew.qualified", "true"),
    "F-05": ("charge.liquid", "<="),
    "F-06": ("charge.kindling", "<="),
    "F-03": ("charge.lots_accepted", "true"),
    "F-15": ("charge.moisture_highest", "<="),
    "F-16": ("charge.moisture_lowest", ">="),
    "F-07": ("charge.energy", "<="),
    "U-03": ("unit.in_service", "true"),
    "U-20": ("unit.unrestricted", "true"),
    "U-04": ("unit.days_since_inspection", "<="),
    "U-13": ("unit.burns_since_inspection", "<="),
    "W-04": ("water.on_site", ">="),
}


@pytest.mark.parametrize("book", [STARTER, CONTRAST], ids=["starter", "contrast"])
def test_a_code_is_used_once(book):
    codes = [row["code"] for row in book["rows"]]
    assert len(codes) == len(set(codes))


@pytest.mark.parametrize("code", CODES)
def test_every_row_of_the_trade_notes_is_there_whole_or_split(code):
    """P-15 may be P-15a to P-15d; C-01c may be C-01c1 to C-01c3, and does not stand for C-01."""
    split = re.compile(re.escape(code) + (r"\d?" if code[-1].isalpha() else r"[a-z]?"))
    others = set(CODES) - {code}
    assert any(split.fullmatch(row) for row in BY_CODE if row not in others)


def test_the_chart_is_not_doubled_by_rows():
    assert not {"U-14b", "U-14c", "U-14d"} & set(BY_CODE)
    assert all(code in STARTER["about"] for code in ("U-14b", "U-14c", "U-14d"))


@pytest.mark.parametrize("code", LONG_STANDING)
def test_what_the_ground_has_judged_by_stays(code):
    row = BY_CODE[code]
    assert (row["fact"], row["comparison"]) == LONG_STANDING[code]


@every_row
def test_a_row_has_its_words_and_no_others(row):
    assert set(row) >= NEEDED
    assert set(row) <= ALLOWED
    assert row["title"]
    assert row["clause"]
    assert "://" not in row["clause"]
    assert isinstance(row["on"], bool)
    assert row.get("two_people", True) is True
    assert all(len(row.get(key, "")) <= longest for key, longest in LONGEST.items())


@every_row
def test_a_row_uses_only_words_that_are_known(row):
    for key, words in WORDS.items():
        assert row.get(key, next(iter(words))) in words
    for key, words in LISTS.items():
        given = row.get(key, "").split()
        assert set(given) <= words
        assert len(given) == len(set(given))


@every_row
def test_a_row_compares_its_fact_in_a_way_that_fits_it(row):
    fact = REGISTER[row["fact"]]
    assert row["comparison"] in COMPARED_AS.get(fact.unit, NUMBERS)
    if row["comparison"] == "within":
        assert fact.unit in ELAPSED


@every_row
def test_a_row_counts_over_a_window_of_its_fact(row):
    windows = REGISTER[row["fact"]].windows
    assert row.get("window") in (windows or (None,))


@every_row
def test_duties_and_products_narrow_only_people_and_fuel(row):
    subject = REGISTER[row["fact"]].subject
    assert "duties" not in row or subject is Subject.PERSON
    assert "products" not in row or subject in (Subject.LOT, Subject.PRODUCT)


@every_row
def test_a_limit_is_a_number_the_database_can_hold(row):
    for key in ("limit", "limit_high"):
        given = Decimal(row.get(key, "0"))
        assert given >= 0
        assert given == round(given, 3)
    assert ("limit_high" in row) == (row["comparison"] == "between" and "limit" in row)
    assert "limit" not in row or row["comparison"] in NUMBERS
    if "limit_high" in row:
        assert Decimal(row["limit"]) < Decimal(row["limit_high"])


@every_row
def test_words_and_days_stand_where_they_are_compared(row):
    text = row.get("limit_text", "")
    assert bool(text) == (row["comparison"] in ("one_of", "before"))
    if row["comparison"] == "before":
        assert A_DAY.fullmatch(text)
    if row["comparison"] == "one_of":
        words, choices = text.split(", "), REGISTER[row["fact"]].choices
        assert not choices or set(words) < set(choices)


@every_row
def test_what_is_only_remembered_never_blocks(row):
    assert row["basis"] != "memory" or row["severity"] != "block"


@every_row
def test_a_waiver_by_two_people_names_who_grants_it(row):
    assert "two_people" not in row or "waivable_by" in row
    assert "waivable_by" not in row or row["severity"] == "block"


@every_starter_row
def test_a_value_is_missing_only_where_the_ground_decides_it(row):
    """The starter never fills in a value that no source gives."""
    if row["comparison"] in NUMBERS:
        assert ("limit" in row) == (row["basis"] != "local")


@every_starter_row
def test_what_was_read_or_remembered_says_where(row):
    assert row["basis"] != "read" or row.get("source")
    assert row["basis"] not in ("memory", "local", "derived") or row.get("why")


def test_what_a_person_must_answer_starts_off_but_for_the_ten_rules():
    asked = {row["code"] for row in STARTER["rows"] if row["on"] and REGISTER[row["fact"]].stated}
    assert asked == ON_THOUGH_STATED
    assert all(BY_CODE[code]["basis"] == "read" for code in asked)


@pytest.mark.parametrize("row", CONTRAST["rows"], ids=lambda row: row["code"])
def test_the_contrasting_edition_is_honest_about_being_invented(row):
    assert row["basis"] in ("local", "derived")
    assert "Sarnholt Coast" in row["clause"]
    assert row["comparison"] not in NUMBERS or "limit" in row


@pytest.mark.parametrize("row", DEMO, ids=lambda row: row["code"])
def test_the_demo_ground_has_decided_what_it_switched_on(row):
    assert row["on"]
    assert row["basis"] != "memory"
    assert row["comparison"] not in NUMBERS or "limit" in row


def test_the_demo_ground_keeps_its_long_standing_rows():
    codes = [row["code"] for row in DEMO]
    assert len(codes) == len(set(codes))
    assert set(codes) >= set(LONG_STANDING)


def test_the_register_holds_each_fact_once():
    assert len(REGISTER) == len(WORKED_OUT) + len(STATED)
    assert all(fact.stated for fact in STATED)
    assert not any(fact.stated for fact in WORKED_OUT)


@pytest.mark.parametrize("fact", REGISTER.values(), ids=lambda fact: fact.key)
def test_a_fact_is_told_in_a_unit_that_can_be_shown(fact):
    assert fact.unit in (COUNT, YES_NO, WORD, DATE) or fact.unit in units._US
    assert fact.meaning
    assert not fact.choices or fact.unit == WORD


@pytest.mark.parametrize("fact", STATED, ids=lambda fact: fact.key)
def test_nobody_is_asked_for_a_fact_that_no_row_uses(fact):
    assert any(row["fact"] == fact.key for row in STARTER["rows"])


def test_the_kinds_of_fuel_are_those_of_the_store():
    assert set(REGISTER["product.kind"].choices) == set(ProductKind.values)
