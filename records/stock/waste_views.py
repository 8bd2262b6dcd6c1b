"""The pages of ash and waste, with their forms."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from facility.look.forms import ActForm, LocalDateTimeField, QuantityField, choose_first, sent
from facility.people.gate import GroundRequest, may
from records.audit.forms import SignatureForm
from records.audit.selectors import receipt_address
from records.stock import waste as dockets


class WasteForm(ActForm):
    kind = forms.ChoiceField(
        choices=lambda: [choose_first(), *dockets.WASTE_KINDS], label=gettext_lazy("What it is")
    )
    mass_kg = QuantityField("kg", 1, label=gettext_lazy("Weighed"))
    unburnt_kg = QuantityField("kg", 1, required=False, label=gettext_lazy("Of which unburnt wood"))
    cooled_since = LocalDateTimeField(label=gettext_lazy("Cold since"))
    weighed_at = LocalDateTimeField(label=gettext_lazy("Weighed at"))
    container = forms.CharField(max_length=200, label=gettext_lazy("Container"))
    destination = forms.CharField(max_length=400, label=gettext_lazy("Where it goes"))
    docket = forms.CharField(max_length=200, label=gettext_lazy("Docket number"))
    untreated = forms.BooleanField(
        required=False,
        label=gettext_lazy(
            "Only remains of new, untreated boards; nothing painted, coated or soaked"
        ),
    )

    def waste(self) -> dockets.Waste:
        given: dict[str, Any] = {**self.cleaned_data}
        given.pop("once")
        given["unburnt_kg"] = given["unburnt_kg"] or 0
        return dockets.Waste(**given)


class WasteSignForm(SignatureForm):
    act = "stock.waste_signed_off"
    meanings = [
        (dockets.SIGNS_OFF, gettext_lazy("cold, weighed and gone to the place on the docket"))
    ]


def waste(request: GroundRequest) -> HttpResponse:
    newest = dockets.waste_of(request.ground)[:100]
    return render(request, "stock/waste.html", {"dockets": newest})


def waste_new(request: GroundRequest) -> HttpResponse:
    form = WasteForm(sent(request), initial={"weighed_at": request.now, "kind": "ash"})
    if request.method == "POST" and form.is_valid():
        made = form.carry_out(
            lambda: dockets.record_waste(
                request.ground, form.waste(), by=request.person, once=form.cleaned_data["once"]
            )
        )
        if made:
            messages.success(request, _("Docket {docket} is recorded.").format(docket=made.docket))
            return redirect("stock:waste_docket", made.public_id)
    return render(request, "stock/waste_new.html", {"form": form}, status=form.status)


def waste_docket(request: GroundRequest, public_id: str) -> HttpResponse:
    found = dockets.waste_here(request.ground, public_id)
    signed_off = getattr(found, "sign_off", None)
    context = {
        "waste": found,
        "signed_off": signed_off,
        "may_sign": may(request, "stock.waste_signed_off") and signed_off is None,
    }
    return render(request, "stock/waste_docket.html", context)


def waste_sign(request: GroundRequest, public_id: str) -> HttpResponse:
    found = dockets.waste_here(request.ground, public_id)
    form = WasteSignForm(
        sent(request), request=request, on=found,
        initial={"shown_hash": dockets.waste_hash(found)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: dockets.sign_off_waste(
                found, meaning=given["meaning"], shown_hash=given["shown_hash"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Signed off."))
            return redirect(receipt_address(form.act, found, request.person))
    context = {"form": form, "waste": found}
    return render(request, "stock/waste_sign.html", context, status=form.status)
