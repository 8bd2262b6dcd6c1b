"""The gate: whose request this is, on which ground, and whether the address is theirs to use.

Fails closed: an address that ``permissions.ADDRESSES`` does not list answers nobody.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from typing import Any, cast

from django.conf import settings
from django.contrib.auth.views import redirect_to_login
from django.http import HttpRequest, HttpResponse, HttpResponseNotAllowed, JsonResponse
from django.shortcuts import redirect, resolve_url
from django.utils import timezone
from django.utils.translation import gettext as _

from facility.look.reader import reading_in
from facility.look.refused import refusal_page
from facility.people import tablets
from facility.people.models import Device, Person
from facility.people.permissions import ACTS, ADDRESSES, SIGNS_IN, Address, Role
from facility.people.selectors import grounds_of, has_second_factor
from facility.refusals import NotAllowed
from facility.sites.models import Site

GROUND_KEY = "ground"


class GroundRequest(HttpRequest):
    """A request that has passed the gate, as views see it."""

    person: Person
    ground: Site
    grounds: list[Site]
    roles: frozenset[Role]
    now: dt.datetime
    tablet: Device | None


class GroundMiddleware:
    """Find the person's ground and roles, show times in its zone, and guard the address."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        enriched = cast(GroundRequest, request)
        enriched.now = timezone.now()
        _find_ground(enriched)
        ground = getattr(enriched, "ground", None)
        units = request.user.units if isinstance(request.user, Person) else "SI"
        with timezone.override(ground.zone if ground else dt.UTC), reading_in(units):
            return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Any, args: Any, kwargs: Any
    ) -> HttpResponse | None:
        """Answer in the view's stead when the address is not this person's to use."""
        match = request.resolver_match
        address = ADDRESSES.get(match.view_name) if match else None
        if address is None:
            return refusal_page(request, NotAllowed(_("This address is not open to anybody.")))
        method = "GET" if request.method == "HEAD" else request.method or ""
        roles = address.roles(method) if method in ("GET", "POST") else None
        if roles is None:
            return HttpResponseNotAllowed(
                [m for m in ("GET", "POST") if address.roles(m) is not None]
            )
        if address.public:
            return None
        if not request.user.is_authenticated:
            return _sign_in_first(request, address)
        if not cast(GroundRequest, request).roles & roles:
            return refusal_page(request, NotAllowed(_refusal(roles)))
        first = _to_do_first(cast(GroundRequest, request))
        if first and match and match.view_name not in BEFORE_ANYTHING:
            return redirect(first)
        return None


def _sign_in_first(request: HttpRequest, address: Address) -> HttpResponse:
    """To the sign-in, or the lock page of a shared tablet; afterwards back to the same page.

    A script is told 401: what it holds is sent again once somebody has signed in.
    """
    if address.data:
        return JsonResponse({"error": _("Sign in first.")}, status=401)
    if getattr(request, "tablet", None) is None:
        return redirect_to_login(request.get_full_path())
    if request.method == "POST":
        tablets.keep_typed(request)
    back = request.get_full_path() if address.get else "/"
    return redirect_to_login(back, login_url=resolve_url("accounts:lock"))


# What a person may do before the account is as safe as it must be.
BEFORE_ANYTHING = frozenset({
    "accounts:my_password", "accounts:factor_on", "accounts:recovery_codes", "accounts:sign_out",
})  # fmt: skip


def _to_do_first(request: GroundRequest) -> str:
    """The page that comes before all others: a password of one's own, then the second factor."""
    if request.person.must_change_password:
        return "accounts:my_password"
    if request.roles & settings.SECOND_FACTOR_ROLES and not has_second_factor(request.person):
        return "accounts:factor_on"
    return ""


def _find_ground(request: GroundRequest) -> None:
    """Set ``ground``, ``person`` and ``roles``; nothing for a stranger or a person without a role."""
    request.roles = frozenset()
    if not isinstance(request.user, Person):
        return
    request.person = request.user
    held = grounds_of(request.user, request.now)
    request.grounds = list(held)
    chosen = request.session.get(GROUND_KEY)
    ground = next((each for each in held if each.public_id == chosen), None) or next(
        iter(held), None
    )
    if ground is not None:
        request.ground = ground
        request.roles = held[ground] & SIGNS_IN


def _refusal(roles: frozenset[Role]) -> str:
    named = ", ".join(str(role.label) for role in sorted(roles))
    return _("This page is for: {roles}.").format(roles=named)


class May:
    """Answers ``may.approve_plan``-like questions in templates: ``{% if may.plans__new %}``."""

    def __init__(self, roles: frozenset[Role]) -> None:
        self.roles = roles

    def __getitem__(self, name: str) -> bool:
        app, _dot, page = name.partition("__")
        address = ADDRESSES[f"{app}:{page}"]
        return bool(self.roles & ((address.post or address.get) or frozenset()))


def may(request: GroundRequest, act: str) -> bool:
    """Whether the person's roles here cover an act."""
    return bool(request.roles & ACTS[act].roles)


def ground(request: HttpRequest) -> dict[str, Any]:
    """What every page knows: the ground, the person's roles, and what they may do."""
    roles: frozenset[Role] = getattr(request, "roles", frozenset())
    return {
        "ground": getattr(request, "ground", None),
        "roles_here": [role.label for role in sorted(roles)],
        "may": May(roles),
        "grounds": getattr(request, "grounds", []),
        "now": getattr(request, "now", None),
        "tablet": getattr(request, "tablet", None),
    }
