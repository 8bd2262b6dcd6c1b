"""What the log costs a write, and how fast proofs and full checks are at a million entries.

The million stands in a SQLite file of its own,
written in bulk; a body is as long as that of an ordinary act, and every tenth has a text beside.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import io
import itertools
import os
import random
import re
import resource
import statistics
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.db import connection, transaction

from facility.people.models import Person, RoleHeld
from facility.sites.models import Bay
from records.audit import bodies, checker, door, heads, merkle, triggers
from records.audit.models import Entry, LogHead
from records.audit.verifying import tree_findings, verify
from tests.audit.logs import new_log, sqlite_file

MANY = int(os.environ.get("CHARLINE_LOG_ENTRIES", 10**6))
WRITES, PROOFS = 300, 300
START = dt.datetime(2026, 2, 4, 8, 0, tzinfo=dt.UTC)

type Row = tuple[str, float, str]


def timed(work: Callable[[], Any]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def percentiles_ms(work: Callable[[], Any], runs: int) -> tuple[float, float]:
    """Median and 95th percentile [ms]."""
    times = sorted(1000 * timed(work) for _run in range(runs))
    return statistics.median(times), times[int(0.95 * runs)]


@contextmanager
def replaced(module: Any, name: str, stand_in: Callable[..., Any]) -> Iterator[None]:
    """To leave a part out and see what it costs."""
    kept = getattr(module, name)
    setattr(module, name, stand_in)
    try:
        yield
    finally:
        setattr(module, name, kept)


def write_rows() -> list[Row]:
    """An ordinary act of one row, with a reason, with and without its entry.

    Without is the door with all but the log: role check, transaction, guard. Both by turns; time
    of the processor as well, for waiting times mean little on a machine with other work.
    """
    held = RoleHeld.objects.filter(role="admin").first()
    assert held is not None
    site, admin = held.site, Person.objects.get(pk=held.person_id)
    names = itertools.count(Bay.objects.count())

    def add_bay() -> None:
        with door.door("ground.bay_added", by=admin, site=site, why="more room") as entry:
            bay = Bay(site=site, name=f"Bench {next(names)}")
            bay.save()
            entry.on(bay)
            entry.changed(name=bay.name)

    logged, bare = [], []
    for _run in range(WRITES):
        logged.append(both_clocks_ms(add_bay))
        with replaced(door, "_append", lambda *given, **named: None):
            bare.append(both_clocks_ms(add_bay))
    with_log, without = (
        [statistics.median(each) for each in zip(*runs, strict=True)] for runs in (logged, bare)
    )
    return [
        ("a write with its entry in the log, p50", with_log[0], "ms"),
        ("the same without the log, p50", without[0], "ms"),
        ("what the log adds, p50", with_log[0] - without[0], "ms"),
        ("what the log adds, time of the processor, p50", with_log[1] - without[1], "ms"),
    ]


def both_clocks_ms(work: Callable[[], Any]) -> tuple[float, float]:
    """Time on the wall and time of the processor [ms]."""
    busy = time.process_time()
    wall = 1000 * timed(work)
    return wall, 1000 * (time.process_time() - busy)


def a_million() -> Iterator[tuple[tuple[Any, ...], str, bodies.Disclosure | None]]:
    """Columns, body and text of each entry; every body is the first one with other figures."""
    said = bodies.Said(
        at=START, site="wb32qrgqdz", actor="mtbkh379zy", role="instructor",
        act="plans.plan_drafted", obj="plan:2ecrg29fnx", before={},
        after={"hash": "HASH", "unit": "zpqzevwcre", "version": 1}, why="", once="",
    )  # fmt: skip
    first = bodies.write(said, uuid.UUID(int=0)).body
    pieces = re.split(
        f"HASH|{bodies.time_text(START)}|{uuid.UUID(int=0)}", first.removesuffix('""}')
    )
    for number in range(MANY):
        key, at = uuid.UUID(int=number), START + dt.timedelta(seconds=number)
        text, why = None, '""'
        if number % 10 == 0:
            text = bodies.Disclosure("why", number.to_bytes(16), '"typed"')
            why = f'{{"committed":"{bodies.commitment(text.salt, text.value)}"}}'
        told = (f"{number:064x}", bodies.time_text(at), str(key), f"{why}}}")
        body = "".join(itertools.chain.from_iterable(zip(pieces, told, strict=True)))
        columns = (key.hex, at.replace(tzinfo=None).isoformat(" "), said.site, said.actor,
                   said.role, said.act, said.obj)  # fmt: skip
        yield columns, body, text


def build() -> None:
    """Entries, texts, tiles and head, past the models, which would take minutes."""
    triggers.drop_triggers(connection)
    tree = merkle.GrowingTree()
    for batch in itertools.batched(a_million(), 10_000):
        entries, texts, tiles = [], [], []
        for columns, body, text in batch:
            leaf = merkle.leaf_hash(body.encode())
            entries.append((tree.size, *columns, body, leaf))
            if text:
                texts.append((tree.size, text.place, text.salt, text.value))
            tiles += [(each.level, each.index, each.root, each.data) for each in tree.add(leaf)]
        insert("entry", "seq, entry_id, at, site, actor, role, act, obj, body, leaf", entries)
        insert("disclosed", "entry_id, place, salt, value", texts)
        insert("tile", 'level, "index", root, data', tiles)
    insert(
        "loghead", "id, size, frontier, check_failed, restore_unsigned",
        [(1, tree.size, b"".join(tree.peaks), False, False)],
    )  # fmt: skip
    triggers.make_triggers(connection)


def insert(table: str, columns: str, rows: list[tuple[Any, ...]]) -> None:
    places = ", ".join(["%s"] * (columns.count(",") + 1))
    with transaction.atomic(), connection.cursor() as cursor:
        cursor.executemany(f"INSERT INTO records_audit_{table} ({columns}) VALUES ({places})", rows)


def raw_rate() -> float:
    """Bodies hashed in a second by ``hashlib`` alone, one call each."""
    some = [text.encode() for text in Entry.objects.values_list("body", flat=True)[:100_000]]
    sha256 = hashlib.sha256
    return len(some) / timed(lambda: [sha256(text) for text in some])


def proof_rows() -> list[Row]:
    chance = random.Random(1)
    some = Entry.objects.in_bulk([chance.randrange(MANY) for _proof in range(PROOFS)])
    entries, sizes = iter([*some.values()] * 2), iter(chance.choices(range(1, MANY), k=PROOFS + 5))
    included = percentiles_ms(lambda: heads.inclusion(next(entries)), PROOFS)
    consistent = percentiles_ms(lambda: heads.consistency(next(sizes)), PROOFS)
    longest = max(len(heads.inclusion(entry).path) for entry in list(some.values())[:20])
    return [
        ("inclusion proof, p50", included[0], "ms"),
        ("inclusion proof, p95", included[1], "ms"),
        ("inclusion proof, hashes", longest, ""),
        ("consistency proof, p50", consistent[0], "ms"),
        ("consistency proof, p95", consistent[1], "ms"),
    ]


def held_mb() -> float:
    """Memory that this process holds now."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * resource.getpagesize() / 2**20


