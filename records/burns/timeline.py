"""The timeline of a burn in words: what was seen, by whom it was called, and what was struck out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from facility.calc.units import show
from facility.look.reader import current_system
from facility.people.models import Person
from facility.sites.models import ChargePosition, Opening, Unit
from facility.yard.kinds import KINDS, UNDO, Field
from records.burns.models import Burn, EventKind, TimelineEvent

MINUTE_MS = 60_000


@dataclass(frozen=True, slots=True)
class Line:
    """One event as people read it; ``struck_by`` and ``struck_at`` where it was taken back."""

    event: TimelineEvent
    at: dt.datetime
    words: str
    noted_by: Person
    caller: Person | None
    within_s: float | None  # None: typed, to the minute
    struck_by: Person | None = None
    struck_at: dt.datetime | None = None

    @property
    def shown_within(self) -> bool:
        """An uncertainty worth a word: what is under a second reads as exact."""
        return self.within_s is not None and self.within_s >= 1


def timeline_of(burn: Burn) -> list[Line]:
    """The events of a burn by time, each struck-out one with who struck it out.

    An undo is no line of its own, unless what it strikes out has not arrived.
    """
    events = list(burn.events.select_related("noted_by__details", "caller__details"))
    names = names_of_parts(burn.unit)
    undone = {each.corrects: each for each in events if each.kind == UNDO}
    here = {each.source for each in events}
    return [
        _line(each, names, undone.get(each.source))
        for each in events
        if each.kind != UNDO or each.corrects not in here
    ]


def names_of_parts(unit: Unit) -> dict[str, str]:
    """Names of openings and charge positions by public id, those taken out since included."""
    rows = [
        *Opening._base_manager.filter(unit=unit),
        *ChargePosition._base_manager.filter(unit=unit),
    ]
    return {row.public_id: row.name for row in rows}


def _line(event: TimelineEvent, names: Mapping[str, str], undo: TimelineEvent | None) -> Line:
    return Line(
        event, event.happened_at, words_of(event, names), event.noted_by, event.caller,
        None if event.within_ms is None else event.within_ms / 1000,
        undo.noted_by if undo else None, undo.happened_at if undo else None,
    )  # fmt: skip


def words_of(event: TimelineEvent, names: Mapping[str, str]) -> str:
    """What an event says, in the reader's units."""
    said: list[str] = [_head(event)]
    if event.kind == EventKind.STAGE:
        said = [str(event.get_stage_display())]
    elif event.height_m is not None:
        said.append(str(show(float(event.height_m), "m", current_system())))
    else:
        said += _fields(event, names)
    if event.note:
        said.append(event.note)
    return ", ".join(filter(None, said))


def _head(event: TimelineEvent) -> str:
    """The register's word for it, which is shorter than the form's."""
    kind = KINDS.get(event.kind)
    return _(kind.label) if kind else str(event.get_kind_display())


def _fields(event: TimelineEvent, names: Mapping[str, str]) -> Iterable[str]:
    kind = KINDS.get(event.kind)
    for field in kind.fields if kind else ():
        if field.name in event.value and field.name not in {"note", "reason"}:
            yield told(field, event.value[field.name], names)


def told(field: Field, value: Any, names: Mapping[str, str]) -> str:
    """One value of an event in words; ``names`` of parts and people by public id."""
    said = _told(field, value, names)
    return f"{_(field.label)} {said}" if field.labelled else said


def _told(field: Field, value: Any, names: Mapping[str, str]) -> str:
    if field.kept == "choice":
        return _(dict(field.choices).get(value, value))
    if field.kept in ("part", "person"):
        return names.get(value, value)
    if field.kept in ("parts", "people"):
        return ", ".join(names.get(each, each) for each in value)
    if field.kept == "decimal":
        return str(show(float(value), field.unit, current_system()))
    if field.kept == "whole":
        return f"{value} {field.unit}".strip()
    return str(value)
