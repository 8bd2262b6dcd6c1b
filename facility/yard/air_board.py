"""Who is inside, with how much air: the entry control board worked out from its events alone.

Law: the board is an aid beside the ground's own entry control, so it errs to the early side. Events
may arrive in any order and from any tablet; an event that a later one corrects counts for nothing;
what cannot be so (in twice, out before in, pressure rising) is told as a doubt and never makes
anybody's air last longer. Times are reckoned from the newest reading with the greatest of the
planned consumption and what the wearer was seen to breathe, and the first of a team to turn round
turns the team. The browser's twin is ``records/yard/static/yard/board.js``; ``tests/yard/board_cases.json``
holds both to the same answers.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from typing import Any

from facility.calc.air import REAL, air_held, air_time, pressure_of
from facility.rules.fact import gettext_noop

IN, OUT, PRESSURE, ROLL_CALL, NUMBERS = "person_in", "person_out", "pressure", "roll_call", "air_numbers"  # fmt: skip
KINDS = (IN, OUT, PRESSURE, ROLL_CALL, NUMBERS)

MINUTE = 60_000  # ms; every time here is UTC in ms, as the tablets tell it
CALLED_BEFORE_MS = 2 * MINUTE  # before the turnaround, so that a call gets through; our choice
SEEN_OVER_MS = 2 * MINUTE  # shorter than this between two readings a gauge tells no consumption
BAR_HIGHEST = 500.0  # as in ``facility.calc.air``

# What the board doubts, in words that the page fills in with name, code and figures.
DOUBTS = {
    "in_twice": gettext_noop("{name} was counted in twice without coming out between."),
    "out_before_in": gettext_noop("{name} was counted out but never in."),
    "not_inside": gettext_noop("A pressure was read of {name}, who is not counted in."),
    "rising": gettext_noop("The pressure of {name} rose from {before} to {bar} bar; the lower one is reckoned with."),
    "above_nominal": gettext_noop("{name} was told with {bar} bar; the set holds {nominal} bar."),
    "low_start": gettext_noop("{name} went in with {bar} bar, under {least} bar of a ready set."),
    "unknown": gettext_noop("{name} is on no list of this burn."),
    "over_cap": gettext_noop("With {name} there were {count} inside; at most {cap} may be."),
    "missing_outside": gettext_noop("{name} is missing at the roll call and not counted in."),
    "over_stay": gettext_noop("{name} was inside for {minutes} min; at most {most} min may be."),
    "unchecked": gettext_noop("No pressure of {name} was read for {minutes} min; every {most} min is asked."),
    "on_reserve": gettext_noop("{name} came down to {bar} bar, at or under the whistle at {whistle} bar."),
    "unreadable": gettext_noop("One entry of the board cannot be read."),
    "corrects_unknown": gettext_noop("One entry corrects another that has not arrived."),
}  # fmt: skip

# What somebody may type as a number of the board: least and most, in the unit of its name.
RANGES = {
    "cylinder_l": (1, 50), "cylinders": (1, 4), "nominal_bar": (50, 500), "whistle_bar": (1, 500),
    "l_min": (10, 500), "way_out": (0, 10), "start_pct": (0, 100), "cap": (0, 100),
    "check_min": (1, 120), "stay_min": (1, 240),
}  # fmt: skip
WHOLE = ("cylinders", "cap")
LOWERED_ONLY = ("cap", "check_min", "stay_min")  # limits of the plan or the standard stay limits

# What calls for somebody now, the gravest first.
ALARMS = {
    "missing": gettext_noop("missing at the roll call"),
    "whistle": gettext_noop("whistle: out now"),
    "turn": gettext_noop("turn round now"),
    "over_cap": gettext_noop("too many inside"),
    "stay": gettext_noop("inside too long"),
    "soon": gettext_noop("turns round soon"),
    "check": gettext_noop("pressure is to be read"),
    "no_air": gettext_noop("air cannot be worked out"),
}
SOUNDING = ("missing", "whistle", "turn", "over_cap", "stay")

# Why the tablet does not take an entry.
REFUSALS = {
    "no_one": gettext_noop("Say who goes in: a name or a code."),
    "no_bar": gettext_noop("Give the pressure on the gauge in bar, 0 to 500."),
    "inside": gettext_noop("{name} is counted in already."),
    "over_cap": gettext_noop("{count} are inside and at most {cap} may be. Count somebody out first."),
    "no_air": gettext_noop("{bar} bar is at or under the whistle at {whistle} bar. Nobody goes in on it."),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Told:
    """One event as the board reads it. ``at`` [ms UTC] is its time after the clock was judged."""

    id: str
    kind: str
    value: Mapping[str, Any]
    at: int
    device: str = ""
    seq: int = 0
    corrects: str = ""


@dataclass(frozen=True, slots=True)
class Numbers:
    """What the board reckons with; ``None`` is not known, and nothing that needs it is told."""

    cylinder_l: float | None = None
    cylinders: float = 1.0
    nominal_bar: float | None = None
    whistle_bar: float | None = None
    l_min: float | None = None
    way_out: float | None = None
    start_pct: float | None = None
    cap: float | None = None
    check_min: float | None = None
    stay_min: float | None = None
    gas: str = REAL  # as in ``facility.calc.air``; nobody types it

    def typed(self, value: Mapping[str, Any]) -> Numbers:
        """These numbers with those that somebody typed on a board; limits are only ever lowered.

        What is no number or out of ``RANGES`` changes nothing.
        """
        told: dict[str, Any] = {}
        for name, (least, most) in RANGES.items():
            number = _number(value.get(name))
            if number is None or not least <= number <= most:
                continue
            if name in WHOLE and number != int(number):
                continue
            before = getattr(self, name)
            lowered = name in LOWERED_ONLY and before is not None
            told[name] = min(before, number) if lowered else number
        return replace(self, **told)


@dataclass(frozen=True, slots=True)
class Reading:
    """A gauge read: ``bar`` as told; ``counts`` is false where it rose and is not reckoned with."""

    at: int
    bar: float
    counts: bool = True


@dataclass(slots=True)
class Stay:
    """One person inside from one counting in to the counting out; ``out_at`` is none while in."""

    who: str
    name: str
    team: str
    purpose: str
    in_at: int
    out_at: int | None = None
    readings: list[Reading] = field(default_factory=list)

    @property
    def lowest(self) -> float | None:
        return min((each.bar for each in self.readings), default=None)

    def minutes(self, at: int) -> float:
        """Minutes [min] inside, to ``at`` for who is still there; never less than none."""
        return max(0, (at if self.out_at is None else self.out_at) - self.in_at) / MINUTE


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that cannot be so, or should not: by code, with the figures for its words."""

    code: str
    who: str
    name: str
    at: int
    figures: Mapping[str, float]


