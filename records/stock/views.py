"""The pages of the store."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.look.lists import listed
from facility.people.gate import GroundRequest
from facility.rulebook.selectors import limit_in_force
from records.stock import selectors, services
from records.stock.forms import AdjustForm, DeliveryForm, ProductForm, ReadingsForm, VerdictForm
from records.stock.tables import LotFilter, LotTable


def on_hand(request: GroundRequest) -> HttpResponse:
    found = LotFilter(request.GET, queryset=selectors.listed_lots(request.ground))
    context = listed(request, LotTable, found)
    context["totals"] = selectors.totals_on_hand(request.ground)
    return render(request, "stock/on_hand.html", context)


def products(request: GroundRequest) -> HttpResponse:
    context = {"products": selectors.products_with_figures(request.ground)}
    return render(request, "stock/products.html", context)


def product_new(request: GroundRequest) -> HttpResponse:
    form = ProductForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.add_product(
                request.ground, name=given["name"], kind=given["kind"],
                standard_class=given["standard_class"], sheet=form.sheet(),
                calorific_dry_mj_kg=given["net_calorific_dry_mj_kg"],
                calorific_source=given["calorific_source"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("{name} is in the list of products.").format(name=made))
            return redirect("stock:products")
    return render(request, "stock/product_new.html", {"form": form}, status=form.status)


def deliveries(request: GroundRequest) -> HttpResponse:
    newest = selectors.deliveries_of(request.ground)[:50]
    return render(request, "stock/deliveries.html", {"deliveries": newest})


def delivery_new(request: GroundRequest) -> HttpResponse:
    form = DeliveryForm(sent(request), site=request.ground, initial={"delivered_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.receive_delivery(
                request.ground, supplier=given["supplier"], docket=given["docket"],
                delivered_at=given["delivered_at"], untreated=given["untreated"], lots=form.lots,
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(
                request, _("Docket {docket} is in the store.").format(docket=made.docket)
            )
            return redirect("stock:lot", made.lots.all()[0].public_id)
    context = {"form": form, "suppliers": selectors.suppliers_of(request.ground)}
    return render(request, "stock/delivery_new.html", context, status=form.status)


def lot(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    context = {
        "lot": found,
        "moisture": selectors.moisture_of(found),
        "least": selectors.LEAST_READINGS,
        "figures": selectors.figures_for(found.product, found),
        "readings": selectors.readings_of(found),
        "verdicts": selectors.verdicts_of(found),
        "movements": selectors.movements_of(found),
    }
    return render(request, "stock/lot.html", context)


def readings(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = ReadingsForm(sent(request), initial={"read_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.record_readings(
                found, readings=given["readings"], meter=given["meter"], read_at=given["read_at"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(
                request, _("{count} readings recorded.").format(count=len(given["readings"]))
            )
            return redirect("stock:lot", found.public_id)
    today = request.now.astimezone(request.ground.zone).date()
    context = {
        "form": form,
        "lot": found,
        "least": selectors.LEAST_READINGS,
        "limit": limit_in_force(request.ground, today, "charge.moisture_highest"),
    }
    return render(request, "stock/readings.html", context, status=form.status)


def verdict(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = VerdictForm(sent(request))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        if given["verdict"] == "accept":
            form.carry_out(
                lambda: services.accept_lot(found, by=request.person, once=given["once"])
            )
        else:
            form.carry_out(
                lambda: services.hold_lot(
                    found, reason=given["reason"], by=request.person, once=given["once"]
                )
            )
        if not form.refused:
            messages.success(
                request,
                _("Lot {lot} is decided: {verdict}.").format(
                    lot=found, verdict=selectors.DECISIONS[given["verdict"]]
                ),
            )
            return redirect("stock:lot", found.public_id)
    context = {"form": form, "lot": found, "moisture": selectors.moisture_of(found)}
    return render(request, "stock/verdict.html", context, status=form.status)


def adjust(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = AdjustForm(sent(request), unit=found.product.counted_in)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.adjust_stock(
                found, counted_now=given["counted"], reason=given["reason"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The stock of lot {lot} was adjusted.").format(lot=found))
            return redirect("stock:lot", found.public_id)
    return render(request, "stock/adjust.html", {"form": form, "lot": found}, status=form.status)
