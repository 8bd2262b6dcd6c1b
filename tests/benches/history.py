"""The history of a unit of twenty years: its pages, and its document of about a hundred pages.

``python -m tests.benches.history [FOLDER]`` builds the unit on a database of its own, prints the
rows and leaves the document in the folder. The unit is put straight into the tables, for telling
4,000 burns through the services would take half an hour; no entry of the log stands behind it.
"""

from __future__ import annotations

import datetime as dt
import itertools
import multiprocessing
import os
import random
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from decimal import Decimal
from pathlib import Path
from typing import Any

BURNS = int(os.environ.get("CHARLINE_OLD_BURNS", 4000))
INSPECTIONS, YEARS = 400, 20
DAY = dt.timedelta(days=1)
type Row = tuple[str, float, str]


def old_unit() -> tuple[Any, Any]:
    """A ground and its unit with twenty years of records."""
    from django.utils import timezone

    from facility.guarded import opened
    from tests import builders

    now = timezone.now().replace(microsecond=0)
    ground = builders.found_ground("Old ground", at=now - 2 * DAY)
    lots = [builders.accepted_lot(ground, 40, at=now - 2 * DAY) for _lot in range(4)]
    with opened():
        _age(ground, now)
        _burns(ground, lots, now)
        _inspections(ground, now)
    return ground, ground.unit


def _age(ground: Any, now: dt.datetime) -> None:
    unit = ground.unit
    unit.commissioned_on = now.date() - YEARS * dt.timedelta(days=365)
    unit.required_wall_mm = Decimal("1.20")
    unit.save()


def _times(now: dt.datetime, count: int) -> list[dt.datetime]:
    step = (YEARS * dt.timedelta(days=365) - 3 * DAY) / count
    return [now - 3 * DAY - step * place for place in reversed(range(count))]


def _burns(ground: Any, lots: list[Any], now: dt.datetime) -> None:
    from records.burns.models import Attendance, Burn, BurnFuel, BurnReport
    from records.ground.models import UnitUse
    from records.inspections.models import Inspection
    from records.plans.models import Approval, Finding, Plan, PlanVersion

    chance, unit, site = random.Random(7), ground.unit, ground.site
    times = _times(now, BURNS)

    def made(model: Any, rows: Any) -> list[Any]:
        return list(model.objects.bulk_create(list(rows), batch_size=500))

    plans = made(Plan, (Plan(site=site, state="burned") for _time in times))
    versions = made(PlanVersion, (
        PlanVersion(plan=plan, number=1, written_by=ground.instructor, written_at=at - 3 * DAY,
                    content_hash=f"{place:064x}", unit=unit, exercise="demonstration", starts_at=at,
                    ends_at=at + DAY / 32, water_l=12000, objective="growth", abort_criteria="stop")
        for place, (plan, at) in enumerate(zip(plans, times, strict=True))
    ))  # fmt: skip
    for plan, version in zip(plans, versions, strict=True):
        plan.current = version
    Plan.objects.bulk_update(plans, ["current"], batch_size=500)
    made(Approval, (
        Approval(version=version, approved=True, meaning="approval to burn as planned",
                 content_hash=version.content_hash, edition=ground.edition,
                 signed_by=ground.manager, signed_at=version.starts_at - 2 * DAY)
        for version in versions
    ))  # fmt: skip
    made(Finding, (
        Finding(version=version, stage="ignite", edition=ground.edition, judged_at=version.starts_at,
                code="F-15", title="Moisture of the wettest lot", verdict="near", severity="block",
                measured="11.6 %", allowed="at most 12 %", margin="0.4 %", clause="test standard",
                sentence="Moisture of the wettest lot: 11.6 %, at most 12 %")
        for place, version in enumerate(versions) if place % 9 == 0
    ))  # fmt: skip
    looks = made(Inspection, (
        Inspection(unit=unit, kind="pre_burn", outcome="good", done_at=at - DAY / 48,
                   recorded_at=at, done_by=ground.instructor)
        for at in times
    ))  # fmt: skip
    burns = made(Burn, (
        Burn(site=site, unit=unit, version=version, state="closed", nth_of_day=place % 2 + 1,
             ignited_at=at, ignition_method="burner", weather="dry, calm",
             started_by=ground.instructor, pre_check=look)
        for place, (version, at, look) in enumerate(zip(versions, times, looks, strict=True))
    ))  # fmt: skip
    reports = made(BurnReport, (
        BurnReport(burn=burn, number=number, ended_at=burn.ignited_at + DAY / 48,
                   why="one board was still in the store" if number > 1 else "",
                   dry_mass_kg=Decimal(75), energy_mj=Decimal("1312.5"),
                   written_by=ground.instructor, written_at=burn.ignited_at + DAY / 24)
        for place, burn in enumerate(burns) for number in ((1, 2) if place % 40 == 0 else (1,))
    ))  # fmt: skip
    newest = {report.burn_id: report for report in reports}
    for burn in burns:
        burn.current = newest[burn.pk]
    Burn.objects.bulk_update(burns, ["current"], batch_size=500)
    made(BurnFuel, (
        BurnFuel(report=report, lot=lot, used=Decimal(count))
        for report in reports for lot, count in zip(chance.sample(lots, 2), (2, 1), strict=True)
    ))  # fmt: skip
    crew = [(ground.instructor, "in_charge"), (ground.instructor_two, "crew"),
            (ground.safety, "safety"), *((person, "learner") for person in ground.learners[:5])]  # fmt: skip
    made(Attendance, (
        Attendance(burn=burn, person=person, duty=duty) for burn in burns for person, duty in crew
    ))  # fmt: skip
    made(UnitUse, (
        UnitUse(unit=unit, burn=burn.public_id, ignited_at=burn.ignited_at,
                ended_at=burn.ignited_at + DAY / 48, burns=1, dry_mass_kg=Decimal(75),
                energy_mj=Decimal("1312.5"), recorded_at=burn.ignited_at + DAY / 24)
        for burn in burns
    ))  # fmt: skip


