"""Lots that were made of other lots, by cutting or by splitting off. Behind an open door."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from django.utils.translation import gettext as _

from facility.guarded import door_is_open
from facility.people.models import Person
from facility.refusals import refuse_if, text_within
from facility.sites.models import Bay
from records.stock import selectors
from records.stock.models import Lot, LotBalance, LotVerdict, MoistureReading, Product, Verdict


def make_child(
    parent: Lot, *, code: str, product: Product, count: Decimal, bay: Bay | None,
    sheet_mass_kg: Decimal | None, by: Person, at: dt.datetime,
) -> Lot:  # fmt: skip
    """A lot made of another one, with its docket, its verdict and, until it is read, its moisture."""
    assert door_is_open()
    code = text_within("code", code, 20)
    refuse_if(
        Lot.objects.filter(site=parent.site, code__iexact=code).exists(),
        "code",
        _("Lot {code} is in the store already; a lot mark is used once.").format(code=code),
    )
    child = Lot(
        site=parent.site, delivery=parent.delivery, product=product, bay=bay, code=code,
        received=count, sheet_mass_kg=sheet_mass_kg, cut_from=parent, moisture_from=_read(parent),
    )  # fmt: skip
    child.save()
    read_at = LotBalance.objects.values_list("read_at", flat=True).get(lot=parent)
    LotBalance(lot=child, on_hand=0, bay=bay, read_at=read_at).save()
    _carry_verdict(parent, child, by, at)
    return child


def _read(parent: Lot) -> Lot:
    """Whose readings a child of this lot goes by: the lot's own, or those it goes by itself."""
    own = MoistureReading.objects.filter(lot=parent).exists()
    return parent if own or parent.moisture_from is None else parent.moisture_from


def _carry_verdict(parent: Lot, child: Lot, by: Person, at: dt.datetime) -> None:
    newest = parent.verdicts.order_by("-id").first()
    if newest is None:
        return
    LotVerdict(
        lot=child, verdict=newest.verdict,
        reason=_("carried over from lot {lot}").format(lot=parent.code),
        moisture_mean_pct=newest.moisture_mean_pct,
        moisture_highest_pct=newest.moisture_highest_pct, readings=newest.readings,
        decided_at=at, decided_by=by, confirms=newest.confirms,
    ).save()  # fmt: skip


def decide_children(
    parent: Lot, verdict: Verdict, reason: str, *, by: Person, at: dt.datetime
) -> list[str]:
    """Hold or reject everything that was made of a lot, however often it was cut; gives the marks."""
    assert door_is_open()
    marks = []
    for child in parent.pieces.select_for_update(no_key=True).order_by("pk"):
        if selectors.verdict_of(child) not in (verdict, Verdict.REJECTED):
            LotBalance.objects.select_for_update(no_key=True).get(
                lot=child
            )  # what leaves now is seen
            LotVerdict(
                lot=child, verdict=verdict, decided_at=at, decided_by=by,
                reason=_("carried over from lot {lot}: {reason}").format(
                    lot=parent.code, reason=reason
                )[:300],
            ).save()  # fmt: skip
            marks.append(child.code)
        marks += decide_children(child, verdict, reason, by=by, at=at)
    return marks
