"""What an entry says, as the text that is hashed. Pure.

Text that a person typed is not in it: the body holds a salted SHA-256 of it, and the text itself
stands in an erasable row beside. Names and reasons can thus be forgotten, and the tree still
holds. A salt of 128 random bits is needed because a name or a short reason could be guessed.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
import secrets
import uuid
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from typing import Any

from records.audit.canonical import canonical

VERSION = 2  # 1 had no src and no device
SALT_BYTES = 16
COMMITTED = "committed"

# Text in these places is a code, a figure or a choice. Whatever text stands elsewhere may be
# about a person, so a new act is on the safe side when nobody thought of it.
OPEN_TEXT = frozenset({
    "act", "basis", "boards", "burns", "code", "comparison", "edition", "events", "fact", "fingerprint",
    "hash", "kind", "lot", "lots", "marks", "outcome", "picture_sha256", "readings", "role", "row",
    "scope", "set_aside", "severity", "stage",
    "state", "switched_off", "thickness", "units", "used", "verdict", "window",
})  # fmt: skip


@dataclass(frozen=True, slots=True)
class Disclosure:
    """An erasable text: its place in the body, the salt, and the value as canonical JSON."""

    place: str
    salt: bytes
    value: str


@dataclass(frozen=True, slots=True)
class Written:
    """A body, and what it only commits to."""

    entry_id: uuid.UUID
    body: str
    disclosures: tuple[Disclosure, ...]


@dataclass
class Said:
    """What an entry is to say. ``typed`` names the places that hold text typed by a person."""

    at: dt.datetime
    site: str
    actor: str
    role: str
    act: str
    obj: str
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    why: str
    once: str
    src: str = ""  # form, command: by which way it came in
    device: str = ""  # public id of the shared tablet
    typed: Collection[str] = field(default_factory=frozenset)


def commitment(salt: bytes, value: str) -> str:
    return hashlib.sha256(salt + value.encode()).hexdigest()


def time_text(at: dt.datetime) -> str:
    """A time in UTC with six decimals, the same text for the same moment."""
    return at.astimezone(dt.UTC).strftime("%Y-%m-%dT%H:%M:%S.%fZ")


def holds_text(key: str, value: Any) -> bool:
    """Whether a value may hold text typed by a person: plain text outside the open places."""
    return key not in OPEN_TEXT and _has_text(value)


def _has_text(value: Any) -> bool:
    if isinstance(value, Mapping):
        return any(_has_text(item) for pair in value.items() for item in pair)
    if isinstance(value, (list, tuple)):
        return any(map(_has_text, value))
    return type(value) is str and value != ""  # a choice of ours is a subclass of str


def write(said: Said, entry_id: uuid.UUID | None = None) -> Written:
    """The body of an entry. Absent is what was not given."""
    entry_id = entry_id or uuid.uuid4()
    hidden: list[Disclosure] = []

    def told(place: str, value: Any) -> Any:
        if place not in said.typed:
            return value
        hidden.append(Disclosure(place, secrets.token_bytes(SALT_BYTES), canonical(value)))
        return {COMMITTED: commitment(hidden[-1].salt, hidden[-1].value)}

    body = {
        "v": VERSION,
        "id": str(entry_id),
        "at": time_text(said.at),
        "site": said.site,
        "actor": said.actor,
        "role": said.role,
        "act": said.act,
        "obj": said.obj,
        "before": {key: told(f"before.{key}", item) for key, item in said.before.items()},
        "after": {key: told(f"after.{key}", item) for key, item in said.after.items()},
        "why": told("why", said.why) if said.why else "",
    }
    given = {"once": said.once, "src": said.src, "device": said.device}
    body |= {key: value for key, value in given.items() if value}
    return Written(entry_id, canonical(body), tuple(hidden))


def committed_in(body: Mapping[str, Any]) -> dict[str, str]:
    """Place and commitment of every text that the body only commits to."""
    parts = {
        f"{part}.{key}": item for part in ("before", "after") for key, item in body[part].items()
    }
    parts["why"] = body["why"]
    return {
        place: item[COMMITTED]
        for place, item in parts.items()
        if isinstance(item, dict) and item.keys() == {COMMITTED}
    }


def told_again(
    body: Mapping[str, Any], texts: Mapping[str, str], orders: Mapping[str, str], missing: str
) -> dict[str, Any]:
    """The body with its texts put back by place. Where one is gone stands by which order, or
    ``missing`` when there was none."""
    whole = dict(body) | {part: dict(body[part]) for part in ("before", "after")}
    for place in committed_in(body):
        part, _dot, key = place.partition(".")
        value = json.loads(texts[place]) if place in texts else orders.get(place, missing)
        if key:
            whole[part][key] = value
        else:
            whole[part] = value
    return whole
