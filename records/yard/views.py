"""The yard page itself, which any browser may keep, and the pages about what it sent."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from records.audit.selectors import receipt_address
from records.yard import selectors, services, shell
from records.yard.forms import LateForm, RescueForm, SettleForm


def yard(request: HttpRequest) -> HttpResponse:
    response = HttpResponse(shell.versioned_page())
    response.headers["Cache-Control"] = "no-cache"
    return response


def worker(request: HttpRequest) -> HttpResponse:
    """Answered from /yard/, so that its scope is the yard and nothing else."""
    response = HttpResponse(shell.worker_script(), content_type="text/javascript; charset=utf-8")
    response.headers["Cache-Control"] = "no-cache"
    return response


def manifest(request: HttpRequest) -> HttpResponse:
    icon = {"src": shell.module("icon.svg"), "sizes": "any", "type": "image/svg+xml"}
    return JsonResponse(
        {
            "name": _("Charline, the yard"), "short_name": _("Yard"), "lang": "en",
            "id": reverse("yard:yard"), "start_url": reverse("yard:yard"),
            "scope": reverse("yard:yard"), "display": "standalone", "orientation": "any",
            "background_color": "#FBFAF7", "theme_color": "#1F2421",
            "icons": [{**icon, "purpose": "any"}, {**icon, "purpose": "maskable"}],
        },
        content_type="application/manifest+json",
    )  # fmt: skip


def rescue(request: GroundRequest) -> HttpResponse:
    form = RescueForm(sent(request), request.FILES if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data["file"].read(services.MOST_BYTES + 1)
        found = form.carry_out(
            lambda: services.take_rescue_file(
                request.ground, data, by=request.person, once=form.cleaned_data["once"]
            )
        )
        if found:
            messages.success(request, _told(found))
            return redirect("yard:rescue")
    return _rescue_page(request, form, form)


def _rescue_page(request: GroundRequest, form: Any, file_form: RescueForm) -> HttpResponse:
    context = {
        "form": form,
        "file_form": file_form,
        "doubts": selectors.doubts_without_burn(request.ground),
    }
    return render(request, "yard/rescue.html", context, status=form.status)


def _told(found: services.Rescued) -> str:
    return _(
        "{stored} events taken, {duplicate} known before, {conflict} in conflict, {refused} refused."
    ).format(
        stored=found.stored, duplicate=found.duplicate, conflict=found.conflict,
        refused=found.refused,
    )  # fmt: skip


def recorded(request: GroundRequest, public_id: str) -> HttpResponse:
    """What the tablets recorded of a burn, and what of it has to be answered for."""
    burn = selectors.burn_here(request.ground, public_id)
    return render(request, "yard/recorded.html", _shown(burn, SettleForm()))


def _shown(burn: Any, form: SettleForm) -> dict[str, Any]:
    doubts = selectors.doubts_of(burn)
    return {
        "burn": burn,
        "form": form,
        "doubts": doubts,
        "open": sum(each.settled is None for each in doubts),
        "late": selectors.late_of(burn),
        "events": selectors.read_events(selectors.events_of(burn)),
    }


def settle(request: GroundRequest, public_id: str) -> HttpResponse:
    burn = selectors.burn_here(request.ground, public_id)
    form = SettleForm(request.POST)
    if _settled(request, form, burn):
        return redirect("yard:recorded", burn.public_id)
    return render(request, "yard/recorded.html", _shown(burn, form), status=form.status)


def settle_here(request: GroundRequest) -> HttpResponse:
    """A doubt about what named no burn of the ground."""
    form = SettleForm(request.POST)
    if _settled(request, form, None):
        return redirect("yard:rescue")
    return _rescue_page(request, form, RescueForm())


def _settled(request: GroundRequest, form: SettleForm, burn: Any) -> bool:
    if not form.is_valid():
        return False
    given = form.cleaned_data
    settled = form.carry_out(
        lambda: services.settle_doubt(
            burn, given["doubt"], site=request.ground, reason=given["reason"],
            alike=given["alike"], by=request.person, once=given["once"],
        )
    )  # fmt: skip
    if form.refused:
        return False
    said = ngettext(
        "Settled; the doubt stays to be read.", "{n} settled; the doubts stay to be read.",
        settled or 1,
    )  # fmt: skip
    messages.success(request, said.format(n=settled))
    return True


def late(request: GroundRequest, public_id: str) -> HttpResponse:
    burn = selectors.burn_here(request.ground, public_id)
    form = LateForm(
        sent(request), request=request, on=burn,
        initial={"shown_hash": services.late_hash(burn)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        found = form.carry_out(
            lambda: services.sign_late_events(
                burn, reason=given["reason"], meaning=given["meaning"],
                shown_hash=given["shown_hash"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if found:
            messages.success(request, _("Signed into the record of the burn."))
            return redirect(receipt_address(form.act, burn, request.person))
    waiting = selectors.read_events(selectors.late_of(burn))
    context = {"form": form, "burn": burn, "events": waiting}
    return render(request, "yard/late.html", context, status=form.status)
