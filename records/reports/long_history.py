"""The history of a unit as a document: in one go while it is short, else in pieces.

A piece is a year of the burn register, or some months of a year of very many burns: there a new
page is natural. Pieces are laid out by two processes side by side, so that none holds the whole;
everything is read before the head of the log is taken, which therefore covers all that is shown.
"""

from __future__ import annotations

import datetime as dt
import multiprocessing
import os
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, as_completed
from contextlib import contextmanager
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Any

from django.template.loader import render_to_string
from django.utils import timezone
from django.utils.formats import date_format
from django.utils.translation import gettext as _

from facility.sites.drawing import long_section
from facility.sites.models import Unit
from records.audit.heads import head_now
from records.audit.notes import HeadNote
from records.audit.qr import qr_code
from records.burns.models import Burn
from records.ground.selectors import unit_here
from records.inspections import selectors as inspections
from records.inspections.models import Inspection, InspectionKind
from records.reports.history import rows_between
from records.reports.life import life_of, period_of
from records.reports.models import Paper
from records.reports.pdf import PAPERS, Printed, joined, leave_signals, printed
from records.reports.selectors import HistoryRow

IN_REQUEST = 150  # rows that are printed while somebody waits: some ten pages
MOST_ROWS = 400  # of a piece
PROCESSES = 2
DOCUMENT = "reports/unit_history_pdf.html"


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of the document under one heading; ``kind`` names its template."""

    kind: str
    title: str
    rows: Sequence[HistoryRow] = ()
    corrections: Sequence[HistoryRow] = ()
    first_page: int = 0  # in the whole; 0 while nobody knows

    @property
    def template(self) -> str:
        return f"reports/history_{self.kind}_pdf.html"


def is_long(unit: Unit, start: dt.date, end: dt.date) -> bool:
    """Whether a history is too long for one answer."""
    period = period_of(unit, start, end)
    burns = Burn.objects.filter(
        unit=unit, ignited_at__gte=period.since, ignited_at__lt=period.until
    )
    looks = Inspection.objects.filter(
        unit=unit, kind=InspectionKind.STRUCTURAL, done_at__gte=period.since,
        done_at__lt=period.until,
    )  # fmt: skip
    return burns.count() + looks.count() > IN_REQUEST


def in_one_go(unit: Unit, start: dt.date, end: dt.date, now: dt.datetime) -> dict[str, Any]:
    """The context of a short history: all its parts in one document."""
    rows = rows_between(unit, start, end)
    burns = [row for row in rows if row.kind == "burn"]
    others = [row for row in rows if row.kind != "burn"]
    parts = [
        Part("front", _("Summary")),
        _others(others, burns),
        Part("register", _("Burns"), burns),
    ]
    return {**_context(unit, start, end, now), "parts": parts, "contents": []}


def _others(others: Sequence[HistoryRow], burns: Sequence[HistoryRow]) -> Part:
    return Part(
        "others",
        _("Inspections, defects, repairs, returns to service"),
        others,
        [row for row in burns if row.corrections],
    )


def _context(unit: Unit, start: dt.date, end: dt.date, now: dt.datetime) -> dict[str, Any]:
    return {
        "life": life_of(unit, period_of(unit, start, end), now),
        "unit": unit,
        "state": inspections.unit_state(unit, now),
        "walls": inspections.wall_lives(unit),
        "drawing": long_section(unit, printed=True),
        "landscape": True,
        "ground": unit.site,
    }


@dataclass(frozen=True, slots=True)
class Made:
    """A long document, its pages, and the head of the log that it carries."""

    document: bytes
    pages: int
    head: HeadNote


def history_in_pieces(
    paper: Paper, now: dt.datetime, *, tell: Callable[[int, int], None],
) -> Made:  # fmt: skip
    """Make the document that was asked for; ``tell`` hears how many pieces are done, of how many."""
    unit = unit_here(paper.site, paper.unit.public_id)
    tell(0, 0)
    parts = _parts(unit, paper.start, paper.end, lambda: tell(0, 0))
    head = head_now()
    context = {
        **_context(unit, paper.start, paper.end, now),
        "paper": PAPERS[paper.size], "in_pieces": True,
        "printed_at": timezone.now(), "printed_by": paper.asked_by,
        "head": head, "head_at": f"{head.at:%Y-%m-%d %H:%M:%S} UTC", "head_qr": qr_code(head),
    }  # fmt: skip
    press = _Press(context, tell, len(parts) + 2)
    tell(0, press.pieces)
    with _two_processes() as pool:
        body = press.print_all(pool, parts)
        front = press.print_front(pool, parts, body)
        pages = front.pages + sum(each.pages for each in body)
        foot, numbers = pool.map(printed, [press.stamp("foot", 1), press.stamp("numbers", pages)])
    title = _("History of {unit}, {start} to {end}").format(
        unit=unit, start=paper.start, end=paper.end
    )
    document = joined(
        [(_("Summary"), front.document),
         *((part.title, each.document) for part, each in zip(parts, body, strict=True))],
        foot=foot.document, numbers=numbers.document, title=title,
    )  # fmt: skip
    press.one_more()
    return Made(document, pages, head)


def _parts(unit: Unit, start: dt.date, end: dt.date, alive: Callable[[], None]) -> list[Part]:
    """Everything of the period, read year by year and cut into parts; the front is made last."""
    register: list[Part] = []
    corrected: list[HistoryRow] = []
    for first, last in period_of(unit, start, end).years():
        burns = rows_between(unit, first, last, others=False)
        corrected += [row for row in burns if row.corrections]
        register += _cut(burns, first.year)
        alive()
    others = replace(
        _others(rows_between(unit, start, end, burns=False), []), corrections=corrected
    )
    return [others, *register]


def _cut(burns: Sequence[HistoryRow], year: int) -> list[Part]:
    """One part for a year of burns; of very many, a part for every few months, never mid-month."""
    pieces: list[list[HistoryRow]] = []
    for _month, rows in groupby(burns, lambda row: timezone.localtime(row.when).month):
        month = list(rows)
        if pieces and len(pieces[-1]) + len(month) <= MOST_ROWS:
            pieces[-1] += month
        else:
            pieces.append(month)
    if len(pieces) == 1:
        return [Part("register", _("Burns in {year}").format(year=year), pieces[0])]
    return [Part("register", _spanned(rows), rows) for rows in pieces]


def _spanned(rows: Sequence[HistoryRow]) -> str:
    first, last = (timezone.localtime(row.when) for row in (rows[0], rows[-1]))
    return _("Burns from {first} to {last}").format(
        first=date_format(first, "F"), last=date_format(last, "F Y")
    )


@dataclass
class _Press:
    """Prints parts of one document and counts the pieces that are done."""

    context: dict[str, Any]
    tell: Callable[[int, int], None]
    pieces: int
    done: int = 0

    def one_more(self) -> None:
        self.done += 1
        self.tell(self.done, self.pieces)

    def html(self, parts: Sequence[Part], **more: Any) -> str:
        return render_to_string(DOCUMENT, {**self.context, "parts": parts, **more})

    def stamp(self, kind: str, pages: int) -> str:
        return render_to_string(
            "reports/stamp_pdf.html", {**self.context, "stamp": kind, "blanks": range(pages - 1)}
        )

    def print_all(self, pool: Executor, parts: Sequence[Part]) -> list[Printed]:
        """Every part but the front, in order; two are laid out at a time."""
        jobs = {pool.submit(printed, self.html([part])): place for place, part in enumerate(parts)}
        found: dict[int, Printed] = {}
        for job in as_completed(jobs):
            found[jobs[job]] = job.result()
            self.one_more()
        return [found[place] for place in range(len(parts))]

    def print_front(
        self, pool: Executor, parts: Sequence[Part], body: Sequence[Printed]
    ) -> Printed:
        """The summary with its contents: printed again while its own length moves the others."""
        before = 2
        while True:
            contents, page = [], before + 1
            for part, each in zip(parts, body, strict=True):
                contents.append(replace(part, rows=(), corrections=(), first_page=page))
                page += each.pages
            html = self.html([Part("front", _("Summary"))], contents=contents)
            front = pool.submit(printed, html).result()
            if front.pages == before:
                self.one_more()
                return front
            before = front.pages


@contextmanager
def _two_processes() -> Iterator[Executor]:
    """Processes that start afresh: none inherits a connection to the database, nor loads the apps.

    When the worker is to stop, what is not in hand yet is dropped.
    """
    count = max(1, min(PROCESSES, len(os.sched_getaffinity(0))))
    fresh = multiprocessing.get_context("spawn")
    pool = ProcessPoolExecutor(count, mp_context=fresh, initializer=leave_signals)
    try:
        yield pool
    finally:
        pool.shutdown(cancel_futures=True)
