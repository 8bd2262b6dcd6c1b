"""An event as a tablet spells it: read strictly, or refused with a reason.

The text is canonical JSON, kept as it was sent, because its SHA-256 stands in the log and in the
next event of the same device. What is spelt otherwise is refused: two spellings of one event
would be two events.
"""

from __future__ import annotations

import hashlib
import json
import re
import uuid
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from facility.rules.fact import gettext_noop
from facility.yard.clock import Anchor, Reading

LONGEST = 4000  # characters of one event
LARGEST_INT = 2**53 - 1
FIRST = ""  # what the first event of a device gives as the one before it
_spell = json.JSONEncoder(
    sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False
).encode


class BadEvent(ValueError):
    """A text that is no event. ``sentence`` may have blanks for ``given``."""

    def __init__(self, sentence: str, **given: Any) -> None:
        self.sentence, self.given = sentence, given
        super().__init__(sentence.format(**given))


@dataclass(frozen=True, slots=True)
class Event:
    """What one event says; ``text`` is the event itself."""

    text: str
    id: str
    device: str
    device_seq: int
    burn: str
    kind: str
    value: Any
    caller: str
    reading: Reading
    anchor: Anchor | None
    prev: str
    person: str
    corrects: str

    @property
    def sha256(self) -> str:
        return sha256_of(self.text)


def spelt(value: Any) -> str:
    """Keys in order, no blanks, as ``spelling.js`` does it."""
    return _spell(value)


def sha256_of(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()


def read_event(text: Any) -> Event:
    """Read one event.

    Raises
    ------
    BadEvent
        when it is no text, too long, not JSON, spelt otherwise, or a part is missing, unknown or
        of the wrong kind. What the value of its kind may be is not asked here.
    """
    told = _told(text)
    for name, check in _PARTS.items():
        if name not in told:
            raise BadEvent(gettext_noop("{part} is missing."), part=name)
        if not check(told[name]):
            raise BadEvent(
                gettext_noop("{part} cannot be {given}."), part=name, given=str(told[name])[:40]
            )
    stray = sorted(set(told) - set(_PARTS))
    if stray:
        raise BadEvent(gettext_noop("{part} is no part of an event."), part=stray[0])
    anchor = told["anchor"]
    return Event(
        text=text,
        reading=Reading(told["wall"], told["mono"], told["boot"]),
        anchor=None if anchor is None else Anchor(**anchor),
        **{name: told[name] for name in (
            "id", "device", "device_seq", "burn", "kind", "value", "caller", "prev", "person",
            "corrects",
        )},
    )  # fmt: skip


def _told(text: Any) -> Mapping[str, Any]:
    if not isinstance(text, str):
        raise BadEvent(gettext_noop("An event must be text."))
    if len(text) > LONGEST:
        raise BadEvent(
            gettext_noop("An event of {length} characters is too long."), length=len(text)
        )
    try:
        told = json.loads(text, parse_float=_no_float, parse_constant=_no_float)
        same = _spell(told) == text
        text.encode()
    except (ValueError, RecursionError):
        raise BadEvent(
            gettext_noop("This is no event: it is not JSON of the kinds used.")
        ) from None
    if not isinstance(told, dict):
        raise BadEvent(gettext_noop("An event must be an object."))
    if not same or "\x00" in text or "\\u0000" in text:
        raise BadEvent(gettext_noop("An event is spelt with its keys in order and without blanks."))
    return told


def _no_float(given: str) -> Any:
    raise ValueError(f"{given}: a figure with decimals is written as text")


def loosely(text: Any) -> dict[str, Any]:
    """What can be made out of a text that was refused, so that a person can find it again."""
    try:
        told = json.loads(text)
    except (TypeError, ValueError, RecursionError):
        return {}
    return told if isinstance(told, dict) else {}


def is_uuid(value: Any) -> bool:
    try:
        return isinstance(value, str) and str(uuid.UUID(value)) == value
    except ValueError:
        return False


def _text(longest: int, *, empty: bool = False) -> Callable[[Any], bool]:
    return lambda value: isinstance(value, str) and len(value) <= longest and (empty or value != "")


def _whole(least: int) -> Callable[[Any], bool]:
    return lambda value: (
        isinstance(value, int) and not isinstance(value, bool) and least <= value <= LARGEST_INT
    )


_HEX = re.compile(r"[0-9a-f]{64}")
# Milliseconds: from 2020 to 2100, in UTC. What lies outside is no time of a burn.
_EARLIEST_MS, _LATEST_MS = 1_577_836_800_000, 4_102_444_800_000


def _is_time(value: Any) -> bool:
    return _whole(0)(value) and _EARLIEST_MS <= value <= _LATEST_MS


def _is_wall(value: Any) -> bool:
    """A clock may be far off, back to its first day; that is evidence and no reason to refuse."""
    return _whole(0)(value) and value <= _LATEST_MS


def _is_prev(value: Any) -> bool:
    return value == FIRST or (isinstance(value, str) and bool(_HEX.fullmatch(value)))


def _is_anchor(value: Any) -> bool:
    if value is None:
        return True
    parts: dict[str, Callable[[Any], bool]] = {
        "server": _is_time, "wall": _is_wall, "mono": _whole(0), "rtt": _whole(0),
        "boot": _text(40),
    }  # fmt: skip
    return (
        isinstance(value, dict)
        and set(value) == set(parts)
        and all(check(value[name]) for name, check in parts.items())
    )


_PARTS: Mapping[str, Callable[[Any], bool]] = {
    "id": is_uuid,
    "device": _text(40),
    "device_seq": lambda value: _whole(1)(value) and value <= 2**31 - 1,
    "burn": _text(40),
    "kind": _text(40),
    "value": lambda value: isinstance(value, dict),
    "caller": _text(40, empty=True),
    "wall": _is_wall,
    "mono": _whole(0),
    "boot": _text(40),
    "anchor": _is_anchor,
    "prev": _is_prev,
    "person": _text(40),
    "corrects": lambda value: value == "" or is_uuid(value),
}