def check_rows(folder: Path) -> list[Row]:
    raw, before = raw_rate(), held_mb()
    findings: list[Any] = []
    rate = MANY / timed(lambda: findings.extend(verify()))
    assert findings == []
    held: list[float] = []
    verify(progress=lambda done, _size: held.append(held_mb()) if done % 65536 == 0 else None)
    more = max(held, default=before) - before
    head = LogHead.objects.get()
    tree_rate = MANY / timed(lambda: findings.extend(tree_findings(head, ())))
    assert findings == []
    log = folder / "log.jsonl"
    with contextlib.redirect_stdout(io.StringIO()):
        exported = timed(lambda: call_command("export_log", str(log)))
        checked = timed(lambda: checker.main([str(log), f"{log}.head.txt"]))
    return [
        ("raw hashlib, one call an entry", raw / 1000, "k/s"),
        ("full verification, entries", rate / 1000, "k/s"),
        ("full verification, share of raw hashlib", 100 * rate / raw, "%"),
        ("bodies and tree without columns and texts", tree_rate / 1000, "k/s"),
        ("the same, share of raw hashlib", 100 * tree_rate / raw, "%"),
        ("full verification, whole", MANY / rate, "s"),
        ("full verification, more memory while it runs", more, "MB"),
        ("export", exported, "s"),
        ("stand-alone checker on the export", checked, "s"),
    ]


def bench_rows() -> list[Row]:
    """Rows of (what, value, unit); the writes go to the demo ground."""
    rows = write_rows()
    with tempfile.TemporaryDirectory(prefix="charline-log-") as folder:
        path = Path(folder) / "db.sqlite3"
        with sqlite_file(path):
            new_log()
            took = timed(build)
            rows += [("a log written in bulk", took, "s"), ("its entries", MANY / 1000, "k")]
            rows += [("its file", path.stat().st_size / 2**20, "MB")]
            rows += proof_rows() + check_rows(Path(folder))
    return rows
