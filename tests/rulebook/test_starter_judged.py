"""Every row of the starter rulebook and of the contrasting edition, judged: met, not met, not known.

The values are chosen here from the row's own words and limit, never by the engine: a step of the
last decimal the database keeps beyond the limit is over it, the limit itself is not.
"""

from __future__ import annotations

import datetime as dt
import json
import re
from pathlib import Path

import pytest

from facility.rulebook.checks import check_row
from facility.rulebook.models import Edition, LimitRow
from facility.rulebook.selectors import rule_of
from facility.rules import words
from facility.rules.engine import Case, judge
from facility.rules.facts import REGISTER, Known

FIXTURES = Path(__file__).parents[2] / "fixtures"
ROWS = [
    pytest.param(row, id=f"{book} {row['code']}")
    for book in ("rulebook", "rulebook_contrast")
    for row in json.loads((FIXTURES / f"{book}.json").read_text())["rows"]
]
NUMBERS = ("<=", ">=", "=", "between", "within")
OPEN = [case for case in ROWS if case.values[0]["comparison"] in NUMBERS and "limit" not in case.values[0]]  # fmt: skip
DECIDED = [case for case in ROWS if case not in OPEN]
STEP = 0.001


def plain(text):
    return text.replace("\u00a0", " ").replace("\u2212", "-")


def judged(row, value, *, why="", **changes):
    """What the row says of one case that it applies to, at a moment when it is asked."""
    checked = check_row({**row, **changes})
    assert checked.faults == ()
    saved = LimitRow(**checked.values)
    rule = rule_of(saved, Edition(code="E-1"))
    moment = (row.get("asked_at") or "draft").split()[0]
    (found,) = judge([rule], [case_for(row, rule, Known(value, why))], moment=moment)
    return found


def case_for(row, rule, known):
    key = row["fact"] + (f"@{row['window']}" if row.get("window", "burn") != "burn" else "")
    about = REGISTER[row["fact"]].subject
    one_by_one = about in ("lot", "product", "person")

    def first(narrowing):
        return row.get(narrowing, "").split()[:1]

    return Case(
        {key: known},
        subject=about if one_by_one else "burn",
        label="the third" if one_by_one else "",
        exercise="".join(first("exercises")),
        unit_kind="".join(first("unit_kinds")),
        duties=frozenset(first("duties")),
        product="".join(first("products")),
    )


def good_and_bad(row, limit=None, high=None):
    """A value at the limit, which meets the row, and one just beyond, which does not."""
    low = float(row["limit"]) if limit is None else limit
    top = float(row["limit_high"]) if high is None and "limit_high" in row else high
    return {
        "<=": (low, low + STEP), "within": (low, low + STEP), ">=": (low, low - STEP),
        "=": (low, low + 1), "between": (low, (top or 0) + STEP),
    }[row["comparison"]]  # fmt: skip


def words_good_and_bad(row):
    compared = row["comparison"]
    if compared in ("true", "false"):
        return compared == "true", compared != "true"
    if compared == "one_of":
        return row["limit_text"].split(", ")[-1], "a word of no list"
    month, day = (int(part) for part in row["limit_text"].split("-"))
    last = dt.date(2031, month, day)
    return last, last + dt.timedelta(days=1)


def values_of(row):
    return good_and_bad(row) if row["comparison"] in NUMBERS else words_good_and_bad(row)


@pytest.mark.parametrize("row", DECIDED)
def test_a_case_at_the_limit_meets_the_row(row):
    good, _bad = values_of(row)
    found = judged(row, good)
    assert found.verdict in ("within", "near")
    assert not found.blocks


@pytest.mark.parametrize("row", DECIDED)
def test_a_case_just_beyond_fails_and_stops_the_burn_where_the_row_blocks(row):
    _good, bad = values_of(row)
    found = judged(row, bad)
    assert found.verdict == "over"
    assert found.blocks == (row["severity"] == "block")