def _inspections(ground: Any, now: dt.datetime) -> None:
    from records.inspections.models import Defect, Inspection, Release, Repair, ThicknessReading

    chance, unit = random.Random(8), ground.unit
    times = _times(now, INSPECTIONS)
    looks = Inspection.objects.bulk_create([
        Inspection(unit=unit, kind="structural", outcome="monitor" if place % 5 == 0 else "good",
                   done_at=at, recorded_at=at, done_by=ground.inspector,
                   note="lining opened, wall dry behind it" if place % 3 == 0 else "")
        for place, at in enumerate(times)
    ])  # fmt: skip
    losses = {"W1": 0.035, "W2": 0.022, "W3": 0.015, "R1": 0.026}  # mm a year
    ThicknessReading.objects.bulk_create([
        ThicknessReading(
            inspection=look, point=point,
            thickness_mm=Decimal(
                f"{2 - loss * YEARS * place / INSPECTIONS + chance.uniform(-0.01, 0.01):.2f}"
            ),
        )
        for place, look in enumerate(looks) for point, loss in losses.items()
    ])  # fmt: skip
    severities = itertools.cycle(("unsafe", "monitor", "restricts", "monitor"))
    for place in range(0, INSPECTIONS, 7):
        at = times[place]
        defect = Defect(unit=unit, severity=next(severities), place="door, lower hinge",
                        description="hinge pulled out of the frame, door jams when hot",
                        found_at=at, recorded_at=at, found_by=ground.inspector)  # fmt: skip
        defect.save()
        mended = at + chance.randint(2, 40) * DAY
        if mended < now:
            Repair(defect=defect, what="new hinge, frame plated and welded", done_at=mended,
                   recorded_at=mended, done_by=ground.inspector_two,
                   recorded_by=ground.inspector_two).save()  # fmt: skip
            Release(defect=defect, statement="seen closed and hot, sound", recorded_at=mended,
                    released_at=mended + DAY / 24, released_by=ground.inspector).save()  # fmt: skip


def page_rows(ground: Any, unit: Any) -> list[Row]:
    """Server time and queries of the pages, of its last year and of its whole life."""
    from django.db import connection
    from django.test import Client
    from django.test.utils import CaptureQueriesContext
    from django.urls import reverse

    client = Client(HTTP_HOST="localhost")
    client.force_login(ground.manager)
    history = reverse("reports:unit_history", args=[unit.public_id])
    life = {"start": unit.commissioned_on.isoformat()}
    pages = {
        "history page, last year": (history, {}),
        "history page, twenty years": (history, life),
        "history page, twenty years, page 80": (history, {**life, "page": "80"}),
        "unit page": (reverse("inspections:unit", args=[unit.public_id]), {}),
        "service calendar, week": (reverse("reports:calendar"), {}),
        "service calendar, month": (reverse("reports:calendar"), {"view": "month"}),
    }
    rows: list[Row] = []
    for name, (address, given) in pages.items():
        took = []
        for _run in range(14):
            start = time.perf_counter()
            answer = client.get(address, given)
            took.append(1000 * (time.perf_counter() - start))
            assert answer.status_code == 200
        with CaptureQueriesContext(connection) as captured:
            client.get(address, given)
        first, rest = took[0], statistics.median(took[3:])
        rows.append((f"{name}: {len(captured)} queries, first time {first:.0f} ms", rest, "ms"))
    return rows


