"""Slowing down whoever guesses: a growing wait after wrong passwords and codes, never a lock.

A try is counted before it is judged, in one transaction, so that many sent at the same moment do
not all pass. A stranger who guesses cannot keep the owner out: a browser in which the owner has
signed in before counts for itself (``facility.people.sitting``).
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction
from django.db.models import F
from django.utils.crypto import salted_hmac

from facility.people.models import Tries

FREE = 3  # wrong tries before the first wait
FREE_FROM_ONE_ADDRESS = 20  # many people may share an address
LONGEST_WAIT_S = 15 * 60
FORGOTTEN_AFTER = dt.timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Watched:
    """Something whose wrong tries are counted: an account, an address, a browser."""

    key: str
    free: int = FREE


@dataclass(frozen=True, slots=True)
class Tried:
    """Whether a try may be judged now: ``wait_s`` is 0. ``untold``: the first turned away."""

    wait_s: int
    untold: bool


def code_of(kind: str, *names: str) -> str:
    """A keyed hash that stands for names in the clear: the same for the same, told to nobody."""
    return salted_hmac(f"tries {kind}", "\0".join(names), algorithm="sha256").hexdigest()


def watched(kind: str, *names: str, free: int = FREE) -> Watched:
    return Watched(code_of(kind, *names), free)


def wait_after(count: int, free: int) -> int:
    """Seconds to wait after so many wrong tries: 1, 2, 4 and on, at most a quarter of an hour."""
    over = count - free
    return min(2**over, LONGEST_WAIT_S) if 0 <= over < 20 else LONGEST_WAIT_S * (over >= 20)


def take(watches: Sequence[Watched], now: dt.datetime) -> Tried:
    """Count a try on everything watched, unless one of them still makes it wait."""
    with transaction.atomic():
        rows = {each: _row(each.key, now) for each in sorted(watches, key=lambda each: each.key)}
        wait = max(_left(row, each.free, now) for each, row in rows.items())
        keys = [row.pk for row in rows.values()]
        if wait > 0:
            untold = not any(row.told for row in rows.values())
            Tries.objects.filter(pk__in=keys).update(told=True)
            return Tried(wait, untold)
        Tries.objects.filter(pk__in=keys).update(count=F("count") + 1, last_at=now, told=False)
        return Tried(0, False)


def take_lasting(watch: Watched, now: dt.datetime) -> bool:
    """Count a try that no waiting takes back, before it is judged; False once ``free`` are spent."""
    with transaction.atomic():
        started = {"last_at": now, "lasting": True}
        Tries.objects.get_or_create(key=watch.key, defaults=started)
        left = Tries.objects.filter(key=watch.key, count__lt=watch.free)
        return bool(left.update(count=F("count") + 1, last_at=now))


def forget(watches: Sequence[Watched]) -> None:
    """The try was right: counting starts anew."""
    Tries.objects.filter(key__in=[each.key for each in watches]).update(count=0, told=False)


def _row(key: str, now: dt.datetime) -> Tries:
    _row, new = Tries.objects.get_or_create(key=key, defaults={"last_at": now})
    if new:  # so that names and addresses tried once do not pile up
        Tries.objects.filter(last_at__lt=now - FORGOTTEN_AFTER, lasting=False).delete()
    row = Tries.objects.select_for_update().get(key=key)
    if now - row.last_at > FORGOTTEN_AFTER:
        row.count = 0
        row.save()
    return row


def _left(row: Tries, free: int, now: dt.datetime) -> int:
    passed = (now - row.last_at).total_seconds()
    return max(0, math.ceil(wait_after(row.count, free) - passed))
