"""Reading the store: what is on hand, how moist it is, and what a board of it holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import (
    Avg,
    Count,
    DateTimeField,
    DecimalField,
    DurationField,
    Exists,
    ExpressionWrapper,
    Max,
    Min,
    OuterRef,
    QuerySet,
    Subquery,
    Sum,
    Value,
)
from django.db.models.query import ModelIterable
from django.utils.translation import gettext_lazy

from facility.calc.boards import DRY_BASIS, WET_BASIS, board_mass, net_calorific_value
from facility.calc.working import Working
from facility.guarded import AppendOnlyQuerySet
from facility.kinds import ProductKind
from facility.refusals import NotHere
from facility.sites.models import Site
from records.stock.models import (
    SIGNED_QUANTITY,
    Delivery,
    Lot,
    LotBalance,
    LotVerdict,
    MoistureReading,
    Movement,
    Product,
    Supplier,
    Verdict,
)

LEAST_READINGS = 5  # before a lot of boards is accepted: common practice, no source
ROUND = dt.timedelta(hours=12)  # readings this near one another are one round: our choice
WAITING = "waiting"  # a lot that nobody has decided on


@dataclass(frozen=True, slots=True)
class Moisture:
    """The readings of a lot in short, percent of dry mass."""

    count: int
    mean_pct: Decimal | None
    lowest_pct: Decimal | None = None
    highest_pct: Decimal | None = None


_HUNDREDTH = Decimal("0.01")


def moisture_of(lot: Lot) -> Moisture:
    """The latest round of readings: those within half a day of the newest."""
    latest = MoistureReading.objects.filter(lot=lot).aggregate(at=Max("read_at"))["at"]
    if latest is None:
        return Moisture(0, None)
    found = MoistureReading.objects.filter(lot=lot, read_at__gte=latest - ROUND).aggregate(
        count=Count("id"),
        mean=Avg("moisture_pct"),
        low=Min("moisture_pct"),
        high=Max("moisture_pct"),
    )
    return Moisture(found["count"], _rounded(found["mean"]), found["low"], found["high"])


def _rounded(mean: Any) -> Decimal | None:
    return None if mean is None else Decimal(mean).quantize(_HUNDREDTH)


@dataclass(frozen=True, slots=True)
class Round:
    """The newest round of a lot's readings."""

    count: int
    highest_pct: Decimal
    read_at: dt.datetime


def rounds_of(lots: Iterable[Lot], as_of: dt.datetime) -> dict[int, Round]:
    """The round of each lot that was the newest at a moment, by the lot's key, in one query."""
    read = MoistureReading.objects.filter(lot__in=list(lots), read_at__lte=as_of)
    rows = read.order_by("-read_at")
    found: dict[int, Round] = {}
    for lot, moisture, read_at in rows.values_list("lot", "moisture_pct", "read_at"):
        last = found.get(lot)
        if last is None:
            found[lot] = Round(1, moisture, read_at)
        elif last.read_at - read_at <= ROUND:
            found[lot] = Round(last.count + 1, max(last.highest_pct, moisture), last.read_at)
    return found


def verdict_of(lot: Lot) -> str:
    newest = lot.verdicts.order_by("-id").values_list("verdict", flat=True).first()
    return newest or WAITING


def _round_mean(as_of: dt.datetime | None, newest: bool) -> Subquery:
    """Mean moisture of a lot's newest or first whole round; nothing while no round is whole.

    One reading does not replace a round: until the newest round has its readings, the moisture of
    the lot is not known.
    """
    readings = MoistureReading.objects.filter(lot=OuterRef("pk"))
    edges = MoistureReading.objects.filter(lot=OuterRef("lot"))
    if as_of is not None:
        readings, edges = readings.filter(read_at__lte=as_of), edges.filter(read_at__lte=as_of)
    edge = Subquery(edges.order_by("-read_at" if newest else "read_at").values("read_at")[:1])
    span = Value(-ROUND if newest else ROUND, output_field=DurationField())
    bound = ExpressionWrapper(edge + span, output_field=DateTimeField())
    within = {"read_at__gte": bound} if newest else {"read_at__lte": bound}
    means = (
        readings.filter(**within)
        .order_by()
        .values("lot")
        .annotate(mean=Avg("moisture_pct"), taken=Count("id"))
        .filter(taken__gte=LEAST_READINGS)
    )
    number = DecimalField(max_digits=9, decimal_places=4)
    return Subquery(means.values("mean"), output_field=number)


