"""The store at 1,000,000 movements over 20,000 lots: pages, trace and import beside plain SQL.

The rows are made by the database itself, in a SQLite file of its own: dockets of four lots, every
tenth lot cut from the one before it; fifty movements and five readings a lot; as many burns as
lots, each with four lots and eight people. ``CHARLINE_STORE_LOTS`` makes it smaller.
"""

from __future__ import annotations

import datetime as dt
import os
import tempfile
import time
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from facility.guarded import opened
from facility.people.permissions import Role
from records.reports import tracing
from records.stock import files
from records.stock.models import Lot, LotBalance, MoistureReading, Movement
from tests import builders
from tests.audit.logs import sqlite_file
from tests.benches.pages import median_ms, queries_of
from tests.spoiled import csv_of

LOTS = int(os.environ.get("CHARLINE_STORE_LOTS", 20_000))
MOVES, READINGS, FUEL, PEOPLE = 50, 5, 4, 8
IMPORTED = 10_000
FIRST = 1_000_000  # keys of the rows made here begin above those of the services

type Row = tuple[str, float, str]

FILLERS = {
    "varchar": "''",
    "decimal": "0",
    "bool": "0",
    "datetime": "'2020-01-01 00:00:00'",
    "text": "''",
}


def rows() -> list[Row]:
    with tempfile.TemporaryDirectory(prefix="charline-store-") as folder:
        path = Path(folder) / "store.sqlite3"
        with sqlite_file(path):
            start = time.perf_counter()
            call_command("migrate", run_syncdb=True, verbosity=0)
            ground = builders.found_ground(at=timezone.now())
            fill_store(ground)
            built = time.perf_counter() - start
            return [
                (f"{LOTS * MOVES:,} movements over {LOTS:,} lots built", built, "s"),
                *_pages(ground), *_trace(ground), *_import(ground),
            ]  # fmt: skip


# --- the rows


def made(table: str, count: int, **given: str) -> None:
    """That many rows; ``given`` are SQL expressions of ``i``, from 0. What is needed and not given
    is filled with nothing."""
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA table_info({table})")
        columns = {name: (kind, needed) for _no, name, kind, needed, _d, _pk in cursor.fetchall()}
        values = {"id": f"{FIRST} + i", **given}
        for name, (kind, needed) in columns.items():
            if needed and name not in values:
                values[name] = FILLERS.get(kind.partition("(")[0], "0")
        assert set(values) <= set(columns), set(values) - set(columns)
        cursor.execute(
            f"INSERT INTO {table} ({', '.join(f'"{name}"' for name in values)}) "
            f"WITH RECURSIVE n(i) AS (SELECT 0 UNION ALL SELECT i + 1 FROM n WHERE i + 1 < {count}) "
            f"SELECT {', '.join(values.values())} FROM n"
        )


def at(hours: str) -> str:
    return f"datetime('2024-01-01', '+' || ({hours}) || ' hours')"


def fill_store(ground: builders.Ground) -> None:
    site, by, unit = ground.site.pk, ground.stores.pk, ground.unit.pk
    supplier = builders.deliver(ground, at=timezone.now()).delivery.supplier_id
    lot = f"{FIRST} + i"
    with transaction.atomic():
        made("records_stock_delivery", LOTS // 4 + 1, public_id="printf('%010d', i)", site_id=str(site),
             supplier_id=str(supplier), docket="'B-' || i", delivered_at=at("i"), recorded_at=at("i"),
             received_by_id=str(by), untreated="1")  # fmt: skip
        made("records_stock_lot", LOTS, public_id="printf('%010d', i)", site_id=str(site),
             delivery_id=f"{FIRST} + i / 4", product_id=str(ground.board.pk), bay_id=str(ground.bay.pk),
             code="'BL-' || i", received="100",
             cut_from_id=f"CASE WHEN i % 10 = 9 THEN {FIRST} + i - 1 END")  # fmt: skip
        made(
            "records_stock_lotbalance",
            LOTS,
            lot_id=lot,
            on_hand="CASE WHEN i % 10 < 7 THEN 0 ELSE 99 END",
        )
        made("records_stock_lotverdict", LOTS, lot_id=lot, verdict="CASE WHEN i % 20 = 19 THEN 'held' ELSE 'accepted' END",
             readings="5", decided_at=at("i / 4 + 1"), decided_by_id=str(by))  # fmt: skip
        made("records_stock_moisturereading", LOTS * READINGS, lot_id=f"{FIRST} + i / {READINGS}",
             moisture_pct="8 + i % 3", meter="'pin 1'", read_at=at(f"i / {READINGS * 4} + 1"),
             recorded_at=at(f"i / {READINGS * 4} + 1"), read_by_id=str(by))  # fmt: skip
        with connection.cursor() as cursor:
            cursor.execute("UPDATE records_stock_lotbalance SET read_at = (SELECT MAX(r.read_at) FROM "
                           "records_stock_moisturereading r WHERE r.lot_id = records_stock_lotbalance.lot_id)")  # fmt: skip
        step, of = f"(i % {MOVES})", f"(i / {MOVES})"
        last = f"{step} = {MOVES - 1} AND {of} % 10 < 7"
        made("records_stock_movement", LOTS * MOVES, lot_id=f"{FIRST} + {of}",
             kind=f"CASE WHEN {step} = 0 THEN 'receive' WHEN {last} THEN 'adjust_down' WHEN {step} % 2 THEN 'issue' ELSE 'return' END",
             sign=f"CASE WHEN {step} % 2 THEN -1 ELSE 1 END",
             quantity=f"CASE WHEN {step} = 0 OR {last} THEN 100 ELSE 1 END",
             plan=f"CASE WHEN {step} = 0 OR {last} THEN '' ELSE printf('%010d', ({of} + ({step} + 1) / 2) % {LOTS}) END",
             happened_at=at(f"{of} / 4 + {step}"), recorded_at=at(f"{of} / 4 + {step}"), moved_by_id=str(by))  # fmt: skip
        _burns(ground, site, by, unit)
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    whole = Movement.objects.filter(lot=FIRST + 7).count()
    assert whole == MOVES
    assert LotBalance.objects.get(lot=FIRST + 7).on_hand == 99


