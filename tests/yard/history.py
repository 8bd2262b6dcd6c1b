"""A history of sendings over real HTTP, and whether each event was stored once.

Several senders post overlapping, shuffled batches of one device's events. A part of the replies is
thrown away unread, as where the signal goes; a part of the posts is sent twice at once. Each
sender notes what it knows: ``ok`` where it read the reply, ``info`` where it cannot know. At the
end every event is sent until it is known, as a tablet does.
"""

from __future__ import annotations

import http.client
import json
import random
import threading
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import Any
from urllib.parse import urlparse

from django.conf import settings
from django.test import Client
from django.utils import timezone

from facility.people.models import Person
from records.yard.models import SetAside, YardEvent
from tests.yard.device import ms

BATCH, LOST, DOUBLE = 200, 0.3, 0.2


@dataclass
class Played:
    """What came of it."""

    events: int
    posts: int = 0
    lost: int = 0
    seconds: float = 0.0
    outcomes: Counter[str] = field(default_factory=Counter)
    notes: list[tuple[str, str]] = field(default_factory=list)  # (event id, ok or info)

    def faults(self) -> list[str]:
        """What is wrong with the rows, held against what the senders know; empty when nothing is."""
        rows = Counter(str(each) for each in YardEvent.objects.values_list("event_id", flat=True))
        known = {event for event, note in self.notes if note == "ok"}
        found = [f"{event} is known to be stored and is not there" for event in known - set(rows)]
        found += [f"{event} is there {n} times" for event, n in rows.items() if n != 1]
        if len(rows) != self.events:
            found.append(f"{len(rows)} events are there, {self.events} were made")
        if SetAside.objects.exists():
            found.append(f"{SetAside.objects.count()} were set aside by mistake")
        return found


class Sender:
    """One browser that is signed in, over a connection of its own."""

    def __init__(self, base: str, who: Person, device: str) -> None:
        self.host, self.device = urlparse(base).netloc, device
        client, name = Client(), settings.SESSION_COOKIE_NAME
        client.force_login(who)
        self.cookies = f"{name}={client.cookies[name].value}"
        hello, cookie = self._ask("GET", "/yard/hello/")
        self.cookies += f"; {cookie.partition(';')[0]}"
        self.token = hello["csrf"]

    def _ask(self, method: str, path: str, body: str = "", *, unread: bool = False) -> Any:
        connection = http.client.HTTPConnection(self.host, timeout=60)
        headers = {"Cookie": self.cookies}
        if body:
            headers |= {"Content-Type": "application/json", "X-CSRFToken": self.token}
        connection.request(method, path, body.encode() or None, headers)
        if unread:  # the request arrived, and nobody hears what became of it
            time.sleep(0.05)
            connection.close()
            return None, ""
        response = connection.getresponse()
        told = response.read()
        connection.close()
        if response.status != 200:
            raise AssertionError(f"{response.status}: {told[:200]!r}")
        return json.loads(told), response.headers.get("Set-Cookie", "")

    def send(self, texts: list[str], *, unread: bool = False) -> list[dict[str, str]]:
        now = {"wall": ms(timezone.now()), "mono": 9_000_000, "boot": "boot-9"}
        told = {"v": 1, "device": self.device, "now": now, "shell": "x", "events": texts}
        answer, _cookie = self._ask("POST", "/yard/sync/", json.dumps(told), unread=unread)
        return [] if answer is None else answer["results"]


def play(
    base: str, who: Person, device: str, texts: list[str], *, senders: int = 4, seed: int = 1
) -> Played:
    """Send everything by several senders at once, badly; then whatever is not known, well."""
    played, lock = Played(len(texts)), threading.Lock()
    made = [Sender(base, who, device) for _n in range(senders)]
    began = time.perf_counter()
    work = [
        threading.Thread(target=_badly, args=(sender, texts, played, lock, random.Random(seed + n)))
        for n, sender in enumerate(made)
    ]
    for each in work:
        each.start()
    for each in work:
        each.join()
    known = {event for event, note in played.notes if note == "ok"}
    left = [text for text in texts if json.loads(text)["id"] not in known]
    for start in range(0, len(left), BATCH):
        _note(played, lock, made[0].send(left[start : start + BATCH]))
    played.seconds = time.perf_counter() - began
    return played


def _badly(
    sender: Sender, texts: list[str], played: Played, lock: threading.Lock, chance: random.Random
) -> None:
    """About as many posts as would carry everything once, each somewhere in the queue."""
    size = min(BATCH, max(10, len(texts) // 8))
    for _n in range(max(2, len(texts) // size)):
        start = chance.randrange(max(1, len(texts) - size // 2))
        part = texts[start : start + size]
        chance.shuffle(part)
        unread = chance.random() < LOST
        for _again in range(2 if chance.random() < DOUBLE else 1):
            results = sender.send(part, unread=unread)
            if unread:
                with lock:
                    played.posts += 1
                    played.lost += 1
                    played.notes += [(json.loads(text)["id"], "info") for text in part]
            else:
                _note(played, lock, results)


def _note(played: Played, lock: threading.Lock, results: list[dict[str, str]]) -> None:
    with lock:
        played.posts += 1
        played.outcomes.update(each["outcome"] for each in results)
        played.notes += [
            (each["id"], "ok") for each in results if each["outcome"] in ("stored", "duplicate")
        ]