def _peak_mb(process: str = "self") -> float:
    """Most memory that a process ever held. Not ``ru_maxrss``: that of a process begins with what
    its parent held when it was started."""
    try:
        told = Path(f"/proc/{process}/status").read_text()
    except FileNotFoundError:  # it has ended
        return 0.0
    found = [line.split()[1] for line in told.splitlines() if line.startswith("VmHWM")]
    return int(found[0]) / 1024 if found else 0.0


def _children() -> list[str]:
    return Path(f"/proc/self/task/{os.getpid()}/children").read_text().split()


def _in_one_go(html: str) -> tuple[float, float, int, float]:
    """WeasyPrint's own time and memory for the whole as one document, in a process of its own."""
    from records.reports.pdf import printed

    start, busy = time.perf_counter(), time.process_time()
    made = printed(html)
    took = time.perf_counter() - start, time.process_time() - busy
    return (*took, made.pages, _peak_mb())


def _fresh[Answer](work: Callable[..., Answer], *given: Any) -> Answer:
    """What a piece of work answers that has a process of its own."""
    with ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        return pool.submit(work, *given).result()


def _in_pieces(ground: str, paper: str) -> tuple[bytes, list[Row]]:
    """The document as the worker makes it, in a process that has done nothing else."""
    import django

    django.setup()
    from django.utils import timezone

    from facility.sites.models import Site
    from records.reports import long_history as making
    from records.reports.papers import paper_here

    steps: list[float] = []
    held: list[float] = [0.0]

    def tell(_done: int, _of: int) -> None:
        steps.append(time.perf_counter())
        held.extend(_peak_mb(child) for child in _children())

    asked = paper_here(Site.objects.get(public_id=ground), paper)
    start, busy = time.perf_counter(), time.process_time()
    made = making.history_in_pieces(asked, timezone.now(), tell=tell)
    took, own = time.perf_counter() - start, time.process_time() - busy
    children = resource.getrusage(resource.RUSAGE_CHILDREN)
    rows: list[Row] = [
        ("pages", made.pages, ""),
        ("size of the document", len(made.document) / 2**20, "MB"),
        ("in pieces, two processes", took, "s"),
        ("of the processors, all processes together",
         own + children.ru_utime + children.ru_stime, "s"),
        ("longest wait between two signs of life",
         max(b - a for a, b in itertools.pairwise(steps)), "s"),
        ("most memory of a process that lays out", max(held), "MB"),
        ("most memory of the worker itself", _peak_mb(), "MB"),
    ]  # fmt: skip
    return made.document, rows


def document_rows(ground: Any, unit: Any, folder: Path | None = None) -> list[Row]:
    """The document in pieces, and the same HTML in one go."""
    from django.template.loader import render_to_string
    from django.utils import timezone

    from records.reports import long_history as making
    from records.reports.papers import paper_here
    from records.reports.services import ask_for_history

    asked = ask_for_history(
        unit, unit.commissioned_on, timezone.now().date(), size="a4", by=ground.manager
    )
    paper, now = paper_here(ground.site, asked.public_id), timezone.now()
    document, rows = _fresh(_in_pieces, ground.site.public_id, paper.public_id)
    if folder:
        (folder / "history.pdf").write_bytes(document)
    took, busy = rows[2][1], rows[3][1]
    unit = making.unit_here(ground.site, unit.public_id)
    head = making.head_now()
    context = {
        **making.in_one_go(unit, paper.start, paper.end, now), "paper": "A4", "head": head,
        "head_at": "now", "head_qr": making.qr_code(head), "printed_at": now,
        "printed_by": ground.manager,
    }  # fmt: skip
    html = render_to_string(making.DOCUMENT, context)
    whole, whole_busy, pages, peak = _fresh(_in_one_go, html)
    return [
        *rows,
        (f"WeasyPrint, the same in one go, {pages} pages", whole, "s"),
        ("of the processor", whole_busy, "s"),
        ("memory of it", peak, "MB"),
        ("in pieces / in one go, time", took / whole, "x"),
        ("in pieces / in one go, time of the processors", busy / whole_busy, "x"),
    ]


def bench_rows(folder: Path | None = None) -> list[Row]:
    """Rows of (what, value, unit)."""
    start = time.perf_counter()
    ground, unit = old_unit()
    built = time.perf_counter() - start
    what = f"building {BURNS} burns and {INSPECTIONS} inspections in the tables"
    return [(what, built, "s"), *page_rows(ground, unit), *document_rows(ground, unit, folder)]


def main() -> None:
    os.environ["DJANGO_SETTINGS_MODULE"] = "tests.settings"
    os.environ["CHARLINE_DATA"] = tempfile.mkdtemp(prefix="charline-bench-")
    import django

    django.setup()
    from django.core.management import call_command

    call_command("migrate", run_syncdb=True, verbosity=0)
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    for what, value, unit in bench_rows(folder):
        print(f"{what:70} {value:9.2f} {unit}")


if __name__ == "__main__":
    main()
