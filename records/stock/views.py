"""The pages of the store."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.look.lists import listed
from facility.people.gate import GroundRequest
from records.stock import reordering, selectors, services
from records.stock.forms import ProductForm, ReorderForm
from records.stock.moisture_views import moisture_context
from records.stock.moving_views import lot_extras
from records.stock.receiving_views import receipt_of
from records.stock.rounds import due_for_reading
from records.stock.tables import LotFilter, LotTable


def on_hand(request: GroundRequest) -> HttpResponse:
    found = LotFilter(request.GET, queryset=selectors.listed_lots(request.ground))
    context = listed(request, LotTable, found)
    context["totals"] = selectors.totals_on_hand(request.ground)
    context["due"] = due_for_reading(request.ground, request.now)
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
                calorific_source=given["calorific_source"],
                density_band_pct=given["density_band_pct"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("{name} is in the list of products.").format(name=made))
            return redirect("stock:products")
    return render(request, "stock/product_new.html", {"form": form}, status=form.status)


def reorder(request: GroundRequest, public_id: str) -> HttpResponse:
    product = reordering.product_here(request.ground, public_id)
    rule = reordering.rules_of(request.ground).get(product.pk)
    form = ReorderForm(sent(request), unit=product.counted_in, initial=reordering.typed_again(rule))
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: reordering.set_reorder(
                product, lead_days=given["lead_days"], spread_days=given["spread_days"],
                service_pct=given["service_pct"], multiple=given["multiple"],
                lasts_days=given["lasts_days"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("How {product} is ordered is set.").format(product=product))
            return redirect(f"{reverse('reports:outlook')}?product={product.public_id}")
    context = {"form": form, "product": product, "rule": rule}
    return render(request, "stock/reorder.html", context, status=form.status)


def lot(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    context = {
        "lot": found,
        **moisture_context(request, found),
        "figures": selectors.figures_for(found.product, found),
        "readings": selectors.readings_of(found),
        "verdicts": selectors.verdicts_of(found),
        "movements": selectors.movements_of(found),
        **receipt_of(found),
        **lot_extras(found),
    }
    return render(request, "stock/lot.html", context)
