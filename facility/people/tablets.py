"""Shared tablets in the yard: how one is known, and what its people had typed when it locked.

A tablet is known by a cookie that only this program reads: its public id and a key of 256 random
bits, of which the database keeps a keyed hash.
"""

from __future__ import annotations

import secrets
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.utils.crypto import constant_time_compare, salted_hmac

from facility.people.models import Device, Person

TYPED = "typed"
MOST_TYPED = 20_000  # signs; more is not kept over a lock
# What is never kept: a signature is typed anew.
_SECRET = frozenset({"password", "old", "new", "code", "sealed"})


def new_key() -> str:
    return secrets.token_urlsafe(32)


def hash_of_key(key: str) -> str:
    return salted_hmac("charline tablet", key, algorithm="sha256").hexdigest()


def device_of(request: HttpRequest) -> Device | None:
    """The tablet that a request comes from, as long as it is enrolled."""
    public_id, colon, key = request.COOKIES.get(settings.TABLET_COOKIE_NAME, "").partition(":")
    if not colon or "\x00" in public_id:
        return None
    rows = Device.objects.filter(public_id=public_id, revoked_at__isnull=True)
    found: Device | None = rows.select_related("site").first()
    if found is None or not constant_time_compare(found.key_hash, hash_of_key(key)):
        return None
    return found


def remember(response: HttpResponse, device: Device, key: str) -> None:
    """Make the browser that gets this answer the tablet."""
    response.set_cookie(
        settings.TABLET_COOKIE_NAME, f"{device.public_id}:{key}", max_age=365 * 24 * 3600,
        secure=settings.SESSION_COOKIE_SECURE, httponly=True, samesite="Strict",
    )  # fmt: skip


def keep_typed(request: HttpRequest) -> None:
    """Keep what somebody sent just after the tablet had locked, until they are back."""
    person = getattr(request, "was_here", None)
    fields = [
        [name, value]
        for name, values in request.POST.lists()
        for value in values
        if name != "csrfmiddlewaretoken"
    ]
    signs = sum(len(name) + len(value) for name, value in fields)
    plain = not request.FILES and signs <= MOST_TYPED and _SECRET.isdisjoint(request.POST)
    if isinstance(person, Person) and plain:
        request.session[TYPED] = [person.public_id, request.path, fields]


def typed_by(session: Any, person: Person) -> list[Any] | None:
    """Address and fields that this person had sent, if they are the one."""
    public_id, *rest = session.get(TYPED) or [""]
    return rest if public_id == person.public_id else None
