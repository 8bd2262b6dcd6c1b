"""How long the store lasts: demand of plans and season against what is there, product by product.

It stands above plans and stock because it reads both; it writes nothing.
"""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.utils.formats import date_format
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.forecast import (
    Ahead,
    Demand,
    Season,
    Supply,
    demand_ahead,
    lead_window,
    order_quantity,
    reorder_point,
    season_of,
    stock_ahead,
    together,
)
from facility.calc.working import Working
from facility.look.charts import EMBER, QUIET, STEEL, Chart, Curve, image
from facility.sites.models import Site
from records.plans.selectors import planned_use
from records.stock import use
from records.stock.models import Product, ReorderRule
from records.stock.reordering import rules_of
from records.stock.selectors import products_of

DAYS = 182  # looked ahead: half a year
DRAWN = 7  # days left over on the chart after the store runs dry, at least
SOON = 14  # days before which the day sheet speaks up: common practice, no source


@dataclass(frozen=True, slots=True)
class Planned:
    """What plans will take: approved, and those that are submitted or drafted."""

    approved: Decimal
    booked: Decimal


@dataclass(frozen=True, slots=True)
class Outlook:
    """One product: what there is, what is ahead, and when to order."""

    product: Product
    today: dt.date
    standing: use.Standing
    planned: Planned
    season: Season | None
    readying: use.Readying | None
    rule: ReorderRule | None
    demand: Demand
    ahead: Ahead  # of accepted and waiting boards together
    accepted_ahead: Ahead
    point: Working | None  # the reorder point on the day to order
    order: Working | None

    def day(self, number: int | None) -> dt.date | None:
        return None if number is None else self.today + dt.timedelta(days=number)

    @property
    def order_on(self) -> dt.date | None:
        return self.day(self.ahead.order_on)

    @property
    def dry_on(self) -> dt.date | None:
        return self.day(self.ahead.dry_on)

    @property
    def dry_earliest(self) -> dt.date | None:
        return self.day(self.ahead.dry_earliest)

    @property
    def dry_latest(self) -> dt.date | None:
        return self.day(self.ahead.dry_latest)

    @property
    def dry_without_waiting(self) -> dt.date | None:
        return self.day(self.accepted_ahead.dry_on)

    @property
    def is_due(self) -> bool:
        """Whether the day sheet speaks of it: order soon, or dry before an order can come."""
        soon = self.today + dt.timedelta(days=SOON)
        return self.order_on is not None and self.order_on <= soon

    @property
    def state(self) -> str:
        if self.rule is None:
            return "order_unset"
        if self.order_on is None:
            return "order_later"
        return (
            "order_now"
            if self.order_on <= self.today
            else "order_soon"
            if self.is_due
            else "order_later"
        )

    @property
    def quantity(self) -> float | None:
        return None if self.order is None else self.order.value()

    @property
    def sentence(self) -> str:
        """What to do, by when, and what happens otherwise."""
        if self.demand.total[-1] <= 0:
            return _("Nothing is planned and nothing was used: there is no demand to forecast.")
        return " ".join(filter(None, (self._ordering(), self._running_dry())))

    def _ordering(self) -> str:
        if self.rule is None:
            return _("Set the lead time, so that the day to order can be told.")
        if self.order is None or self.order_on is None:
            return _("No order is needed in the next {days} days.").format(days=DAYS)
        words = {
            "quantity": f"{self.quantity:g}",
            "what": self.counted,
            "day": shown(self.order_on),
        }
        if self.order_on <= self.today:
            return _("Order {quantity} {what} now.").format(**words)
        return _("Order {quantity} {what} by {day}.").format(**words)

    def _running_dry(self) -> str:
        if self.dry_on is None:
            return "" if self.dry_earliest is None else _(
                "Otherwise the store may run dry, at the earliest on {earliest}."
            ).format(earliest=shown(self.dry_earliest))  # fmt: skip
        if self.dry_on <= self.today:
            return _("The store is dry.")
        return _("Otherwise the store runs dry about {day}, at the earliest on {earliest}.").format(
            day=shown(self.dry_on), earliest=shown(self.dry_earliest or self.dry_on)
        )

    @property
    def counted(self) -> str:
        return self.product.counted_in or _("boards")

    @property
    def next_weeks(self) -> float:
        """Demand of the next four weeks."""
        return self.demand.between(0, 28)[0]

    @property
    def drawn(self) -> int:
        """Days on the chart: until the store is surely dry, within what is looked at."""
        last = self.ahead.dry_latest or DAYS
        return min(DAYS, max(56, last + DRAWN))

    @property
    def chart(self) -> SafeString:
        days = self.drawn + 1
        x = tuple(float(n) for n in range(days))
        bands = (
            tuple(map(float, line[:days]))
            for line in (self.ahead.middle, self.ahead.low, self.ahead.high)
        )
        middle, low, high = bands
        all_of_it = _("with those that wait") if self.standing.waiting else _("stock")
        curves = [Curve(x, middle, all_of_it, low, high, EMBER)]
        if self.standing.waiting:
            accepted = tuple(map(float, self.accepted_ahead.middle[:days]))
            curves.append(Curve(x, accepted, _("accepted only"), colour=STEEL))
        if self.ahead.level is not None:
            level = tuple(map(float, self.ahead.level[:days]))
            curves.append(Curve(x, level, _("reorder level"), colour=QUIET, dashed=True))
        marks = [
            (float(number), text)
            for number, text in ((self.ahead.order_on, _("order")), (self.ahead.dry_on, _("dry")))
            if number is not None and number < days
        ]
        chart = Chart(
            tuple(curves), "", self.counted, wide=7.4, tall=3.1, marks=tuple(marks),
            ticks=_ticks(self.today, days), from_zero=True,
        )  # fmt: skip
        return image(chart, _("Stock ahead with its band, 10 to 90 %, and the reorder level"))


