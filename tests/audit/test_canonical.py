"""The canonical text against the RFC 8785 library and published vectors.

``CHARLINE_MANY=1000000`` compares that many random documents instead of 2,000.
"""

from __future__ import annotations

import hashlib
import json
import os
import random

import pytest
import rfc8785

from records.audit import checker
from records.audit.canonical import LARGEST_INT, NotCanonical, canonical

MANY = int(os.environ.get("CHARLINE_MANY", "2000"))
KEYS = ["a", "at", "b_2", "z9", "why", "_", "0", "10", "9"]
LETTERS = [*"abcXYZ \"\\/'<>&=", "\n", "\r", "\t", "\b", "\f", "\x00", "\x1f", "\x7f", "\x80",
           "é", "ö", "€", "\u2028", "\ufb33", "\uffff", "😂", "𝄞"]  # fmt: skip


def some_value(chance: random.Random, depth: int):
    kind = chance.randrange(8 if depth else 6)
    if kind == 0:
        return chance.choice([None, True, False])
    if kind in (1, 2):
        return chance.choice([0, -1, LARGEST_INT, -LARGEST_INT, chance.randint(-(10**6), 10**6)])
    if kind < 6:
        return "".join(chance.choices(LETTERS, k=chance.randrange(12)))
    if kind == 6:
        return [some_value(chance, depth - 1) for _ in range(chance.randrange(5))]
    return {
        key: some_value(chance, depth - 1)
        for key in chance.sample(KEYS, chance.randrange(len(KEYS)))
    }


def some_document(chance: random.Random):
    return {key: some_value(chance, 3) for key in chance.sample(KEYS, chance.randrange(1, 5))}


def test_random_documents_are_spelt_as_the_library_spells_them():
    chance = random.Random(8785)
    for _ in range(MANY):
        document = some_document(chance)
        assert canonical(document).encode() == rfc8785.dumps(document)


def test_the_published_vector_within_our_set():
    """arrays.json of github.com/cyberphone/json-canonicalization, testdata, commit 19d51d7."""
    text = canonical([56, {"d": True, "10": None, "1": []}])
    assert text == '[56,{"1":[],"10":null,"d":true}]'
    digest = "099601b171cafed97c333f8878d68e7f8c8f795412adb34b2fdcf0e7c7beac42"
    assert hashlib.sha256(text.encode()).hexdigest() == digest


def test_the_published_string_is_escaped_as_printed():
    """The string of values.json, same place."""
    text = '€$\x0f\nA\'B"\\\\"/'
    assert canonical([text]).encode().hex() == (
        "5b22e282ac245c75303030665c6e4127425c225c5c5c5c5c222f225d"
    )


@pytest.mark.parametrize(
    "value",
    [1.0, -0.0, float("nan"), float("inf"), LARGEST_INT + 1, -LARGEST_INT - 1, b"x", {1, 2}, object(),
     {"A": 1}, {"a b": 1}, {"": 1}, {"é": 1}, {1: 1}, {"ﬀ": 1}, "\ud800", [{"a": {"b": 1.5}}]],
)  # fmt: skip
def test_what_lies_outside_the_set_raises(value):
    with pytest.raises(NotCanonical):
        canonical(value)


@pytest.mark.parametrize(
    "line",
    ['{"id": "1"}', '{"v":1,"id":"1"}', '{"id":"1","id":"1"}', '{"id":"\\u0041"}', '{"id":"1","n":1.0}',
     '{"id":"1","n":1e3}', '{"id":"1","n":NaN}', '{"id":"1","n":-0}', '{"id":1}', '["id"]', "", "x",
     '{"id":"1"} ', "[" * 100_000],
)  # fmt: skip
def test_the_checker_takes_one_spelling_only(line):
    assert list(checker.check_line(line.encode(), 0, {}))
    assert not list(checker.check_line(canonical({"id": "1", "v": 1}).encode(), 0, {}))


def test_what_is_read_back_is_what_was_written():
    chance = random.Random(1)
    for _ in range(200):
        document = some_document(chance)
        assert json.loads(canonical(document)) == document
