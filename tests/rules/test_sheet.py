"""Fact sheets: kept as plain data and read back, burns before cooling, and stated values."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.rules.engine import Case, windowed
from facility.rules.facts import REGISTER, Fact, Known, Subject
from facility.rules.sheet import (
    IN_PLANS,
    STANDING,
    FactSheet,
    NotAValue,
    as_data,
    from_data,
    run_before_cooling,
    value_of,
)

TEXTS = st.text(max_size=20)


def values_for(fact):
    kinds = {
        "yes/no": st.booleans(), "date": st.dates(),
        "word": st.sampled_from(fact.choices) if fact.choices else TEXTS.filter(bool),
    }  # fmt: skip
    numbers = st.floats(min_value=0, max_value=1e9, allow_nan=False)
    return st.none() | kinds.get(fact.unit, numbers)


@st.composite
def facts(draw):
    found = {}
    for fact in draw(st.lists(st.sampled_from(list(REGISTER.values())), max_size=6)):
        key = windowed(fact.key, draw(st.sampled_from(fact.windows or ("burn",))))
        found[key] = Known(draw(values_for(fact)), draw(TEXTS))
    return found


CASES = st.builds(
    Case, facts(), st.sampled_from(list(Subject)), TEXTS, TEXTS, TEXTS,
    st.frozensets(st.sampled_from(["crew", "learner", "safety"])), TEXTS,
)  # fmt: skip
PAUSES = st.lists(st.floats(min_value=0, max_value=1440, allow_nan=False), max_size=5).map(tuple)
SHEETS = st.builds(
    FactSheet, TEXTS, st.integers(1, 20), PAUSES, st.lists(CASES, max_size=4).map(tuple)
)


@given(SHEETS)
def test_a_sheet_is_read_back_as_it_was_kept_through_json(sheet):
    assert from_data(json.loads(json.dumps(as_data(sheet), allow_nan=False))) == sheet


def test_a_day_is_kept_as_a_day_and_a_word_as_a_word():
    told = {
        "unit.report_sent_on": Known(dt.date(2027, 5, 31)),
        "burn.ignition_method": Known("2027-05-31"),  # somebody may well write that
    }
    sheet = FactSheet("u", 1, (), (Case(told),))
    data = as_data(sheet)
    assert data["cases"][0]["facts"] == {
        "unit.report_sent_on": ["2027-05-31"], "burn.ignition_method": ["2027-05-31"],
    }  # fmt: skip
    assert from_data(data).cases[0].facts == told


@pytest.mark.parametrize(
    ("pauses", "cooling", "run"),
    [
        ((), 60, 1), ((59.9,), 60, 2), ((60.0,), 60, 1), ((10, 59, 60, 10), 60, 3),
        ((61, 10, 10), 60, 1), ((10, 10, 10), 60, 4), ((10, 10), 0, 1), ((0.0,), 0, 1),
    ],
)  # fmt: skip
def test_burns_in_a_row_are_counted_back_to_the_first_pause_long_enough(pauses, cooling, run):
    """Pauses newest first: before this burn, before the one before, and so on."""
    assert run_before_cooling(pauses, cooling) == run


@given(PAUSES, st.floats(0, 1440), st.floats(0, 1440))
def test_a_longer_pause_asked_for_never_makes_the_run_shorter(pauses, cooling, more):
    assert run_before_cooling(pauses, cooling + more) >= run_before_cooling(pauses, cooling)


GOOD = [
    ("burn.medic_on_site", "yes", True), ("burn.medic_on_site", " no ", False),
    ("burn.unauthorised_found", "3", 3.0), ("burn.strip_width", "0,25", 0.25),
    ("burn.strip_width", "0.25", 0.25), ("water.attack_flow", "230", 230.0),
    ("lot.pallet_mark", "HT", "HT"), ("unit.report_sent_on", "2027-05-31", dt.date(2027, 5, 31)),
    ("person.core_temperature", "38.5", 38.5), ("burn.unauthorised_found", "0", 0.0),
]  # fmt: skip


@pytest.mark.parametrize(("fact", "text", "value"), GOOD)
def test_what_was_stated_is_read_by_the_kind_of_the_fact(fact, text, value):
    assert value_of(REGISTER[fact], text) == value
    assert type(value_of(REGISTER[fact], text)) is type(value)


BAD = [
    *(("burn.medic_on_site", text) for text in ("", "true", "1", "Yes", "maybe")),
    *(("burn.unauthorised_found", text) for text in ("", "two", "-1", "nan", "inf", "1e99", "1_0",
                                                     "1 0", "0" * 61)),
    *(("lot.pallet_mark", text) for text in ("", "ht", "plastic", "HT MB")),
    *(("unit.report_sent_on", text) for text in ("", "05-31", "31.05.2027", "2027-02-29",
                                                 "20270531", "2027-W22-1")),
]  # fmt: skip


@pytest.mark.parametrize(("fact", "text"), BAD)
def test_what_says_no_value_of_the_fact_is_refused_with_what_would(fact, text):
    with pytest.raises(NotAValue) as caught:
        value_of(REGISTER[fact], text)
    assert caught.value.allowed
    assert caught.value.given == text[:60]


@pytest.mark.parametrize(("text", "fits"), [("x" * 60, True), ("x" * 61, False), ("", False)])
def test_a_free_word_is_short(text, fits):
    fact = Fact("burn.word", "word", "any word", stated=True)
    if fits:
        assert value_of(fact, text) == text
    else:
        with pytest.raises(NotAValue):
            value_of(fact, text)


@given(st.sampled_from([fact for fact in REGISTER.values() if fact.stated]), TEXTS)
def test_any_text_is_a_value_of_the_right_kind_or_refused(fact, text):
    kinds = {"yes/no": bool, "word": str, "date": dt.date}
    try:
        value = value_of(fact, text)
    except NotAValue:
        return
    assert isinstance(value, kinds.get(fact.unit, float))


def test_each_subject_is_stated_in_plans_or_stands_on_the_ground():
    assert frozenset(Subject) == IN_PLANS | STANDING
    assert not IN_PLANS & STANDING
