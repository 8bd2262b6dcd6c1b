"""Beginning a sitting, once it was proved who it is."""

from __future__ import annotations

from typing import cast

from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.http import url_has_allowed_host_and_scheme

from facility.people.gate import GroundRequest
from facility.people.models import Person
from facility.people.sitting import BEGAN, BY_CODE, SEEN, TABLET, know_browser
from facility.people.tablets import TYPED, typed_by


def next_given(request: HttpRequest) -> str:
    """The page that was asked for before, if it is one of ours; empty otherwise."""
    wanted = request.GET.get("next", "")
    safe = url_has_allowed_host_and_scheme(wanted, {request.get_host()}, request.is_secure())
    return wanted if safe else ""


def let_in(request: HttpRequest, person: Person, *, by_code: bool = False) -> HttpResponse:
    """Begin a sitting under a new key; whatever the session held before is gone, but for what the
    same person had typed when the tablet locked."""
    device = getattr(request, "tablet", None)
    typed = request.session.get(TYPED) if typed_by(request.session, person) else None
    request.session.flush()
    login(request, person)
    second = int(cast(GroundRequest, request).now.timestamp())
    request.session[BEGAN] = request.session[SEEN] = second
    if device is not None:
        request.session[TABLET], request.session[BY_CODE] = device.public_id, by_code
    if typed:
        request.session[TYPED] = typed
        return redirect("accounts:typed")
    response = redirect(next_given(request) or "reports:day_sheet")
    if not by_code:
        know_browser(request, response, person.sign_in)
    return response
