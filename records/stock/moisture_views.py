"""Pages of moisture: readings and samples of a lot, decisions on it, and the meters."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from records.audit.forms import SignatureForm
from records.audit.selectors import receipt_address
from records.stock import deciding, drying, measuring, rounds, selectors
from records.stock.moisture_forms import (
    AcceptForm,
    CalibrateForm,
    ConditionForm,
    ConfirmForm,
    CorrectionForm,
    DriedForm,
    HoldForm,
    MeterForm,
    PackForm,
    ReadingsForm,
    RejectForm,
)


def moisture_context(request: GroundRequest, lot: Any) -> dict[str, Any]:
    """What every page about a lot's moisture shows: the round, its plan, the limit, the verdict."""
    day = request.now.astimezone(request.ground.zone).date()
    moisture, limit = rounds.moisture_of(lot), rounds.moisture_limit(request.ground, day)
    decision = selectors.decision_on(lot)
    return {
        "moisture": moisture,
        "limit": limit,
        "judged": rounds.judged(lot, moisture.readings, limit) if moisture.is_whole else None,
        "plan_of_lot": rounds.plan_for(int(lot.received)) if lot.product.is_board else None,
        "outlook": drying.outlook(lot, moisture, limit, day),
        "decision": decision,
        "waits_for_second": decision is not None and selectors.waits_for_second(decision),
    }


# -- readings --------------------------------------------------------------------------------


def _drawn(request: GroundRequest, lot: Any) -> tuple[list[rounds.Drawn], int]:
    """The boards to read, and how many lie in a pack as whoever reads has counted."""
    pack = PackForm(request.GET)
    counted = pack.cleaned_data.get("in_a_pack") if pack.is_valid() else None
    in_a_pack = counted or rounds.BOARDS_IN_A_PACK
    day = request.now.astimezone(request.ground.zone).date()
    return rounds.boards_to_read(lot, lot.balance.on_hand, day, in_a_pack), in_a_pack


def _readings_form(request: GroundRequest, lot: Any) -> tuple[ReadingsForm, int]:
    drawn, in_a_pack = _drawn(request, lot)
    form = ReadingsForm(
        sent(request), site=request.ground, drawn=drawn, needed=rounds.needed_for(lot),
        initial={"read_at": request.now},
    )  # fmt: skip
    return form, in_a_pack


