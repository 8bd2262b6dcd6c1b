"""Carrying lots between bays, splitting them, scrapping, and freeing what a plan no longer needs."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import NotHere, WrongState, plain_number, refuse_if, text_within
from facility.sites.models import Bay, Site
from records.audit.door import door
from records.stock import selectors
from records.stock.families import make_child
from records.stock.ledger import lock_stock, move, release
from records.stock.models import (
    Lot,
    LotBalance,
    LotPlace,
    Movement,
    MovementKind,
    ReservationCause,
)
from records.stock.services import counted


def carry_lot(
    lot: Lot, *, bay: Bay, reason: str = "", by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> LotPlace:  # fmt: skip
    """Carry a whole lot to another bay, a held one too: it stays in the store."""
    reason = text_within("reason", reason, 300, needed=False)
    _refuse_bay(lot, bay)
    with door(
        "stock.lot_moved", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        lock_stock([lot])
        balance = LotBalance.objects.get(lot=lot)
        refuse_if(
            balance.bay_id == bay.pk, "bay", _("Lot {lot} lies there already.").format(lot=lot)
        )
        entry.changed({"bay": balance.bay}, bay=bay)
        place = LotPlace(lot=lot, bay=bay, reason=reason, moved_at=entry.at, moved_by=by)
        place.save()
        balance.bay = bay
        balance.save()
    return place


def _refuse_bay(lot: Lot, bay: Bay) -> None:
    refuse_if(bay.site_id != lot.site_id, "bay", _("No such bay on this ground."))


def split_lot(
    lot: Lot, *, quantity: Decimal, code: str, bay: Bay, reason: str = "", by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Lot:  # fmt: skip
    """Split a part of a lot off as a lot of its own mark, in a bay of its own.

    It keeps docket, verdict and cost, and goes by the readings of the lot until it is read.
    """
    reason = text_within("reason", reason, 300, needed=False)
    _refuse_bay(lot, bay)
    counted("quantity", lot.product, quantity)
    with door("stock.lot_split", by=by, site=lot.site, at=at, why=reason, once=once) as entry:
        lock_stock([lot])
        out = move(
            lot, MovementKind.MOVED_OUT, quantity, by=by, happened_at=entry.at,
            recorded_at=entry.at, reason=reason or code,
        )  # fmt: skip
        child = make_child(
            lot, code=code, product=lot.product, count=quantity, bay=bay,
            sheet_mass_kg=lot.sheet_mass_kg, by=by, at=entry.at,
        )  # fmt: skip
        move(
            child, MovementKind.MOVED_IN, quantity, by=by, happened_at=entry.at,
            recorded_at=entry.at, reason=reason or lot.code, value=out.value,
        )  # fmt: skip
        entry.on(child)
        entry.changed(lot=lot.code, lots={child.code: quantity}, bay=bay)
    return child


def scrap(
    lot: Lot, *, quantity: Decimal, reason: str, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> Movement:  # fmt: skip
    """Throw boards away, of an accepted lot or a rejected one; never of one that is held."""
    reason = text_within("reason", reason, 300)
    counted("quantity", lot.product, quantity)
    with door(
        "stock.boards_scrapped", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        lock_stock([lot])
        movement = move(
            lot, MovementKind.SCRAP, quantity, by=by, happened_at=entry.at, recorded_at=entry.at,
            reason=reason,
        )  # fmt: skip
        entry.changed(lot=lot.code, quantity=quantity)
    return movement


def release_boards(
    site: Site, plan: str, *, by: Person, at: dt.datetime | None = None, once: str = ""
) -> dict[str, Decimal]:
    """Free the boards of a plan whose day has passed unburnt; gives how many of which lot.

    A burn that is still ahead keeps its boards: to free those, the plan is withdrawn.
    """
    held = [each for each in selectors.reserved_for(plan) if each.lot.site_id == site.pk]
    if not held:
        raise NotHere(f"No boards are reserved for plan {plan} on this ground.")
    with door("stock.boards_released", by=by, site=site, on=held[0].lot, at=at, once=once) as entry:
        if any(each.until >= entry.at for each in held):
            raise WrongState(
                _(
                    "The burn of plan {plan} is still ahead; withdraw the plan to free {count}."
                ).format(
                    plan=held[0].reference,
                    count=plain_number(sum((each.quantity for each in held), Decimal(0))),
                )
            )
        lock_stock([each.lot for each in held])
        freed = release(plan, ReservationCause.LAPSED, by=by, at=entry.at)
        entry.changed(code=plan, lots=freed)
    return freed
