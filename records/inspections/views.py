"""The pages of units: their state, inspections, defects, repairs, returns to service."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.people.selectors import staff_on
from facility.rulebook.selectors import charts_for, edition_in_force
from facility.sites.drawing import long_section, plan_view
from records.audit.selectors import receipt_address
from records.ground import selectors as ground
from records.inspections import selectors, services
from records.inspections.content import content_hash
from records.inspections.forms import InspectionForm, ReleaseForm, RepairForm, StopForm


def _today(request: GroundRequest) -> dt.date:
    return request.now.astimezone(request.ground.zone).date()


def units(request: GroundRequest) -> HttpResponse:
    found = ground.units_of(request.ground)
    states = selectors.unit_states(found, request.now)
    counts = ground.burns_by_unit(found)
    inspected = {key: state.inspected_at for key, state in states.items() if state.inspected_at}
    since = ground.burns_since(inspected)
    rows = [
        {
            "unit": unit,
            "state": states[unit.pk],
            "burns": counts.get(unit.pk, 0),
            "since": since.get(unit.pk, 0),
        }
        for unit in found
    ]
    return render(request, "inspections/units.html", {"rows": rows})


def unit(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    state = selectors.unit_state(found, request.now)
    edition = edition_in_force(request.ground, _today(request))
    today = ground.burns_on_day(found, _today(request), request.ground.zone)
    context = {
        "unit": found,
        "state": state,
        "use": ground.use_of(found),
        "since": ground.use_of(found, state.inspected_at),
        "burns_today": len(today),
        "chart": charts_for([edition], found).get(edition.pk) if edition else None,
        "limits": selectors.inspection_limits(edition),
        "walls": selectors.wall_lives(found),
        "section": long_section(found),
        "plan": plan_view(found),
        "inspections": selectors.inspections_of(found).filter(kind="structural")[:8],
        "defects": selectors.defects_of(found)[:12],
    }
    return render(request, "inspections/unit.html", context)


def inspect(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    form = InspectionForm(sent(request), initial={"done_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.inspect_unit(
                found, outcome=given["outcome"], done_at=given["done_at"], items=form.checks(),
                note=given["note"], defect=form.defect(), thickness=given["thickness"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The inspection is recorded."))
            return redirect("inspections:unit", found.public_id)
    context = {"form": form, "unit": found, "state": selectors.unit_state(found, request.now)}
    return render(request, "inspections/inspect.html", context, status=form.status)


def stop(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    form = StopForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.stop_unit(
                found, place=given["place"], description=given["description"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("{unit} is out of service.").format(unit=found))
            return redirect("inspections:unit", found.public_id)
    return render(
        request, "inspections/stop.html", {"form": form, "unit": found}, status=form.status
    )


def defect(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.defect_here(request.ground, public_id)
    return render(request, "inspections/defect.html", {"defect": found})


def repair(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.defect_here(request.ground, public_id)
    form = RepairForm(
        sent(request), staff=staff_on(request.ground, _today(request)),
        initial={"done_at": request.now},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.record_repair(
                found, what=given["what"], done_by=form.staff[given["done_by"]],
                done_at=given["done_at"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The repair is recorded; someone else now releases it."))
            return redirect("inspections:defect", found.public_id)
    context = {"form": form, "defect": found}
    return render(request, "inspections/repair.html", context, status=form.status)


def release(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.defect_here(request.ground, public_id)
    form = ReleaseForm(
        sent(request), request=request, on=found, initial={"shown_hash": content_hash(found)}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.release_unit(
                found, statement=given["statement"], meaning=given["meaning"],
                shown_hash=given["shown_hash"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Released; the defect is closed."))
            return redirect(receipt_address(form.act, found, request.person))
    hands = {key for each in found.repairs.all() for key in (each.done_by_id, each.recorded_by_id)}
    context = {"form": form, "defect": found, "on_repair": request.person.pk in hands}
    return render(request, "inspections/release.html", context, status=form.status)
