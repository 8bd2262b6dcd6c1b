"""Reading what came with a lot: its docket, the marks looked for, the sheets weighed."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from facility.calc.boards import board_density
from facility.calc.working import Working
from facility.refusals import NotHere
from facility.sites.models import Site
from records.stock.models import (
    Delivery,
    DensityReason,
    DocketPicture,
    Lot,
    MarkCheck,
    Product,
    SheetWeighing,
)

# EN 312 allows a board 10 % between its own parts (from memory); between a sheet and its product
# this is common practice, no source. A product may carry a band of its own.
BAND_PCT = Decimal(10)


def band_of(product: Product) -> Decimal:
    return BAND_PCT if product.density_band_pct is None else product.density_band_pct


def delivery_here(site: Site, public_id: str) -> Delivery:
    found = Delivery.objects.filter(site=site, public_id=public_id)
    delivery = found.select_related("supplier", "received_by__details").first()
    if delivery is None:
        raise NotHere(f"No delivery {public_id} on this ground.")
    return delivery


def pictures_of(delivery: Delivery) -> list[DocketPicture]:
    rows = DocketPicture.objects.filter(delivery=delivery).order_by("id")
    return list(rows.select_related("picture__recorded_by__details"))


def root_of(lot: Lot) -> Lot:
    """The lot as it came in; pieces were cut from it, and it is what was looked at."""
    while lot.cut_from is not None:
        lot = lot.cut_from
    return lot


def mark_checks_of(lot: Lot) -> list[MarkCheck]:
    """Newest first."""
    rows = MarkCheck.objects.filter(lot=root_of(lot)).order_by("-id")
    return list(rows.select_related("checked_by__details"))


@dataclass(frozen=True, slots=True)
class Weighed:
    """One sheet with the working of its density."""

    row: SheetWeighing
    density: Working

    @property
    def deviation_pct(self) -> float:
        return float(self.density.value("deviation"))


@dataclass(frozen=True, slots=True)
class Density:
    """All sheets of a lot weighed so far, and what they say together.

    ``reason`` is why the lot is taken though it lies outside; given before the newest sheet was
    weighed, it does not count.
    """

    sheets: Sequence[Weighed]
    reason: DensityReason | None

    @property
    def deviation_pct(self) -> float | None:
        """How far the mean of the sheets lies from the density expected."""
        if not self.sheets:
            return None
        return sum(each.deviation_pct for each in self.sheets) / len(self.sheets)

    @property
    def band_pct(self) -> Decimal | None:
        return self.sheets[0].row.band_pct if self.sheets else None

    @property
    def outside(self) -> bool:
        return self.deviation_pct is not None and abs(self.deviation_pct) > float(
            self.band_pct or 0
        )

    @property
    def unexplained(self) -> bool:
        return self.outside and self.reason is None


def density_of(lot: Lot) -> Density:
    root = root_of(lot)
    rows = SheetWeighing.objects.filter(lot=root).order_by("-id")
    sheets = [Weighed(row, working_of(row)) for row in rows.select_related("weighed_by__details")]
    given = DensityReason.objects.filter(lot=root).order_by("-id")
    reason = given.select_related("decided_by__details").first()
    if reason is not None and sheets and reason.decided_at < sheets[0].row.weighed_at:
        reason = None
    return Density(sheets, reason)


def working_of(row: SheetWeighing) -> Working:
    return board_density.of(
        length=float(row.length_m), width=float(row.width_m), thickness=float(row.thickness_mm),
        mass=float(row.mass_kg), expected=float(row.expected_kg_m3),
    )  # fmt: skip
