"""A sitting: from signing in until 30 minutes of nothing, 12 hours at most, or its end by decree.

On a shared tablet it is 5 minutes and 10 hours, and it ends with the tablet's enrolment.
"""

from __future__ import annotations

import datetime as dt
import secrets
from collections.abc import Callable
from dataclasses import dataclass

from django.conf import settings
from django.contrib.auth import logout
from django.core import signing
from django.http import HttpRequest, HttpResponse
from django.shortcuts import resolve_url
from django.utils import timezone

from facility.people import tablets
from facility.people.entrance import Entrance, entering
from facility.people.throttle import FREE_FROM_ONE_ADDRESS, Watched, code_of, watched

BEGAN, SEEN = "began", "seen"
TABLET, BY_CODE = "tablet", "by code"  # where the sitting began, and whether by six digits
KNOWN_COOKIE = "known"
MOST_KNOWN = 20


class SittingMiddleware:
    """Ends a sitting that was idle or open too long, before anybody asks whose it is."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        device = tablets.device_of(request)
        request.tablet = device  # type: ignore[attr-defined]
        if request.user.is_authenticated and not _still_open(request, timezone.now()):
            request.was_here = request.user  # type: ignore[attr-defined]
            logout(request)
        way = Entrance(
            src="form",
            device=device.public_id if device else "",
            by_code=bool(request.session.get(BY_CODE)) and request.user.is_authenticated,
        )
        with entering(way):
            return self.get_response(request)


def _still_open(request: HttpRequest, now: dt.datetime) -> bool:
    """Whether the sitting goes on; notes that it was used, now and then to spare writes."""
    begun_on, device = request.session.get(TABLET, ""), getattr(request, "tablet", None)
    if begun_on and (device is None or device.public_id != begun_on):
        return False
    idle, at_most, note_every = settings.SITTING_IDLE_S, settings.SITTING_AT_MOST_S, 60
    if begun_on:
        idle, at_most, note_every = settings.TABLET_IDLE_S, settings.TABLET_AT_MOST_S, 5
    second = int(now.timestamp())
    began = request.session.setdefault(BEGAN, second)
    seen = request.session.setdefault(SEEN, second)
    if second - began > at_most or second - seen > idle:
        return False
    used = second - _untouched(request)
    if used - seen >= note_every:
        request.session[SEEN] = used
    return True


def _untouched(request: HttpRequest) -> int:
    """For how long nobody touched the page [s], where its script asks by itself: such a request
    must not keep a sitting open that its person has left."""
    told = request.headers.get("X-Untouched", "")
    return int(told) if told.isascii() and told.isdigit() and len(told) < 9 else 0


def client_address(request: HttpRequest) -> str:
    """Where a request came from: past as many proxies of ours as the settings count."""
    hops = [each.strip() for each in request.headers.get("X-Forwarded-For", "").split(",") if each]
    if settings.PROXIES and len(hops) >= settings.PROXIES:
        return hops[-settings.PROXIES]
    return str(request.META.get("REMOTE_ADDR", ""))


@dataclass(frozen=True, slots=True)
class KnownBrowser:
    """What a browser remembers: a number of its own, and which accounts signed in there."""

    number: str = ""
    accounts: tuple[str, ...] = ()


def _known(request: HttpRequest) -> KnownBrowser:
    try:
        number, accounts = signing.loads(request.COOKIES.get(KNOWN_COOKIE, ""), salt=KNOWN_COOKIE)
    except signing.BadSignature:
        return KnownBrowser()
    return KnownBrowser(number, tuple(accounts))


def _account(name: str) -> str:
    return code_of("account", name.strip().lower())[:16]


def watched_at_sign_in(request: HttpRequest, name: str) -> list[Watched]:
    """What counts a wrong sign-in: the browser, where the owner was in it before; otherwise the
    account and the address."""
    browser, account = _known(request), _account(name)
    if account in browser.accounts:
        return [watched("browser", browser.number, account)]
    address = client_address(request)
    return [
        watched("account", account),
        watched("address", address, free=FREE_FROM_ONE_ADDRESS),
    ]


def know_browser(request: HttpRequest, response: HttpResponse, name: str) -> None:
    """Remember in the browser that this account signed in here; by itself that opens nothing."""
    browser, account = _known(request), _account(name)
    others = [each for each in browser.accounts if each != account]
    value = [browser.number or secrets.token_hex(8), [account, *others][:MOST_KNOWN]]
    response.set_cookie(
        KNOWN_COOKIE, signing.dumps(value, salt=KNOWN_COOKIE), max_age=365 * 24 * 3600,
        path=resolve_url(settings.LOGIN_URL), secure=settings.SESSION_COOKIE_SECURE,
        httponly=True, samesite="Strict",
    )  # fmt: skip