def with_standing(lots: QuerySet[Lot], as_of: dt.datetime | None = None) -> QuerySet[Any]:
    """Lots with their newest verdict, stock, and mean moisture, in one query.

    ``moisture_pct`` is that of the newest round, ``weighed_moisture_pct`` that of the first one,
    taken when a sheet was weighed. ``as_of`` leaves later readings out.
    """
    newest = LotVerdict.objects.filter(lot=OuterRef("pk")).order_by("-id")
    return lots.select_related("product", "delivery__supplier", "bay", "balance").annotate(
        verdict=Subquery(newest.values("verdict")[:1]),
        moisture_pct=_round_mean(as_of, newest=True),
        weighed_moisture_pct=_round_mean(as_of, newest=False),
    )


def lots_of(site: Site) -> QuerySet[Any]:
    return with_standing(Lot.objects.filter(site=site)).order_by("-delivery__delivered_at", "code")


class _ListedLots(AppendOnlyQuerySet[Lot]):
    """Lots for a list: the page is chosen by keys alone, and only its rows get their standing.

    Else the verdict and the moisture of every lot would be looked up to show fifty of them.
    """

    def _fetch_all(self) -> None:
        if self._result_cache is None and self._iterable_class is ModelIterable:
            keys = list(self.values_list("pk", flat=True))
            found = with_standing(Lot.objects.all()).in_bulk(keys)
            self._result_cache = [found[key] for key in keys]
        super()._fetch_all()

    def order_by(self, *names: Any) -> Any:
        """By what the list shows, of which verdict and moisture are no columns of the lot."""
        asked = {str(name).lstrip("-") for name in names} & STANDING
        if asked and "verdict" not in self.query.annotations:
            return self.with_standing().order_by(*names)
        return super().order_by(*names)

    def with_standing(self) -> Any:
        return with_standing(self) if "verdict" not in self.query.annotations else self


STANDING = frozenset({"verdict", "moisture_pct"})


def listed_lots(site: Site) -> _ListedLots:
    """What ``lots_of`` gives, for a list of which only a page is looked at."""
    lots = _ListedLots(Lot).filter(site=site)
    ordered: _ListedLots = lots.order_by("-delivery__delivered_at", "code")
    return ordered


def lots_waiting(site: Site) -> list[Any]:
    """Lots that nobody has decided on yet."""
    undecided = Lot.objects.filter(site=site).exclude(
        Exists(LotVerdict.objects.filter(lot=OuterRef("pk")))
    )
    return list(with_standing(undecided).order_by("-delivery__delivered_at", "code"))


def lot_here(site: Site, public_id: str) -> Any:
    lot = with_standing(Lot.objects.filter(site=site, public_id=public_id)).first()
    if lot is None:
        raise NotHere(f"No lot {public_id} on this ground.")
    return lot


def burnable_lots(site: Site, products: Iterable[Product] | None = None) -> list[Any]:
    """Accepted lots with stock, oldest first: what a plan may draw on."""
    stocked = Lot.objects.filter(site=site, balance__on_hand__gt=0)
    if products is not None:
        stocked = stocked.filter(product__in={product.pk for product in products})
    lots = with_standing(stocked)
    return list(lots.filter(verdict=Verdict.ACCEPTED).order_by("delivery__delivered_at", "id"))


def lots_by_id(site: Site, keys: Iterable[str], as_of: dt.datetime | None = None) -> dict[str, Any]:
    wanted = set(keys)
    if not wanted:
        return {}
    found = with_standing(Lot.objects.filter(site=site, public_id__in=wanted), as_of)
    return {lot.public_id: lot for lot in found}


def products_of(site: Site) -> list[Product]:
    return list(Product.objects.filter(site=site))


@dataclass(frozen=True, slots=True)
class ProductOnHand:
    """What is accepted of one product, and what waits or is held."""

    product: Product
    accepted: Decimal
    other: Decimal


def totals_on_hand(site: Site) -> list[ProductOnHand]:
    """Stock of each product, accepted and other, for the head of the store page."""
    totals: dict[int, list[Decimal]] = {}
    newest = LotVerdict.objects.filter(lot=OuterRef("lot")).order_by("-id").values("verdict")[:1]
    stocked = LotBalance.objects.filter(lot__site=site, on_hand__gt=0).annotate(
        newest=Subquery(newest)
    )
    sums = stocked.values_list("lot__product", "newest").annotate(total=Sum("on_hand")).order_by()
    for product, verdict, total in sums:
        both = totals.setdefault(product, [Decimal(0), Decimal(0)])
        both[0 if verdict == Verdict.ACCEPTED else 1] += Decimal(total).quantize(_HUNDREDTH)
    return [
        ProductOnHand(product, *totals.get(product.pk, [Decimal(0), Decimal(0)]))
        for product in products_of(site)
    ]


