"""Pages of the bays: their air, and what it does to boards."""

from __future__ import annotations

import hashlib

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from records.stock import drying, selectors, storing
from records.stock.climate_files import Air, read_log
from records.stock.storage_forms import ClimateFileForm, ClimateForm


def bays(request: GroundRequest) -> HttpResponse:
    context = {"bays": drying.bays_with_climate(request.ground)}
    return render(request, "stock/bays.html", context)


def bay(request: GroundRequest, public_id: str) -> HttpResponse:
    found = drying.bay_here(request.ground, public_id)
    context = {
        "bay": found,
        "climate": drying.climate_of(found),
        "chart": drying.chart_of(found),
        "log": drying.log_of(found),
        "lots": selectors.lots_of(request.ground).filter(bay=found, balance__on_hand__gt=0),
    }
    return render(request, "stock/bay.html", context)


def climate(request: GroundRequest, public_id: str) -> HttpResponse:
    found = drying.bay_here(request.ground, public_id)
    form = ClimateForm(sent(request), initial={"measured_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        air = Air(given["measured_at"], given["temperature_c"], given["humidity_pct"])
        form.carry_out(
            lambda: storing.record_climate(found, [air], by=request.person, once=given["once"])
        )
        if not form.refused:
            messages.success(request, _("Logged."))
            return redirect("stock:bay", found.public_id)
    return render(request, "stock/climate.html", {"form": form, "bay": found}, status=form.status)


def climate_file(request: GroundRequest, public_id: str) -> HttpResponse:
    found = drying.bay_here(request.ground, public_id)
    form = ClimateFileForm(sent(request), request.FILES or None)
    faults = []
    if request.method == "POST" and form.is_valid():
        data, once = form.cleaned_data["file"].read(), form.cleaned_data["once"]
        log = read_log(data, request.ground.zone)
        faults = log.faults
        if not faults:
            form.carry_out(
                lambda: storing.record_climate(
                    found, log.air, by=request.person, once=once,
                    fingerprint=hashlib.sha256(data).hexdigest(),
                )
            )  # fmt: skip
            if not form.refused:
                messages.success(request, _("{count} lines logged.").format(count=len(log.air)))
                return redirect("stock:bay", found.public_id)
    context = {"form": form, "bay": found, "faults": faults}
    status = 400 if faults else form.status
    return render(request, "stock/climate_file.html", context, status=status)
