"""What a charge holds: mass and energy, line by line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from facility.kinds import ProductKind
from facility.sites.models import Site
from records.plans.content import Line
from records.stock import selectors as stock


@dataclass(frozen=True, slots=True)
class LineFigures:
    """One line of the charge with what it holds: totals of the line, and the unit workings."""

    line: Line
    lot: Any | None  # the lot it draws on, chosen by us when the plan leaves it open
    dry_mass_kg: float | None
    energy_mj: float | None
    per_board: stock.UnitFigures | None

    @property
    def fuel_kg(self) -> float:
        """Mass that burns: the dry wood, or a liquid's own mass, which is no wood."""
        if self.line.product.kind == ProductKind.LIQUID:
            return stock.LIQUID_KG_PER_L * float(self.line.quantity)
        return self.dry_mass_kg or 0.0

    @property
    def moisture_pct(self) -> float | None:
        return (
            None
            if self.lot is None or self.lot.moisture_pct is None
            else float(self.lot.moisture_pct)
        )


def figures_of(site: Site, charge: Sequence[Line]) -> list[LineFigures]:
    """Mass and energy of each line. A line without a lot takes the oldest accepted lot that has
    enough left beside what the lines above it take."""
    named = stock.lots_by_id(site, (line.lot.public_id for line in charge if line.lot))
    open_lines = [line.product for line in charge if line.lot is None]
    pool = stock.burnable_lots(site, open_lines) if open_lines else []
    left = {lot.pk: lot.balance.on_hand for lot in pool}
    return [
        _figures(line, named.get(line.lot.public_id) if line.lot else _oldest(pool, left, line))
        for line in charge
    ]


def _oldest(pool: list[Any], left: dict[int, Decimal], line: Line) -> Any | None:
    fitting = (lot for lot in pool if lot.product_id == line.product.pk)
    chosen = next((lot for lot in fitting if left[lot.pk] >= line.quantity), None)
    if chosen is not None:
        left[chosen.pk] -= line.quantity
    return chosen


def _figures(line: Line, lot: Any | None) -> LineFigures:
    each = stock.figures_for(line.product, lot)
    if each is None:
        return LineFigures(line, lot, None, None, None)
    count = float(line.quantity)
    return LineFigures(line, lot, count * each.dry_mass_kg, count * each.energy_mj, each)
