"""The service calendar as an iCalendar feed (RFC 5545) for whoever holds a private address.

The only module that imports the calendar library, which escapes and folds. Times are in UTC; the
identity of an event is that of what it is about; its sequence grows when that is changed.
"""

from __future__ import annotations

import datetime as dt
import hashlib

from django.utils.translation import gettext as _
from icalendar import Calendar
from icalendar import Event as Written

from facility.people.models import Person
from facility.people.permissions import READS
from facility.people.selectors import roles_of
from facility.refusals import NotHere
from facility.sites.models import Site
from records.reports.calendar import Event, events_between
from records.reports.models import FeedKey

BACK, AHEAD = dt.timedelta(days=60), dt.timedelta(days=400)
PRODUCT = "-//Charline//Service calendar//EN"
STATUS = {"submitted": "TENTATIVE"}  # everything else is settled


def hash_of(key: str) -> str:
    """How a key is kept. It is 256 random bits, so a plain hash cannot be guessed backwards."""
    return hashlib.sha256(key.encode()).hexdigest()


def ground_of(key: str, now: dt.datetime) -> Site:
    """The ground whose calendar a key opens.

    Raises
    ------
    NotHere
        when there is no such key, it was ended, or its person was switched off, ended all
        sittings, or no longer reads here: the answer is the same for all of these.
    """
    rows = FeedKey.objects.filter(key_hash=hash_of(key), ended_at__isnull=True)
    found: FeedKey | None = rows.select_related("site", "person").first()
    if found is not None and _still_holds(found, now):
        return found.site
    raise NotHere(_("There is no calendar at this address."))


def _still_holds(key: FeedKey, now: dt.datetime) -> bool:
    person, today = key.person, now.astimezone(key.site.zone).date()
    if not person.is_active or person.sessions_ended != key.sessions_ended:
        return False
    return bool(roles_of(person, key.site, today) & READS["operations"])


def live_feed(site: Site, person: Person, now: dt.datetime) -> FeedKey | None:
    """The person's private address here, if there is one that still answers."""
    rows = FeedKey.objects.filter(site=site, person=person, ended_at__isnull=True)
    found: FeedKey | None = rows.select_related("person", "site").first()
    return found if found is not None and _still_holds(found, now) else None


def feed_of(site: Site, now: dt.datetime) -> bytes:
    """The calendar of the last two and the next thirteen months; the same events, the same bytes."""
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("calscale", "GREGORIAN")
    calendar.add("name", _clean(site.name))
    calendar.add("x-wr-calname", _clean(site.name))
    calendar.add("refresh-interval", dt.timedelta(hours=1), parameters={"VALUE": "DURATION"})
    midnight = now.astimezone(site.zone).replace(hour=0, minute=0, second=0, microsecond=0)
    for event in events_between(site, midnight - BACK, midnight + AHEAD, now):
        calendar.add_component(_written(site, event))
    return bytes(calendar.to_ical())


def _written(site: Site, event: Event) -> Written:
    written = Written()
    written.add("uid", f"{event.key}-{site.public_id}@charline")
    changed = event.modified.astimezone(dt.UTC).replace(microsecond=0)
    written.add("dtstamp", changed)  # without METHOD it is when the event was last revised
    written.add("last-modified", changed)
    written.add("sequence", event.sequence)
    written.add("dtstart", _moment(event.start))
    written.add("dtend", _moment(event.end))
    written.add("summary", _clean(f"{event.unit.name}: {_said(event)}"))
    written.add("location", _clean(f"{site.name}, {event.unit.name}"))
    written.add("categories", [event.kind])
    written.add("status", STATUS.get(event.state, "CONFIRMED"))
    written.add("transp", "OPAQUE" if event.kind == "booking" else "TRANSPARENT")
    return written


def _said(event: Event) -> str:
    if event.kind != "booking":
        return event.words
    states = {
        "submitted": _("asked for"), "approved": _("approved"), "burning": _("burning"),
        "burned": _("burned"),
    }  # fmt: skip
    return f"{event.words}, {states[event.state]}"


def _moment(when: dt.datetime | dt.date) -> dt.datetime | dt.date:
    """A time in UTC to the second; a whole day as it is."""
    if isinstance(when, dt.datetime):
        return when.astimezone(dt.UTC).replace(microsecond=0)
    return when


def _clean(text: str) -> str:
    """Text without control characters, which no content line may hold."""
    return "".join(char for char in text if char.isprintable())
