"""How an event is spelt, read and chained."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.yard.chain import Broken, Gap, Link, doubts_of
from facility.yard.event import BadEvent, read_event, sha256_of, spelt

TOLD = {
    "id": "6f1c0c1e-7a53-4d9e-8a1f-2f0d9c3b5a10", "device": "office-1", "device_seq": 1,
    "burn": "abcdefghjk", "kind": "out", "value": {}, "caller": "", "wall": 1_770_000_000_000,
    "mono": 5_000, "boot": "b", "prev": "", "person": "mnpqrstvwx", "corrects": "",
    "anchor": {"server": 1_770_000_000_000, "wall": 1_770_000_000_000, "mono": 1, "rtt": 9, "boot": "b"},
}  # fmt: skip


def test_an_event_is_read_as_it_was_spelt():
    event = read_event(spelt(TOLD))
    assert (event.id, event.device_seq, event.anchor.rtt) == (TOLD["id"], 1, 9)
    assert event.sha256 == sha256_of(spelt(TOLD))
    assert read_event(spelt({**TOLD, "anchor": None})).anchor is None


@pytest.mark.parametrize(
    "change",
    [
        {"id": "6F1C0C1E-7A53-4D9E-8A1F-2F0D9C3B5A10"}, {"id": "1"}, {"id": None},
        {"device": ""}, {"device": "x" * 41}, {"device": 4}, {"device_seq": 0},
        {"device_seq": True}, {"device_seq": "1"}, {"device_seq": 2**31}, {"burn": ""},
        {"kind": 3}, {"value": []}, {"value": None}, {"caller": None}, {"wall": -1},
        {"wall": 10**15}, {"mono": -1}, {"boot": ""}, {"anchor": {}}, {"anchor": []},
        {"anchor": {**TOLD["anchor"], "rtt": -1}}, {"anchor": {**TOLD["anchor"], "server": 0}},
        {"anchor": {**TOLD["anchor"], "also": 1}}, {"prev": "ab"}, {"prev": "G" * 64},
        {"prev": None}, {"person": ""}, {"corrects": "x"}, {"stray": 1},
    ],
)  # fmt: skip
def test_a_part_of_the_wrong_kind_is_refused_with_its_name(change):
    with pytest.raises(BadEvent) as caught:
        read_event(spelt({**TOLD, **change}))
    assert caught.value.given["part"] == next(iter(change))


@pytest.mark.parametrize("part", list(TOLD))
def test_a_missing_part_is_refused_with_its_name(part):
    with pytest.raises(BadEvent) as caught:
        read_event(spelt({name: told for name, told in TOLD.items() if name != part}))
    assert caught.value.given["part"] == part


@pytest.mark.parametrize(
    "text",
    [
        None, 5, b"{}", "", "{", "[]", "null", "1", '"text"', "[" * 3000, "NaN",
        json.dumps(TOLD),  # blanks
        json.dumps(TOLD, separators=(",", ":")),  # keys out of order
        spelt(TOLD).replace('"mono":5000', '"mono":5000.0'),
        spelt(TOLD).replace('"mono":5000', '"mono":5000,"mono":5000'),
        spelt(TOLD).replace('"kind":"out"', '"kind":"\\u006fut"'),
        spelt({**TOLD, "caller": "\x00"}), spelt({**TOLD, "value": {"note": "x" * 4000}}),
        "\ufeff" + spelt(TOLD), spelt(TOLD) + "\n", spelt({**TOLD, "caller": "\ud800"}),
    ],
)  # fmt: skip
def test_what_is_spelt_otherwise_is_no_event(text):
    with pytest.raises(BadEvent):
        read_event(text)


@given(st.text(max_size=300) | st.binary(max_size=80).map(lambda raw: raw.decode("latin-1")))
def test_no_text_brings_the_reader_down(text):
    with pytest.raises(BadEvent):
        read_event(text)


def _chain(*numbers: int) -> list[Link]:
    return [Link(n, f"h{n}", f"h{n - 1}" if n > 1 else "") for n in numbers]


def test_a_whole_chain_is_not_doubted_in_whatever_order_it_comes():
    assert doubts_of(_chain(1, 2, 3)) == []
    assert doubts_of(_chain(3, 1, 2)) == []
    assert doubts_of([]) == []


def test_missing_numbers_and_broken_links_show():
    assert doubts_of(_chain(2, 3, 6)) == [Gap(1, 1), Gap(4, 5)]
    assert doubts_of([*_chain(1, 2), Link(3, "h3", "other")]) == [Broken(3)]
    assert doubts_of([Link(1, "h1", "something")]) == [Broken(1)]
    assert doubts_of(_chain(1), last_known=4) == [Gap(2, 4)]


@given(st.sets(st.integers(1, 40)))
def test_every_number_is_either_there_or_in_one_gap(numbers):
    gaps = [each for each in doubts_of(_chain(*numbers)) if isinstance(each, Gap)]
    missing = [n for each in gaps for n in range(each.first, each.last + 1)]
    assert sorted([*missing, *numbers]) == list(range(1, max(numbers, default=0) + 1))