@dataclass(frozen=True, slots=True)
class Air:
    """What one wearer's air comes to: moments [ms], pressures [bar], consumption [L/min]."""

    bar_now: float
    turn_bar: float
    turn_at: int
    whistle_at: int
    empty_at: int
    l_min: float
    seen: bool  # whether the wearer was seen to breathe more than was planned


@dataclass(frozen=True, slots=True)
class Inside:
    """One row of the board. ``turn_at`` and ``whistle_at`` are the team's, set by ``goes_by``."""

    stay: Stay
    minutes: float
    bar: float | None
    read_at: int | None
    air: Air | None
    turn_at: int | None
    whistle_at: int | None
    goes_by: str
    alarms: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Board:
    """The board at a moment; ``inside`` has the most urgent first."""

    at: int
    inside: tuple[Inside, ...]
    stays: tuple[Stay, ...]
    doubts: tuple[Doubt, ...]
    missing: tuple[tuple[str, str], ...]
    called_at: int | None
    numbers: Numbers
    alarms: tuple[str, ...]

    @property
    def count(self) -> int:
        return len(self.inside)


def standing(told: Iterable[Told]) -> list[Told]:
    """The events that count, in the order things happened.

    What another event corrects counts for nothing, whether or not that one was corrected in turn: a
    second thought is recorded afresh. A correction of the same kind stands at the time of what it
    corrects. Within a device its own numbering is the order, whatever its clock did; between
    devices the clock is, never running back.
    """
    events = {each.id: each for each in told}
    order: dict[str, tuple[Any, ...]] = {}
    latest: dict[str, int] = {}
    for each in sorted(events.values(), key=lambda each: (each.device, each.seq, each.at, each.id)):
        latest[each.device] = max(latest.get(each.device, each.at), each.at)
        order[each.id] = (latest[each.device], each.device, each.seq, each.id)
    struck = {each.corrects for each in events.values() if each.corrects}
    placed = []
    for each in events.values():
        if each.id in struck:
            continue
        first = _first_told(each, events)
        placed.append((order[first.id], order[each.id], replace(each, at=first.at)))
    return [each for _first, _own, each in sorted(placed, key=lambda item: item[:2])]


