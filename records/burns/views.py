"""The pages of burns, most of them used at the unit."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.both import Side, lines
from facility.look.forms import sent
from facility.look.lists import listed
from facility.look.times import moment
from facility.people.gate import GroundRequest, may
from facility.people.permissions import READS
from facility.refusals import StaleVersion, WrongState, plain_number
from records.audit.selectors import receipt_address
from records.burns import aftermath, readiness, selectors, services
from records.burns.counting import minutes_inside
from records.burns.forms import CloseForm, CorrectForm, EventForm, ReturnForm, StartForm
from records.burns.tables import BurnFilter, BurnTable
from records.burns.timeline import timeline_of
from records.ground.selectors import units_of
from records.plans.judging import words_allowed
from records.plans.selectors import findings_of, plan_here, still_out
from records.plans.services import refuse_state


def burns(request: GroundRequest) -> HttpResponse:
    found = BurnFilter(
        request.GET, queryset=selectors.burns_of(request.ground), units=units_of(request.ground)
    )
    context = listed(request, BurnTable, found)
    context["running"] = selectors.running_burns(request.ground)
    return render(request, "burns/burns.html", context)


def start(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = plan_here(request.ground, public_id)
    refuse_state(plan, "start")
    before = readiness.before(plan.version)
    read = before.weather.words if before.weather else ""
    form = StartForm(
        sent(request), crew=before.places, looked=before.looked, called=before.roll is not None,
        methods=words_allowed(request.ground, "burn.ignition_method", plan.version.starts_at),
        initial={"ignited_at": request.now, "weather": read},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        burn = form.carry_out(
            lambda: services.start_burn(
                plan, checks=form.checks(), present=given.get("present"),
                ignition_method=given["ignition_method"], weather=given["weather"],
                by=request.person, ignited_at=given["ignited_at"], once=given["once"],
            )
        )  # fmt: skip
        if burn:
            return redirect("burns:burn", burn.public_id)
    context = {"form": form, "plan": plan, "version": plan.version, "before": before}
    return render(request, "burns/start.html", context, status=form.status)


def burn(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.burn_here(request.ground, public_id)
    return render(request, "burns/burn.html", _shown(request, found, EventForm()))


def _shown(request: GroundRequest, found: Any, form: EventForm) -> dict[str, Any]:
    out = still_out(found.version.plan, selectors.burned_by_lot(found.version.plan))
    return {
        "burn": found,
        "form": form,
        "after": aftermath.after(found),
        "away": readiness.stand_ins(readiness.newest_roll(found.version)),
        "may_second": may(request, "burns.burn_countersigned")
        and found.current is not None
        and found.current.written_by_id != request.person.pk,
        "names_people": _reads_names(request, found),
        "stages": selectors.STAGES,
        "timeline": timeline_of(found),
        "openings": found.unit.openings.all(),
        "out": out if found.state == "closed" else [],
        "stored": [
            each for each in findings_of(found.version, "close") if each.verdict != "within"
        ],
    }


def _reads_names(request: GroundRequest, found: Any) -> bool:
    """Whom an injury concerns is for those who read exposure, and for whoever was there."""
    there = any(place.person_id == request.person.pk for place in found.attendance.all())
    return there or bool(request.roles & READS["exposure"])


def event(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.burn_here(request.ground, public_id)
    if request.method != "POST":  # a page loaded again after a refusal
        return redirect("burns:burn", found.public_id)
    form = EventForm(request.POST)
    if form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.note_event(
                found, kind=given["kind"], stage=given["stage"], height_m=given["height_m"],
                opening=given["opening"], note=given["note"], happened_at=given["happened_at"] or request.now,
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Noted."))
            return redirect("burns:burn", found.public_id)
    return render(request, "burns/burn.html", _shown(request, found, form), status=form.status)


def close(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.burn_here(request.ground, public_id)
    if found.state != "burning":
        raise WrongState(_("This burn was closed before; correct its record instead."))
    form = CloseForm(
        sent(request), request=request, on=found, lots=_lots_out(found),
        people=aftermath.exposed_people(found), initial={"ended_at": request.now},
        inside=minutes_inside(found, request.now),
    )  # fmt: skip
    form.offer_parts(found.unit)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.close_burn(
                found, ended_at=given["ended_at"], used=form.used(), checks=form.checks(),
                note=given["note"], defect=form.defect(), after=form.after(),
                meaning=given["meaning"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(
                request, _("The burn is closed; {unit} counts one more.").format(unit=found.unit)
            )
            return redirect(receipt_address(form.act, found, request.person))
    return render(request, "burns/close.html", {"form": form, "burn": found}, status=form.status)


def _lots_out(found: Any) -> list[Any]:
    return [(each.lot, each.quantity) for each in still_out(found.version.plan, {})]


def correct(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.burn_here(request.ground, public_id)
    newest = found.current
    if newest is None:
        raise WrongState(_("A burn is corrected after it is closed."))
    lots = [(fuel.lot, fuel.used) for fuel in selectors.fuel_of(newest)]
    initial = {"seen_report": newest.number, "ended_at": newest.ended_at, "note": newest.note}
    sheet, stays = aftermath.sheet_of(newest), aftermath.stays_of(newest)
    if sheet is not None:
        initial |= {"water_l": _typed(sheet.water_l), "unburnt_kg": _typed(sheet.unburnt_kg)}
    form = CorrectForm(
        sent(request), request=request, on=found, lots=lots, initial=initial,
        people=aftermath.exposed_people(found), stays={each.person: each for each in stays},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.correct_burn(
                found, seen_report=given["seen_report"], ended_at=given["ended_at"],
                used=form.used(), note=given["note"], why=given["why"], after=form.after(),
                meaning=given["meaning"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Corrected; the earlier report stays to be read."))
            return redirect(receipt_address(form.act, found, request.person))
    context = {"form": form, "burn": found, **_meanwhile(request, form, public_id)}
    return render(request, "burns/correct.html", context, status=form.status)


def _typed(value: Decimal | None) -> str:
    return "" if value is None else plain_number(value)


def _meanwhile(request: GroundRequest, form: CorrectForm, public_id: str) -> dict[str, Any]:
    """When someone corrected it first: both reports, and a form that knows of the other one."""
    newest = selectors.burn_here(request.ground, public_id).current
    if newest is None or not isinstance(form.refused, StaleVersion):
        return {}
    typed, burned = form.cleaned_data, {each.lot: each.used for each in selectors.fuel_of(newest)}
    form.have_seen(newest.number)
    return {
        "both": [
            Side(_("Fire out"), moment(typed["ended_at"]), moment(newest.ended_at)),
            Side(_("Burned"), _fuel(form.used_by_lot()), _fuel(burned)),
            Side(
                _("Note"), lines(filter(None, [typed["note"]])), lines(filter(None, [newest.note]))
            ),
            Side(_("Reason"), typed["why"], lines(filter(None, [newest.why]))),
        ],
        "stored_by": newest.written_by.name,
        "stored_at": newest.written_at,
        "then": _(
            "If you send it again, yours becomes the newest report; theirs stays to be read."
        ),
    }


def _fuel(used: Mapping[Any, Decimal]) -> str:
    return lines(
        f"{lot.code}, {lot.product}: {plain_number(quantity)} {lot.product.counted_in}".strip()
        for lot, quantity in used.items()
    )


def return_boards(request: GroundRequest, public_id: str) -> HttpResponse:
    plan = plan_here(request.ground, public_id)
    refuse_state(plan, "return")
    out = still_out(plan, selectors.burned_by_lot(plan))
    form = ReturnForm(sent(request), out=out, initial={"returned_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.return_boards(
                plan, form.out[given["lot"]].lot, given["quantity"],
                returned_at=given["returned_at"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Back in the store."))
            return redirect("plans:plan", plan.public_id)
    context = {"form": form, "plan": plan, "version": plan.version, "out": out}
    return render(request, "burns/return.html", context, status=form.status)
