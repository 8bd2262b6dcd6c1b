"""Papers in hand: what state each is in, and where its document lies.

A document is a file of the data folder, not a row: it is a copy, is thrown away after ``KEPT``,
and no backup shall hold it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import os
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.look.times import moment
from facility.refusals import NotHere, WrongState
from facility.sites.models import Site, Unit
from records.audit.notes import HeadNote, read_note
from records.reports.models import Paper, PaperProgress

KEPT = dt.timedelta(days=7)
SILENT_AFTER = dt.timedelta(minutes=2)  # a worker at work tells so every few seconds
PATIENCE = dt.timedelta(seconds=30)  # it looks for work every second

WAITING, MAKING, SILENT = "paper_waiting", "paper_making", "paper_silent"
FAILED, READY, GONE = "paper_failed", "paper_ready", "paper_gone"


@dataclass(frozen=True, slots=True)
class Standing:
    """How a paper stands: a state with its mark, and the sentence that says what to expect."""

    word: str
    sentence: str
    done: int = 0
    pieces: int = 0

    @property
    def open(self) -> bool:
        """Whether something is still to be expected, so that a page asks again."""
        return self.word in (WAITING, MAKING)


def place_of(paper: Paper) -> Path:
    return Path(settings.PAPERS_DIR) / f"{paper.public_id}.pdf"


def papers_of(unit: Unit) -> QuerySet[Paper]:
    return Paper.objects.filter(unit=unit).select_related("asked_by__details", "progress", "unit")


def paper_here(site: Site, public_id: str) -> Paper:
    rows = Paper.objects.filter(site=site, public_id=public_id)
    paper: Paper | None = rows.select_related(
        "unit", "site", "asked_by__details", "progress"
    ).first()
    if paper is None:
        raise NotHere(f"No paper {public_id} on this ground.")
    return paper


def standing(paper: Paper, now: dt.datetime) -> Standing:
    """How the paper stands, as honestly as the rows tell."""
    if paper.made_at is not None:
        return _made(paper, now)
    progress: PaperProgress | None = getattr(paper, "progress", None)
    if progress is None:
        return Standing(WAITING, _waiting(paper, now))
    if progress.failed:
        return Standing(FAILED, progress.failed, progress.done, progress.pieces)
    quiet = now - progress.seen_at
    if quiet > SILENT_AFTER:
        told = _("The worker fell silent {ago} ago and will not finish this one. Ask again.")
        return Standing(SILENT, told.format(ago=_ago(quiet)), progress.done, progress.pieces)
    told = (
        _("{done} of {pieces} pieces are done.").format(done=progress.done, pieces=progress.pieces)
        if progress.pieces
        else _("The records are being read.")
    )
    return Standing(MAKING, told, progress.done, progress.pieces)


def _made(paper: Paper, now: dt.datetime) -> Standing:
    assert paper.made_at is not None
    until = paper.made_at + KEPT
    if now >= until or not place_of(paper).exists():
        return Standing(GONE, _("The copy was thrown away. Ask again for a new one."))
    told = ngettext("{pages} page; the copy is kept until {day}.",
                    "{pages} pages; the copy is kept until {day}.", paper.pages)  # fmt: skip
    return Standing(READY, told.format(pages=paper.pages, day=moment(until, paper.site.zone)))


def _waiting(paper: Paper, now: dt.datetime) -> str:
    """What a paper waits for: its turn, or a worker that is not there."""
    at_work = PaperProgress.objects.filter(
        paper__made_at__isnull=True, failed="", seen_at__gt=now - SILENT_AFTER
    )
    if at_work.exists():
        return _("Waiting for its turn: another document is being made.")
    waited = now - paper.asked_at
    if waited < PATIENCE:
        return _("Waiting for the worker.")
    return _(
        "Waiting for the worker; nothing has started for {ago}. Whoever runs this machine starts "
        "it with: manage.py db_worker"
    ).format(ago=_ago(waited))


def _ago(span: dt.timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    if not minutes:
        return _("{count} s").format(count=int(span.total_seconds()))
    return _("{count} min").format(count=minutes)


def unfinished(unit: Unit, now: dt.datetime) -> list[Paper]:
    """Papers of a unit that may still be made, the oldest first."""
    rows = papers_of(unit).filter(made_at__isnull=True, asked_at__gt=now - KEPT)
    return [each for each in rows.order_by("asked_at") if standing(each, now).open]


def waiting_here(site: Site, now: dt.datetime) -> int:
    """How many papers of a ground may still be made."""
    rows = Paper.objects.filter(site=site, made_at__isnull=True, asked_at__gt=now - KEPT)
    return sum(standing(each, now).open for each in rows.select_related("progress", "site"))


def document_of(paper: Paper, now: dt.datetime) -> bytes:
    """The document, held against its hash.

    Raises
    ------
    WrongState
        when there is none, or the file is not the one that was made.
    """
    how = standing(paper, now)
    if how.word != READY:
        raise WrongState(how.sentence)
    document = place_of(paper).read_bytes()
    if hashlib.sha256(document).hexdigest() != paper.sha256:
        raise WrongState(_("The copy on the disk is not the document that was made. Ask again."))
    return document


def head_of(paper: Paper) -> HeadNote:
    """The head of the log that the document carries."""
    note = read_note(paper.head)
    return HeadNote(note.origin, note.size, note.root, paper.head_at)


def store(paper: Paper, document: bytes) -> str:
    """Put the document in its place, whole or not at all; gives its SHA-256."""
    place = place_of(paper)
    place.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    beside = place.with_suffix(".part")
    with open(beside, "wb", opener=lambda path, flags: os.open(path, flags, 0o600)) as file:
        file.write(document)
    beside.replace(place)
    return hashlib.sha256(document).hexdigest()


def throw_away_old(now: dt.datetime) -> int:
    """Remove the copies whose time is over; gives how many."""
    folder = Path(settings.PAPERS_DIR)
    if not folder.exists():
        return 0
    limit = (now - KEPT).timestamp()
    old = [each for each in folder.iterdir() if each.stat().st_mtime < limit]
    for each in old:
        each.unlink(missing_ok=True)
    return len(old)