def _burns(ground: builders.Ground, site: int, by: int, unit: int) -> None:
    key, name = f"{FIRST} + i", "printf('%010d', i)"
    people = " ".join(f"WHEN {n} THEN {person.pk}" for n, person in enumerate([*ground.learners, ground.instructor]))  # fmt: skip
    made(
        "records_plans_plan",
        LOTS,
        public_id=name,
        site_id=str(site),
        state="'burned'",
        current_id=key,
    )
    made("records_plans_planversion", LOTS, plan_id=key, number="1", written_by_id=str(by), unit_id=str(unit),
         exercise="'demonstration'", starts_at=at("i"), ends_at=at("i + 1"))  # fmt: skip
    made("records_inspections_inspection", LOTS, public_id=name, unit_id=str(unit),
         done_at=at("i"), recorded_at=at("i"), **_who("records_inspections_inspection", by))  # fmt: skip
    made("records_burns_burn", LOTS, public_id=name, site_id=str(site), unit_id=str(unit), version_id=key,
         state="'closed'", nth_of_day="1", ignited_at=at("i"), started_by_id=str(by), pre_check_id=key,
         current_id=key)  # fmt: skip
    made("records_burns_burnreport", LOTS, burn_id=key, number="1", ended_at=at("i + 1"), written_by_id=str(by), written_at=at("i + 1"))  # fmt: skip
    made("records_burns_burnfuel", LOTS * FUEL, report_id=f"{FIRST} + i / {FUEL}", used="1",
         lot_id=f"{FIRST} + (i / {FUEL} + i % {FUEL} * 7) % {LOTS}")  # fmt: skip
    made("records_burns_attendance", LOTS * PEOPLE, burn_id=f"{FIRST} + i / {PEOPLE}", duty="'learner'",
         person_id=f"CASE i % {PEOPLE} {people} END")  # fmt: skip


def _who(table: str, by: int) -> dict[str, str]:
    """Columns that name a person, whatever they are called."""
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA foreign_key_list({table})")
        return {row[3]: str(by) for row in cursor.fetchall() if row[2] == "facility_people_person"}


# --- what is measured


def sql(text: str, *given: Any) -> Callable[[], Any]:
    def fetch() -> Any:
        with connection.cursor() as cursor:
            cursor.execute(text, given)
            return cursor.fetchall()

    return fetch


def beside(name: str, work: Callable[[], Any], floor: Callable[[], Any]) -> Row:
    took, least = median_ms(work, 9), median_ms(floor, 9)
    return (name, took, f"{queries_of(work)} queries; {took / least:.0f} x SQL ({least:.2f} ms)")


