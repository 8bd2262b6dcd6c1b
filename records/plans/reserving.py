"""Boards set aside for an approved plan. Called by the plan services, behind their open door."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import StockNotAvailable, plain_number
from records.plans.models import PlanVersion
from records.plans.selectors import suggested_handouts
from records.stock.ledger import lock_stock, reserve


def reserve_charge(version: PlanVersion, *, by: Person, at: dt.datetime) -> dict[str, Decimal]:
    """Set the boards of the charge aside: the lots it names, else the oldest accepted ones.

    Raises
    ------
    StockNotAvailable
        when a line asks for more than is on hand and free.
    """
    assert door_is_open()
    handouts = suggested_handouts(version)
    lock_stock({handout.lot.pk: handout.lot for handout in handouts}.values())
    got: dict[int, Decimal] = {}
    lots: dict[int, Decimal] = {}
    by_key = {handout.lot.pk: handout.lot for handout in handouts}
    for handout in handouts:
        got[handout.line.pk] = got.get(handout.line.pk, Decimal(0)) + handout.quantity
        lots[handout.lot.pk] = lots.get(handout.lot.pk, Decimal(0)) + handout.quantity
    for line in version.charge.all():
        free = got.get(line.pk, Decimal(0))
        if free < line.quantity:
            raise StockNotAvailable(
                _(
                    "{position}: {wanted} of {fuel} asked for, {free} accepted and not reserved for "
                    "other plans."
                ).format(
                    position=line.position, wanted=plain_number(line.quantity),
                    fuel=f"{line.product}, {line.lot}" if line.lot else line.product,
                    free=plain_number(free),
                )
            )  # fmt: skip
    for key in sorted(lots):
        reserve(
            by_key[key], lots[key], plan=version.plan.public_id, until=version.ends_at, by=by, at=at
        )
    return {by_key[key].code: quantity for key, quantity in lots.items()}
