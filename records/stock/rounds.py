"""Rounds of moisture readings: how many a lot needs and where from, what counts, what it says.

A round is the readings within half a day of one another. It is whole when it has the readings of
the lot's sampling plan; until then the moisture of the lot is not known. Once a round has as many
oven-dry samples as the plan asks for, they count and the meter's readings stand aside.
"""

from __future__ import annotations

import datetime as dt
import statistics
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Any

from django.db.models import Max, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from facility.calc.sampling import (
    MEASURING,
    drawn_boards,
    lot_verdict,
    readings_needed,
    tolerance_limit,
)
from facility.calc.working import Working
from facility.guarded import door_is_open
from facility.rulebook.selectors import limit_in_force
from facility.sites.models import Site
from records.stock.models import Lot, LotBalance, Method, MoistureReading

# The plan: variables, level II and AQL 4.0. The level is the usual one of ISO 3951-1; no AQL for
# the moisture of boards is published, 4.0 is common for minor faults, no source.
LEVEL, AQL = "II", "4.0"
ROUND = dt.timedelta(hours=12)  # readings this near one another are one round: our choice
RECHECK_DAYS = 31.0  # monthly, where no row of the standard says otherwise: common practice
BOARDS_IN_A_PACK = 20  # until someone counts them: our choice
# What a single board may not pass; the mean limit stands in where the ground set none for boards.
LIMITS = ("lot.moisture_highest", "charge.moisture_highest")
AGE = "lot.days_since_reading"

_HUNDREDTH = Decimal("0.01")


def plan_for(boards: int) -> Working:
    """The sampling plan of a lot of that many boards."""
    return readings_needed.of(lot_size=boards, plan=MEASURING, level=LEVEL, aql=AQL)


@lru_cache(maxsize=4096)
def _needed_of(boards: int) -> int:
    """A list of lots asks for the same few numbers over and over."""
    return int(plan_for(boards).value())


def needed_for(lot: Lot) -> int:
    """Readings that make a round of this lot whole; loose fuel needs none."""
    return _needed_of(int(lot.received)) if lot.product.is_board else 0


@dataclass(frozen=True, slots=True)
class Moisture:
    """The newest round of a lot in short, percent of dry mass."""

    count: int
    mean_pct: Decimal | None
    lowest_pct: Decimal | None = None
    highest_pct: Decimal | None = None
    needed: int = 0
    method: str = Method.METER
    readings: tuple[Decimal, ...] = ()
    readers: frozenset[int] = frozenset()
    read_at: dt.datetime | None = None

    @property
    def is_whole(self) -> bool:
        return self.count >= self.needed

    @property
    def by_oven(self) -> bool:
        return self.method == Method.OVEN_DRY


def counting(readings: Sequence[MoistureReading], needed: int) -> Sequence[MoistureReading]:
    """Those readings of a round that count."""
    dried = [each for each in readings if each.method == Method.OVEN_DRY]
    if dried and len(dried) >= needed:
        return dried
    return [each for each in readings if each.method == Method.METER]


def read_as(lot: Lot) -> Lot:
    """Whose readings count: those of the lot a part was cut or split off from, until it has its own."""
    return lot if lot.moisture_from is None or lot.readings.exists() else lot.moisture_from


def rounds_in(lot: Lot, since: dt.datetime | None = None) -> list[Moisture]:
    """The rounds of a lot, newest first; ``since`` leaves out what was read before."""
    lot = read_as(lot)
    found = MoistureReading.objects.filter(lot=lot).order_by("-read_at", "-id")
    if since is not None:
        found = found.filter(read_at__gte=since)
    groups: list[list[MoistureReading]] = []
    for reading in found:
        if groups and groups[-1][0].read_at - reading.read_at <= ROUND:
            groups[-1].append(reading)
        else:
            groups.append([reading])
    needed = needed_for(lot)
    return [_summed(group, needed) for group in groups]


def _summed(group: Sequence[MoistureReading], needed: int) -> Moisture:
    taken = counting(group, needed)
    values = tuple(each.moisture_pct for each in taken)
    return Moisture(
        count=len(values),
        mean_pct=(sum(values, Decimal(0)) / len(values)).quantize(_HUNDREDTH) if values else None,
        lowest_pct=min(values, default=None),
        highest_pct=max(values, default=None),
        needed=needed,
        method=taken[0].method if taken else Method.METER,
        readings=values,
        readers=frozenset(each.read_by_id for each in taken),
        read_at=group[0].read_at,
    )


