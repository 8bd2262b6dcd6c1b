"""A document that the worker made is kept: the one act of the worker."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from facility.refusals import WrongState
from records.audit.door import door
from records.audit.notes import HeadNote
from records.reports import papers
from records.reports.models import Paper


def keep_paper(
    paper: Paper, document: bytes, *, pages: int, head: HeadNote, at: dt.datetime | None = None
) -> None:
    """Keep a document that the worker made: its hash and the head it carries go into the log."""
    with door("reports.paper_made", by=None, site=paper.site, on=paper, at=at) as entry:
        paper = Paper.objects.select_for_update(no_key=True).get(pk=paper.pk)
        if paper.made_at is not None:
            raise WrongState(_("This document was made already."))
        paper.sha256 = papers.store(paper, document)
        paper.made_at, paper.pages = entry.at, pages
        paper.head, paper.head_at = head.checkpoint, head.at
        paper.save()
        entry.changed(hash=paper.sha256, pages=pages, size=head.size)
