"""Server time and queries of the pages, on the demo ground; medians of one run.

The floor beside each list is the plain SQL that fetches the same fifty rows.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable
from typing import Any

from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from facility.people.models import Person
from facility.sites.models import Unit
from records.plans.models import Plan

LISTS = {
    "plans": ("plans:plans", "records_plans_plan"),
    "burns": ("burns:burns", "records_burns_burn"),
    "lots": ("stock:on_hand", "records_stock_lot"),
    "log": ("audit:log", "records_audit_entry"),
}


def median_ms(work: Callable[[], Any], runs: int = 15) -> float:
    for _warm_up in range(3):
        work()
    times = []
    for _run in range(runs):
        start = time.perf_counter()
        work()
        times.append((time.perf_counter() - start) * 1000)
    return statistics.median(times)


def queries_of(work: Callable[[], Any]) -> int:
    with CaptureQueriesContext(connection) as captured:
        work()
    return len(captured)


def _floor(table: str) -> Callable[[], Any]:
    def fetch() -> Any:
        with connection.cursor() as cursor:
            cursor.execute(f"SELECT * FROM {table} LIMIT 50")
            return cursor.fetchall()

    return fetch


def rows() -> list[tuple[str, float, str]]:
    """Name, median in milliseconds, and what is beside it."""
    client = Client(HTTP_HOST="localhost")
    client.force_login(Person.objects.get(sign_in="manager"))
    found = []
    for name, (view, table) in LISTS.items():
        address = reverse(view)
        took = median_ms(lambda address=address: client.get(address))
        floor = median_ms(_floor(table))
        first = queries_of(lambda address=address: client.get(address))
        second = queries_of(lambda address=address: client.get(address, {"page": 2}))
        found.append(
            (
                f"list of {name}",
                took,
                f"{first} queries, {second} on page 2; {took / floor:.0f} x SQL",
            )
        )
    unit = Unit.objects.order_by("name").first()
    assert unit is not None
    history = reverse("reports:unit_history", args=[unit.public_id])
    found.append(_page("history of a unit", lambda: client.get(history)))
    found.append(_page("day sheet", lambda: client.get(reverse("reports:day_sheet"))))
    plan = Plan.objects.filter(state="submitted").first()
    assert plan is not None
    found.append(
        _page("plan page", lambda: client.get(reverse("plans:plan", args=[plan.public_id])))
    )
    return found


def _page(name: str, work: Callable[[], Any]) -> tuple[str, float, str]:
    return (name, median_ms(work), f"{queries_of(work)} queries")
