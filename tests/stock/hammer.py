"""Sixteen processes issue from one lot at the same moment. Run as a program; prints JSON.

Needs CHARLINE_DATA (SQLite) or DATABASE_URL (PostgreSQL) to name an empty database.
"""

from __future__ import annotations

import json
import multiprocessing
import os
from collections import Counter
from decimal import Decimal

os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"

import django

django.setup()

import datetime as dt  # noqa: E402

from django.core.management import call_command  # noqa: E402
from django.db import connections  # noqa: E402

from facility.people.models import Person  # noqa: E402
from facility.refusals import StockNotAvailable  # noqa: E402
from records.audit.models import Entry, LogHead  # noqa: E402
from records.audit.verifying import verify  # noqa: E402
from records.plans import services as plans  # noqa: E402
from records.plans.models import Plan, PlanState  # noqa: E402
from records.plans.selectors import plan_here  # noqa: E402
from records.stock.models import Lot, LotBalance, Movement, MovementKind  # noqa: E402
from records.stock.selectors import sum_of_movements  # noqa: E402
from tests import builders  # noqa: E402

PROCESSES, PLANS_EACH, BOARDS_EACH, BOARDS = 16, 3, 2, 61


def build() -> list[str]:
    """One lot of 61 boards and 48 approved plans, each for two of them, each on its own day."""
    ground = builders.found_ground()
    lot = builders.accepted_lot(ground, BOARDS)
    asked = []
    for number in range(PROCESSES * PLANS_EACH):
        starts_at = builders.NOW + dt.timedelta(days=1 + number)
        whole = builders.content(ground, boards=BOARDS_EACH, starts_at=starts_at)
        asked.append(builders.approved(ground, whole).public_id)
    assert LotBalance.objects.get(lot=lot).on_hand == BOARDS
    return asked


def issue(keys: list[str]) -> list[str]:
    """One process: issue each of its plans; say what came of it."""
    outcomes = []
    lot, stores = Lot.objects.get(), Person.objects.get(sign_in="test-stores")
    for key in keys:
        plan = Plan.objects.get(public_id=key)
        line = plan_here(plan.site, key).version.charge.get()
        try:
            plans.issue_charge(
                plan, [plans.Handout(line, lot, Decimal(BOARDS_EACH))], by=stores, at=builders.NOW
            )
            outcomes.append("issued")
        except StockNotAvailable:
            outcomes.append("refused")
        except Exception as error:
            outcomes.append(f"{type(error).__name__}: {error}")
    connections.close_all()
    return outcomes


def main() -> None:
    call_command("migrate", verbosity=0)
    keys = build()
    connections.close_all()  # children must not share the parent's connection
    shares = [keys[number::PROCESSES] for number in range(PROCESSES)]
    with multiprocessing.get_context("fork").Pool(PROCESSES) as pool:
        outcomes = Counter(each for done in pool.map(issue, shares, chunksize=1) for each in done)
    lot = Lot.objects.get()
    out = Movement.objects.filter(lot=lot, kind=MovementKind.ISSUE).count()
    seqs = list(Entry.objects.order_by("seq").values_list("seq", flat=True))
    print(
        json.dumps(
            {
                "outcomes": outcomes,
                "on_hand": float(LotBalance.objects.get(lot=lot).on_hand),
                "sum_of_movements": float(sum_of_movements(lot)),
                "issues": out,
                "approved": Plan.objects.filter(state=PlanState.APPROVED).count(),
                "log_gapless": seqs == list(range(LogHead.objects.get().size)),
                "log_findings": [each.sentence for each in verify()],
            }
        )
    )


if __name__ == "__main__":
    main()
