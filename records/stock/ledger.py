"""The ledger: boards in and out, boards set aside, and what they cost. Behind an open door.

Stock on hand is the sum of movements, what is reserved the sum of reservations, and the value of
a product what came in less what went out, to the cent.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import F, Sum
from django.db.models.functions import Round
from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import StockNotAvailable, WrongState, plain_number
from records.stock import selectors
from records.stock.models import (
    INTO_STORE,
    SIGNED_QUANTITY,
    SIGNED_VALUE,
    Lot,
    LotBalance,
    Movement,
    MovementKind,
    Product,
    ProductStock,
    Reservation,
    ReservationCause,
    Verdict,
)

CENT = Decimal("0.01")
FROM_A_PLAN = (MovementKind.ISSUE, MovementKind.RETURN)


def lock_stock(lots: Iterable[Lot], products: Iterable[Product] = ()) -> None:
    """Lock the balances of lots, then the stock of their products, each in one order.

    An act on several lots begins with this, so that two of them cannot wait for one another.
    """
    assert door_is_open()
    lots = list(lots)
    balances = (
        LotBalance.objects.select_for_update(no_key=True).filter(lot__in=lots).order_by("lot_id")
    )
    list(balances.values_list("pk", flat=True))
    keys = {lot.product_id for lot in lots} | {product.pk for product in products}
    stocks = ProductStock.objects.select_for_update(no_key=True).filter(product__in=keys)
    list(stocks.order_by("product_id").values_list("pk", flat=True))


def move(
    lot: Lot, kind: MovementKind, quantity: Decimal, *, by: Person, happened_at: dt.datetime,
    recorded_at: dt.datetime, plan: str = "", reason: str = "", value: Decimal | None = None,
) -> Movement:  # fmt: skip
    """Append one movement with its value, and its effect on the balance.

    The conditional update is what keeps sixteen people from issuing the same last board: the
    database decides, in one statement, whether there is enough that no plan has a claim on.
    ``value`` is given for what carries its cost along from another lot.

    Raises
    ------
    StockNotAvailable
        when less is on hand and not reserved than is to leave.
    WrongState
        when a held lot is to leave: only a count takes anything from it.
    """
    assert door_is_open()
    sign = 1 if kind in INTO_STORE else -1
    changed = LotBalance.objects.filter(
        lot=lot, on_hand__gte=Round(F("reserved") + quantity, precision=2) if sign < 0 else 0
    ).update(
        # rounded, because SQLite reckons decimals in floating point
        on_hand=Round(F("on_hand") + sign * quantity, precision=2)
    )
    if not changed:
        raise _not_available(lot, quantity)
    if sign < 0 and kind != MovementKind.ADJUST_DOWN:
        _refuse_held(lot)
    movement = Movement(
        lot=lot, kind=kind, sign=sign, quantity=quantity, plan=plan, reason=reason,
        value=_book_value(lot, kind, quantity, plan, value), happened_at=happened_at,
        recorded_at=recorded_at, moved_by=by,
    )  # fmt: skip
    movement.save()
    return movement


def _not_available(lot: Lot, quantity: Decimal) -> StockNotAvailable:
    balance = LotBalance.objects.get(lot=lot)
    sentence = _("Lot {lot}: {given} asked for, {on_hand} on hand.")
    if balance.reserved:
        sentence = _(
            "Lot {lot}: {given} asked for, {on_hand} on hand, {reserved} of them reserved for "
            "approved plans."
        )
    return StockNotAvailable(
        sentence.format(
            lot=lot.code, given=plain_number(quantity), on_hand=plain_number(balance.on_hand),
            reserved=plain_number(balance.reserved),
        ),
        field="quantity",
    )  # fmt: skip


def _refuse_held(lot: Lot) -> None:
    """Asked after the balance was changed, whose row is locked since: a hold waits, or was seen."""
    if selectors.verdict_of(lot) == Verdict.HELD:
        raise WrongState(_("Lot {lot} is held; nothing of it may leave.").format(lot=lot.code))


def _book_value(
    lot: Lot, kind: MovementKind, quantity: Decimal, plan: str, carried: Decimal | None
) -> Decimal:
    """The value of a movement in cents, booked on the stock of the product.

    What leaves takes its share of the value at that moment, the last of it all that is left. What
    comes back from a plan brings what it took along. What is found by a count comes in at the
    average of that moment.
    """
    ProductStock.objects.get_or_create(product=lot.product)
    stock = ProductStock.objects.select_for_update(no_key=True).get(product=lot.product)
    into = kind in INTO_STORE
    if carried is not None:
        value = carried
    elif kind == MovementKind.RECEIVE:
        value = to_cents(quantity * (lot.unit_cost or 0))
    elif kind == MovementKind.RETURN:
        value = _value_out(lot, plan, quantity)
    else:
        value = share(stock.value, quantity, stock.quantity)
    stock.quantity += quantity if into else -quantity
    stock.value += value if into else -value
    stock.save()
    return value


def share(value: Decimal, part: Decimal, whole: Decimal) -> Decimal:
    """The value of a part of a stock; the whole of it has the whole value."""
    if not whole:
        return Decimal(0)
    return value if part == whole else to_cents(value * part / whole)


def to_cents(value: Decimal) -> Decimal:
    return value.quantize(CENT, ROUND_HALF_UP)


def _value_out(lot: Lot, plan: str, quantity: Decimal) -> Decimal:
    """What these boards of a lot were worth when they left for the plan."""
    out = Movement.objects.filter(lot=lot, plan=plan, kind__in=FROM_A_PLAN).aggregate(
        quantity=Sum(SIGNED_QUANTITY), value=Sum(SIGNED_VALUE)
    )
    left, value = (-to_cents(Decimal(out[key] or 0)) for key in ("quantity", "value"))
    return share(value, quantity, left)


def reserve(
    lot: Lot, quantity: Decimal, *, plan: str, until: dt.datetime, by: Person, at: dt.datetime
) -> None:
    """Set boards of a lot aside for a plan, when that many are there and free.

    Raises
    ------
    StockNotAvailable
        when they are not.
    """
    assert door_is_open()
    wanted = Round(F("reserved") + quantity, precision=2)
    if not LotBalance.objects.filter(lot=lot, on_hand__gte=wanted).update(reserved=wanted):
        raise _not_available(lot, quantity)
    Reservation(
        lot=lot, plan=plan, cause=ReservationCause.APPROVED, sign=1, quantity=quantity,
        until=until, recorded_at=at, recorded_by=by,
    ).save()  # fmt: skip


def release(
    plan: str, cause: ReservationCause, *, by: Person, at: dt.datetime
) -> dict[str, Decimal]:
    """Free whatever is still set aside for a plan; gives how much of which lot."""
    freed = {}
    lock_stock(held.lot for held in selectors.reserved_for(plan))
    for held in selectors.reserved_for(plan):
        _release(held, held.quantity, cause, by, at)
        freed[held.lot.code] = held.quantity
    return freed


def make_room(lot: Lot, on_hand: Decimal, *, by: Person, at: dt.datetime) -> None:
    """Free the newest claims on a lot until no more is reserved than a count found."""
    balance = LotBalance.objects.select_for_update(no_key=True).get(lot=lot)
    too_many = balance.reserved - on_hand
    for held in reversed(selectors.reservations_of(lot)):
        if too_many > 0:
            part = min(too_many, held.quantity)
            _release(held, part, ReservationCause.COUNTED, by, at)
            too_many -= part


def _release(
    held: selectors.Reserved, quantity: Decimal, cause: ReservationCause, by: Person,
    at: dt.datetime,
) -> None:  # fmt: skip
    assert door_is_open()
    LotBalance.objects.filter(lot=held.lot).update(
        reserved=Round(F("reserved") - quantity, precision=2)
    )
    Reservation(
        lot=held.lot, plan=held.plan, cause=cause, sign=-1, quantity=quantity, until=held.until,
        recorded_at=at, recorded_by=by,
    ).save()  # fmt: skip