@dataclass(frozen=True, slots=True)
class ProductFigures:
    """A product with the mass of one of its sheets at the moisture its density was found at."""

    product: Product
    sheet: Working | None


def products_with_figures(site: Site) -> list[ProductFigures]:
    return [ProductFigures(product, _nominal_sheet(product)) for product in products_of(site)]


def _nominal_sheet(product: Product) -> Working | None:
    if not product.is_board:
        return None
    return board_mass.of(
        **_size(product),
        density=float(product.density_kg_m3 or 0),
        moisture=float(product.density_moisture_pct),
        density_basis=WET_BASIS,
    )


def _size(product: Product) -> dict[str, float]:
    return {
        "length": float(product.length_m or 0),
        "width": float(product.width_m or 0),
        "thickness": float(product.thickness_mm or 0),
    }


def suppliers_of(site: Site) -> list[Supplier]:
    return list(Supplier.objects.filter(site=site))


def deliveries_of(site: Site) -> QuerySet[Delivery]:
    return (
        Delivery.objects.filter(site=site)
        .select_related("supplier", "received_by__details")
        .prefetch_related("lots__product")
    )


def movements_of(lot: Lot) -> list[Movement]:
    return list(lot.movements.select_related("moved_by__details"))


def readings_of(lot: Lot) -> list[MoistureReading]:
    return list(lot.readings.select_related("read_by__details").order_by("-read_at", "id"))


def verdicts_of(lot: Lot) -> list[LotVerdict]:
    return list(lot.verdicts.select_related("decided_by__details").order_by("-id"))


def sum_of_movements(lot: Lot) -> Decimal:
    total = lot.movements.aggregate(total=Sum(SIGNED_QUANTITY))["total"] or 0
    return Decimal(total).quantize(_HUNDREDTH)  # SQLite sums in floating point


@dataclass(frozen=True, slots=True)
class UnitFigures:
    """Dry mass [kg] and energy [MJ] of one board, or of one kg or litre, with the workings."""

    dry_mass_kg: float
    energy_mj: float
    mass: Working | None
    heat: Working | None


def figures_for(product: Product, lot: Any | None) -> UnitFigures | None:
    """What one board holds at the lot's mean moisture; None when that is not known.

    A weighed sheet of the lot is better than the product's density; it holds the dry wood it held
    when it was weighed, however moist it is now. A liquid counts by its energy
    only, 0.8 kg a litre; its mass is not wood and stays out of the fuel mass.
    """
    if not product.is_board:
        return _loose_figures(product, lot)
    if lot is None or lot.moisture_pct is None:
        return None
    mass = _sheet_mass(product, lot, float(lot.moisture_pct))
    heat = net_calorific_value.of(
        dry_value=float(product.net_calorific_dry_mj_kg), moisture=float(lot.moisture_pct)
    )
    return UnitFigures(mass.value(), mass.value() * heat.value("per_dry_mass"), mass, heat)


def _sheet_mass(product: Product, lot: Any, moisture_pct: float) -> Working:
    size = _size(product)
    if lot.sheet_mass_kg is not None:
        volume = size["length"] * size["width"] * size["thickness"] / 1000
        density = float(lot.sheet_mass_kg) / volume
        return board_mass.of(**size, density=density, moisture=float(lot.weighed_moisture_pct))
    dry_density = float(product.density_kg_m3 or 0) / (
        1 + float(product.density_moisture_pct) / 100
    )
    return board_mass.of(
        **size, density=dry_density, moisture=moisture_pct, density_basis=DRY_BASIS
    )


LIQUID_KG_PER_L = 0.8  # of a light paraffin starter: common practice, no source


def _loose_figures(product: Product, lot: Any | None) -> UnitFigures:
    """Kindling is dry wood sold by mass and counted as dry; that errs on the safe side."""
    heat = float(product.net_calorific_dry_mj_kg)
    if product.counted_in == "L":
        return UnitFigures(0.0, LIQUID_KG_PER_L * heat, None, None)
    return UnitFigures(1.0, heat, None, None)


# What forms offer; they import no models.
PRODUCT_KINDS = ProductKind.choices
VERDICTS = [*Verdict.choices, (WAITING, gettext_lazy("waiting for readings"))]
DECISIONS = {"accept": gettext_lazy("accept for burning"), "hold": gettext_lazy("hold")}
