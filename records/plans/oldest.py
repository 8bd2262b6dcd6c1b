"""Oldest lots first: whoever hands out a younger one says why, and the reason is kept."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from typing import Any

from django.utils.translation import gettext as _

from facility.refusals import WrongValue, plain_number
from facility.sites.models import Site
from records.plans.selectors import Handout
from records.stock.selectors import burnable_lots


def passed_over(site: Site, handouts: Sequence[Handout]) -> list[tuple[Handout, Any, Decimal]]:
    """The handouts that leave an older accepted lot of their product lying, that lot, and what
    stays of it."""
    pool = burnable_lots(site, {handout.lot.product for handout in handouts})
    left = {lot.pk: lot.balance.on_hand for lot in pool}
    for handout in handouts:
        left[handout.lot.pk] = left.get(handout.lot.pk, Decimal(0)) - handout.quantity
    places = {lot.pk: place for place, lot in enumerate(pool)}
    found = []
    for handout in handouts:
        before = pool[: places.get(handout.lot.pk, 0)]
        older = (lot for lot in before if lot.product_id == handout.lot.product_id)
        lying = next((lot for lot in older if left[lot.pk] > 0), None)
        if lying is not None:
            found.append((handout, lying, left[lying.pk]))
    return found


def refuse_unsaid(departures: Sequence[tuple[Handout, Any, Decimal]], reason: str) -> None:
    """Refuse a departure from oldest first that nobody gave a reason for."""
    if departures and not reason:
        handout, older, left = departures[0]
        raise WrongValue(
            _("Lot {older} is older than {lot} and has {left} left: say why it stays.").format(
                older=older.code, lot=handout.lot.code, left=plain_number(left)
            ),
            field="why_younger",
        )