NEWEST = "(SELECT verdict FROM records_stock_lotverdict v WHERE v.lot_id = lot.id ORDER BY id DESC LIMIT 1)"
MEAN = "(SELECT AVG(moisture_pct) FROM records_stock_moisturereading r WHERE r.lot_id = lot.id)"
ON_HAND = f"""
WITH page AS (
    SELECT lot.id FROM records_stock_lot lot JOIN records_stock_delivery came ON came.id = lot.delivery_id
    WHERE lot.site_id = %s ORDER BY came.delivered_at DESC, lot.code LIMIT 50)
SELECT lot.code, b.on_hand, {NEWEST}, {MEAN} FROM page JOIN records_stock_lot lot ON lot.id = page.id
JOIN records_stock_lotbalance b ON b.lot_id = lot.id
"""
TOTALS = f"""
SELECT lot.product_id, {NEWEST} AS newest, SUM(b.on_hand) FROM records_stock_lotbalance b
JOIN records_stock_lot lot ON lot.id = b.lot_id WHERE b.on_hand > 0 AND lot.site_id = %s GROUP BY 1, 2
"""
ONE_LOT = """
SELECT m.happened_at, m.kind, m.sign, m.quantity, who.name FROM records_stock_movement m
LEFT JOIN facility_people_persondetails who ON who.person_id = m.moved_by_id
WHERE m.lot_id = %s ORDER BY m.happened_at, m.id
"""
TRACED = """
SELECT burn.public_id, fuel.lot_id, fuel.used, there.person_id FROM records_burns_burnfuel fuel
JOIN records_burns_burn burn ON burn.current_id = fuel.report_id
JOIN records_burns_attendance there ON there.burn_id = burn.id
WHERE fuel.used > 0 AND fuel.lot_id IN (SELECT id FROM records_stock_lot WHERE delivery_id = %s)
"""


def _pages(ground: builders.Ground) -> list[Row]:
    client = Client(HTTP_HOST="localhost")
    client.force_login(ground.stores)
    lot = Lot.objects.get(pk=FIRST + LOTS // 2)
    page, on_hand = reverse("stock:lot", args=[lot.public_id]), reverse("stock:on_hand")

    def both() -> Any:
        return sql(ON_HAND, ground.site.pk)(), sql(TOTALS, ground.site.pk)()

    return [
        beside("lot page", lambda: client.get(page), sql(ONE_LOT, lot.pk)),
        beside("on-hand list", lambda: client.get(on_hand), both),
        beside("on-hand list, last page", lambda: client.get(on_hand, {"page": LOTS // 50}), both),
        beside("on-hand list, held lots", lambda: client.get(on_hand, {"state": "held"}), both),
    ]  # fmt: skip


def _trace(ground: builders.Ground) -> list[Row]:
    client = Client(HTTP_HOST="localhost")
    client.force_login(ground.safety)
    builders.with_factor(ground.safety)
    docket = f"B-{LOTS // 8}"
    key = FIRST + LOTS // 8
    address = reverse("reports:trace")
    asks = tracing.Reader(ground.safety, frozenset({Role.SAFETY}))
    roots = tracing.named(ground.site, docket)

    def find() -> Any:
        return tracing.trace(ground.site, tracing.named(ground.site, docket), asks)

    found = find()
    assert {(each.burn.public_id, lot.pk) for each in found.burns for lot, _used in each.used} >= {
        (burn, lot) for burn, lot, _used, _person in sql(TRACED, key)()
    }
    assert roots
    return [
        beside("trace page of a docket", lambda: client.get(address, {"q": docket}), sql(TRACED, key)),
        beside("the trace alone", find, sql(TRACED, key)),
        ("burns traced", len(found.burns), ""),
    ]  # fmt: skip


def _import(ground: builders.Ground) -> list[Row]:
    told = []
    read_on = timezone.now().date() - dt.timedelta(days=2)
    for lots in (IMPORTED // 20, IMPORTED // READINGS):
        data = csv_of(*(
            {"lot": f"BL-{n % lots}", "moisture_pct": f"8.{n % 10}", "meter": ground.meter.name, "read_at": f"{read_on} 10:00"}
            for n in range(IMPORTED)
        ))  # fmt: skip
        start = time.perf_counter()
        judged = files.judge(ground.site, "readings", data, "readings.csv", now=timezone.now())
        read = time.perf_counter() - start
        assert not judged.faults, judged.faults[:3]
        steps = sum(1 for _done in files.taking(ground.site, judged, by=ground.stores))
        took = time.perf_counter() - start
        told += [
            (f"{IMPORTED:,} readings of {lots:,} lots read and judged", read, "s"),
            (f"{IMPORTED:,} readings of {lots:,} lots taken, {steps:,} entries", took, "s"),
        ]
    floor = _inserted(ground)
    return [*told, ("the same rows by one INSERT for all", floor, "s"), ("import against that", took / floor, "x")]  # fmt: skip


def _inserted(ground: builders.Ground) -> float:
    now = timezone.now()
    rows = [
        MoistureReading(lot_id=FIRST + n % 500, moisture_pct=Decimal("8.5"), meter="pin 1",
                        read_at=now, recorded_at=now, read_by=ground.stores)
        for n in range(IMPORTED)
    ]  # fmt: skip
    start = time.perf_counter()
    with opened(), transaction.atomic():
        MoistureReading.objects.bulk_create(rows)
    return time.perf_counter() - start
