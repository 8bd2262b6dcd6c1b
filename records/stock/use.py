"""Reading what leaves the store over time, and what there is to forecast from."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from statistics import mean, pstdev

from django.db.models import Case, CharField, Max, OuterRef, Subquery, Sum, Value, When
from django.db.models.functions import Cast, Substr

from facility.sites.models import Site
from records.stock.models import Lot, LotVerdict, Movement, MovementKind, Verdict
from records.stock.selectors import MAY_BURN, with_decision

YEARS_BACK = 3  # of the record that tell the season: older seasons were other courses, our choice
LOTS_BACK = 200  # whose wait for acceptance is looked at
UNSETTLED = 2000  # newest movements read anew each time, see ``_Kept``

Weeks = dict[int, dict[dt.date, float]]  # product key -> Monday -> what left


@dataclass(slots=True)
class _Kept:
    """Sums by product and week up to a movement that is long settled.

    Movements are only ever appended, so what was summed once stays true. The newest
    ``UNSETTLED`` are left out of what is kept: their numbers may still appear out of order.
    """

    up_to: int = 0
    weeks: Weeks = field(default_factory=dict)


_kept: dict[str, _Kept] = {}  # by the ground's public id, which no two grounds ever share


def weekly_use(site: Site, today: dt.date) -> Weeks:
    """What was issued or cut up less what came back, by product and the Monday of the ground's week."""
    first = today - dt.timedelta(days=365 * YEARS_BACK)
    newest = Movement.objects.aggregate(last=Max("id"))["last"] or 0
    kept = _kept.get(site.public_id, _Kept())
    settled = max(newest - UNSETTLED, 0)
    if settled > kept.up_to + UNSETTLED or (settled and not kept.up_to):
        weeks = _sum([kept.weeks, _weeks(site, first, kept.up_to, settled)], first)
        kept = _kept[site.public_id] = _Kept(settled, weeks)
    return _sum([kept.weeks, _weeks(site, first, kept.up_to, newest)], first)


def _sum(parts: Sequence[Weeks], first: dt.date) -> Weeks:
    """Parts of the record together, without the weeks that have grown too old."""
    whole: Weeks = {}
    for part in parts:
        for product, weeks in part.items():
            sums = whole.setdefault(product, {})
            for monday, number in weeks.items():
                if monday >= first:
                    sums[monday] = sums.get(monday, 0.0) + number
    return {product: sums for product, sums in whole.items() if sums}


def _weeks(site: Site, since: dt.date, after: int, up_to: int) -> Weeks:
    """Net use of movements numbered in a range.

    The database sums by hour of UTC: an hour is as fine as weeks of the ground's zone need, and
    its text is cut out by both databases without a call back into Python for each row.
    """
    start = dt.datetime.combine(since, dt.time(), tzinfo=dt.UTC)
    rows = (
        Movement.objects.filter(
            id__gt=after, id__lte=up_to, lot__site=site, happened_at__gte=start,
            kind__in=(MovementKind.ISSUE, MovementKind.RETURN, MovementKind.CUT),
        )
        .annotate(hour=Substr(Cast("happened_at", CharField()), 1, 13))
        .order_by()
        .values("lot__product", "hour", "sign")
        .annotate(total=Sum("quantity"))
    )  # fmt: skip
    weeks: Weeks = {}
    mondays: dict[str, dt.date] = {}
    for product, hour, sign, total in rows.values_list("lot__product", "hour", "sign", "total"):
        if hour not in mondays:
            mondays[hour] = _monday(hour, site)
        sums = weeks.setdefault(product, {})
        sums[mondays[hour]] = sums.get(mondays[hour], 0.0) - sign * float(total)
    return weeks


def _monday(hour: str, site: Site) -> dt.date:
    day = dt.datetime.fromisoformat(f"{hour}:00+00:00").astimezone(site.zone).date()
    return day - dt.timedelta(days=day.weekday())


@dataclass(frozen=True, slots=True)
class Standing:
    """Stock of a product by what was decided on its lots."""

    accepted: Decimal = Decimal(0)
    waiting: Decimal = Decimal(0)
    held: Decimal = Decimal(0)


def standing_of(site: Site) -> dict[int, Standing]:
    """Accepted, waiting, and held or rejected stock of each product, in one query.

    An accepted lot that is due for another reading is still accepted.
    """
    word = Case(
        When(MAY_BURN, then=Value("accepted")),
        When(verdict__in=(Verdict.HELD, Verdict.REJECTED), then=Value("held")),
        default=Value("waiting"),
    )
    rows = (
        with_decision(Lot.objects.filter(site=site, balance__on_hand__gt=0))
        .annotate(word=word)
        .order_by()
        .values_list("product", "word")
        .annotate(total=Sum("balance__on_hand"))
    )
    sums: dict[int, dict[str, Decimal]] = defaultdict(lambda: defaultdict(Decimal))
    for product, said, total in rows:
        sums[product][said] += total
    return {product: Standing(**parts) for product, parts in sums.items()}


@dataclass(frozen=True, slots=True)
class Readying:
    """Days from delivery to acceptance: their mean and spread over so many lots."""

    days: float
    spread: float
    lots: int


def readying_of(site: Site) -> dict[int, Readying]:
    """How long the lots of each product waited until they were accepted, of late."""
    accepted = (
        LotVerdict.objects.filter(lot=OuterRef("pk"), verdict=Verdict.ACCEPTED)
        .order_by("id")
        .values("decided_at")[:1]
    )
    rows = (
        Lot.objects.filter(site=site, cut_from__isnull=True)
        .annotate(ready_at=Subquery(accepted))
        .order_by("-id")
        .values_list("product", "delivery__delivered_at", "ready_at")[:LOTS_BACK]
    )
    waits: dict[int, list[float]] = defaultdict(list)
    for product, delivered, ready in rows:
        if ready is not None:
            waits[product].append((ready - delivered).total_seconds() / 86400)
    return {
        product: Readying(mean(days), pstdev(days), len(days)) for product, days in waits.items()
    }
