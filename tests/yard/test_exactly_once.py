"""However badly it is sent, each event is stored once: over real HTTP, on whichever database runs.

``CHARLINE_YARD_EVENTS`` says how many (10000 for the whole).
"""

from __future__ import annotations

import datetime as dt
import os

import pytest
from django.utils import timezone

from records.audit.models import Entry
from records.audit.verifying import verify
from records.burns.models import TimelineEvent
from records.yard import selectors
from records.yard import services as yard
from records.yard.models import YardEvent
from tests import builders
from tests.yard.device import Tablet
from tests.yard.history import play

MANY = int(os.environ.get("CHARLINE_YARD_EVENTS", "240"))
DEVICE = "office-0011223344556677"


def burn_and_tablet(now: dt.datetime):
    ground = builders.found_ground("Yard ground", at=now - dt.timedelta(days=2))
    builders.accepted_lot(ground, at=now - dt.timedelta(days=2))
    content = builders.content(ground, starts_at=now - dt.timedelta(minutes=10))
    burn = builders.lit(ground, content, at=now - dt.timedelta(days=1))
    yard.take_seat(ground.site, DEVICE, by=ground.instructor)
    start = now - dt.timedelta(minutes=12)
    return ground, burn, Tablet(DEVICE, burn.public_id, ground.instructor.public_id, start)


@pytest.mark.django_db(transaction=True)
def test_lost_replies_double_posts_and_shuffles_store_each_event_once(live_server):
    now = timezone.now().replace(microsecond=0)
    ground, burn, tablet = burn_and_tablet(now)
    texts = [tablet.tap("steam", at=now - dt.timedelta(seconds=1)) for _n in range(MANY)]
    played = play(live_server.url, ground.instructor, DEVICE, texts)
    print(
        f"{played.events} events, {played.posts} posts, {played.lost} replies lost, "
        f"{dict(played.outcomes)}, {played.seconds:.1f} s"
    )
    assert played.faults() == []
    assert TimelineEvent.objects.filter(burn=burn).count() == MANY
    assert selectors.open_doubts(burn) == []
    in_the_log = [
        sha for entry in Entry.objects.filter(act="burns.events_taken")
        for sha, _id in entry.after["events"]
    ]  # fmt: skip
    stored = set(YardEvent.objects.values_list("sha256", flat=True))
    assert (len(in_the_log), set(in_the_log)) == (MANY, stored)
    assert verify() == []
