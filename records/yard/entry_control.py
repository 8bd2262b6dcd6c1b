"""Reading entry control: who is inside, how old that knowledge is, who was in how long.

Law: the server knows what the tablets have sent so far and says how old it is; it is an aid beside
the ground's own entry control. Events that came after the close count once they are signed.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, Max, Q
from django.utils.translation import gettext as _

from facility.yard.air_board import (
    ALARMS,
    DOUBTS,
    KINDS,
    Board,
    Stay,
    Told,
    board,
    minutes_by_person,
)
from records.burns.models import Burn, BurnState
from records.yard import selectors
from records.yard.entry_figures import numbers_of, people_of
from records.yard.models import YardEvent


def entry_events(burn: Burn) -> list[YardEvent]:
    """The events of the board, and what corrects events; late ones only when signed."""
    rows = burn.yard_events.filter(Q(kind__in=KINDS) | Q(corrects__isnull=False))
    return list(rows.filter(Q(late=False) | Q(amended__isnull=False)))


def board_of(burn: Burn, at: dt.datetime) -> Board:
    """The board of a burn as the tablets have told it so far, at a moment."""
    return _board(burn, entry_events(burn), at)


def _board(burn: Burn, events: Sequence[YardEvent], at: dt.datetime) -> Board:
    people = {each["who"]: each["name"] for each in people_of(burn)}
    return board([_told(each) for each in events], numbers_of(burn), _ms(at), people)


def _told(event: YardEvent) -> Told:
    return Told(
        id=str(event.event_id), kind=event.kind, value=event.value, at=_ms(event.happened_at),
        device=event.device, seq=event.device_seq, corrects=str(event.corrects or ""),
    )  # fmt: skip


def _ms(moment: dt.datetime) -> int:
    return int(moment.timestamp() * 1000)


def _moment(ms: int) -> dt.datetime:
    return dt.datetime.fromtimestamp(ms / 1000, dt.UTC)


def minutes_inside(burn: Burn, at: dt.datetime) -> dict[str, int]:
    """Whole minutes [min], rounded up, each person was inside, by public id or typed code.

    Who is still counted in has minutes to ``at``. A suggestion for the record of exposure: whoever
    closes the burn answers for it.
    """
    minutes = minutes_by_person(board_of(burn, at))
    return {who: math.ceil(each) for who, each in minutes.items()}


@dataclass(frozen=True, slots=True)
class NowInside:
    """Who is inside as told so far. ``told_at`` is when the newest event of the burn came."""

    board: Board
    names: tuple[str, ...]
    alarms: tuple[str, ...]
    told_at: dt.datetime | None
    tablets: int


def inside_now(burn: Burn, at: dt.datetime) -> NowInside | None:
    """For a burn that runs, or that was closed with somebody counted in; else none."""
    events = entry_events(burn)
    running = burn.state == BurnState.BURNING
    if not running and not any(each.kind in KINDS for each in events):
        return None
    now = _board(burn, events, at)
    if not running and not now.inside:
        return None
    heard = burn.yard_events.aggregate(
        at=Max("received_at"), tablets=Count("device", distinct=True)
    )
    return NowInside(
        board=now,
        names=tuple(row.stay.name for row in now.inside),
        alarms=tuple(_alarms(now)),
        told_at=heard["at"],
        tablets=heard["tablets"],
    )


def _alarms(now: Board) -> list[str]:
    """Of everybody the gravest alarm, and who is missing without being counted in."""
    inside = {row.stay.who for row in now.inside}
    found = [(row.stay.name, row.alarms[0]) for row in now.inside if row.alarms]
    found += [(name, "missing") for who, name in now.missing if who not in inside]
    return [f"{name}: {_(ALARMS[code])}" for name, code in found]


def still_inside(burn: Burn, at: dt.datetime) -> tuple[str, ...]:
    """Names of those the board has in and not out, whatever is ticked at the close."""
    now = board_of(burn, at)
    named = [row.stay.name for row in now.inside]
    return tuple(dict.fromkeys([*named, *(name for _who, name in now.missing)]))


def doubts_left(burn: Burn) -> int:
    """Doubts about what the tablets recorded that nobody has answered for."""
    return len(selectors.open_doubts(burn))


@dataclass(frozen=True, slots=True)
class LogLine:
    """One stay for the sheet. ``out_at`` and ``minutes`` are none while somebody is counted in."""

    who: str
    name: str
    team: str
    in_at: dt.datetime
    out_at: dt.datetime | None
    minutes: float | None
    bar_in: float | None
    bar_out: float | None
    lowest: float | None
    read: tuple[tuple[dt.datetime, float], ...]


@dataclass(frozen=True, slots=True)
class EntryLog:
    """The entry log of a burn with what was doubted; ``unsigned`` events wait for a signature."""

    lines: tuple[LogLine, ...]
    doubts: tuple[str, ...]
    called_at: dt.datetime | None
    unsigned: int


def entry_log(burn: Burn, at: dt.datetime) -> EntryLog | None:
    """Every stay of a burn in the order of going in; none where the board was never used."""
    events = entry_events(burn)
    unsigned = burn.yard_events.filter(kind__in=KINDS, late=True, amended__isnull=True).count()
    if not any(each.kind in KINDS for each in events) and not unsigned:
        return None
    end = burn.current.ended_at if burn.current else at
    made = _board(burn, events, end)
    return EntryLog(
        lines=tuple(_line(each) for each in made.stays),
        doubts=tuple(doubt_words(made)),
        called_at=None if made.called_at is None else _moment(made.called_at),
        unsigned=unsigned,
    )


def _line(stay: Stay) -> LogLine:
    bars = [(_moment(each.at), each.bar) for each in stay.readings]
    went_in = next((bar for when, bar in bars if when == _moment(stay.in_at)), None)
    came_out = bars[-1][1] if stay.out_at is not None and bars and bars[-1][0] == _moment(stay.out_at) else None  # fmt: skip
    return LogLine(
        who=stay.who, name=stay.name, team=stay.team, in_at=_moment(stay.in_at),
        out_at=None if stay.out_at is None else _moment(stay.out_at),
        minutes=None if stay.out_at is None else stay.minutes(stay.out_at),
        bar_in=went_in, bar_out=came_out, lowest=stay.lowest,
        read=tuple(bars[1 if went_in is not None else 0 : -1 if came_out is not None else None]),
    )  # fmt: skip


def doubt_words(made: Board) -> list[str]:
    """What the board doubts, in words."""
    return [
        _(DOUBTS[each.code]).format(
            name=each.name or each.who,
            **{key: f"{figure:g}" for key, figure in each.figures.items()},
        )
        for each in made.doubts
    ]
