"""One-time links to choose a password: made by an administrator, opened by whoever it is for."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.look.refused import refusal_page
from facility.people import selectors as people
from facility.people.gate import GroundRequest
from facility.people.sitting import client_address
from facility.refusals import NotHere
from records.accounts import links, services
from records.accounts.forms import ChoosePasswordForm, LinkForm

NEW_LINK = "password link"  # in the session, until it was shown once


def first_password(request: GroundRequest, public_id: str) -> HttpResponse:
    """Make a link; it is shown once, on this page, to whoever made it."""
    found = people.person_here(request.ground, public_id)
    form = LinkForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        key = form.carry_out(
            lambda: services.make_password_link(
                request.ground, found, reason=given["reason"], phone_lost=given["phone_lost"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if key:
            address = request.build_absolute_uri(reverse("accounts:choose_password", args=[key]))
            request.session[NEW_LINK] = [found.public_id, address]
            return redirect("accounts:first_password", found.public_id)
    whose, address = request.session.pop(NEW_LINK, ["", ""])
    context = {
        "form": form, "person": found, "oneself": found == request.person,
        "address": address if whose == found.public_id else "",
        "waiting": people.link_waiting(found, request.now),
    }  # fmt: skip
    return render(request, "accounts/first_password.html", context, status=form.status)


def choose_password(request: HttpRequest, key: str) -> HttpResponse:
    """To whoever holds the link, signed in or not."""
    now = cast(GroundRequest, request).now
    form = ChoosePasswordForm(sent(request))
    if request.method != "POST" and links.live_link(key, now) is None:
        return refusal_page(request, links.dead_link())
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: links.choose_password(
                key, new=given["new"], again=given["again"], address=client_address(request),
                once=given["once"],
            )
        )  # fmt: skip
        if isinstance(form.refused, NotHere):
            return refusal_page(request, form.refused)
        if not form.refused:
            messages.success(request, _("Your password is set; sign in with it."))
            return redirect("accounts:sign_in")
    response = render(request, "accounts/choose_password.html", {"form": form}, status=form.status)
    response["Referrer-Policy"] = "no-referrer"
    wait = getattr(form.refused, "wait_s", 0)
    if wait:
        response["Retry-After"] = str(wait)
    return response
