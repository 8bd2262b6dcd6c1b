"""Proposing a charge out of fifty lots, and the outlook over a million movements.

The movements are laid down as rows on a ground of their own, ten years of them over 20,000 lots
and five products. Beside the page stands the plain SQL that answers the same sums: net issues by
product and hour over three years, stock by verdict, and lines of plans ahead.
"""

from __future__ import annotations

import datetime as dt
import random
from decimal import Decimal
from typing import Any

from django.db import connection
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from facility.calc.charge import DRY_MASS, ENERGY, Cap, Limits, Stack, Wish, propose
from facility.guarded import opened
from facility.look.charts import svg
from records.reports.outlook import outlooks
from records.stock import use
from records.stock.models import Lot, LotBalance, LotVerdict, Movement, MovementKind
from records.stock.reordering import set_reorder
from tests import builders
from tests.benches.pages import median_ms, queries_of

LOTS, MOVEMENTS, YEARS = 20_000, 1_000_000, 10
PRODUCTS = 5


def fifty_lots() -> list[Stack]:
    chance = random.Random(5)
    kinds = {"P": (33, 560), "O": (21, 360), "W": (13, 230), "F": (8, 140)}
    stacks = []
    for number in range(50):
        product = chance.choice(list(kinds))
        mass, energy = kinds[product]
        day = dt.date(2026, 3, 1) + dt.timedelta(days=chance.randint(0, 200))
        stacks.append(
            Stack(f"{number}", f"L-{number}", product, day, chance.randint(1, 60),
                  mass * chance.uniform(0.95, 1.05), energy * chance.uniform(0.95, 1.05), 8)
        )  # fmt: skip
    return stacks


def _charge() -> Any:
    limits = Limits((Cap(ENERGY, 2000, "F-07"), Cap(DRY_MASS, 100, "Q-1")))
    return propose(fifty_lots(), limits, Wish(1600, 4, 10))


def laid_down(made: builders.Ground, lots: int, movements: int) -> None:
    """Lots, verdicts, balances and movements of ten years, by the thousand."""
    now = timezone.now()
    first = builders.accepted_lot(made, 40, at=now - dt.timedelta(days=3))
    products = [made.board] + [_copied(made.board, number) for number in range(1, PRODUCTS)]
    made_lots = Lot.objects.bulk_create(
        Lot(site=made.site, delivery=first.delivery, product=products[n % PRODUCTS],
            bay=made.bay, code=f"B{n}", received=50)
        for n in range(lots)
    )  # fmt: skip
    newest = made_lots[-200:]
    LotBalance.objects.bulk_create(LotBalance(lot=lot, on_hand=0) for lot in made_lots[:-200])
    LotBalance.objects.bulk_create(LotBalance(lot=lot, on_hand=12) for lot in newest)
    LotVerdict.objects.bulk_create(
        LotVerdict(lot=lot, verdict="accepted", decided_at=now, decided_by=made.stores)
        for lot in made_lots
    )
    kinds = [MovementKind.RECEIVE] + [MovementKind.ISSUE] * 8 + [MovementKind.RETURN]
    span = dt.timedelta(days=365 * YEARS) / movements
    for start in range(0, movements, 50_000):
        Movement.objects.bulk_create(
            [
                Movement(
                    lot=made_lots[n * lots // movements], kind=kinds[n % 10],
                    sign=-1 if kinds[n % 10] == MovementKind.ISSUE else 1, quantity=1 + n % 5,
                    plan="", happened_at=now - (movements - n) * span,
                    recorded_at=now, moved_by=made.stores,
                )
                for n in range(start, min(start + 50_000, movements))
            ]
        )  # fmt: skip
    for product in products:
        set_reorder(
            product, lead_days=Decimal(12), spread_days=Decimal(4), service_pct=Decimal(95),
            multiple=Decimal(20), lasts_days=Decimal(56), by=made.stores, at=now,
        )  # fmt: skip


def _copied(product: Any, number: int) -> Any:
    copy = type(product).objects.get(pk=product.pk)
    copy.pk, copy.public_id, copy.name = None, f"bench{number:05d}", f"Board {number}"
    copy.save()
    return copy


SUMS = (
    """SELECT l.product_id, substr(CAST(m.happened_at AS text), 1, 13), m.sign, SUM(m.quantity)
       FROM records_stock_movement m JOIN records_stock_lot l ON l.id = m.lot_id
       WHERE l.site_id = %(site)s AND m.happened_at >= %(since)s AND m.kind IN ('issue', 'return')
       AND m.id > %(after)s GROUP BY 1, 2, 3""",
    """SELECT l.product_id, (SELECT v.verdict FROM records_stock_lotverdict v
       WHERE v.lot_id = l.id ORDER BY v.id DESC LIMIT 1) AS word, SUM(b.on_hand)
       FROM records_stock_lot l JOIN records_stock_lotbalance b ON b.lot_id = l.id
       WHERE l.site_id = %(site)s AND b.on_hand > 0 GROUP BY 1, 2""",
    """SELECT c.product_id, v.starts_at, p.state, c.quantity FROM records_plans_chargeline c
       JOIN records_plans_planversion v ON v.id = c.version_id
       JOIN records_plans_plan p ON p.current_id = v.id
       WHERE p.site_id = %(site)s AND v.starts_at >= %(now)s""",
)


def _by_sql(site: int, after: int) -> Any:
    now = timezone.now()
    given = {"site": site, "now": now, "since": now - dt.timedelta(days=365 * 3), "after": after}
    with connection.cursor() as cursor:
        for sql in SUMS:
            cursor.execute(sql, given)
            cursor.fetchall()


def bench_rows(lots: int = LOTS, movements: int = MOVEMENTS) -> list[tuple[str, float, str]]:
    found: list[tuple[str, float, str]] = [
        ("charge proposed out of 50 lots", median_ms(_charge, 7), "ms")
    ]
    made = builders.found_ground("Bench ground", at=timezone.now())
    with opened():
        laid_down(made, lots, movements)
    site, now = made.site, timezone.now()
    client = Client(HTTP_HOST="localhost")
    client.force_login(made.instructor)
    page = reverse("reports:outlook")

    def afresh() -> None:
        use._kept.clear()
        outlooks(site, now)

    def drawn_anew() -> None:
        svg.cache_clear()
        client.get(page)

    newest = Movement.objects.order_by("-id").values_list("id", flat=True)[0]
    whole = median_ms(lambda: _by_sql(site.pk, 0), 3)
    recent = median_ms(lambda: _by_sql(site.pk, newest - use.UNSETTLED), 7)
    first = median_ms(afresh, 3)
    took = median_ms(lambda: client.get(page), 9)
    bare = median_ms(lambda: outlooks(site, now), 9)
    found += [
        (f"outlook page over {movements:,} movements", took,
         f"{queries_of(lambda: client.get(page))} queries; {took / recent:.1f} x SQL of the new"),
        ("  the sums and forecasts alone", bare, f"{bare / recent:.1f} x SQL of the new"),
        ("  its chart drawn anew", median_ms(drawn_anew, 7), "ms"),
        ("  the first one of a process", first, f"{first / whole:.1f} x SQL of three years"),
        ("  that SQL, three years", whole, "ms"),
    ]  # fmt: skip
    return found
