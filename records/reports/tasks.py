"""What the worker does (``manage.py db_worker``): long documents, outside any request."""

from __future__ import annotations

import datetime as dt

from django.tasks import task
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.look.reader import reading_in
from facility.refusals import Refused
from records.reports import papers
from records.reports.long_history import history_in_pieces
from records.reports.making import keep_paper
from records.reports.models import Paper, PaperProgress


@task()
def make_paper(public_id: str) -> str:
    """Make one document; what goes wrong is told on its page, and raised for the worker's log."""
    now = timezone.now()
    papers.throw_away_old(now)
    paper = Paper.objects.select_related("unit__site", "site", "asked_by").get(public_id=public_id)
    told = _Told(paper, now)
    try:
        with timezone.override(paper.site.zone), reading_in(paper.asked_by.units):
            made = history_in_pieces(paper, now, tell=told.done)
        keep_paper(paper, made.document, pages=made.pages, head=made.head)
    except Refused as refused:
        told.failed(refused.sentence)
        raise
    except BaseException as wrong:
        told.failed(
            _("The worker was stopped while it made this. Ask again.")
            if isinstance(wrong, SystemExit | KeyboardInterrupt)
            else _("This could not be made: {wrong}.").format(wrong=type(wrong).__name__)
        )
        raise
    return paper.public_id


class _Told:
    """Tells how far the worker is, past the door: it is a count and no record."""

    def __init__(self, paper: Paper, now: dt.datetime) -> None:
        self.rows = PaperProgress.objects.filter(paper=paper)
        self.rows.delete()
        PaperProgress.objects.create(paper=paper, started_at=now, seen_at=now)

    def done(self, done: int, pieces: int) -> None:
        self.rows.update(done=done, pieces=pieces, seen_at=timezone.now())

    def failed(self, sentence: str) -> None:
        self.rows.update(failed=sentence[:300], seen_at=timezone.now())