def _first_told(each: Told, events: Mapping[str, Told]) -> Told:
    """The event whose place a correction takes: back through what it corrects, of its own kind."""
    been = {each.id}
    first = each
    while first.corrects in events and first.corrects not in been:
        before = events[first.corrects]
        if before.kind != each.kind:
            break
        been.add(before.id)
        first = before
    return first


def board(
    told: Iterable[Told], numbers: Numbers, at: int, people: Mapping[str, str] | None = None
) -> Board:
    """The board at a moment ``at`` [ms] from every event told so far.

    ``people`` are the names of those on the lists of the burn, by public id; whoever else is told
    of is doubted and goes by the name in the event; ``None`` doubts nobody. An event told with a
    later time than ``at`` counts too: a clock that is ahead hides nobody.
    """
    events = list(told)
    book = _Book(numbers, people)
    for each in standing(events):
        book.enter(each)
    here = {each.id for each in events}
    for each in events:
        if each.corrects and each.corrects not in here and each.kind in KINDS:
            book.doubt("corrects_unknown", "", "", each.at)
    return book.closed(at)


def minutes_by_person(board: Board) -> dict[str, float]:
    """Minutes [min] each person was inside, by public id or code, to the moment of the board."""
    minutes: dict[str, float] = {}
    for stay in board.stays:
        minutes[stay.who] = minutes.get(stay.who, 0.0) + stay.minutes(board.at)
    return minutes


def refusal(board: Board, value: Mapping[str, Any]) -> tuple[str, dict[str, float]]:
    """Why a tablet refuses to count somebody in, by code with its figures; empty if it does not."""
    who, bar, numbers = _text(value, "who"), _pressure(value), board.numbers
    if not who:
        return "no_one", {}
    if bar is None:
        return "no_bar", {}
    if any(row.stay.who == who for row in board.inside):
        return "inside", {}
    if numbers.cap is not None and board.count >= numbers.cap:
        return "over_cap", {"count": board.count, "cap": numbers.cap}
    if numbers.whistle_bar is not None and bar <= numbers.whistle_bar:
        return "no_air", {"bar": bar, "whistle": numbers.whistle_bar}
    return "", {}


