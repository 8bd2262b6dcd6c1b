"""Reading the store: what is on hand, how moist it is, and what a board of it holds."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from decimal import Decimal
from itertools import batched
from typing import Any

from django.db.models import (
    Case,
    Exists,
    OuterRef,
    Prefetch,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.query import ModelIterable
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.calc.boards import DRY_BASIS, WET_BASIS, board_mass, net_calorific_value
from facility.calc.working import Working
from facility.guarded import AppendOnlyQuerySet
from facility.kinds import ProductKind
from facility.look.times import day_in_words
from facility.refusals import NotHere, spelled_out
from facility.sites.models import Site
from records.stock.models import (
    SIGNED_QUANTITY,
    Calibration,
    Delivery,
    Lot,
    LotPlace,
    LotVerdict,
    Meter,
    MeterKind,
    MoistureReading,
    Movement,
    Product,
    ProductCorrection,
    Reservation,
    Supplier,
    Verdict,
)
from records.stock.models import UNCONFIRMED as UNCONFIRMED
from records.stock.rounds import moisture_of as moisture_of
from records.stock.rounds import rounds_of as rounds_of
from records.stock.rounds import tell_moisture

WAITING = "waiting"  # a lot that nobody has decided on

_HUNDREDTH = Decimal("0.01")


def verdict_of(lot: Lot) -> str:
    newest = lot.verdicts.order_by("-id").values_list("verdict", flat=True).first()
    return newest or WAITING


# Of lots read ``with_decision``: whether they may be planned, issued and burned (``Lot.burnable``).
MAY_BURN = Q(verdict=Verdict.ACCEPTED) | Q(
    verdict=Verdict.CONDITIONAL, confirmed_verdict__isnull=False
)
# The same of a decision by itself.
LETS_BURN = Q(verdict=Verdict.ACCEPTED) | Q(verdict=Verdict.CONDITIONAL, confirms__isnull=False)


def with_decision(lots: QuerySet[Lot]) -> QuerySet[Any]:
    """Lots with their newest verdict, and the one it confirms where it is a second signature."""
    newest = LotVerdict.objects.filter(lot=OuterRef("pk")).order_by("-id")
    decided: QuerySet[Any] = lots.annotate(
        verdict=Subquery(newest.values("verdict")[:1]),
        confirmed_verdict=Subquery(newest.values("confirms")[:1]),
    )
    return decided


class _StandingLots(AppendOnlyQuerySet[Lot]):
    """Lots whose moisture is told once they are fetched: as SQL it would cost more than all else."""

    as_of: dt.datetime | None = None

    def _clone(self) -> Any:
        clone: Any = super()._clone()  # type: ignore[misc]
        clone.as_of = self.as_of
        return clone

    def _fetch_all(self) -> None:
        fetched = self._result_cache is not None or self._iterable_class is not ModelIterable
        super()._fetch_all()
        if not fetched:
            tell_moisture(self._result_cache or [], self.as_of)

    def iterator(self, chunk_size: int | None = None) -> Iterator[Any]:
        for some in batched(super().iterator(chunk_size), chunk_size or 2000):
            tell_moisture(some, self.as_of)
            yield from some


def with_standing(lots: QuerySet[Lot], as_of: dt.datetime | None = None) -> QuerySet[Any]:
    """Lots with their newest verdict and stock and, once fetched, their mean moisture.

    ``burnable`` and ``standing`` of these lots rest on it; for ``moisture_pct`` and
    ``weighed_moisture_pct`` see ``rounds.tell_moisture``. ``as_of`` leaves later readings out.
    """
    standing = _StandingLots(lots.model, lots.query.chain(), lots.db)
    standing.as_of = as_of
    return with_decision(standing).select_related(
        "product__stock", "delivery__supplier", "bay", "balance__bay", "cut_from",
        "moisture_from__product",
    )  # fmt: skip


def unburnable(keys: Collection[int]) -> list[Any]:
    """Those of these lots that may not be planned, issued or burned, with their standing."""
    if not keys:
        return []
    found = with_standing(Lot.objects.filter(pk__in=keys)).order_by("code")
    return [lot for lot in found if not lot.burnable]


def waits_for_second(decision: LotVerdict) -> bool:
    """Whether a decision needs the signature of a second person that it does not have."""
    needs = decision.verdict in (Verdict.CONDITIONAL, Verdict.REJECTED)
    return needs and decision.confirms_id is None


def lots_to_confirm(site: Site) -> list[Any]:
    """Lots under a condition or a rejection that a second person has not signed."""
    needs = Q(verdict__in=(Verdict.CONDITIONAL, Verdict.REJECTED), confirmed_verdict__isnull=True)
    return list(lots_of(site).filter(needs))


def decision_on(lot: Lot) -> LotVerdict | None:
    """The decision that counts, or None while the lot waits."""
    return lot.verdicts.select_related("confirms").order_by("-id").first()


def lots_of(site: Site) -> QuerySet[Any]:
    return with_standing(Lot.objects.filter(site=site)).order_by("-delivery__delivered_at", "code")


_SHOWN_IN_LISTS = ("product", "delivery__supplier", "balance__bay", "moisture_from__product")


class _ListedLots(AppendOnlyQuerySet[Lot]):
    """Lots for a list: the page is chosen by keys alone, and only its rows get their standing.

    Else the verdict and the moisture of every lot would be looked up to show fifty of them.
    """

    def _fetch_all(self) -> None:
        if self._result_cache is None and self._iterable_class is ModelIterable:
            keys = list(self.values_list("pk", flat=True))
            shown = with_standing(Lot.objects.all()).select_related(None)
            found = shown.select_related(*_SHOWN_IN_LISTS).in_bulk(keys)
            self._result_cache = [found[key] for key in keys]
        super()._fetch_all()

    def order_by(self, *names: Any) -> Any:
        """By what the list shows, of which the verdict is no column of the lot."""
        if (
            "verdict" in {str(name).lstrip("-") for name in names}
            and "verdict" not in self.query.annotations
        ):
            return self.with_standing().order_by(*names)
        return super().order_by(*names)

    def with_standing(self) -> Any:
        return with_standing(self) if "verdict" not in self.query.annotations else self

    def in_state(self, state: str) -> Any:
        """Those that stand at one of ``VERDICTS``."""
        standing = self.with_standing()
        if state == WAITING:
            return standing.filter(verdict__isnull=True)
        decided = CONDITIONAL if state == UNCONFIRMED else state
        # Few lots were ever decided so: the newest decision is looked up of those alone.
        ever = LotVerdict.objects.filter(verdict=decided).values("lot")
        found = standing.filter(verdict=decided, pk__in=ever)
        if decided == CONDITIONAL:
            found = found.filter(confirmed_verdict__isnull=state == UNCONFIRMED)
        return found


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
    return list(lots.filter(MAY_BURN).order_by("delivery__delivered_at", "id"))


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
    newest = LotVerdict.objects.filter(lot=OuterRef("pk")).order_by("-id")
    says = newest.annotate(burns=Case(When(LETS_BURN, then=Value(True)), default=Value(False)))
    rows = (
        Lot.objects.filter(site=site, balance__on_hand__gt=0)
        .annotate(may_burn=Subquery(says.values("burns")[:1]))
        .order_by()
        .values_list("product", "may_burn")
        .annotate(on_hand=Sum("balance__on_hand"), reserved=Sum("balance__reserved"))
    )
    totals: dict[int, list[Decimal]] = {}
    for product, may_burn, on_hand, reserved in rows:
        sums = totals.setdefault(product, [Decimal(0)] * 3)
        sums[0 if may_burn else 1] += Decimal(on_hand).quantize(_HUNDREDTH)
        sums[2] += Decimal(reserved).quantize(_HUNDREDTH) if may_burn else 0
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
            "pictures",
            Prefetch("lots", Lot.objects.filter(cut_from__isnull=True).select_related("product")),
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
    found = lot.readings.select_related("read_by__details", "read_with")
    return list(found.order_by("-read_at", "id"))


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


# -- meters ----------------------------------------------------------------------------------


def _with_due(meters: QuerySet[Meter]) -> QuerySet[Any]:
    """Meters with the day their newest calibration holds until."""
    newest = Calibration.objects.filter(meter=OuterRef("pk")).order_by("-calibrated_on", "-id")
    return meters.annotate(due_on=Subquery(newest.values("due_on")[:1]))


def meters_of(site: Site) -> list[Any]:
    return list(_with_due(Meter.objects.filter(site=site)))


def meter_here(site: Site, public_id: str) -> Any:
    meter = _with_due(Meter.objects.filter(site=site, public_id=public_id)).first()
    if meter is None:
        raise NotHere(f"No meter {public_id} on this ground.")
    return meter


def meter_named(meter: Any) -> str:
    """A meter with how long it may be used, as a form offers it."""
    return _("{meter}, calibrated to {day}").format(meter=meter, day=day_in_words(meter.due_on))


def calibrations_of(meter: Meter) -> list[Calibration]:
    return list(meter.calibrations.select_related("recorded_by__details"))


def corrections_of(meter: Meter) -> list[ProductCorrection]:
    return list(meter.corrections.select_related("product", "recorded_by__details"))


def correction_for(meter: Meter | None, product: Product) -> ProductCorrection | None:
    return meter.corrections.filter(product=product).first() if meter else None


# What forms offer; they import no models.
PRODUCT_KINDS = ProductKind.choices
VERDICTS = [
    *Verdict.choices,
    (UNCONFIRMED, gettext_lazy("condition not yet signed by the second person")),
    (WAITING, gettext_lazy("waiting for readings")),
]
STANDINGS: dict[str, Any] = dict(VERDICTS)
METER_KINDS = MeterKind.choices
CONDITIONAL = Verdict.CONDITIONAL
