"""The pages of what a unit is made of: commissioning it, changing it, and what it was when."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.refusals import NotHere
from facility.sites.drawing import long_section, plan_view
from facility.sites.makeup import PARTS, MakeUp, from_data, make_up_of
from records.ground import building, services, taking_over
from records.ground import selectors as ground
from records.inspections.make_up_forms import (
    COLUMNS,
    TITLES,
    ChangeForm,
    CommissionForm,
    MakeUpForm,
    TakeOverForm,
    initial_of,
)


def unit_new(request: GroundRequest) -> HttpResponse:
    """Commission a unit."""
    today = request.now.astimezone(request.ground.zone).date()
    form = CommissionForm(sent(request), initial={"commissioned_on": today})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.commission_unit(
                request.ground, description=form.description(), trials=given["trials"],
                by=request.person, once=given["once"], **form.parts(),
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("{unit} is commissioned. Next: its chart and its structural inspection.").format(unit=made))  # fmt: skip
            return redirect("inspections:make_up", made.public_id)
    return render(request, "inspections/unit_edit.html", _seen(form), status=form.status)


def unit_change(request: GroundRequest, public_id: str) -> HttpResponse:
    """Modify, move or reline a unit."""
    unit = ground.unit_here(request.ground, public_id)
    number = ground.versions_of(unit)[0].number
    start = {**initial_of(unit), "seen_version": number, "since": request.now}
    form = ChangeForm(sent(request), unit=unit, initial=start)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: building.change_unit(
                unit, kind=given["what_happened"], description=form.description(),
                parts=form.parts(), what=given["what"], since=given["since"],
                seen_version=given["seen_version"], document=given["document"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Written down; what the unit was before stays to be read."))
            return redirect("inspections:make_up", unit.public_id)
    return render(request, "inspections/unit_edit.html", _seen(form), status=form.status)


def take_over(request: GroundRequest, public_id: str) -> HttpResponse:
    """Take over what an older log says of the years before."""
    unit = ground.unit_here(request.ground, public_id)
    form = TakeOverForm(sent(request), initial={"first": unit.commissioned_on})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: taking_over.take_over_use(
                unit, first=given["first"], last=given["last"], burns=given["burns"],
                dry_mass_kg=given["dry_mass_kg"], energy_mj=given["energy_mj"],
                document=given["document"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Taken over; the counts of the unit hold it."))
            return redirect("inspections:unit", unit.public_id)
    context = {"form": form, "unit": unit}
    return render(request, "inspections/take_over.html", context, status=form.status)


def drawing(request: GroundRequest) -> HttpResponse:
    """What is on the form now, drawn to scale, with what cannot be; nothing is stored."""
    key = request.POST.get("unit", "")
    unit = ground.unit_here(request.ground, key) if key else None
    form = MakeUpForm(request.POST, unit=unit)
    form.is_valid()
    return render(request, "inspections/_make_up_drawing.html", _drawn(form))


def _seen(form: MakeUpForm) -> dict[str, Any]:
    return {"form": form, "unit": form.unit, **_drawn(form)}


def _drawn(form: MakeUpForm) -> dict[str, Any]:
    if form.is_bound:
        made, wrong = form.drawn()
    else:
        made, wrong = (make_up_of(form.unit) if form.unit else None), []
    return {"wrong": wrong, **_drawings(made)}


def _drawings(made: MakeUp | None) -> dict[str, Any]:
    if made is None:
        return {"section": "", "plan": ""}
    return {"section": long_section(made), "plan": plan_view(made)}


def make_up(request: GroundRequest, public_id: str) -> HttpResponse:
    """What a unit is made of now, or was: ``?version=2``, or ``?at=`` a moment of a burn."""
    unit = ground.unit_here(request.ground, public_id)
    versions = ground.versions_of(unit)
    version = _wanted(request, versions)
    made = from_data(unit.name, version.make_up)
    context = {
        "unit": unit,
        "version": version,
        "versions": versions,
        "made": made,
        "tables": _tables(made),
        **_drawings(made),
    }
    return render(request, "inspections/make_up.html", context)


def _wanted(request: GroundRequest, versions: list[Any]) -> Any:
    """The version asked for, newest first; of a moment before them all, the first one."""
    number, moment = request.GET.get("version", ""), request.GET.get("at", "")
    if number:
        found = next((each for each in versions if str(each.number) == number), None)
        if found is None:
            raise NotHere(f"No version {number} of this unit.")
        return found
    if moment:
        try:
            when = dt.datetime.fromisoformat(moment)
        except ValueError:
            when = None
        if when is None or when.tzinfo is None:
            raise NotHere(f"{moment[:40]} is no moment.")
        return next((each for each in versions if each.since <= when), versions[-1])
    return versions[0]


def _tables(made: MakeUp) -> list[dict[str, Any]]:
    """The parts of a make-up by kind: headings, and for each part its cells with their unit."""
    return [
        {
            "title": TITLES[kind][0],
            "headings": [(heading, what in ("m", "mm")) for _n, heading, what, _e in COLUMNS[kind]],
            "rows": [[_cell(part, column) for column in COLUMNS[kind]] for part in parts],
        }
        for kind in PARTS
        if (parts := getattr(made, kind))
    ]


def _cell(part: Any, column: Any) -> dict[str, Any]:
    name, heading, what, _empty = column
    if isinstance(what, str):
        return {"heading": heading, "value": getattr(part, name), "unit": what}
    return {"heading": heading, "value": getattr(part, f"get_{name}_display")(), "unit": ""}
