"""When an event happened, from the clocks of a tablet, and how sure that is. Pure.

A tablet has two clocks: one that people and networks set (``wall``) and one that only counts from
the start of the page (``mono``). While there was a signal it asked the server for the time and
noted both beside it: the anchor. An event is at the anchor's server time plus what ``mono`` counted
since. ``wall`` is a witness: where the two disagree, the uncertainty grows by as much, and the
event is doubted; nothing is re-timed.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from facility.rules.fact import gettext_noop

AGREE_MS = 2_000  # clocks that differ by no more are said to agree
# How far a quartz clock wanders: 50 parts in a million; from memory, no source.
DRIFT_PER_MILLION = 50
AHEAD_MS = 5 * 60_000
# Where only the wall clock of another start of the page is left: common practice, no source.
OTHER_START_MS = 5_000
NO_ANCHOR_MS = 60_000


class ClockDoubt(StrEnum):
    JUMP = "clock_jump"
    RESTART = "clock_restart"
    NONE = "clock_none"
    FUTURE = "clock_future"
    BEFORE_ANCHOR = "clock_before_anchor"


CLOCK_DOUBTS = {
    ClockDoubt.JUMP: gettext_noop(
        "the clocks of the device disagree: it slept, or its time was set"
    ),
    ClockDoubt.RESTART: gettext_noop("the page was started anew without a signal"),
    ClockDoubt.NONE: gettext_noop("the device had never been told the time"),
    ClockDoubt.FUTURE: gettext_noop("the time lies more than 5 minutes ahead of the server's"),
    ClockDoubt.BEFORE_ANCHOR: gettext_noop("the time lies before the device was told the time"),
}


@dataclass(frozen=True, slots=True)
class Reading:
    """Both clocks at one moment [ms]; ``boot`` names the start of the page."""

    wall: int
    mono: int
    boot: str


@dataclass(frozen=True, slots=True)
class Anchor:
    """The server's time [ms since 1970, UTC], half way through an answer that took ``rtt`` ms."""

    server: int
    wall: int
    mono: int
    rtt: int
    boot: str


@dataclass(frozen=True, slots=True)
class Sent:
    """The device's clocks as it sent, and the server's time as it got it [ms]."""

    reading: Reading
    server: int


@dataclass(frozen=True, slots=True)
class Timed:
    """When it happened [ms since 1970, UTC], plus or minus ``within_ms``."""

    at: int
    within_ms: int
    doubts: tuple[ClockDoubt, ...]

    @property
    def earliest(self) -> int:
        return self.at - self.within_ms

    @property
    def latest(self) -> int:
        return self.at + self.within_ms


def same_time(one: Timed, other: Timed) -> bool:
    """Whether which came first cannot be told."""
    return one.earliest <= other.latest and other.earliest <= one.latest


def timed(reading: Reading, anchor: Anchor | None, sent: Sent | None) -> Timed:
    """The time of an event. ``sent`` is None for what comes from a file.

    >>> anchor = Anchor(server=1_770_000_000_000, wall=1_770_000_000_000, mono=1_000, rtt=80, boot="a")
    >>> timed(Reading(wall=1_770_000_060_000, mono=61_000, boot="a"), anchor, None)
    Timed(at=1770000060000, within_ms=43, doubts=())
    """
    if anchor is None:
        found = _unanchored(reading, sent)
    elif anchor.boot == reading.boot:
        found = _anchored(reading, anchor, sent)
    else:
        found = _after_restart(reading, anchor)
    if sent is not None and found.earliest > sent.server + AHEAD_MS:
        found = _doubted(found, ClockDoubt.FUTURE)
    return found


def _anchored(reading: Reading, anchor: Anchor, sent: Sent | None) -> Timed:
    counted = reading.mono - anchor.mono
    at = anchor.server + counted
    apart = abs((reading.wall - anchor.wall) - counted)
    within = anchor.rtt // 2 + _drift(counted)
    doubts: list[ClockDoubt] = []
    if counted < 0:
        doubts.append(ClockDoubt.BEFORE_ANCHOR)
    late = _late(reading, at, sent)
    if apart > AGREE_MS or late > AGREE_MS:
        doubts.append(ClockDoubt.JUMP)
        within += max(apart, late)
    return Timed(at, within, tuple(doubts))


def _late(reading: Reading, at: int, sent: Sent | None) -> int:
    """How much the count fell behind the server between the event and its sending [ms]: time that
    a sleeping device did not count, before the event or after it."""
    if sent is None or sent.reading.boot != reading.boot:
        return 0
    return abs(sent.server - (sent.reading.mono - reading.mono) - at)


def _after_restart(reading: Reading, anchor: Anchor) -> Timed:
    """Only the wall clock ties the two starts of the page together."""
    passed = reading.wall - anchor.wall
    doubts = [ClockDoubt.RESTART] + ([ClockDoubt.BEFORE_ANCHOR] if passed < 0 else [])
    within = anchor.rtt // 2 + _drift(passed) + OTHER_START_MS
    return Timed(anchor.server + passed, within, tuple(doubts))


def _unanchored(reading: Reading, sent: Sent | None) -> Timed:
    """The wall clock, moved by as much as it was off when the event was sent."""
    if sent is None:
        return Timed(reading.wall, NO_ANCHOR_MS, (ClockDoubt.NONE,))
    if sent.reading.boot == reading.boot:
        back = sent.reading.mono - reading.mono
        return Timed(sent.server - back, AGREE_MS + _drift(back), (ClockDoubt.NONE,))
    off = sent.server - sent.reading.wall
    return Timed(reading.wall + off, NO_ANCHOR_MS, (ClockDoubt.NONE,))


def _drift(passed: int) -> int:
    return abs(passed) * DRIFT_PER_MILLION // 1_000_000


def _doubted(found: Timed, doubt: ClockDoubt) -> Timed:
    return Timed(found.at, found.within_ms, (*found.doubts, doubt))
