"""The store at cost: what was there, came in, went out and is left, in a period, by product."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field
from decimal import Decimal

from django.db.models import Count, Q, Sum

from facility.sites.models import Site
from records.stock.models import (
    SIGNED_QUANTITY,
    SIGNED_VALUE,
    Movement,
    MovementKind,
    Product,
)

_CENT = Decimal("0.01")
NOTHING = (Decimal(0), Decimal(0))

# The columns of the page, and the kinds of movement that each sums up.
COLUMNS: dict[str, tuple[MovementKind, ...]] = {
    "received": (MovementKind.RECEIVE,),
    "issued": (MovementKind.ISSUE,),
    "returned": (MovementKind.RETURN,),
    "cut": (
        MovementKind.CUT, MovementKind.PIECES, MovementKind.MOVED_OUT, MovementKind.MOVED_IN,
    ),
    "scrapped": (MovementKind.SCRAP,),
    "adjusted": (MovementKind.ADJUST_UP, MovementKind.ADJUST_DOWN),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class ProductCard:
    """Quantity and value of one product in a period. What leaves is negative, so that closing is
    opening plus everything between, to the cent."""

    product: Product
    opening: tuple[Decimal, Decimal]
    moved: dict[str, tuple[Decimal, Decimal]]
    closing: tuple[Decimal, Decimal]

    @property
    def average(self) -> Decimal | None:
        """Weighted average cost at the end; rounded for show only."""
        quantity, value = self.closing
        return (value / quantity).quantize(_CENT) if quantity else None


@dataclass(frozen=True, slots=True)
class Period:
    """The cards of all products, and the totals of their values."""

    start: dt.date
    end: dt.date
    cards: list[ProductCard]
    without_cost: int  # deliveries of the period whose cost nobody entered
    totals: dict[str, Decimal] = field(default_factory=dict)


def period_of(site: Site, start: dt.date, end: dt.date) -> Period:
    """The period from the first moment of one day of the ground to the last of another.

    Reckoned back from the stock of now, so that only movements since ``start`` are read.
    """
    first = dt.datetime.combine(start, dt.time(), tzinfo=site.zone)
    after = dt.datetime.combine(end + dt.timedelta(days=1), dt.time(), tzinfo=site.zone)
    since = Movement.objects.filter(lot__site=site, happened_at__gte=first)
    within = _by_product(since.filter(happened_at__lt=after))
    later = _by_product(since.filter(happened_at__gte=after))
    products = list(Product.objects.filter(site=site).select_related("stock"))
    cards = [_card(each, within.get(each.pk, {}), later.get(each.pk, {})) for each in products]
    cards = [
        each
        for each in cards
        if any(each.closing) or any(each.opening) or any(map(any, each.moved.values()))
    ]
    uncosted = since.filter(happened_at__lt=after, kind=MovementKind.RECEIVE).aggregate(
        count=Count("pk", filter=Q(lot__unit_cost__isnull=True))
    )
    return Period(start, end, cards, uncosted["count"], _totals(cards))


Sums = dict[str, tuple[Decimal, Decimal]]


def _by_product(movements: object) -> dict[int, Sums]:
    rows = (
        movements.order_by()  # type: ignore[attr-defined]
        .values_list("lot__product", "kind")
        .annotate(quantity=Sum(SIGNED_QUANTITY), value=Sum(SIGNED_VALUE))
    )
    found: dict[int, Sums] = {}
    for product, kind, quantity, value in rows:
        found.setdefault(product, {})[kind] = (_exact(quantity), _exact(value))
    return found


def _exact(number: Decimal | float) -> Decimal:
    """SQLite sums in floating point; both are kept in hundredths."""
    return Decimal(number).quantize(_CENT)


def _card(product: Product, within: Sums, later: Sums) -> ProductCard:
    stock = getattr(product, "stock", None)
    now = (stock.quantity, stock.value) if stock else NOTHING
    closing = _less(now, _sum(later.values()))
    moved = {
        name: _sum(within[kind] for kind in kinds if kind in within)
        for name, kinds in COLUMNS.items()
    }
    return ProductCard(product, _less(closing, _sum(within.values())), moved, closing)


def _sum(pairs: object) -> tuple[Decimal, Decimal]:
    quantity = value = Decimal(0)
    for one, other in pairs:  # type: ignore[attr-defined]
        quantity, value = quantity + one, value + other
    return quantity, value


def _less(whole: tuple[Decimal, Decimal], part: tuple[Decimal, Decimal]) -> tuple[Decimal, Decimal]:
    return whole[0] - part[0], whole[1] - part[1]


def _totals(cards: list[ProductCard]) -> dict[str, Decimal]:
    totals = {"opening": sum((each.opening[1] for each in cards), Decimal(0))}
    for name in COLUMNS:
        totals[name] = sum((each.moved[name][1] for each in cards), Decimal(0))
    totals["closing"] = sum((each.closing[1] for each in cards), Decimal(0))
    return totals


def value_of_lot(lot: object) -> Decimal:
    """What is on hand of a lot at the average cost of its product now."""
    stock = getattr(lot.product, "stock", None)  # type: ignore[attr-defined]
    if stock is None or not stock.quantity:
        return Decimal(0)
    return Decimal(lot.balance.on_hand * stock.value / stock.quantity).quantize(_CENT)  # type: ignore[attr-defined]
