"""The pages of shared tablets: the lock page, one's own six digits, and the list of tablets."""

from __future__ import annotations

from typing import cast

from django.contrib import messages
from django.contrib.auth import logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people import selectors as people
from facility.people import tablets as known
from facility.people.gate import GroundRequest
from facility.refusals import Refused
from records.accounts import tablets as services
from records.accounts.forms import MyCodeForm, TabletForm, UnlockForm, WhyForm
from records.accounts.letting_in import let_in, next_given


def lock(request: HttpRequest) -> HttpResponse:
    """Who is at the tablet: first the name, then the six digits."""
    asked = cast(GroundRequest, request)
    device = asked.tablet
    if device is None:
        return redirect("accounts:sign_in")
    form = UnlockForm(sent(request))
    who = request.GET.get("who", "")
    try:
        person = services.offered(device, who, asked.now) if who else None
    except Refused:
        person = None
    if request.method == "POST" and person and form.is_valid():
        code = form.cleaned_data["code"]
        found = form.carry_out(lambda: services.unlock(device, who, code, at=asked.now))
        if found:
            return let_in(request, found, by_code=True)
    day = asked.now.astimezone(device.site.zone).date()
    context = {
        "form": form, "device": device, "person": person, "next": next_given(request),
        "people": [] if person else people.people_with_code(device.site, day),
    }  # fmt: skip
    return render(request, "accounts/lock.html", context, status=form.status if person else 200)


def typed(request: GroundRequest) -> HttpResponse:
    """What was typed when the tablet locked, to be sent after all."""
    held = known.typed_by(request.session, request.person)
    if held is None:
        return redirect("reports:day_sheet")
    address, fields = held
    del request.session[known.TYPED]
    return render(request, "accounts/typed.html", {"address": address, "fields": fields})


def my_code(request: GroundRequest) -> HttpResponse:
    form = MyCodeForm(sent(request), request=request, on=request.person)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.set_code(
                request.ground, request.person, code=given["code"], once=given["once"]
            )
        )
        if not form.refused:
            messages.success(request, _("Your personal code is set."))
            return redirect("accounts:me")
    return render(request, "accounts/my_code.html", {"form": form}, status=form.status)


def tablets(request: GroundRequest) -> HttpResponse:
    """The list, and making the very browser that asks a tablet; its sitting ends with that."""
    form = TabletForm(sent(request), request=request, on=request.ground)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.enrol_tablet(
                request.ground, name=given["name"], by=request.person, once=given["once"]
            )
        )
        if made:
            logout(request)
            response = redirect("accounts:lock")
            known.remember(response, *made)
            return response
    context = {"form": form, "tablets": people.tablets_of(request.ground)}
    return render(request, "accounts/tablets.html", context, status=form.status)


def tablet_end(request: GroundRequest, public_id: str) -> HttpResponse:
    device = people.tablet_here(request.ground, public_id)
    form = WhyForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.end_tablet(
                device, reason=given["reason"], by=request.person, once=given["once"]
            )
        )
        if not form.refused:
            messages.success(request, _("Ended; whoever sits at it is out at the next tap."))
            return redirect("accounts:tablets")
    context = {"form": form, "device": device}
    return render(request, "accounts/tablet_end.html", context, status=form.status)
