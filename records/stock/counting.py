"""Counting: a stocktake is started, counted blind, signed, and where it is far off, approved.

A count is compared with the record as it stood at the moment of the count, so boards may move
while people count. Nothing changes the stock before the signature; then the difference, not the
count, is written, at the time of the count.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_noop

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import (
    NotHere,
    OwnWork,
    StaleVersion,
    WrongState,
    not_future,
    number_between,
    refuse_if,
    text_within,
)
from facility.sites.models import Bay, Site
from records.audit.door import EntryDraft, door
from records.audit.signing import signed
from records.stock.count_selectors import Variance, variances
from records.stock.ledger import lock_stock, make_room, move
from records.stock.models import (
    CountState,
    Lot,
    LotBalance,
    MovementKind,
    Stocktake,
    StocktakeLine,
)
from records.stock.services import MOST_BOARDS, refuse_finer_than_kept

SIGNS = gettext_noop("counted as written, for the record to follow")
APPROVES = gettext_noop("differences over the set threshold, looked into and approved")


@dataclass(frozen=True, slots=True)
class Count:
    """What somebody counted of one lot, and why it may differ from the record."""

    lot: Lot
    counted: Decimal
    reason: str = ""


def set_count_limits(
    site: Site, *, over_pct: Decimal, over_value: Decimal, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> None:  # fmt: skip
    """Say from which difference on a second person approves a count."""
    number_between("over_pct", over_pct, 0, 100, "%")
    number_between("over_value", over_value, 0, 999_999)
    with door("stock.count_limits_set", by=by, site=site, on=site, at=at, once=once) as entry:
        entry.changed(
            {"over_pct": site.count_over_pct, "over_value": site.count_over_value},
            over_pct=over_pct, over_value=over_value,
        )  # fmt: skip
        site.count_over_pct, site.count_over_value = over_pct, over_value
        site.save()


def start_stocktake(
    site: Site, *, bays: Sequence[Bay] = (), lots: Sequence[Lot] = (), title: str = "",
    by: Person, at: dt.datetime | None = None, once: str = "",
) -> Stocktake:  # fmt: skip
    """Begin to count what lies in these bays, these very lots, or the whole store.

    Lots without stock stay out, unless they are named.
    """
    refuse_if(any(bay.site_id != site.pk for bay in bays), "bays", _("No such bay on this ground."))
    refuse_if(any(lot.site_id != site.pk for lot in lots), "lots", _("No such lot on this ground."))
    rows = Lot.objects.filter(site=site)
    if lots:
        rows = rows.filter(pk__in={lot.pk for lot in lots})
    else:
        rows = rows.filter(balance__on_hand__gt=0)
        rows = rows.filter(balance__bay__in=list(bays)) if bays else rows
    title = (title or ", ".join(bay.name for bay in bays) or _("whole store"))[:80]
    with door("stock.stocktake_started", by=by, site=site, at=at, once=once) as entry:
        found = list(rows.select_related("balance"))
        refuse_if(
            not found, "bays", _("Nothing lies there by the record; there is nothing to count.")
        )
        stocktake = _open(site, title, found, by, entry)
        entry.changed(title=title, lots=[lot.code for lot in found])
    return stocktake


def _open(site: Site, title: str, lots: Iterable[Lot], by: Person, entry: EntryDraft) -> Stocktake:
    stocktake = Stocktake(site=site, title=title, started_at=entry.at, started_by=by)
    stocktake.save()
    entry.on(stocktake)
    for lot in lots:
        StocktakeLine(stocktake=stocktake, lot=lot, bay=lot.balance.bay).save()
    return stocktake


def enter_counts(
    stocktake: Stocktake, counts: Sequence[Count], *, counted_at: dt.datetime, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> None:  # fmt: skip
    """Write down what was counted; what was signed already stays. Lots left out stay open."""
    not_future("counted_at", counted_at, at or timezone.now())
    refuse_if(not counts, "counts", _("Nothing was counted yet."))
    for count in counts:
        _check_count(count)
    with door(
        "stock.stock_counted", by=by, site=stocktake.site, on=stocktake, at=at, once=once
    ) as entry:
        refuse_if(
            counted_at < stocktake.started_at - dt.timedelta(minutes=2),
            "counted_at",
            _("This stocktake was started later than that."),
        )
        lines = {line.lot_id: line for line in stocktake.fresh().lines.all()}
        for count in counts:
            line = lines.get(count.lot.pk)
            if line is None:
                raise NotHere(f"Lot {count.lot} is not in this stocktake.")
            _enter(line, count, counted_at, by)
        entry.changed(
            counted_at=counted_at, lots={count.lot.code: count.counted for count in counts}
        )


def _check_count(count: Count) -> None:
    unit = count.lot.product.counted_in or _("boards")
    number_between("counted", count.counted, 0, MOST_BOARDS, unit)
    refuse_if(
        count.lot.product.is_board and count.counted != count.counted.to_integral_value(),
        "counted",
        _("Boards are counted whole; {given} was given.").format(given=count.counted),
    )
    refuse_finer_than_kept("counted", count.counted)
    text_within("reason", count.reason, 300, needed=False)


def _enter(line: StocktakeLine, count: Count, counted_at: dt.datetime, by: Person) -> None:
    if line.state not in (CountState.OPEN, CountState.COUNTED):
        raise WrongState(
            _("The count of lot {lot} is signed; count it again in another stocktake.").format(
                lot=count.lot
            )
        )
    line.counted, line.counted_at, line.counted_by = count.counted, counted_at, by
    line.reason, line.state = count.reason.strip(), CountState.COUNTED
    line.save()


def content_hash(stocktake: Stocktake, state: CountState) -> str:
    """SHA-256 over what is signed: each lot with its count, time, book figure and reason."""
    written = [
        [each.line.lot.code, f"{each.line.counted:.2f}", f"{each.book:.2f}", each.line.reason,
         each.line.counted_at.astimezone(dt.UTC).isoformat() if each.line.counted_at else ""]
        for each in variances(stocktake, state)
    ]  # fmt: skip
    text = json.dumps([stocktake.public_id, sorted(written)], separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def sign_stocktake(
    stocktake: Stocktake, *, shown_hash: str, by: Person, meaning: str = SIGNS,
    at: dt.datetime | None = None, once: str = "",
) -> list[Variance]:  # fmt: skip
    """Sign for what was counted so far.

    What is within the threshold goes into the record; what is over it waits for a second person.
    """
    with door(
        "stock.stocktake_signed", by=by, site=stocktake.site, on=stocktake, at=at, once=once
    ) as entry:
        found = _to_settle(stocktake, CountState.COUNTED, shown_hash)
        _sign(found, by, entry)
        signed(entry, meaning=meaning, content_hash=shown_hash)
    return found


def approve_stocktake(
    stocktake: Stocktake, *, shown_hash: str, by: Person, meaning: str = APPROVES,
    at: dt.datetime | None = None, once: str = "",
) -> list[Variance]:  # fmt: skip
    """Approve differences over the threshold; never by whoever counted or signed any of them."""
    with door(
        "stock.stocktake_approved", by=by, site=stocktake.site, on=stocktake, at=at, once=once
    ) as entry:
        found = _to_settle(stocktake, CountState.SIGNED, shown_hash)
        if any(by.pk in (each.line.counted_by_id, each.line.signed_by_id) for each in found):
            raise OwnWork(_("You counted or signed this; someone else must approve it."))
        for each in found:
            each.line.approved_by = by
            _settle(each, by, entry)
        signed(entry, meaning=meaning, content_hash=shown_hash)
        entry.changed(lots={each.line.lot.code: each.difference for each in found})
    return found


def adjust_stock(
    lot: Lot, *, counted_now: Decimal, reason: str, by: Person, meaning: str = SIGNS,
    shown_hash: str = "", at: dt.datetime | None = None, once: str = "",
) -> Stocktake:  # fmt: skip
    """Count one lot and sign for it in one act: a stocktake of one line, by the same rule.

    ``shown_hash`` is that of the record shown to whoever signs, where a page was.
    """
    reason = text_within("reason", reason, 300)
    count = Count(lot, counted_now, reason)
    _check_count(count)
    with door(
        "stock.stock_adjusted", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        lock_stock([lot])
        balance = LotBalance.objects.get(lot=lot)
        content = record_hash(lot)
        if shown_hash and shown_hash != content:
            raise StaleVersion(
                _("The record of this lot changed since you opened it; count again.")
            )
        refuse_if(
            counted_now == balance.on_hand,
            "counted",
            _("The count agrees with the record; nothing to adjust."),
        )
        stocktake = _open(lot.site, _("lot {lot}").format(lot=lot.code), [lot], by, entry)
        _enter(stocktake.lines.get(), count, entry.at, by)
        found = variances(stocktake, CountState.COUNTED)
        _sign(found, by, entry)
        entry.on(lot)
        signed(entry, meaning=meaning, content_hash=content)
        entry.changed({"on_hand": balance.on_hand}, on_hand=counted_now)
    return stocktake


def record_hash(lot: Lot) -> str:
    """SHA-256 over what the record says of a lot, which a count of it is signed against."""
    balance = LotBalance.objects.get(lot=lot)
    text = f"{lot.public_id} {balance.on_hand:.2f} {balance.reserved:.2f}"
    return hashlib.sha256(text.encode()).hexdigest()


def _to_settle(stocktake: Stocktake, state: CountState, shown_hash: str) -> list[Variance]:
    """The lines in that state with their lots locked, refused when they are not what was shown."""
    stocktake = stocktake.fresh()
    lock_stock(line.lot for line in stocktake.lines.filter(state=state).select_related("lot"))
    found = variances(stocktake, state)
    if not found:
        raise WrongState(_("No count waits for this; enter counts first."))
    if content_hash(stocktake, state) != shown_hash:
        raise StaleVersion(
            _("A count or the record behind it changed since you opened this; read it again.")
        )
    return found


def _sign(found: Sequence[Variance], by: Person, entry: EntryDraft) -> None:
    """Sign each line; a difference needs its reason."""
    unexplained = [each.line.lot.code for each in found if each.difference and not each.line.reason]
    refuse_if(
        unexplained,
        "reason",
        _("Say why the count differs from the record: {lots}.").format(lots=", ".join(unexplained)),
    )
    for each in found:
        line = each.line
        line.book, line.value, line.signed_by, line.signed_at = each.book, each.value, by, entry.at
        if each.over:
            line.state = CountState.SIGNED
            line.save()
        else:
            _settle(each, by, entry)
    entry.changed(
        lots={each.line.lot.code: each.difference for each in found},
        state=[each.line.lot.code for each in found if each.over],
    )


def _settle(each: Variance, by: Person, entry: EntryDraft) -> None:
    """Write the difference into the record, if there is one. A claim on boards that are not there
    lapses."""
    assert door_is_open()
    line, change = each.line, each.difference
    line.book, line.value, line.state = each.book, each.value, CountState.POSTED
    if change:
        lot = line.lot
        if change < 0:
            on_hand = LotBalance.objects.values_list("on_hand", flat=True).get(lot=lot)
            make_room(lot, max(on_hand + change, Decimal(0)), by=by, at=entry.at)
        kind = MovementKind.ADJUST_UP if change > 0 else MovementKind.ADJUST_DOWN
        line.movement = move(
            lot, kind, abs(change), by=by, happened_at=line.counted_at or entry.at,
            recorded_at=entry.at, reason=line.reason,
        )  # fmt: skip
    line.save()
