"""What stands on the day sheet when the demo is opened: work for each role."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

from facility.kinds import Duty
from records.demo.days import has_day, look_round
from records.demo.dockets import drawn_docket
from records.demo.logged import fit_units
from records.demo.seasons import Teller, current_version
from records.pictures.reading import read_photograph
from records.plans import services as plans
from records.plans.content import Place, PlanContent
from records.reports.tracing import burns_with
from records.stock import receiving
from records.stock import services as stock
from records.stock.models import Lot
from records.stock.recalling import recall_lots
from records.stock.selectors import lots_of


def tell_today(teller: Teller, now: dt.datetime) -> None:
    """A plan ready to burn, one waiting for approval, one over its cap, one waiting for the store."""
    setting = teller.setting
    day = now.astimezone(setting.site.zone).date()
    teller.restock(day - dt.timedelta(days=1))
    newest = teller.deliver("osb", Decimal(50), day - dt.timedelta(days=1), mean=9.1, accept=False)
    _look_at_it(teller, newest, teller.local(day - dt.timedelta(days=1), 8, 30))
    teller.log_air(day - dt.timedelta(days=1))
    _wet_lot(teller, day)
    unit1, unit2, unit3 = setting.units
    soon = _next_half_hour(now)
    before = now - dt.timedelta(days=1, hours=4)
    ready = teller.content(unit2, 1, soon)
    ready = _led_by(teller, ready, "instructor")
    plan = teller.planned(ready, before)
    teller.issue(plan, now - dt.timedelta(minutes=40))
    if has_day(plan, soon):
        lead = ready.people_in(Duty.IN_CHARGE)[0]
        look_round(plan, current_version(plan), by=lead, at=now - dt.timedelta(minutes=15))
    tomorrow = teller.local(day + dt.timedelta(days=1), 9, 30)
    teller.planned(_led_by(teller, teller.content(unit1, 1, tomorrow), "instructor2"), before)
    second = teller.content(unit1, 2, tomorrow + dt.timedelta(hours=2))
    waiting = plans.draft_plan(
        setting.site, _led_by(teller, second, "instructor"), by=setting.people["instructor"],
        at=now - dt.timedelta(hours=3),
    )  # fmt: skip
    plans.submit_plan(
        waiting, seen_hash=current_version(waiting).content_hash, by=setting.people["instructor"],
        at=now - dt.timedelta(hours=2),
    )  # fmt: skip
    later = teller.local(day + dt.timedelta(days=2), 10)
    heavy = _led_by(teller, teller.content(unit3, 1, later, extra=2), "instructor")
    plans.draft_plan(
        setting.site, heavy, by=setting.people["instructor"], at=now - dt.timedelta(hours=1)
    )
    fit_units(setting, now - dt.timedelta(hours=2))
    _recall(teller, now)


def _recall(teller: Teller, now: dt.datetime) -> None:
    """The supplier calls back the oldest lot, long since burned: who was there is what is asked."""
    setting = teller.setting
    used_up = [lot for lot in lots_of(setting.site) if not lot.balance.on_hand]
    if used_up:
        recall_lots(
            setting.site, used_up[-1:], source="supplier", notice="Q-118", used_in=burns_with,
            reason="Supplier's letter: the adhesive of that press run gave off more than class E1 allows",
            by=setting.people["manager2"], at=now - dt.timedelta(minutes=50),
        )  # fmt: skip


def _look_at_it(teller: Teller, lot: Lot, at: dt.datetime) -> None:
    """Its docket is photographed, and two more sheets are measured and weighed."""
    by, product = teller.setting.people["stores"], lot.product
    receiving.photograph_docket(lot.delivery, read_photograph(drawn_docket(lot)), by=by, at=at)
    for more in ("0.2", "-0.3"):
        sheet = receiving.MeasuredSheet(
            Decimal("2.441"), Decimal("1.219"), product.thickness_mm or Decimal(12),
            (lot.sheet_mass_kg or Decimal(22)) + Decimal(more),
        )  # fmt: skip
        receiving.weigh_sheet(lot, sheet, by=by, at=at)


def _wet_lot(teller: Teller, day: dt.date) -> None:
    """Plywood that came wet, is held and dries in its bay: two rounds tell how fast."""
    wet = teller.deliver(
        "plywood", Decimal(30), day - dt.timedelta(days=17), mean=18.4, accept=False
    )
    stock.hold_lot(
        wet, reason="Wrapping torn on the lorry, mean over 18 %",
        by=teller.setting.people["stores"], at=teller.local(day - dt.timedelta(days=17), 9),
    )  # fmt: skip
    teller.read(wet, 15.6, teller.local(day - dt.timedelta(days=2), 8))


def _next_half_hour(now: dt.datetime) -> dt.datetime:
    ahead = now + dt.timedelta(minutes=60)
    return ahead.replace(minute=30 if ahead.minute >= 30 else 0, second=0, microsecond=0)


def _led_by(teller: Teller, content: PlanContent, sign_in: str) -> PlanContent:
    """The same plan with a named instructor in charge; whoever held the duty swaps places."""
    lead = teller.setting.people[sign_in]
    old = content.people_in(Duty.IN_CHARGE)[0]
    swap = {lead.pk: old, old.pk: lead}
    crew = tuple(
        Place(swap.get(place.person.pk, place.person), place.duty) for place in content.crew
    )
    return replace(content, crew=crew)
