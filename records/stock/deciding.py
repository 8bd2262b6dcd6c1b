"""Deciding on a lot: accepted, accepted on a condition, held or rejected, and by whom.

Acceptance and rejection are signed by a stores officer. A condition and a rejection are signed by a
second person, burn manager or safety officer; until then a lot under a condition stays where it is,
while a rejected one is out of use at once. A rejection signed by two is final: the boards are
scrapped or go back to the supplier. Whoever read a sample that failed does not accept the lot.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable

from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import OwnWork, StaleVersion, WrongState, text_within
from records.audit.door import EntryDraft, door
from records.audit.signing import signed
from records.stock import selectors
from records.stock.families import decide_children
from records.stock.models import Lot, LotBalance, LotVerdict, Verdict
from records.stock.recalling import refuse_recalled
from records.stock.receiving import refuse_unready
from records.stock.rounds import Moisture, fails, judged, moisture_limit, moisture_of, rounds_in

ACCEPTANCE = "acceptance for burning"
ON_CONDITION = "acceptance on the condition written here"
REJECTION = "rejection of the lot"
SECOND_CHECK = "second check of this decision"


def shown_hash_of(lot: Lot) -> str:
    """SHA-256 over what a decision rests on: the lot, its readings and the decision so far."""
    last = selectors.decision_on(lot)
    readings = [
        [str(moisture), method, read_at.astimezone(dt.UTC).isoformat(), by]
        for moisture, method, read_at, by in lot.readings.order_by("id").values_list(
            "moisture_pct", "method", "read_at", "read_by__public_id"
        )
    ]
    written = {
        "lot": lot.public_id, "product": lot.product.public_id, "code": lot.code,
        "docket": lot.delivery.docket, "received": f"{lot.received:.2f}", "readings": readings,
        "verdict": [last.pk, last.verdict, last.reason] if last else [],
    }  # fmt: skip
    text = json.dumps(written, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def accept_lot(
    lot: Lot, *, by: Person, meaning: str = ACCEPTANCE, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> LotVerdict:  # fmt: skip
    """Accept a lot for burning: boards need a whole round of readings that passes its plan.

    How moist the lot may be on the day is for the rows of the standard to say, each time it is
    planned or issued. ``shown_hash`` is that of what was shown to whoever signs, where a page was.
    """
    with door("stock.lot_accepted", by=by, site=lot.site, on=lot, at=at, once=once) as entry:
        before = _open_for(lot, Verdict.ACCEPTED)
        refuse_recalled(lot)
        refuse_unready(lot)
        moisture, limit = _whole_round(lot), moisture_limit(lot.site, _day(lot, entry))
        if fails(lot, moisture, limit):
            _refuse_wet(lot, moisture, limit)
        _refuse_own_sample(lot, before, limit, by)
        row = _decided(lot, Verdict.ACCEPTED, "", moisture, by, entry)
        _sign(lot, entry, meaning, shown_hash)
        row.save()
    return row


def accept_on_condition(
    lot: Lot, *, condition: str, by: Person, meaning: str = ON_CONDITION, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> LotVerdict:  # fmt: skip
    """Accept a lot on a condition. It stays out of use until a second person signs as well."""
    condition = text_within("condition", condition, 300)
    with door(
        "stock.lot_conditioned", by=by, site=lot.site, on=lot, at=at, why=condition, once=once
    ) as entry:
        before = _open_for(lot, Verdict.CONDITIONAL)
        refuse_recalled(lot)
        refuse_unready(lot)
        moisture = _whole_round(lot)
        _refuse_own_sample(lot, before, moisture_limit(lot.site, _day(lot, entry)), by)
        row = _decided(lot, Verdict.CONDITIONAL, condition, moisture, by, entry)
        _sign(lot, entry, meaning, shown_hash)
        row.save()
    return row


def reject_lot(
    lot: Lot, *, reason: str, by: Person, meaning: str = REJECTION, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> LotVerdict:  # fmt: skip
    """Reject a lot: out of use at once, for good when a second person has signed."""
    reason = text_within("reason", reason, 300)
    with door(
        "stock.lot_rejected", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        _open_for(lot, Verdict.REJECTED)
        row = _decided(lot, Verdict.REJECTED, reason, moisture_of(lot), by, entry)
        _sign(lot, entry, meaning, shown_hash)
        row.save()
        _with_what_was_made_of_it(row, by, entry)
    return row


def confirm_verdict(
    lot: Lot, *, by: Person, meaning: str = SECOND_CHECK, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> LotVerdict:  # fmt: skip
    """Sign as the second person under a condition or a rejection. Whoever disagrees holds the lot."""
    with door("stock.verdict_confirmed", by=by, site=lot.site, on=lot, at=at, once=once) as entry:
        first = _locked(lot)
        if first is None or not selectors.waits_for_second(first):
            raise WrongState(_("No decision on this lot waits for a second signature."))
        if first.verdict == Verdict.CONDITIONAL:
            refuse_recalled(lot)
        moisture = moisture_of(lot)
        if by.pk == first.decided_by_id or by.pk in moisture.readers:
            raise OwnWork(_("You decided on this lot or read it; someone else signs as second."))
        verdict = Verdict(first.verdict)
        row = _decided(lot, verdict, first.reason, moisture, by, entry, confirms=first)
        _sign(lot, entry, meaning, shown_hash)
        row.save()
    return row


def hold_lot(
    lot: Lot, *, reason: str, by: Person, at: dt.datetime | None = None, once: str = ""
) -> LotVerdict:
    """Hold a lot: it cannot be planned, issued or burned until it is accepted again."""
    reason = text_within("reason", reason, 300)
    with door(
        "stock.lot_held", by=by, site=lot.site, on=lot, at=at, why=reason, once=once
    ) as entry:
        _open_for(lot, Verdict.HELD)
        row = _decided(lot, Verdict.HELD, reason, moisture_of(lot), by, entry)
        row.save()
        _with_what_was_made_of_it(row, by, entry)
    return row


def _with_what_was_made_of_it(row: LotVerdict, by: Person, entry: EntryDraft) -> None:
    verdict = Verdict(row.verdict)
    if marks := decide_children(row.lot, verdict, row.reason, by=by, at=entry.at):
        entry.changed(lots=marks)


def _locked(lot: Lot) -> LotVerdict | None:
    """The decision that counts; two who decide at once take turns at the lot's row.

    The balance is locked as well: what leaves meanwhile is waited for.
    """
    Lot.objects.select_for_update(no_key=True).get(pk=lot.pk)
    LotBalance.objects.select_for_update(no_key=True).get(lot=lot)
    return selectors.decision_on(lot)


def _open_for(lot: Lot, verdict: Verdict) -> LotVerdict | None:
    """The decision so far, when it may be followed by this one."""
    last = _locked(lot)
    if last is None:
        return None
    if last.verdict == verdict:
        raise WrongState(_("The lot is {verdict} already.").format(verdict=verdict.label))
    if last.verdict == Verdict.REJECTED and (last.confirms_id or verdict != Verdict.HELD):
        raise WrongState(
            _("The lot is rejected; its boards are scrapped or go back to the supplier.")
            if last.confirms_id
            else _("The lot is rejected; hold it first if that was wrong.")
        )
    return last


def _day(lot: Lot, entry: EntryDraft) -> dt.date:
    return entry.at.astimezone(lot.site.zone).date()


def _whole_round(lot: Lot) -> Moisture:
    moisture = moisture_of(lot)
    if not moisture.is_whole:
        raise WrongState(
            _("{count} readings were taken; {least} are needed before a lot is accepted.").format(
                count=moisture.count, least=moisture.needed
            )
        )
    return moisture


def _refuse_wet(lot: Lot, moisture: Moisture, limit: float | None) -> None:
    working = judged(lot, moisture.readings, limit)
    assert working is not None
    raise WrongState(
        _(
            "The sample fails: mean {mean:.1f} %, highest {highest:.1f} %, upper estimate "
            "{top:.1f} %, allowed {limit:g} %. Hold or reject the lot, or accept it on a condition."
        ).format(
            mean=working.value("mean"), highest=float(moisture.highest_pct or 0),
            top=working.value("upper_estimate"), limit=limit,
        )
    )  # fmt: skip


def _refuse_own_sample(
    lot: Lot, before: LotVerdict | None, limit: float | None, by: Person
) -> None:
    """After a failed sample the lot is not accepted by whoever took it, nor by taking another.

    What was read before the newest acceptance is settled.
    """
    accepted = lot.verdicts.filter(verdict=Verdict.ACCEPTED).order_by("-id").first()
    since = accepted.decided_at if before and accepted else None
    failed = {
        reader
        for each in rounds_in(lot, since)
        if fails(lot, each, limit)
        for reader in each.readers
    }
    if by.pk in failed:
        raise OwnWork(_("You took a sample of this lot that failed; someone else accepts it."))


def _decided(
    lot: Lot, verdict: Verdict, reason: str, moisture: Moisture, by: Person, entry: EntryDraft,
    confirms: LotVerdict | None = None,
) -> LotVerdict:  # fmt: skip
    before = selectors.verdict_of(lot)
    entry.changed({"verdict": before}, verdict=verdict, readings=moisture.count)
    return LotVerdict(
        lot=lot, verdict=verdict, reason=reason, readings=moisture.count,
        moisture_mean_pct=moisture.mean_pct, moisture_highest_pct=moisture.highest_pct,
        decided_at=entry.at, decided_by=by, confirms=confirms,
    )  # fmt: skip


def _sign(lot: Lot, entry: EntryDraft, meaning: str, shown_hash: str) -> None:
    content = shown_hash_of(lot)
    if shown_hash and shown_hash != content:
        raise StaleVersion(_("The lot was read or decided on since you opened this; look again."))
    signed(entry, meaning=meaning, content_hash=content)


def refuse_unburnable(lots: Iterable[Lot], *, leaving: bool = False) -> None:
    """Refuse lots that may not be planned, issued or burned as they stand now.

    ``leaving`` locks them, behind the open door, so that none is held while it leaves.
    """
    keys = {lot.pk for lot in lots}
    if leaving:
        assert door_is_open()
        list(Lot.objects.select_for_update(no_key=True).filter(pk__in=keys).order_by("pk"))
    found = selectors.unburnable(keys)
    if found:
        raise WrongState(
            _("Lot {lot} is {state}: it cannot be planned, issued or burned.").format(
                lot=found[0].code, state=selectors.STANDINGS[found[0].standing or selectors.WAITING]
            )
        )
