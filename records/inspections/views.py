"""The pages of units: their state, inspections, defects, repairs, returns to service."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.calc.wear import steel_strength_factor
from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.people.selectors import staff_on
from facility.rulebook.selectors import charts_for, editions_in_force
from facility.sites.drawing import long_section, plan_view
from records.audit.selectors import receipt_address
from records.ground import selectors as ground
from records.inspections import selectors, services
from records.inspections.content import content_hash
from records.inspections.due import dues, season_of
from records.inspections.forms import ReleaseForm, RepairForm, StopForm, VerifyForm
from records.inspections.gauging_selectors import walls_of


def _today(request: GroundRequest) -> dt.date:
    return request.now.astimezone(request.ground.zone).date()


def units(request: GroundRequest) -> HttpResponse:
    found = ground.units_of(request.ground)
    states = selectors.unit_states(found, request.now)
    counts = ground.burns_by_unit(found)
    inspected = {key: state.inspected_at for key, state in states.items() if state.inspected_at}
    since = ground.burns_since(inspected)
    editions = editions_in_force(request.ground, _today(request))
    due = dues(request.ground, found, editions, request.now)
    rows = [
        {
            "unit": unit,
            "state": states[unit.pk],
            "burns": counts.get(unit.pk, 0),
            "since": since.get(unit.pk, 0),
            "next": due[unit.pk][0] if due[unit.pk] else None,
        }
        for unit in found
    ]
    ahead = [(unit, each) for unit in found for each in due[unit.pk]]
    ahead.sort(key=lambda pair: (pair[1].first is None, pair[1].first or _today(request)))
    return render(request, "inspections/units.html", {"rows": rows, "due": ahead})


def unit(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    state = selectors.unit_state(found, request.now)
    editions = editions_in_force(request.ground, _today(request))
    edition = editions[0] if editions else None
    due = dues(request.ground, [found], editions, request.now)[found.pk]
    counts = _counts(request, found, state.inspected_at)
    context = {
        "unit": found,
        "state": state,
        "due": due,
        "counts": counts,
        "burns_today": len(ground.burns_on_day(found, _today(request), request.ground.zone)),
        "chart": charts_for([edition], found).get(edition.pk) if edition else None,
        **_walls(found),
        **_strength(counts),
        "section": long_section(found, marked=_parts_of(state.defects)),
        "plan": plan_view(found, marked=_parts_of(state.defects)),
        "inspections": selectors.inspections_of(found)
        .exclude(kind__in=("pre_burn", "post_burn"))
        .prefetch_related("looks__picture")[:8],
        "defects": selectors.defects_of(found)[:12],
    }
    return render(request, "inspections/unit.html", context)


def _walls(found: Any) -> dict[str, Any]:
    """The map, and the points with a life, the least first."""
    shown = walls_of(found)
    return {"walls": list(shown["lives"].values()), "map": shown["map"]}


def _strength(counts: list[Any]) -> dict[str, Any]:
    """What steel as hot as the hottest recorded reading would keep of its strength."""
    hottest = counts[0].heat.hottest_c
    if hottest is None or hottest < 20:  # cold steel keeps all of it
        return {}
    return {"hottest_c": hottest, "strength": steel_strength_factor.of(temperature=hottest)}


def _parts_of(defects: Iterable[Any]) -> frozenset[str]:
    return frozenset(defect.part for defect in defects if defect.part)


def _counts(request: GroundRequest, found: Any, inspected_at: dt.datetime | None) -> list[Any]:
    """What the unit has gone through since each of the moments that people ask of."""
    day = dt.datetime.combine(_today(request), dt.time(), tzinfo=request.ground.zone)
    relined = ground.relined_at(found)
    marks = [
        (_("since it was built"), None),
        *([(_("since it was relined"), relined)] if relined else []),
        *([(_("since the structural inspection"), inspected_at)] if inspected_at else []),
        (_("this season"), season_of(request.ground, request.now)),
        (_("today"), day),
    ]
    return ground.counts_of(found, marks)


def stop(request: GroundRequest, public_id: str) -> HttpResponse:
    found = ground.unit_here(request.ground, public_id)
    form = StopForm(sent(request))
    form.offer_parts(found)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.stop_unit(
                found, place=given["place"], description=given["description"],
                part=given["part"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("{unit} is out of service.").format(unit=found))
            return redirect("inspections:unit", found.public_id)
    context = {"form": form, "unit": found, **_to_tap(found, form)}
    return render(request, "inspections/stop.html", context, status=form.status)


def _to_tap(found: Any, form: Any) -> dict[str, Any]:
    """The drawings with every part as a target, the one chosen marked."""
    chosen = form["part"].value()
    marked = {str(chosen)} if chosen else frozenset[str]()
    return {
        "section": long_section(found, parts=True, marked=marked),
        "plan": plan_view(found, parts=True, marked=marked),
    }


def defect(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.defect_here(request.ground, public_id)
    context = {
        "defect": found,
        "stage": selectors.stage_of(found),
        "section": long_section(found.unit, marked={found.part}) if found.part else "",
        "plan": plan_view(found.unit, marked={found.part}) if found.part else "",
    }
    return render(request, "inspections/defect.html", context)


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
                done_at=given["done_at"], contractor=given["contractor"],
                material=given["material"], cost=given["cost"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(
                request, _("The repair is recorded. Next: check it, then someone else releases it.")
            )
            return redirect("inspections:defect", found.public_id)
    context = {"form": form, "defect": found}
    return render(request, "inspections/repair.html", context, status=form.status)


def verify(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.defect_here(request.ground, public_id)
    form = VerifyForm(sent(request), initial={"done_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.verify_repair(
                found, checked=given["checked"], holds=given["holds"] == "yes",
                done_at=given["done_at"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("What was checked is recorded."))
            return redirect("inspections:defect", found.public_id)
    context = {"form": form, "defect": found}
    return render(request, "inspections/verify.html", context, status=form.status)


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
