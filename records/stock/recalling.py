"""Recalls: every lot of the same boards is held in one signed act, and somebody else ends it."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Callable, Iterable, Sequence
from typing import Any

from django.db.models import QuerySet
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import (
    NotHere,
    OwnWork,
    StaleVersion,
    WrongState,
    plain_number,
    refuse_if,
    text_within,
)
from facility.sites.models import Site
from records.audit.door import door
from records.audit.signing import signed
from records.stock import selectors
from records.stock.descent import family_of
from records.stock.models import (
    Lot,
    LotBalance,
    LotVerdict,
    NoticeSource,
    Recall,
    RecalledLot,
    RecallLifted,
    Verdict,
)

RECALL = "recall: hold all that is left"
LIFT = "second check: the recall may end"

# What forms offer; they import no models.
SOURCES = NoticeSource.choices


def lots_of_family(site: Site, roots: Iterable[Lot]) -> list[Any]:
    """The lots of the same boards, with their standing, the delivered ones first."""
    found = Lot.objects.filter(site=site, pk__in=family_of(lot.pk for lot in roots))
    return list(selectors.with_standing(found).order_by("delivery__delivered_at", "id"))


def content_hash(lots: Sequence[Any], burns: Sequence[str]) -> str:
    """What a signature under a recall covers: the lots, what is left of each, the burns."""
    left = sorted((lot.public_id, plain_number(lot.balance.on_hand)) for lot in lots)
    text = json.dumps([left, sorted(burns)], separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def recall_lots(
    site: Site, roots: Sequence[Lot], *, source: str, reason: str, by: Person,
    used_in: Callable[[Sequence[Lot]], Sequence[str]], notice: str = "", meaning: str = RECALL,
    shown_hash: str = "", at: dt.datetime | None = None, once: str = "",
) -> Recall:  # fmt: skip
    """Call back these lots and all of the same boards, and hold every one of them.

    A lot that is used up is held as well, for boards of it may still come back. ``used_in`` names
    the burns that used the lots, by public id; burns stand above the store, so whoever calls
    brings it, and it is asked while the lots are locked. ``shown_hash`` is that of what was shown
    to whoever signs.
    """
    reason = text_within("reason", reason, 300)
    notice = text_within("notice", notice, 80, needed=False)
    refuse_if(source not in NoticeSource.values, "source", _("A supplier's notice or our own finding."))  # fmt: skip
    refuse_if(
        not roots or any(lot.site_id != site.pk for lot in roots),
        "lots",
        _("Name a lot or a docket of this ground."),
    )
    with door("stock.lot_recalled", by=by, site=site, at=at, why=reason, once=once) as entry:
        keys = family_of(lot.pk for lot in roots)
        list(LotBalance.objects.select_for_update(no_key=True).filter(lot__in=keys).order_by("lot"))
        lots = lots_of_family(site, roots)
        under = recalls_on(keys)
        if keys <= under.keys():
            raise WrongState(
                _("These lots are recalled already: {reference}.").format(
                    reference=next(iter(under.values())).reference
                )
            )
        burns = sorted(used_in(lots))
        content = content_hash(lots, burns)
        if shown_hash and shown_hash != content:
            raise StaleVersion(_("Stock or burns changed since you opened this; read it again."))
        recall = Recall(
            site=site, source=source, notice=notice, reason=reason, recalled_at=entry.at,
            recalled_by=by,
        )  # fmt: skip
        recall.save()
        RecalledLot.objects.bulk_create(
            RecalledLot(recall=recall, lot=lot, on_hand=lot.balance.on_hand, bay=lot.balance.bay)
            for lot in lots
        )
        _hold(lots, recall)
        entry.on(recall)
        signed(entry, meaning=meaning, content_hash=content)
        entry.changed(
            source=source, notice=notice, burns=burns,
            lots={lot.code: lot.balance.on_hand for lot in lots},
        )  # fmt: skip
    return recall


def _hold(lots: Sequence[Any], recall: Recall) -> None:
    reason = _("Recall {reference}: {reason}").format(
        reference=recall.reference, reason=recall.reason
    )
    LotVerdict.objects.bulk_create(
        LotVerdict(
            lot=lot, verdict=Verdict.HELD, reason=reason[:300], decided_at=recall.recalled_at,
            decided_by=recall.recalled_by,
        )
        for lot in lots
    )  # fmt: skip


def lift_recall(
    recall: Recall, *, reason: str, by: Person, meaning: str = LIFT, shown_hash: str = "",
    at: dt.datetime | None = None, once: str = "",
) -> RecallLifted:  # fmt: skip
    """End a recall, not by whoever called it. Its lots stay held until each is accepted anew."""
    reason = text_within("reason", reason, 300)
    with door(
        "stock.recall_lifted", by=by, site=recall.site, on=recall, at=at, why=reason, once=once
    ) as entry:
        if by.pk == recall.recalled_by_id:
            raise OwnWork(_("You called this recall; someone else lifts it."))
        if RecallLifted.objects.filter(recall=recall).exists():
            raise WrongState(_("This recall was lifted before."))
        content = lifting_hash(recall)
        if shown_hash and shown_hash != content:
            raise StaleVersion(_("This is not the recall you were shown; read it again."))
        lifted = RecallLifted(recall=recall, reason=reason, lifted_at=entry.at, lifted_by=by)
        lifted.save()
        signed(entry, meaning=meaning, content_hash=content)
        entry.changed({"state": "standing"}, state="lifted")
    return lifted


def lifting_hash(recall: Recall) -> str:
    """What a signature under the end of a recall covers: the recall as it was called."""
    lots = sorted(recall.lots.values_list("lot__public_id", flat=True))
    text = json.dumps([recall.public_id, recall.reason, lots], separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def refuse_recalled(lot: Lot) -> None:
    """Nobody accepts a lot while a recall stands on it."""
    for recall in recalls_on([lot.pk]).values():
        raise WrongState(
            _("Lot {lot} is under recall {reference}; it stays held until that is lifted.").format(
                lot=lot.code, reference=recall.reference
            )
        )


# Reading


def recalls_on(lots: Iterable[int]) -> dict[int, Recall]:
    """The standing recall on each of these lots, by the lot's key."""
    rows = RecalledLot.objects.filter(lot__in=list(lots), recall__lifted__isnull=True)
    return {row.lot_id: row.recall for row in rows.select_related("recall")}


def standing_recalls(site: Site) -> QuerySet[Recall]:
    return recalls_of(site).filter(lifted__isnull=True)


def recalls_of(site: Site) -> QuerySet[Recall]:
    return Recall.objects.filter(site=site).select_related("recalled_by__details", "lifted__lifted_by__details").prefetch_related("lots__lot__product")  # fmt: skip


def recall_here(site: Site, public_id: str) -> Recall:
    found: Recall | None = recalls_of(site).filter(public_id=public_id).first()
    if found is None:
        raise NotHere(f"No recall {public_id} on this ground.")
    return found


def lots_recalled(recall: Recall) -> list[RecalledLot]:
    rows = recall.lots.select_related(
        "lot__product", "lot__delivery__supplier", "lot__balance", "bay"
    )
    return list(rows.order_by("lot__delivery__delivered_at", "lot"))