def readings(request: GroundRequest, public_id: str) -> HttpResponse:
    lot = selectors.lot_here(request.ground, public_id)
    form, in_a_pack = _readings_form(request, lot)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: measuring.record_readings(
                lot, readings=form.taken(), meter=form.meters[given["meter"]],
                board_temperature_c=given["board_temperature_c"], read_at=given["read_at"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(
                request, _("{count} readings recorded.").format(count=len(form.taken()))
            )
            return redirect("stock:lot", lot.public_id)
    context = {
        "form": form,
        "lot": lot,
        "in_a_pack": in_a_pack,
        **moisture_context(request, lot),
        **_so_far(request, lot, form),
    }
    return render(request, "stock/readings.html", context, status=form.status)


def readings_judged(request: GroundRequest, public_id: str) -> HttpResponse:
    """What the readings on the form say so far; nothing is stored."""
    lot = selectors.lot_here(request.ground, public_id)
    form, _in_a_pack = _readings_form(request, lot)
    form.is_valid()
    return render(request, "stock/_judged.html", {"lot": lot, **_so_far(request, lot, form)})


def _so_far(request: GroundRequest, lot: Any, form: ReadingsForm) -> dict[str, Any]:
    day = request.now.astimezone(request.ground.zone).date()
    limit = rounds.moisture_limit(request.ground, day)
    taken = form.taken() if form.is_bound and hasattr(form, "cleaned_data") else []
    line = selectors.correction_for(form.chosen_meter(), lot.product) if taken else None
    temperature = form.cleaned_data.get("board_temperature_c") if taken else None
    values = [
        measuring.corrected(each.shown, lot.product, temperature, line)
        for each in taken
        if 0 <= each.shown <= measuring.MOST_MOISTURE
    ]
    return {"limit": limit, "needed": form.needed, "form": form, **rounds.said(lot, values, limit)}


def dried(request: GroundRequest, public_id: str) -> HttpResponse:
    lot = selectors.lot_here(request.ground, public_id)
    drawn, _in_a_pack = _drawn(request, lot)
    form = DriedForm(
        sent(request), drawn=drawn, needed=rounds.needed_for(lot), initial={"read_at": request.now}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: measuring.record_dried(
                lot, samples=form.taken(), read_at=given["read_at"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(
                request, _("{count} samples recorded.").format(count=len(form.taken()))
            )
            return redirect("stock:lot", lot.public_id)
    context = {"form": form, "lot": lot, **moisture_context(request, lot)}
    return render(request, "stock/dried.html", context, status=form.status)


# -- decisions -------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Page:
    """What a page of decision says."""

    title: Any
    lead: Any
    button: Any


PAGES = {
    AcceptForm: _Page(
        gettext_lazy("Accept for burning"),
        gettext_lazy("The readings must pass the sampling plan."),
        gettext_lazy("Sign and accept"),
    ),
    ConditionForm: _Page(
        gettext_lazy("Accept on a condition"),
        gettext_lazy(
            "The lot stays out of use until burn manager or safety officer signs as well."
        ),
        gettext_lazy("Sign the condition"),
    ),
    RejectForm: _Page(
        gettext_lazy("Reject the lot"),
        gettext_lazy(
            "Out of use at once; for good when burn manager or safety officer has signed."
        ),
        gettext_lazy("Sign and reject"),
    ),
    ConfirmForm: _Page(
        gettext_lazy("Second signature"),
        gettext_lazy("Whoever does not agree holds the lot instead."),
        gettext_lazy("Sign as the second person"),
    ),
}


def _decide(
    request: GroundRequest, public_id: str, form_class: type[SignatureForm],
    verb: Callable[..., Any],
) -> HttpResponse:  # fmt: skip
    """Show what is signed for, and sign it."""
    lot = selectors.lot_here(request.ground, public_id)
    form = form_class(
        sent(request), request=request, on=lot,
        initial={"shown_hash": deciding.shown_hash_of(lot)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(lambda: verb(lot, by=request.person, **given))
        if not form.refused:
            messages.success(request, _("Signed. Lot {lot} is decided.").format(lot=lot))
            return redirect(receipt_address(form.act, lot, request.person))
    context = {
        "form": form,
        "lot": lot,
        "page": PAGES[form_class],
        "readings": selectors.readings_of(lot),
        **moisture_context(request, lot),
    }
    return render(request, "stock/decide.html", context, status=form.status)


def accept(request: GroundRequest, public_id: str) -> HttpResponse:
    return _decide(request, public_id, AcceptForm, deciding.accept_lot)


def condition(request: GroundRequest, public_id: str) -> HttpResponse:
    return _decide(request, public_id, ConditionForm, deciding.accept_on_condition)


def reject(request: GroundRequest, public_id: str) -> HttpResponse:
    return _decide(request, public_id, RejectForm, deciding.reject_lot)


def confirm(request: GroundRequest, public_id: str) -> HttpResponse:
    return _decide(request, public_id, ConfirmForm, deciding.confirm_verdict)


def hold(request: GroundRequest, public_id: str) -> HttpResponse:
    lot = selectors.lot_here(request.ground, public_id)
    form = HoldForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: deciding.hold_lot(
                lot, reason=given["reason"], by=request.person, once=given["once"]
            )
        )
        if not form.refused:
            messages.success(request, _("Lot {lot} is held.").format(lot=lot))
            return redirect("stock:lot", lot.public_id)
    context = {"form": form, "lot": lot, **moisture_context(request, lot)}
    return render(request, "stock/hold.html", context, status=form.status)


# -- meters ----------------------------------------------------------------------------------


def meters(request: GroundRequest) -> HttpResponse:
    today = request.now.astimezone(request.ground.zone).date()
    return render(
        request,
        "stock/meters.html",
        {"meters": selectors.meters_of(request.ground), "today": today},
    )


def meter(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.meter_here(request.ground, public_id)
    today = request.now.astimezone(request.ground.zone).date()
    context = {
        "meter": found,
        "today": today,
        "calibrations": selectors.calibrations_of(found),
        "corrections": selectors.corrections_of(found),
    }
    return render(request, "stock/meter.html", context)


def meter_new(request: GroundRequest) -> HttpResponse:
    form = MeterForm(sent(request))
    if request.method == "POST" and form.is_valid():
        made = form.carry_out(
            lambda: measuring.add_meter(request.ground, by=request.person, **form.cleaned_data)
        )
        if made:
            messages.success(request, _("{name} is on the list of meters.").format(name=made))
            return redirect("stock:meter", made.public_id)
    context = {"form": form, "title": _("Add a meter"), "back": None}
    return render(request, "stock/meter_form.html", context, status=form.status)


def calibrate(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.meter_here(request.ground, public_id)
    form = CalibrateForm(sent(request))
    if request.method == "POST" and form.is_valid():
        form.carry_out(
            lambda: measuring.calibrate_meter(found, by=request.person, **form.cleaned_data)
        )
        if not form.refused:
            messages.success(request, _("The calibration is recorded."))
            return redirect("stock:meter", found.public_id)
    context = {"form": form, "title": _("Record a calibration"), "back": found}
    return render(request, "stock/meter_form.html", context, status=form.status)


def correction(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.meter_here(request.ground, public_id)
    form = CorrectionForm(sent(request), site=request.ground)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: measuring.correct_meter(
                found, form.products[given["product"]], factor=given["factor"],
                points=given["points"], source=given["source"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The correction is set for readings from now on."))
            return redirect("stock:meter", found.public_id)
    context = {"form": form, "title": _("Correction for a board"), "back": found}
    return render(request, "stock/meter_form.html", context, status=form.status)
