"""Reading stocktakes: what was counted, what the record said at that moment, and the difference."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery, Sum

from facility.refusals import NotHere
from facility.sites.models import Site
from records.stock.models import (
    SIGNED_QUANTITY,
    CountState,
    Movement,
    Stocktake,
    StocktakeLine,
)

_HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Variance:
    """A counted line: the record at the moment of the count, and what the difference is worth."""

    line: StocktakeLine
    book: Decimal
    difference: Decimal
    value: Decimal
    over: bool  # the threshold, so that a second person is needed


def stocktakes_of(site: Site) -> QuerySet[Stocktake]:
    """Stocktakes with the number of their lines, and of those in each state."""
    states = {str(state): Count("lines", filter=Q(lines__state=state)) for state in CountState}
    return (
        Stocktake.objects.filter(site=site)
        .select_related("started_by__details")
        .annotate(total=Count("lines"), **states)
    )


def stocktake_here(site: Site, public_id: str) -> Stocktake:
    found = Stocktake.objects.filter(site=site, public_id=public_id)
    stocktake = found.select_related("site", "started_by__details").first()
    if stocktake is None:
        raise NotHere(f"No stocktake {public_id} on this ground.")
    return stocktake


def lines_of(stocktake: Stocktake) -> QuerySet[StocktakeLine]:
    return stocktake.lines.select_related(
        "lot__product__stock", "lot__delivery__supplier", "bay", "counted_by__details",
        "signed_by__details", "approved_by__details",
    ).order_by(F("bay__name").asc(nulls_last=True), "lot__code")  # fmt: skip


def variances(stocktake: Stocktake, *states: CountState) -> list[Variance]:
    """The counted lines, by one sum of movements each up to the moment of its count.

    Of a line in the record already, the figures are those that were signed.
    """
    moved = (
        Movement.objects.filter(lot=OuterRef("lot"), happened_at__lte=OuterRef("counted_at"))
        .order_by()
        .values("lot")
        .annotate(total=Sum(SIGNED_QUANTITY))
    )
    lines = lines_of(stocktake).filter(counted__isnull=False)
    if states:
        lines = lines.filter(state__in=states)
    return [
        _variance(line, stocktake.site)
        for line in lines.annotate(stood=Subquery(moved.values("total")))
    ]


def _variance(line: StocktakeLine, site: Site) -> Variance:
    counted = line.counted or Decimal(0)
    if line.state == CountState.POSTED and line.book is not None:
        book, value = line.book, line.value or Decimal(0)
    else:
        book = Decimal(line.stood or 0).quantize(_HUNDREDTH)  # type: ignore[attr-defined]
        value = _worth(line, abs(counted - book))
    return Variance(line, book, counted - book, value, is_over(site, book, counted, value))


def is_over(site: Site, book: Decimal, counted: Decimal, value: Decimal) -> bool:
    """Whether a difference needs a second person: the only place of that rule.

    More than the ground's percentage of the record, or worth more than its limit.
    """
    off = abs(counted - book)
    return off > book * site.count_over_pct / 100 or value > site.count_over_value


def _worth(line: StocktakeLine, quantity: Decimal) -> Decimal:
    """At the average cost of the product; nothing while none of it is in stock."""
    stock = getattr(line.lot.product, "stock", None)
    if stock is None or not stock.quantity:
        return Decimal(0)
    return Decimal(quantity * stock.value / stock.quantity).quantize(_HUNDREDTH)