class _Book:
    """The board being written up, one event after another."""

    def __init__(self, numbers: Numbers, people: Mapping[str, str] | None) -> None:
        self.numbers, self.people = numbers, people
        self.inside: dict[str, Stay] = {}
        self.stays: list[Stay] = []
        self.doubts: list[Doubt] = []
        self.missing: dict[str, str] = {}
        self.called_at: int | None = None
        self.names: dict[str, str] = dict(people or {})

    def doubt(self, code: str, who: str, name: str, at: int, **figures: float) -> None:
        self.doubts.append(Doubt(code, who, name, at, figures))

    def enter(self, each: Told) -> None:
        if each.kind == NUMBERS:
            self.numbers = self.numbers.typed(each.value)
        elif each.kind == ROLL_CALL:
            self._roll_call(each)
        elif each.kind in (IN, OUT, PRESSURE):
            who = _text(each.value, "who")
            if not who:
                self.doubt("unreadable", "", "", each.at)
                return
            name = _text(each.value, "name")
            if name and not (self.people and who in self.people):
                self.names[who] = name
            turn = {IN: self._in, OUT: self._out, PRESSURE: self._read}[each.kind]
            turn(each, who, self.names.get(who, who))

    def _in(self, each: Told, who: str, name: str) -> None:
        self.missing.pop(who, None)
        if who in self.inside:
            self.doubt("in_twice", who, name, each.at)
            self._gauge(self.inside[who], each)
            return
        if self.people is not None and who not in self.people:
            self.doubt("unknown", who, name, each.at)
        team, purpose = _text(each.value, "team"), _text(each.value, "purpose")
        stay = Stay(who, name, team, purpose, each.at)
        self.inside[who] = stay
        self.stays.append(stay)
        cap = self.numbers.cap
        if cap is not None and len(self.inside) > cap:
            self.doubt("over_cap", who, name, each.at, count=len(self.inside), cap=cap)
        bar, nominal, share = self._gauge(stay, each), self.numbers.nominal_bar, self.numbers.start_pct  # fmt: skip
        if bar is not None and nominal is not None and share is not None:
            least = nominal * share / 100
            if bar < least:
                self.doubt("low_start", who, name, each.at, bar=bar, least=least)

    def _out(self, each: Told, who: str, name: str) -> None:
        self.missing.pop(who, None)
        if who not in self.inside:
            self.doubt("out_before_in", who, name, each.at)
            return
        stay = self.inside.pop(who)
        self._gauge(stay, each)
        stay.out_at = max(stay.in_at, each.at)

    def _read(self, each: Told, who: str, name: str) -> None:
        if who not in self.inside:
            self.doubt("not_inside", who, name, each.at)
            return
        if self._gauge(self.inside[who], each) is None:
            self.doubt("unreadable", who, name, each.at)

    def _gauge(self, stay: Stay, each: Told) -> float | None:
        """Keep the pressure an event tells; one that rose is shown and not reckoned with."""
        bar, nominal = _pressure(each.value), self.numbers.nominal_bar
        if bar is None:
            return None
        if nominal is not None and bar > nominal:
            self.doubt("above_nominal", stay.who, stay.name, each.at, bar=bar, nominal=nominal)
        before = min((read.bar for read in stay.readings if read.counts), default=math.inf)
        if bar > before:
            self.doubt("rising", stay.who, stay.name, each.at, bar=bar, before=before)
        stay.readings.append(Reading(each.at, bar, bar <= before))
        return bar

    def _roll_call(self, each: Told) -> None:
        named = each.value.get("missing")
        if not isinstance(named, Sequence) or isinstance(named, str):
            self.doubt("unreadable", "", "", each.at)
            return
        self.called_at = each.at
        self.missing = {}
        for who in filter(None, (_text({"who": one}, "who") for one in named)):
            self.missing[who] = self.names.get(who, who)
            if who not in self.inside:
                self.doubt("missing_outside", who, self.missing[who], each.at)

    def _look_back(self, stay: Stay, at: int) -> None:
        """What of a whole stay was not as it should be, whether it is over or not."""
        numbers, minutes = self.numbers, stay.minutes(at)
        if numbers.stay_min is not None and minutes > numbers.stay_min:
            self.doubt("over_stay", stay.who, stay.name, stay.in_at,
                       minutes=math.floor(minutes), most=numbers.stay_min)  # fmt: skip
        end = at if stay.out_at is None else stay.out_at
        marks = [stay.in_at, *(each.at for each in stay.readings), max(stay.in_at, end)]
        gap = max(later - before for before, later in pairwise(sorted(marks))) / MINUTE
        if numbers.check_min is not None and gap > numbers.check_min:
            self.doubt("unchecked", stay.who, stay.name, stay.in_at,
                       minutes=math.floor(gap), most=numbers.check_min)  # fmt: skip
        lowest, whistle = stay.lowest, numbers.whistle_bar
        if lowest is not None and whistle is not None and lowest <= whistle:
            self.doubt("on_reserve", stay.who, stay.name, stay.in_at, bar=lowest, whistle=whistle)

    def closed(self, at: int) -> Board:
        for stay in self.stays:
            self._look_back(stay, at)
        rows = _rows(list(self.inside.values()), self.numbers, at, self.missing)
        found = {code for row in rows for code in row.alarms}
        if self.missing:
            found.add("missing")
        if self.numbers.cap is not None and len(rows) > self.numbers.cap:
            found.add("over_cap")
        return Board(
            at, rows, tuple(self.stays), tuple(self.doubts), tuple(self.missing.items()),
            self.called_at, self.numbers, tuple(code for code in ALARMS if code in found),
        )  # fmt: skip


def _rows(
    stays: Sequence[Stay], numbers: Numbers, at: int, missing: Mapping[str, str]
) -> tuple[Inside, ...]:
    airs = {stay.who: _air(stay, numbers, at) for stay in stays}
    rows = []
    for stay in stays:
        team = [mate for mate in stays if mate is stay or (stay.team and mate.team == stay.team)]
        rows.append(_row(stay, team, airs, numbers, at, missing))
    return tuple(sorted(rows, key=_urgency))


