"""The pages before a burn: the sheet, and one page for each thing that is done on it."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest, may
from facility.people.selectors import crew_on
from records.audit.selectors import receipt_address
from records.burns import before as verbs
from records.burns import readiness
from records.burns.before_forms import BriefingForm, FitForm, LookForm, RollForm, WeatherForm
from records.burns.services import what_stops
from records.plans.selectors import issued_of, plan_here
from records.plans.services import refuse_state
from records.standard.selectors import permit_stated


def before(request: GroundRequest, public_id: str) -> HttpResponse:
    """Everything that stands before the fire: what is open, who is there, who signed."""
    plan = plan_here(request.ground, public_id)
    version = plan.version
    found = readiness.before(version)
    is_open = plan.state == "approved"
    stops = what_stops(plan, at=request.now) if is_open else []
    blocking = [each for each in stops if each.rule.fact != "burn.fit_to_burn"]
    context = {
        "plan": plan,
        "version": version,
        "before": found,
        "is_open": is_open,
        "issued": issued_of(version),
        "blocking": blocking,
        "needs_fit": len(blocking) < len(stops),
        "permit": permit_stated(request.ground, request.now),
        "may_act": is_open and may(request, "burns.items_checked"),
        "my_duties": [
            place.duty
            for place in found.places
            if place.person == request.person and place.duty in readiness.SIGNS_FIT
        ],
    }
    return render(request, "burns/before.html", context)


def check(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = _on_the_day(request, public_id)
    looked = readiness.looked_at(plan.version)
    form = LookForm(sent(request), looked=looked, initial={"seen_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: verbs.look_at(
                plan, form.looks(), seen_at=given["seen_at"], by=request.person, once=given["once"]
            )
        )
        if not form.refused:
            return _back(request, plan, _("Kept, under your name."))
    return _page(request, "burns/check.html", plan, form)


def briefing(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = _on_the_day(request, public_id)
    found = readiness.before(plan.version)
    topics = [each for each in found.looked if each.item.stage == "briefing"]
    form = BriefingForm(
        sent(request), places=found.places, topics=topics, missed=found.missed,
        initial={"held_at": request.now, "given_by": request.person.public_id},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: verbs.hold_briefing(
                plan, given["people"], held_at=given["held_at"], by=request.person,
                given_by=form.crew[given["given_by"]], topics=given.get("topics", ()),
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            return _back(request, plan, _("The briefing is kept."))
    return _page(request, "burns/briefing.html", plan, form, before=found)


def roll(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = _on_the_day(request, public_id)
    planned = list(plan.version.crew.all())
    newest = readiness.newest_roll(plan.version)
    places = newest.places.all() if newest else ()
    filled = {
        (each.duty, each.planned.public_id): each.person.public_id if each.person else ""
        for each in places
    }
    day = plan.version.starts_at.astimezone(request.ground.zone).date()
    staff = list(crew_on(request.ground, day))
    form = RollForm(sent(request), planned=planned, filled=filled, staff=staff)
    if request.method == "POST" and form.is_valid():
        form.carry_out(
            lambda: verbs.call_roll(
                plan, form.here(), by=request.person, once=form.cleaned_data["once"]
            )
        )
        if not form.refused:
            return _back(request, plan, _("The roll is called."))
    return _page(request, "burns/roll.html", plan, form)


def weather(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = _on_the_day(request, public_id)
    form = WeatherForm(sent(request), initial={"read_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = dict(form.cleaned_data)
        form.carry_out(lambda: verbs.note_weather(plan, by=request.person, **given))
        if not form.refused:
            return _back(request, plan, _("The weather is kept."))
    return _page(request, "burns/weather.html", plan, form)


def fit(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = _on_the_day(request, public_id)
    found = readiness.before(plan.version)
    form = FitForm(
        sent(request), request=request, on=plan,
        initial={"shown_hash": readiness.fit_hash(plan.version)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: verbs.sign_fit(
                plan, shown_hash=given["shown_hash"], meaning=given["meaning"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Signed. What is recorded after this voids it."))
            return redirect(receipt_address(form.act, plan, request.person))
    return _page(request, "burns/fit.html", plan, form, before=found)


def _on_the_day(request: GroundRequest, public_id: str) -> Any:
    plan = plan_here(request.ground, public_id)
    refuse_state(plan, "start")
    return plan


def _back(request: GroundRequest, plan: Any, said: str) -> HttpResponse:
    messages.success(request, said)
    return redirect("burns:before", plan.public_id)


def _page(request: GroundRequest, template: str, plan: Any, form: Any, **more: Any) -> HttpResponse:
    context = {"plan": plan, "version": plan.version, "form": form, **more}
    return render(request, template, context, status=form.status)
