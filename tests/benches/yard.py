"""The yard's events over real HTTP: 10,000 sent well, and 10,000 sent as badly as a yard sends.

On a ground of its own in the database of the bench, which the threads of the server share.
``CHARLINE_YARD_EVENTS`` makes it smaller.
"""

from __future__ import annotations

import datetime as dt
import os
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.handlers.wsgi import WSGIHandler
from django.core.servers.basehttp import ThreadedWSGIServer, WSGIRequestHandler
from django.test import Client
from django.utils import timezone

from records.yard.models import YardEvent
from tests.benches.pages import median_ms
from tests.yard.history import BATCH, Sender, play
from tests.yard.test_exactly_once import DEVICE, burn_and_tablet

MANY = int(os.environ.get("CHARLINE_YARD_EVENTS", 10_000))

type Row = tuple[str, float, str]


class _Quiet(WSGIRequestHandler):
    def log_message(self, format: str, *args: object) -> None:
        """A line for each request would bury the figures."""


@contextmanager
def serving() -> Iterator[str]:
    """The program on a port of its own, a thread for each request."""
    server = ThreadedWSGIServer(("127.0.0.1", 0), _Quiet)
    server.set_app(WSGIHandler())
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://127.0.0.1:{server.server_port}"
    finally:
        server.shutdown()
        server.server_close()


def rows() -> list[Row]:
    with serving() as base:
        return _measured(base)


def _measured(base: str) -> list[Row]:
    now = timezone.now().replace(microsecond=0)
    ground, burn, tablet = burn_and_tablet(now)
    then = now - dt.timedelta(seconds=1)
    well = [tablet.tap("steam", at=then) for _n in range(MANY)]
    sender = Sender(base, ground.instructor, DEVICE)
    began = time.perf_counter()
    for start in range(0, MANY, BATCH):
        sender.send(well[start : start + BATCH])
    sent = time.perf_counter() - began
    client = Client()
    client.force_login(ground.instructor)
    page = median_ms(lambda: client.get(f"/burns/{burn.public_id}/"))
    badly = [tablet.tap("steam", at=then) for _n in range(MANY)]
    played = play(base, ground.instructor, DEVICE, badly)
    beyond = YardEvent.objects.filter(burn=burn).count() - 2 * MANY
    return [
        (f"{MANY:,} events sent in batches of {BATCH}", sent, "s"),
        ("one batch of them", 1000 * sent * BATCH / MANY, "ms"),
        (f"burn page with {MANY:,} events in its timeline", page, "ms"),
        (f"{MANY:,} with replies lost, posts doubled, shuffled", played.seconds, "s"),
        ("  posts; replies lost", played.posts, ""),
        ("  events too many or too few", beyond, ""),
    ]
