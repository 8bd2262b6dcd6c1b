"""Sixteen processes reserve, issue and cut from one lot at the same moment. Run as a program; prints
JSON.

Needs CHARLINE_DATA (SQLite) or DATABASE_URL (PostgreSQL) to name an empty database.
"""

from __future__ import annotations

import json
import multiprocessing
import os
from collections import Counter
from collections.abc import Callable
from decimal import Decimal

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

import datetime as dt  # noqa: E402

from django.core.management import call_command  # noqa: E402
from django.db import connections  # noqa: E402
from django.db.models import Sum  # noqa: E402

from facility.people.models import Person  # noqa: E402
from facility.refusals import LimitExceeded, StockNotAvailable  # noqa: E402
from records.audit.models import Entry, LogHead  # noqa: E402
from records.audit.verifying import verify  # noqa: E402
from records.plans import services as plans  # noqa: E402
from records.plans.models import Plan  # noqa: E402
from records.plans.selectors import plan_here  # noqa: E402
from records.stock import cutting  # noqa: E402
from records.stock.models import (  # noqa: E402
    Lot,
    LotBalance,
    Movement,
    MovementKind,
    ProductStock,
)
from records.stock.selectors import sum_of_movements  # noqa: E402
from tests import builders  # noqa: E402

PROCESSES, PLANS_EACH, BOARDS_EACH, BOARDS = 16, 2, 2, 61
LOT = "L-1"  # the first lot of the builders


def build() -> list[str]:
    """One lot of 61 boards and 32 submitted plans, each for two of them, each on its own day."""
    ground = builders.found_ground()
    lot = builders.accepted_lot(ground, BOARDS, unit_cost=Decimal("3.33"))
    asked = []
    for number in range(PROCESSES * PLANS_EACH):
        starts_at = builders.NOW + dt.timedelta(days=1 + number)
        whole = builders.content(ground, boards=BOARDS_EACH, starts_at=starts_at)
        asked.append(builders.submitted(ground, whole).public_id)
    assert LotBalance.objects.get(lot=lot).on_hand == BOARDS
    return asked


def work(share: tuple[int, list[str]]) -> list[str]:
    """One process: every other one cuts a sheet; all approve and issue each of their plans. Says
    what came of it."""
    number, keys = share
    lot, stores = Lot.objects.get(code=LOT), Person.objects.get(sign_in="test-stores")
    outcomes = []
    if number % 2 == 0:
        pattern = cutting.Pattern(Decimal("1.2"), Decimal("0.45"), Decimal(5))
        outcomes.append(
            tried("cut", lambda: cutting.cut_sheets(
                lot, sheets=Decimal(1), pattern=pattern, code=f"P-{number}", keep_offcuts=False,
                by=stores, at=builders.NOW,
            ))
        )  # fmt: skip
    for key in keys:
        plan = Plan.objects.get(public_id=key)
        outcomes.append(tried("reserved", lambda plan=plan: approve(plan)))
        if outcomes[-1] == "reserved":
            line = plan_here(plan.site, key).version.charge.get()
            handout = plans.Handout(line, lot, Decimal(BOARDS_EACH))
            outcomes.append(
                tried("issued", lambda plan=plan, handout=handout: plans.issue_charge(
                    plan, [handout], by=stores, at=builders.NOW
                ))
            )  # fmt: skip
    connections.close_all()
    return outcomes


def approve(plan: Plan) -> None:
    manager = Person.objects.get(sign_in="test-manager")
    plans.approve_plan(
        plan, meaning="approval to burn as planned", shown_hash=builders.hash_of(plan), by=manager,
        at=builders.NOW,
    )  # fmt: skip


def tried(done: str, act: Callable[[], object]) -> str:
    try:
        act()
    except (StockNotAvailable, LimitExceeded):  # by the store, or by F-03 once no lot has enough
        return f"{done}: refused"
    except Exception as error:
        return f"{type(error).__name__}: {error}"
    return done


def main() -> None:
    call_command("migrate", run_syncdb=True, verbosity=0)
    keys = build()
    connections.close_all()  # children must not share the parent's connection
    shares = [(number, keys[number::PROCESSES]) for number in range(PROCESSES)]
    with multiprocessing.get_context("fork").Pool(PROCESSES) as pool:
        outcomes = Counter(each for done in pool.map(work, shares, chunksize=1) for each in done)
    lot = Lot.objects.get(code=LOT)
    balance = LotBalance.objects.get(lot=lot)
    stock = ProductStock.objects.get(product=lot.product)
    pieces = ProductStock.objects.exclude(product=lot.product).aggregate(value=Sum("value"))[
        "value"
    ]
    gone = Movement.objects.filter(kind=MovementKind.ISSUE).aggregate(value=Sum("value"))["value"]
    out = Movement.objects.filter(lot=lot, kind=MovementKind.ISSUE).count()
    seqs = list(Entry.objects.order_by("seq").values_list("seq", flat=True))
    print(
        json.dumps(
            {
                "outcomes": outcomes,
                "on_hand": float(balance.on_hand),
                "reserved": float(balance.reserved),
                "value": [float(each or 0) for each in (stock.value, pieces, gone)],
                "sum_of_movements": float(sum_of_movements(lot)),
                "issues": out,
                "log_gapless": seqs == list(range(LogHead.objects.get().size)),
                "log_findings": [each.sentence for each in verify()],
            }
        )
    )


if __name__ == "__main__":
    main()
