"""The one spelling of a value that is hashed. Pure.

Within its closed set of types the text is that of RFC 8785 (JSON Canonicalization Scheme), which
the tests compare with a library. Whatever lies outside the set raises, so that two programs can
never spell one value in two ways: no floats, no integers beyond 2^53 - 1, keys of plain letters.
"""

from __future__ import annotations

import json
import re
from typing import Any

LARGEST_INT = 2**53 - 1
_KEY = re.compile(r"[a-z0-9_]+")
_spell = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


class NotCanonical(TypeError):
    """A value that has no canonical spelling here."""


def canonical(value: Any) -> str:
    """The canonical JSON text of objects, lists, text, whole numbers, true, false and null.

    Raises
    ------
    NotCanonical
        for any other type, a number out of range, a key outside ``[a-z0-9_]`` or half a
        surrogate pair.
    """
    _check(value)
    return _spell(value)


def _check(value: Any) -> None:
    if value is None or isinstance(value, bool):
        return
    if isinstance(value, str):
        _check_text(value)
    elif isinstance(value, int):
        if abs(value) > LARGEST_INT:
            raise NotCanonical(f"{value} is beyond 2^53 - 1: write it as text")
    elif isinstance(value, dict):
        for key, item in value.items():
            if not isinstance(key, str) or not _KEY.fullmatch(key):
                raise NotCanonical(f"key {key!r}: only a-z, 0-9 and _ are allowed")
            _check(item)
    elif isinstance(value, (list, tuple)):
        for item in value:
            _check(item)
    else:
        raise NotCanonical(f"{type(value).__name__} {value!r} has no canonical spelling")


def _check_text(text: str) -> None:
    try:
        text.encode()
    except UnicodeEncodeError:
        raise NotCanonical(f"{text!r} is no valid Unicode text") from None
