"""The entry control board: who is inside, with how much air, from events in any order."""

import json
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.yard import kinds
from facility.yard.air_board import (
    KINDS,
    MINUTE,
    RANGES,
    Numbers,
    Told,
    board,
    minutes_by_person,
    refusal,
)

TABLE = json.loads((Path(__file__).parent / "board_cases.json").read_text())
CASES = TABLE["cases"]
START = 1_770_000_000_000  # some moment, ms UTC


def told_in(case):
    """The events of a case; without a device and a number, those of one device as they stand."""
    events = []
    for place, (key, kind, value, minute, *rest) in enumerate(case["events"], start=1):
        device, seq, corrects = [*rest, *("", place, "")[len(rest) :]]
        events.append(Told(key, kind, value, START + round(minute * MINUTE), device, seq, corrects))
    return events


def numbers_in(case):
    return Numbers(**(TABLE["sets"][case["set"]] if "set" in case else case["numbers"]))


def board_in(case, events):
    return board(events, numbers_in(case), START + round(case["at"] * MINUTE), case.get("people"))


def minute(moment):
    return (moment - START) / MINUTE


def found_in(made, wanted):
    """What the board says of the things a case expects, in the shape the case expects them."""
    rows = {row.stay.who: row for row in made.inside}
    of_row = {
        "turn_min": lambda row: minute(row.turn_at),
        "whistle_min": lambda row: minute(row.whistle_at),
        "empty_min": lambda row: minute(row.air.empty_at),
        "turn_bar": lambda row: row.air.turn_bar,
        "l_min": lambda row: row.air.l_min,
        "bar": lambda row: row.bar,
        "names": lambda row: row.stay.name,
        "goes_by": lambda row: row.goes_by,
        "alarms": lambda row: list(row.alarms),
    }
    if wanted in of_row:
        return {who: of_row[wanted](row) for who, row in rows.items()}
    return {
        "inside": list(rows),
        "minutes": minutes_by_person(made),
        "lowest": {stay.who: stay.lowest for stay in made.stays},
        "missing": [who for who, _name in made.missing],
        "board_alarms": list(made.alarms),
        "doubts": sorted([each.code, each.who] for each in made.doubts),
        "numbers": {name: getattr(made.numbers, name) for name in RANGES},
    }[wanted]


def close_to(expected):
    """Moments within half a second, pressures and consumptions within a thousandth."""
    if isinstance(expected, dict):
        return {
            key: pytest.approx(value, abs=0.001) if isinstance(value, int | float) else value
            for key, value in expected.items()
        }
    return expected


@pytest.mark.parametrize("case", CASES, ids=[case["name"] for case in CASES])
def test_the_board_says(case):
    made = board_in(case, told_in(case))
    for wanted, expected in case["expect"].items():
        if wanted == "refusals":
            assert [refusal(made, value)[0] for value, _code in expected] == [
                code for _value, code in expected
            ]
            continue
        found = found_in(made, wanted)
        if wanted in ("numbers", "lowest"):
            found = {name: found[name] for name in expected}
        assert found == close_to(sorted(expected) if wanted == "doubts" else expected), wanted


def test_what_may_be_typed_is_what_the_register_takes():
    fields = {each.name: (each.low, each.high) for each in kinds.KINDS["air_numbers"].fields}
    assert fields == RANGES
    assert {name for name, each in kinds.KINDS.items() if each.group == "board"} == set(KINDS)


WHO = st.sampled_from("ABCDE")


@st.composite
def days(draw):
    """People who go in and come out in turn, read now and then, told by two tablets."""
    events, inside, at = [], set(), START
    seqs = {"one": 0, "two": 0}
    for place in range(draw(st.integers(0, 25))):
        at += draw(st.integers(1, 4 * MINUTE))  # which of two at one moment came first is not known
        who = draw(WHO)
        if who not in inside:
            kind = "person_in"
            inside.add(who)
        elif draw(st.booleans()):
            kind = "pressure"
        else:
            kind = "person_out"
            inside.discard(who)
        device = draw(st.sampled_from(["one", "two"]))
        seqs[device] += 1
        value = {"who": who, "name": f"name of {who}", "bar": draw(st.integers(0, 350))}
        value["team"] = draw(st.sampled_from(["", "1", "2"]))
        events.append(Told(f"e{place}", kind, value, at, device, seqs[device]))
    return events, inside, at


NUMBERS = Numbers(6.8, 1, 300, 55, 60, 2, 90, 3, 5, 20)


@given(days(), st.randoms(use_true_random=False))
def test_the_order_of_arrival_does_not_matter(day, random):
    events, _inside, at = day
    shuffled = events[:]
    random.shuffle(shuffled)
    assert board(shuffled, NUMBERS, at) == board(events, NUMBERS, at)


@given(days())
def test_inside_is_ins_less_outs(day):
    events, inside, at = day
    made = board(events, NUMBERS, at)
    count = {kind: sum(each.kind == kind for each in events) for kind in KINDS}
    assert len(made.inside) == count["person_in"] - count["person_out"] == len(inside)
    assert {row.stay.who for row in made.inside} == inside


@given(days(), st.data())
def test_what_is_struck_out_counts_for_nothing(day, data):
    """As if the event had never been told; the undo itself is no event of the board."""
    events, _inside, at = day
    if not events:
        return
    gone = data.draw(st.sampled_from(events))
    undo = Told("undo", "undo", {}, at, gone.device, 99, gone.id)
    without = [each for each in events if each is not gone]
    struck = board([*events, undo], NUMBERS, at)
    assert struck.inside == board(without, NUMBERS, at).inside
    assert struck.doubts == board(without, NUMBERS, at).doubts


@given(days())
def test_what_was_told_twice_is_told_once(day):
    events, _inside, at = day
    assert board([*events, *events], NUMBERS, at) == board(events, NUMBERS, at)


@given(days())
def test_a_team_turns_with_its_first_and_before_its_whistle(day):
    events, _inside, at = day
    made = board(events, NUMBERS, at)
    for row in made.inside:
        if row.air is None:
            continue
        assert row.turn_at <= row.air.turn_at
        assert row.turn_at <= row.whistle_at <= row.air.whistle_at <= row.air.empty_at
        assert row.air.l_min >= NUMBERS.l_min


@given(days(), st.integers(1, 60))
def test_minutes_are_never_negative_nor_more_than_the_day(day, more):
    events, _inside, at = day
    at += more * MINUTE
    for minutes in minutes_by_person(board(events, NUMBERS, at)).values():
        assert 0 <= minutes <= (at - START) / MINUTE


JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)
FIELDS = st.sampled_from(["who", "name", "bar", "team", "missing", *RANGES])


@given(
    st.lists(
        st.tuples(
            st.sampled_from([*KINDS, "undo", "stage"]), st.dictionaries(FIELDS, JSON),
            st.integers(-(10**14), 10**14), st.integers(0, 5), st.integers(0, 9),
        ),
        max_size=10,
    )
)  # fmt: skip
def test_whatever_arrives_the_board_is_drawn(sent):
    """Also corrections in a circle, clocks from anywhere, values of any shape."""
    events = [
        Told(str(place), kind, value, at, "d", seq, str(corrects) if corrects < 8 else "")
        for place, (kind, value, at, seq, corrects) in enumerate(sent)
    ]
    made = board(events, NUMBERS, START, people={"A": "Ana"})
    assert len(made.inside) <= len(events)