@pytest.mark.parametrize("row", ROWS)
def test_what_is_not_known_is_no_pass(row):
    found = judged(row, None, why="nobody looked")
    assert found.verdict == "cannot_tell"
    assert found.blocks == (row["severity"] == "block")
    said = plain(words.sentence(found))
    assert said.startswith(row["title"])
    assert said.endswith(": cannot tell, nobody looked.")


@pytest.mark.parametrize("row", ROWS)
def test_a_fact_that_nobody_recorded_is_no_pass(row):
    rule = rule_of(LimitRow(**check_row(row).values), Edition(code="E-1"))
    bare = case_for(row, rule, Known(None))
    moment = (row.get("asked_at") or "draft").split()[0]
    (found,) = judge([rule], [Case({}, bare.subject, "", bare.exercise, bare.unit_kind, bare.duties,
                                   bare.product)], moment=moment)  # fmt: skip
    assert (found.verdict, found.blocks) == ("cannot_tell", row["severity"] == "block")


@pytest.mark.parametrize("row", OPEN)
def test_a_value_the_ground_has_not_set_is_no_pass_whatever_was_measured(row):
    assert row["basis"] == "local"
    for value in (0.0, 7.0, 1e6):
        found = judged(row, value)
        assert found.verdict == "cannot_tell"
        assert found.blocks == (row["severity"] == "block")
        assert plain(words.sentence(found)).endswith("the ground has not set a value.")


@pytest.mark.parametrize("row", OPEN)
def test_once_the_ground_has_set_a_value_the_row_judges_by_it(row):
    between = row["comparison"] == "between"
    filled = {"limit": "7", **({"limit_high": "9"} if between else {})}
    good, bad = good_and_bad(row, 7.0, 9.0)
    assert judged(row, good, **filled).verdict in ("within", "near")
    assert judged(row, bad, **filled).verdict == "over"
    assert judged(row, bad, **filled).blocks == (row["severity"] == "block")


@pytest.mark.parametrize("row", [case for case in DECIDED if case.values[0]["comparison"] in NUMBERS])  # fmt: skip
def test_the_sentence_names_what_was_asked_what_was_measured_and_what_is_allowed(row):
    _good, bad = values_of(row)
    said = plain(words.sentence(judged(row, bad)))
    assert said.startswith(row["title"])
    assert judged(row, bad).rule.clause == f"E-1, {row['clause']}"
    allowed = {"<=": "at most", "within": "within", ">=": "at least", "=": "exactly",
               "between": " to "}[row["comparison"]]  # fmt: skip
    assert allowed in said
    shown = {round(bad, 3), *(float(row[key]) for key in ("limit", "limit_high") if key in row)}
    assert shown <= numbers_in(said)


def numbers_in(sentence):
    """Every number of a sentence; a thin blank stands between groups of three digits."""
    return {
        float(each) for each in re.findall(r"-?[0-9]+(?:\.[0-9]+)?", sentence.replace("\u202f", ""))
    }


@pytest.mark.parametrize("row", [case for case in DECIDED if case.values[0]["comparison"] not in NUMBERS])  # fmt: skip
def test_the_sentence_on_words_days_and_truths_names_the_thing(row):
    _good, bad = values_of(row)
    said = plain(words.sentence(judged(row, bad)))
    assert said.startswith(row["title"])
    listed = ", ".join(sorted(row.get("limit_text", "").split(", ")))
    ending = {
        "true": ": no, it does not hold.", "false": ": yes, it must not be so.",
        "one_of": f": a word of no list, one of: {listed} allowed.",
    }.get(row["comparison"])  # fmt: skip
    if row["comparison"] == "before":
        day = dt.date(2031, *(int(part) for part in row["limit_text"].split("-")))
        after = day + dt.timedelta(days=1)
        assert f": {after.day} {after:%b %Y}, on or before {day.day} {day:%b} needed" in said
        assert said.endswith("1\u202fday late.")
    else:
        assert said.endswith(ending)