def _row(
    stay: Stay, team: Sequence[Stay], airs: Mapping[str, Air | None], numbers: Numbers, at: int,
    missing: Mapping[str, str],
) -> Inside:  # fmt: skip
    known = [(air, mate) for mate in team if (air := airs[mate.who]) is not None]
    first = min(known, key=lambda pair: (pair[0].turn_at, pair[1].who), default=None)
    turn_at = first[0].turn_at if first else None
    whistle_at = min((air.whistle_at for air, _mate in known), default=None)
    counted = [each for each in stay.readings if each.counts]
    read_at = counted[-1].at if counted else None
    over = {
        "missing": stay.who in missing,
        "whistle": whistle_at is not None and at >= whistle_at,
        "turn": turn_at is not None and at >= turn_at,
        "stay": numbers.stay_min is not None and at - stay.in_at > numbers.stay_min * MINUTE,
        "soon": turn_at is not None and turn_at > at >= turn_at - CALLED_BEFORE_MS,
        "check": numbers.check_min is not None
        and at - (stay.in_at if read_at is None else read_at) > numbers.check_min * MINUTE,
        "no_air": airs[stay.who] is None,
    }
    return Inside(
        stay, stay.minutes(at), counted[-1].bar if counted else None, read_at, airs[stay.who],
        turn_at, whistle_at, first[1].who if first else "",
        tuple(code for code in ALARMS if over.get(code)),
    )  # fmt: skip


def _urgency(row: Inside) -> tuple[Any, ...]:
    """Whom to look at first: the gravest alarm, then who turns round first, then who went in."""
    gravest = min((list(ALARMS).index(code) for code in row.alarms), default=len(ALARMS))
    return (
        gravest,
        math.inf if row.turn_at is None else row.turn_at,
        row.stay.in_at,
        row.stay.who,
    )


def _air(stay: Stay, numbers: Numbers, at: int) -> Air | None:
    """A wearer's air from the entry and the newest reading; none where a number is missing."""
    if numbers.cylinder_l is None or numbers.whistle_bar is None or numbers.l_min is None:
        return None
    if numbers.way_out is None or not any(each.counts for each in stay.readings):
        return None
    volume = numbers.cylinder_l * numbers.cylinders
    top = math.inf if numbers.nominal_bar is None else numbers.nominal_bar
    read = [(each.at, min(each.bar, top)) for each in stay.readings if each.counts]
    held = [(when, float(air_held(bar, volume, numbers.gas))) for when, bar in read]
    seen = _seen(held)
    rate = max(numbers.l_min, seen)
    planned = air_time.plain(
        numbers.cylinder_l, max(read[0][1], 0.01), numbers.l_min, numbers.whistle_bar,
        numbers.way_out, numbers.cylinders, numbers.gas,
    )  # fmt: skip
    turn_bar = max(
        numbers.whistle_bar, min(read[0][1], float(planned.values["turnaround_pressure"]))
    )
    when, left = held[-1]

    def reached(bar: float) -> int:
        return when + math.floor((left - float(air_held(bar, volume, numbers.gas))) / rate * MINUTE)

    now = max(0.0, left - rate * max(0, at - when) / MINUTE)
    return Air(
        bar_now=pressure_of(now, volume, numbers.gas),
        turn_bar=turn_bar,
        turn_at=reached(turn_bar),
        whistle_at=reached(numbers.whistle_bar),
        empty_at=reached(0.0),
        l_min=rate,
        seen=seen > numbers.l_min,
    )


def _seen(held: Sequence[tuple[int, float]]) -> float:
    """Most air [L/min] breathed from the entry, or from the reading before, to the newest one."""
    when, left = held[-1]
    since = (
        (was - left) / ((when - then) / MINUTE)
        for then, was in (held[0], held[-2] if len(held) > 1 else held[0])
        if when - then >= SEEN_OVER_MS
    )
    return max(since, default=0.0)


def _text(value: Mapping[str, Any], key: str) -> str:
    """A text as sent, in single spaces; empty where it is none."""
    text = value.get(key)
    return " ".join(text.split()) if isinstance(text, str) else ""


def _number(given: Any) -> float | None:
    """A number as sent, a JSON number or a plain decimal text; nothing else, nothing below zero."""
    if isinstance(given, str):
        given = float(given) if re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,9})?", given.strip()) else None
    if isinstance(given, bool) or not isinstance(given, int | float):
        return None
    return float(given) if 0 <= given <= 1e9 else None


def _pressure(value: Mapping[str, Any]) -> float | None:
    bar = _number(value.get("bar"))
    return bar if bar is not None and bar <= BAR_HIGHEST else None
