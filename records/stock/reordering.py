"""How products are ordered: the verb that sets it, and reading it."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

from facility.people.models import Person
from facility.refusals import NotHere, number_between, plain_number
from facility.sites.models import Site
from records.audit.door import door
from records.stock.models import Product, ReorderRule
from records.stock.services import counted


def set_reorder(
    product: Product, *, lead_days: Decimal, spread_days: Decimal, service_pct: Decimal,
    multiple: Decimal, lasts_days: Decimal, by: Person, at: dt.datetime | None = None,
    once: str = "",
) -> ReorderRule:  # fmt: skip
    """Set how a product is ordered: the supplier's lead time with its spread, the service level,
    what an order is a multiple of, and how long one is to last."""
    number_between("lead_days", lead_days, 0, 365, "day")
    number_between("spread_days", spread_days, 0, 180, "day")
    number_between("service_pct", service_pct, 50, 99.9, "%")
    number_between("lasts_days", lasts_days, 1, 365, "day")
    counted("multiple", product, multiple)
    given = {
        "lead_days": lead_days, "spread_days": spread_days, "service_pct": service_pct,
        "multiple": multiple, "lasts_days": lasts_days,
    }  # fmt: skip
    with door("stock.reorder_set", by=by, site=product.site, on=product, at=at, once=once) as entry:
        before = rules_of(product.site).get(product.pk)
        rule = ReorderRule(product=product, **given, set_at=entry.at, set_by=by)
        rule.save()
        old = {name: getattr(before, name) for name in given} if before else {}
        entry.changed(old, **given)
    return rule


def rules_of(site: Site) -> dict[int, ReorderRule]:
    """The rule that counts for each product that has one, by the product's key."""
    rows = ReorderRule.objects.filter(product__site=site).order_by("id")
    return {row.product_id: row for row in rows}


def product_here(site: Site, public_id: str) -> Product:
    found = Product.objects.filter(site=site, public_id=public_id).select_related("site").first()
    if found is None:
        raise NotHere(f"No product {public_id} on this ground.")
    return found


def typed_again(rule: ReorderRule | None) -> dict[str, str]:
    """A rule as the starting values of its form; what stores usually set where there is none:
    common practice, no source."""
    if rule is None:
        return {"service_pct": "95", "lasts_days": "56"}
    names = ("lead_days", "spread_days", "service_pct", "multiple", "lasts_days")
    return {name: plain_number(getattr(rule, name)) for name in names}