def moisture_of(lot: Lot) -> Moisture:
    """The latest round of readings: those within half a day of the newest."""
    lot = read_as(lot)
    latest = MoistureReading.objects.filter(lot=lot).aggregate(at=Max("read_at"))["at"]
    if latest is None:
        return Moisture(0, None, needed=needed_for(lot))
    return rounds_in(lot, since=latest - ROUND)[0]


@dataclass(frozen=True, slots=True)
class Round:
    """The newest round of a lot's readings."""

    count: int
    highest_pct: Decimal
    read_at: dt.datetime


def rounds_of(lots: Iterable[Lot], as_of: dt.datetime) -> dict[int, Round]:
    """The round of each lot that was the newest at a moment, by the lot's key, in one query."""
    lots = list(lots)
    known = {each.pk: each for lot in lots for each in (lot, lot.moisture_from) if each is not None}
    read = MoistureReading.objects.filter(lot__in=known, read_at__lte=as_of)
    newest: dict[int, list[MoistureReading]] = {}
    for reading in read.order_by("-read_at"):
        group = newest.setdefault(reading.lot_id, [])
        if not group or group[0].read_at - reading.read_at <= ROUND:
            group.append(reading)
    found = {}
    for key, group in newest.items():
        taken = counting(group, needed_for(known[key])) or group
        highest = max(each.moisture_pct for each in taken)
        found[key] = Round(len(taken), highest, group[0].read_at)
    by_lot = {lot.pk: found.get(lot.pk) or found.get(lot.moisture_from_id or 0) for lot in lots}
    return {lot: last for lot, last in by_lot.items() if last is not None}


_TEN_THOUSANDTH = Decimal("0.0001")
_Taken = tuple[dt.datetime, str, Decimal]  # when, how, percent


def tell_moisture(lots: Sequence[Any], as_of: dt.datetime | None = None) -> None:
    """Set ``moisture_pct`` and ``weighed_moisture_pct`` of these lots, by one query.

    The first is the mean of the newest round, the second that of the first round, taken when a
    sheet was weighed; nothing while the round is not whole: one reading does not replace a round.
    A lot that was cut off another goes by the readings of that one until it has its own, and its
    first round is that of the weighing. ``as_of`` leaves later readings out.
    """
    known = {each.pk: each for lot in lots for each in (lot, lot.moisture_from) if each is not None}
    read = MoistureReading.objects.filter(lot__in=known)
    if as_of is not None:
        read = read.filter(read_at__lte=as_of)
    taken: dict[int, list[_Taken]] = {}
    rows = read.order_by("read_at").values_list("lot", "read_at", "method", "moisture_pct")
    for lot, *reading in rows:
        taken.setdefault(lot, []).append(tuple(reading))  # type: ignore[arg-type]
    for lot in lots:
        newest = lot.pk if lot.moisture_from is None or lot.pk in taken else lot.moisture_from_id
        first = lot.moisture_from_id or lot.pk
        lot.moisture_pct = _mean(known[newest], taken.get(newest, []), newest=True)
        lot.weighed_moisture_pct = _mean(known[first], taken.get(first, []), newest=False)


def _mean(lot: Lot, taken: Sequence[_Taken], *, newest: bool) -> Decimal | None:
    """Mean of the newest or the first round, where it is whole."""
    if not taken:
        return None
    edge = taken[-1][0] if newest else taken[0][0]
    within = [each for each in taken if abs(each[0] - edge) <= ROUND]
    needed = needed_for(lot)
    for method in (Method.OVEN_DRY, Method.METER):
        values = [moisture for _at, how, moisture in within if how == method]
        if values and len(values) >= needed:
            return (sum(values, Decimal(0)) / len(values)).quantize(_TEN_THOUSANDTH)
    return None


# -- the limit and the verdict ---------------------------------------------------------------


def moisture_limit(site: Site, day: dt.date) -> float | None:
    """The highest moisture that the rows in force allow a board, where they do."""
    found = (limit_in_force(site, day, fact) for fact in LIMITS)
    return next((limit for limit in found if limit is not None), None)