def shown(day: dt.date) -> str:
    return date_format(day, "j F Y")


def _ticks(start: dt.date, days: int) -> tuple[tuple[float, str], ...]:
    """The first day and then every first of a month, or every other Monday on a short chart."""
    dates = [start + dt.timedelta(days=n) for n in range(days)]
    if days > 100:
        kept = [day for day in dates if day.day == 1]
    else:
        mondays = [day for day in dates if day.weekday() == 0]
        kept = mondays[:: 1 if days < 60 else 2]
    return tuple((float((day - start).days), date_format(day, "j M")) for day in kept)


def outlooks(
    site: Site,
    now: dt.datetime,
    *,
    only_ruled: bool = False,
    products: Iterable[Product] | None = None,
) -> list[Outlook]:
    """The outlook of every product, the most urgent first; in a constant number of queries.

    ``only_ruled`` leaves out products without a lead time, for the day sheet.
    """
    rules = rules_of(site)
    if only_ruled and not rules:
        return []
    today = now.astimezone(site.zone).date()
    standing, readying = use.standing_of(site), use.readying_of(site)
    weeks, plans = use.weekly_use(site, today), planned_use(site, now)
    found = [
        _outlook(
            product, today, standing.get(product.pk, use.Standing()), plans.get(product.pk, []),
            season_of(weeks.get(product.pk, {}), today), readying.get(product.pk),
            rules.get(product.pk), site,
        )
        for product in (products_of(site) if products is None else products)
        if not only_ruled or product.pk in rules
    ]  # fmt: skip
    last = today + dt.timedelta(days=9999)
    return sorted(
        found, key=lambda each: (each.order_on or last, each.dry_on or last, each.product.name)
    )


def _outlook(
    product: Product, today: dt.date, standing: use.Standing,
    plans: list[tuple[dt.datetime, bool, Decimal]], season: Season | None,
    readying: use.Readying | None, rule: ReorderRule | None, site: Site,
) -> Outlook:  # fmt: skip
    supply = _supply(rule, readying)
    beyond = math.ceil(supply.lead_time + supply.lasts) + 1 if supply else 0
    per_day: dict[dt.date, float] = defaultdict(float)
    for starts_at, _approved, quantity in plans:
        per_day[max(starts_at.astimezone(site.zone).date(), today)] += float(quantity)
    demand = demand_ahead(per_day, season, today, DAYS + beyond)
    on_hand = float(standing.accepted + standing.waiting)
    ahead = stock_ahead(on_hand, demand, supply, DAYS)
    point, order = _order(demand, supply, ahead, on_hand)
    return Outlook(
        product=product, today=today, standing=standing,
        planned=Planned(
            sum((q for _at, approved, q in plans if approved), Decimal(0)),
            sum((q for _at, approved, q in plans if not approved), Decimal(0)),
        ),
        season=season, readying=readying, rule=rule, demand=demand, ahead=ahead,
        accepted_ahead=stock_ahead(float(standing.accepted), demand, None, DAYS),
        point=point, order=order,
    )  # fmt: skip


def _supply(rule: ReorderRule | None, readying: use.Readying | None) -> Supply | None:
    """The typed lead time, and on top the days that lots of this product waited to be accepted."""
    if rule is None:
        return None
    wait, spread = (readying.days, readying.spread) if readying else (0.0, 0.0)
    return Supply(
        lead_time=round(float(rule.lead_days) + wait, 2),
        lead_time_spread=round(together((float(rule.spread_days), spread)), 2),
        service_level=float(rule.service_pct),
        multiple=float(rule.multiple),
        lasts=float(rule.lasts_days),
    )


def _order(
    demand: Demand, supply: Supply | None, ahead: Ahead, on_hand: float
) -> tuple[Working | None, Working | None]:
    """The workings of the reorder point and of the quantity, on the day to order."""
    if supply is None or ahead.order_on is None:
        return None, None
    day = ahead.order_on
    window = lead_window(demand, supply, day)
    point = reorder_point.of(**{name: round(value, 4) for name, value in window.items()})
    covered, _variance = demand.between(day, day + math.ceil(supply.lead_time + supply.lasts))
    order = order_quantity.of(
        demand_ahead=round(covered, 2),
        safety_stock=round(point.value("safety_stock"), 2),
        on_hand=round(float(max(on_hand - demand.total[day], 0.0)), 2),
        multiple=supply.multiple,
    )
    return point, order
