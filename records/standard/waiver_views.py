"""The pages of waivers and of standing statements."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people import selectors as people
from facility.people.gate import GroundRequest, may
from facility.rulebook import selectors as rulebook
from facility.rules.facts import REGISTER
from records.ground import selectors as ground
from records.standard import selectors, stating, waiving
from records.standard.forms import ReasonForm, StatementForm, WaiverForm
from records.standard.views import today_of


def waivers(request: GroundRequest) -> HttpResponse:
    today = today_of(request)
    names = selectors.names_of_targets(request.ground)
    found = [
        {
            "waiver": waiver,
            "state": waiver.state_on(today),
            "for": names.get(waiver.target, waiver.target),
            "may_grant": waiver.state_on(today) == "asked"
            and may(request, "ground.waiver_granted")
            and request.person.pk not in (waiver.asked_by_id, waiver.granted_by_id),
            "may_end": waiver.state_on(today) in ("asked", "granted")
            and may(request, "ground.waiver_ended"),
        }
        for waiver in selectors.waivers(request.ground)
    ]
    context = {"found": found, "may_ask": may(request, "ground.waiver_asked")}
    return render(request, "standard/waivers.html", context)


def waiver_new(request: GroundRequest) -> HttpResponse:
    today = today_of(request)
    rows = rulebook.waivable_rows(rulebook.editions_in_force(request.ground, today))
    form = WaiverForm(
        sent(request), rows=rows, units=ground.units_of(request.ground),
        initial={
            "row": request.GET.get("row", ""), "plan": request.GET.get("plan", ""),
            "scope": "plan" if request.GET.get("plan") else "",
            "expires_on": today + dt.timedelta(days=7),
        },
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: waiving.ask_waiver(
                request.ground, form.rows[given["row"]], scope=given["scope"], target=form.target,
                reason=given["reason"], measure=given["measure"], expires_on=given["expires_on"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("Asked for. It lifts nothing until it is granted."))
            return redirect("standard:waivers")
    context = {"form": form, "rows": rows}
    return render(request, "standard/waiver_new.html", context, status=form.status)


def grant(request: GroundRequest, public_id: str) -> HttpResponse:
    waiver = selectors.waiver_here(request.ground, public_id)
    waiver = waiving.grant_waiver(
        request.ground, waiver, by=request.person, once=request.POST.get("once", "")[:40]
    )
    done = _("Granted.") if waiver.is_granted else _("Signed; a second person must sign as well.")
    messages.success(request, done)
    return redirect("standard:waivers")


def end(request: GroundRequest, public_id: str) -> HttpResponse:
    waiver = selectors.waiver_here(request.ground, public_id)
    form = ReasonForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: waiving.end_waiver(
                request.ground, waiver, reason=given["reason"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The waiver lifts nothing any more."))
            return redirect("standard:waivers")
    context = {"form": form, "waiver": waiver}
    return render(request, "standard/waiver_end.html", context, status=form.status)


def statements(request: GroundRequest) -> HttpResponse:
    today = today_of(request)
    names = selectors.names_of_targets(request.ground)
    found = [
        {
            "statement": row,
            "meaning": REGISTER[row.fact].meaning if row.fact in REGISTER else row.fact,
            "unit": REGISTER[row.fact].unit if row.fact in REGISTER else "",
            "of": names.get(row.target, row.target),
            "lapsed": row.until is not None and row.until < today,
        }
        for row in selectors.statements(request.ground)
    ]
    asked = rulebook.standing_rules(rulebook.editions_in_force(request.ground, today))
    context = {
        "found": found,
        "missing": selectors.unstated(request.ground, asked, today),
        "may_state": may(request, "ground.fact_stated"),
    }
    return render(request, "standard/statements.html", context)


def statement_new(request: GroundRequest) -> HttpResponse:
    today = today_of(request)
    targets: list[Any] = [
        (_("units"), [(unit.public_id, unit.name) for unit in ground.units_of(request.ground)]),
        (
            _("people"),
            [(each.public_id, each.name) for each in people.people_on(request.ground, today)],
        ),
        *selectors.fuel_targets(request.ground),
    ]
    form = StatementForm(
        sent(request), targets=targets,
        initial={"fact": request.GET.get("fact", ""), "since": today},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: stating.state_fact(
                request.ground, fact=given["fact"], target=given["target"], value=given["value"],
                since=given["since"], until=given["until"], note=given["note"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("The statement is recorded, under your name."))
            return redirect("standard:statements")
    return render(request, "standard/statement_new.html", {"form": form}, status=form.status)
