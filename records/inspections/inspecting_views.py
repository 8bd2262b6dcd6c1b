"""The pages of an inspection on a tablet, of the points of the walls, and of thermocouples."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.sites.drawing import long_section, plan_view
from records.ground import selectors as ground
from records.inspections import calibrating, gauging, selectors, services
from records.inspections import gauging_selectors as walls
from records.inspections.inspecting_forms import CalibrationForm, InspectionForm, PointsForm


def inspect(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    kind = (sent(request) or request.GET).get("kind") or "structural"
    today = request.now.astimezone(request.ground.zone).date()
    form = InspectionForm(
        sent(request), request.FILES or None, unit=found, kind=kind,
        initial={"done_at": request.now, "kind": kind, "checked_on": today},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.inspect_unit(
                found, outcome=given["outcome"], done_at=given["done_at"], items=form.checks(),
                note=given["note"], defect=form.defect(), looks=form.looks(),
                readings=form.readings(), gauge=form.gauge_used(),
                readings_why=given["thickness_why"], kind=given["kind"] or "structural",
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The inspection is recorded."))
            return redirect("inspections:unit", found.public_id)
    marked = {each.key for each in form.part_fields() if each.begun}
    context = {
        "form": form,
        "unit": found,
        "state": selectors.unit_state(found, request.now),
        "kinds": selectors.KINDS,
        "tap_section": long_section(found, parts=True, marked=marked),
        "tap_plan": plan_view(found, parts=True, marked=marked),
    }
    return render(request, "inspections/inspect.html", context, status=form.status)


def wall(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    shown = walls.walls_of(found)
    lives = shown.pop("lives")
    rows = [(each, lives.get(each.point.mark)) for each in shown["points"]]
    rows.sort(key=lambda row: (row[1] is None, row[1].years if row[1] else 0.0))
    context = {"unit": found, "rows": rows, "sensors": walls.sensor_states(found), **shown}
    return render(request, "inspections/walls.html", context)


def points(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    form = PointsForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: gauging.mark_points(
                found, wall=given["wall"], letters=given["letters"], nominal_mm=given["nominal_mm"],
                columns=given["columns"], rows=given["rows"], along_m=given["along_m"],
                up_m=given["up_m"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            told = _("Marked: {first} to {last}.").format(first=made[0], last=made[-1])
            messages.success(request, told)
            return redirect("inspections:walls", found.public_id)
    context = {"form": form, "unit": found, **walls.walls_of(found)}
    return render(request, "inspections/points.html", context, status=form.status)


def calibrate(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    today = request.now.astimezone(request.ground.zone).date()
    form = CalibrationForm(
        sent(request), sensors=walls.sensor_states(found), initial={"done_on": today}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: calibrating.calibrate_sensors(
                found, read=form.read(), against=given["against"], done_on=given["done_on"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The calibration is recorded."))
            return redirect("inspections:walls", found.public_id)
    context = {"form": form, "unit": found}
    return render(request, "inspections/calibrate.html", context, status=form.status)
