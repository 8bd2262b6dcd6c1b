"""The pages of the lorry: dockets, and what is looked at as a lot comes in."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from records.stock import receipts, receiving, selectors, services
from records.stock.marks import seen
from records.stock.receiving_forms import (
    DeliveryForm,
    DensityForm,
    DocketPictureForm,
    MarksForm,
    WeighForm,
)


def receipt_of(lot: Any) -> dict[str, Any]:
    """What a lot's page says of how it came in."""
    checks = receipts.mark_checks_of(lot)
    return {
        "pictures": receipts.pictures_of(lot.delivery),
        "mark_check": checks[0] if checks else None,
        "marks_seen": seen(checks[0].answers) if checks else [],
        "density": receipts.density_of(lot),
    }


def deliveries(request: GroundRequest) -> HttpResponse:
    newest = selectors.deliveries_of(request.ground)[:50]
    return render(request, "stock/deliveries.html", {"deliveries": newest})


def delivery_new(request: GroundRequest) -> HttpResponse:
    form = DeliveryForm(
        sent(request),
        request.FILES or None,
        site=request.ground,
        initial={"delivered_at": request.now},
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.receive_delivery(
                request.ground, supplier=given["supplier"], docket=given["docket"],
                delivered_at=given["delivered_at"], untreated=given["untreated"], lots=form.lots,
                picture=given["picture"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(
                request, _("Docket {docket} is in the store.").format(docket=made.docket)
            )
            return _to_what_came(made)
    context = {
        "form": form,
        "suppliers": selectors.suppliers_of(request.ground),
        "picture_lost": bool(request.FILES),
    }
    return render(request, "stock/delivery_new.html", context, status=form.status)


def _to_what_came(made: Any) -> HttpResponse:
    """To the lot, or to the docket when it had several."""
    lots = made.lots.all()
    if len(lots) == 1:
        return redirect("stock:lot", lots[0].public_id)
    return redirect("stock:delivery", made.public_id)


def delivery(request: GroundRequest, public_id: str) -> HttpResponse:
    found = receipts.delivery_here(request.ground, public_id)
    context = {
        "delivery": found,
        "lots": list(selectors.lots_of(request.ground).filter(delivery=found)),
        "pictures": receipts.pictures_of(found),
    }
    return render(request, "stock/delivery.html", context)


def docket_picture(request: GroundRequest, public_id: str) -> HttpResponse:
    found = receipts.delivery_here(request.ground, public_id)
    form = DocketPictureForm(sent(request), request.FILES or None)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        kept = form.carry_out(
            lambda: receiving.photograph_docket(
                found, given["picture"], by=request.person, once=given["once"]
            )
        )
        if kept:
            messages.success(request, _("The photograph is kept."))
            return redirect("stock:delivery", found.public_id)
    context = {"form": form, "delivery": found}
    return render(request, "stock/docket_picture.html", context, status=form.status)


def marks(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = MarksForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        kept = form.carry_out(
            lambda: receiving.check_marks(
                found, form.given, note=given["note"], by=request.person, once=given["once"]
            )
        )
        if kept:
            messages.success(request, _("Lot {lot} was looked over.").format(lot=found))
            return redirect("stock:lot", found.public_id)
    context = {"form": form, "lot": found, "earlier": receipts.mark_checks_of(found)}
    return render(request, "stock/marks.html", context, status=form.status)


def weigh(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = WeighForm(sent(request))
    if request.method == "POST" and form.is_valid():
        kept = form.carry_out(
            lambda: receiving.weigh_sheet(
                found, form.sheet(), by=request.person, once=form.cleaned_data["once"]
            )
        )
        if kept:
            messages.success(request, _("The sheet is recorded."))
            return redirect("stock:lot", found.public_id)
    return render(request, "stock/weigh.html", {"form": form, "lot": found}, status=form.status)


def explain(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = DensityForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        kept = form.carry_out(
            lambda: receiving.explain_density(
                found, reason=given["reason"], by=request.person, once=given["once"]
            )
        )
        if kept:
            messages.success(request, _("The reason is recorded."))
            return redirect("stock:lot", found.public_id)
    context = {"form": form, "lot": found, "density": receipts.density_of(found)}
    return render(request, "stock/explain.html", context, status=form.status)
