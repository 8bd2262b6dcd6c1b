"""Reading the store: what is on hand, how moist it is, and what a board of it holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import (
    Avg,
    Case,
    Count,
    DateTimeField,
    DecimalField,
    DurationField,
    Exists,
    ExpressionWrapper,
    F,
    Max,
    Min,
    OuterRef,
    Prefetch,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import Coalesce
from django.utils.translation import gettext_lazy

from facility.calc.boards import DRY_BASIS, WET_BASIS, board_mass, net_calorific_value
from facility.calc.working import Working
from facility.kinds import ProductKind
from facility.refusals import NotHere, spelled_out
from facility.sites.models import Site
from records.stock.models import (
    SIGNED_QUANTITY,
    Delivery,
    Lot,
    LotPlace,
    LotVerdict,
    MoistureReading,
    Movement,
    Product,
    Reservation,
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
    """The latest round of readings: those within half a day of the newest.

    A lot cut or split off goes by the readings of the lot it is of, until it has its own.
    """
    if lot.moisture_from is not None and not lot.readings.exists():
        lot = lot.moisture_from
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
    lots = list(lots)
    wanted = {lot.pk for lot in lots} | {lot.moisture_from_id for lot in lots}
    read = MoistureReading.objects.filter(lot__in=wanted - {None}, read_at__lte=as_of)
    rows = read.order_by("-read_at")
    found: dict[int, Round] = {}
    for lot, moisture, read_at in rows.values_list("lot", "moisture_pct", "read_at"):
        last = found.get(lot)
        if last is None:
            found[lot] = Round(1, moisture, read_at)
        elif last.read_at - read_at <= ROUND:
            found[lot] = Round(last.count + 1, max(last.highest_pct, moisture), last.read_at)
    by_lot = {lot.pk: found.get(lot.pk) or found.get(lot.moisture_from_id or 0) for lot in lots}
    return {lot: last for lot, last in by_lot.items() if last is not None}


def verdict_of(lot: Lot) -> str:
    newest = lot.verdicts.order_by("-id").values_list("verdict", flat=True).first()
    return newest or WAITING


def _round_mean(as_of: dt.datetime | None, newest: bool) -> Subquery:
    """Mean moisture of a lot's newest or first whole round; nothing while no round is whole.

    One reading does not replace a round: until the newest round has its readings, the moisture of
    the lot is not known. The first round of a lot cut from a weighed one is that of the weighing.
    """
    readings = MoistureReading.objects.filter(lot=OuterRef("read_lot" if newest else "weighed_lot"))
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
    own = MoistureReading.objects.filter(lot=OuterRef("pk"))
    read_lot = Case(
        When(moisture_from__isnull=True, then=F("pk")),
        When(Exists(own if as_of is None else own.filter(read_at__lte=as_of)), then=F("pk")),
        default=F("moisture_from"),
    )
    lots = lots.alias(read_lot=read_lot, weighed_lot=Coalesce("moisture_from", "pk"))
    return lots.select_related(
        "product__stock", "delivery__supplier", "bay", "balance__bay", "cut_from"
    ).annotate(
        verdict=Subquery(newest.values("verdict")[:1]),
        moisture_pct=_round_mean(as_of, newest=True),
        weighed_moisture_pct=_round_mean(as_of, newest=False),
    )


def lots_of(site: Site) -> QuerySet[Any]:
    return with_standing(Lot.objects.filter(site=site)).order_by("-delivery__delivered_at", "code")


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
    reserved: Decimal = Decimal(0)
    value: Decimal = Decimal(0)

    @property
    def available(self) -> Decimal:
        """Accepted, and no approved plan has a claim on it."""
        return self.accepted - self.reserved


def totals_on_hand(site: Site) -> list[ProductOnHand]:
    """Stock of each product, accepted and other, for the head of the store page."""
    newest = LotVerdict.objects.filter(lot=OuterRef("pk")).order_by("-id").values("verdict")[:1]
    rows = (
        Lot.objects.filter(site=site, balance__on_hand__gt=0)
        .annotate(newest=Subquery(newest))
        .order_by()
        .values_list("product", "newest")
        .annotate(on_hand=Sum("balance__on_hand"), reserved=Sum("balance__reserved"))
    )
    totals: dict[int, list[Decimal]] = {}
    for product, verdict, on_hand, reserved in rows:
        sums = totals.setdefault(product, [Decimal(0)] * 3)
        sums[0 if verdict == Verdict.ACCEPTED else 1] += _rounded(on_hand) or 0
        sums[2] += (_rounded(reserved) or 0) if verdict == Verdict.ACCEPTED else 0
    found = []
    for each in Product.objects.filter(site=site).select_related("stock"):
        accepted, other, reserved = totals.get(each.pk, [Decimal(0)] * 3)
        value = each.stock.value if hasattr(each, "stock") else Decimal(0)
        found.append(ProductOnHand(each, accepted, other, reserved, value))
    return found


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
        .prefetch_related(
            Prefetch("lots", Lot.objects.filter(cut_from__isnull=True).select_related("product"))
        )
    )


def movements_of(lot: Lot) -> list[Movement]:
    return list(lot.movements.select_related("moved_by__details"))


@dataclass(frozen=True, slots=True)
class Reserved:
    """What one plan has a claim on, of one lot."""

    lot: Lot
    plan: str
    quantity: Decimal
    since: dt.datetime
    until: dt.datetime

    @property
    def reference(self) -> str:
        return spelled_out(self.plan)


def _reserved(rows: QuerySet[Reservation]) -> list[Reserved]:
    """Claims that still stand, the oldest first."""
    found: dict[tuple[int, str], Reserved] = {}
    for row in rows.select_related("lot__product", "lot__balance__bay").order_by("id"):
        key = (row.lot_id, row.plan)
        before = found.pop(key, None)
        quantity = (before.quantity if before else Decimal(0)) + row.sign * row.quantity
        if quantity > 0:
            since = before.since if before else row.recorded_at
            found[key] = Reserved(row.lot, row.plan, quantity, since, row.until)
    return sorted(found.values(), key=lambda held: held.since)


def reserved_for(plan: str) -> list[Reserved]:
    return _reserved(Reservation.objects.filter(plan=plan))


def reservations_of(lot: Lot) -> list[Reserved]:
    if not lot.balance.reserved:
        return []
    return _reserved(Reservation.objects.filter(lot=lot))


def reservations_on(site: Site) -> list[Reserved]:
    """Every claim that stands; only lots with any are looked at."""
    lots = Lot.objects.filter(site=site, balance__reserved__gt=0)
    return _reserved(Reservation.objects.filter(lot__in=lots))


def readings_of(lot: Lot) -> list[MoistureReading]:
    return list(lot.readings.select_related("read_by__details").order_by("-read_at", "id"))


def places_of(lot: Lot) -> list[LotPlace]:
    """Where the lot was carried to, the newest place first."""
    return list(lot.places.select_related("bay", "moved_by__details"))


def children_of(lot: Lot) -> list[Lot]:
    """Lots cut or split off from this one."""
    return list(lot.pieces.select_related("product", "balance").order_by("code"))


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
