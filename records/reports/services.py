"""What can happen to papers and calendar feeds: asked for, made; given out, ended."""

from __future__ import annotations

import datetime as dt
import secrets

from django.utils import timezone
from django.utils.translation import gettext as _

from facility.people.models import Person
from facility.refusals import AlreadyDone, WrongState, refuse_if
from facility.sites.models import Site, Unit
from records.audit.door import door
from records.reports import feeds, papers
from records.reports.models import FeedKey, Paper
from records.reports.pdf import PAPERS
from records.reports.tasks import make_paper

SLACK = dt.timedelta(days=1)  # the ground's today may be ahead of the clock's
MOST_WAITING = 10  # of one ground
KEY_BYTES = 32


def ask_for_history(
    unit: Unit, start: dt.date, end: dt.date, *, size: str, by: Person,
    at: dt.datetime | None = None, once: str = "",
) -> Paper:  # fmt: skip
    """Ask the worker for the history of a unit as a document.

    Raises
    ------
    AlreadyDone
        when the same document is being made already.
    WrongState
        when too many documents of the ground wait.
    """
    now = at or timezone.now()
    refuse_if(end < start, "end", _("The end must come after the start."))
    refuse_if(
        start < unit.commissioned_on - SLACK or end > now.date() + SLACK,
        "start",
        _("Choose days between {first} and today; the unit was commissioned on {first}.").format(
            first=unit.commissioned_on
        ),
    )
    refuse_if(size not in PAPERS, "paper", _("Choose A4 or Letter."))
    with door("reports.paper_asked", by=by, site=unit.site, at=at, once=once) as entry:
        for each in papers.unfinished(unit, now):
            if (each.start, each.end, each.size) == (start, end, size):
                raise AlreadyDone(each.named_in_log)
        if papers.waiting_here(unit.site, now) >= MOST_WAITING:
            raise WrongState(
                _("{count} documents wait already; ask again when some are done.").format(
                    count=MOST_WAITING
                )
            )
        paper = Paper(
            site=unit.site, unit=unit, start=start, end=end, size=size, asked_by=by,
            asked_at=entry.at,
        )  # fmt: skip
        paper.save()
        make_paper.enqueue(paper.public_id)  # a row of the same transaction
        entry.on(paper)
        entry.changed(unit=unit, start=start, end=end, kind="history")
    return paper


def make_feed_key(site: Site, *, by: Person, at: dt.datetime | None = None, once: str = "") -> str:
    """Give the person a private address of the ground's calendar; an older one ends.

    The key is given once and kept as its hash.
    """
    key = secrets.token_urlsafe(KEY_BYTES)
    with door("reports.feed_made", by=by, site=site, at=at, once=once) as entry:
        _end_feeds(site, by, entry.at)
        made = FeedKey(
            site=site, person=by, key_hash=feeds.hash_of(key), made_at=entry.at,
            sessions_ended=by.sessions_ended,
        )  # fmt: skip
        made.save()
        entry.on(made)
    return key


def end_feed_key(site: Site, *, by: Person, at: dt.datetime | None = None, once: str = "") -> None:
    """End the person's private address of the ground's calendar."""
    with door("reports.feed_ended", by=by, site=site, on=by, at=at, once=once) as entry:
        if not _end_feeds(site, by, entry.at):
            raise WrongState(_("You have no private calendar address here."))


def _end_feeds(site: Site, person: Person, at: dt.datetime) -> int:
    live = FeedKey.objects.filter(site=site, person=person, ended_at__isnull=True)
    return int(live.update(ended_at=at))
