"""What the tablets of the yard saw, into the timeline of its burn. Opens no door of its own."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from facility.guarded import door_is_open
from facility.people.models import Person
from records.burns.models import Burn, EventKind, TimelineEvent

IN_THE_TIMELINE = frozenset(EventKind.values)


@dataclass(frozen=True, slots=True)
class Seen:
    """One event of a tablet, judged and timed by whoever took it in."""

    burn: Burn
    kind: str
    value: Mapping[str, Any]
    happened_at: dt.datetime
    within_ms: int
    noted_by: Person
    caller: Person | None
    source: str
    corrects: str


def feed_timeline_behind_door(seen: Iterable[Seen], *, at: dt.datetime) -> None:
    """Those of the fire; what belongs to the entry board is no part of the timeline."""
    assert door_is_open()
    TimelineEvent.objects.bulk_create(
        [_row(each, at) for each in seen if each.kind in IN_THE_TIMELINE]
    )


def _row(seen: Seen, at: dt.datetime) -> TimelineEvent:
    height = seen.value.get("height_m")
    return TimelineEvent(
        burn=seen.burn, kind=seen.kind, stage=seen.value.get("stage", ""),
        height_m=None if height is None else Decimal(height), value=dict(seen.value),
        note=seen.value.get("note") or seen.value.get("reason") or "",
        happened_at=seen.happened_at, within_ms=seen.within_ms, recorded_at=at,
        noted_by=seen.noted_by, caller=seen.caller, source=seen.source, corrects=seen.corrects,
    )  # fmt: skip