def judged(lot: Lot, readings: Sequence[Decimal], limit: float | None) -> Working | None:
    """What the sampling plan says of readings of a lot; None without readings or limit.

    A lot with fewer boards than readings was read in several places of a board; its wettest
    reading decides then.
    """
    if not readings or limit is None:
        return None
    return lot_verdict.of(
        readings=[float(each) for each in readings], limit=limit,
        lot_size=max(int(lot.received), len(readings)), level=LEVEL, aql=AQL,
    )  # fmt: skip


def fails(lot: Lot, moisture: Moisture, limit: float | None) -> bool:
    """Whether a whole round says that too many boards of the lot are too wet."""
    if not moisture.is_whole:
        return False
    working = judged(lot, moisture.readings, limit)
    return working is not None and working.words["verdict"] == "hold"


CONFIDENCE_PCT = 95.0  # of the tolerance limit shown beside the verdict: common practice


def said(lot: Lot, readings: Sequence[Decimal], limit: float | None) -> dict[str, Any]:
    """What readings say while they are taken: count, mean, spread, verdict, tolerance limit."""
    values = [float(each) for each in readings]
    covered = {"coverage": 100 - float(AQL), "confidence": CONFIDENCE_PCT}
    return {
        "count": len(values),
        "mean": statistics.fmean(values) if values else None,
        "spread": statistics.stdev(values) if len(values) > 1 else None,
        "highest": max(values, default=None),
        "judged": judged(lot, readings, limit),
        "tolerance": tolerance_limit.of(readings=values, **covered) if len(values) > 1 else None,
    }


@dataclass(frozen=True, slots=True)
class Drawn:
    """One board to read, by where it lies: its pack, and its place in the pack from the top."""

    pack: int
    board: int


def boards_to_read(
    lot: Lot, on_hand: Decimal, day: dt.date, in_a_pack: int = BOARDS_IN_A_PACK
) -> list[Drawn]:
    """Which boards to read: by chance, but the same for whoever asks in the same month.

    Where fewer boards are left than the plan asks for, all of them are named; each is then read in
    several places.
    """
    seed = f"{lot.public_id}/{day:%Y-%m}"
    drawn = drawn_boards(seed, int(on_hand), needed_for(lot))
    return [Drawn((each - 1) // in_a_pack + 1, (each - 1) % in_a_pack + 1) for each in drawn]


# -- growing old -----------------------------------------------------------------------------


def recheck_days(site: Site, day: dt.date) -> float:
    """Days after which readings are too old: the row in force, else a month."""
    found = limit_in_force(site, day, AGE)
    return RECHECK_DAYS if found is None else found


@dataclass(frozen=True, slots=True)
class GrownOld:
    """Lots whose readings are too old: the oldest of them, and how many."""

    lots: list[Any]
    count: int

    @property
    def more(self) -> int:
        return self.count - len(self.lots)


def due_for_reading(site: Site, now: dt.datetime, *, shown: int = 10) -> GrownOld:
    """Boards in stock whose newest reading is too old, the oldest first.

    A part without a reading of its own goes by those of the lot it was taken from.
    """
    limit = recheck_days(site, now.astimezone(site.zone).date())
    old = Lot.objects.filter(
        site=site, balance__on_hand__gt=0, balance__read_at__lt=now - dt.timedelta(days=limit)
    )
    oldest = old.select_related("product", "bay", "balance").order_by("balance__read_at", "pk")
    lots = list(oldest[:shown])
    return GrownOld(lots, len(lots) if len(lots) < shown else old.count())


def mark_read(lots: Collection[int]) -> None:
    """Have the balances of lots that were read, and of parts that go by them, say when."""
    assert door_is_open()
    newest = MoistureReading.objects.order_by("-read_at").values("read_at")
    own = newest.filter(lot=OuterRef("lot"))[:1]
    other = newest.filter(lot__moisture_parts=OuterRef("lot"))[:1]
    concerned = Q(lot__in=lots) | Q(lot__moisture_from__in=lots)
    LotBalance.objects.filter(concerned).update(read_at=Coalesce(Subquery(own), Subquery(other)))
