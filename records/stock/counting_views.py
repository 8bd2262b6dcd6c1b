"""The pages of the stocktake."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest, may
from records.audit.selectors import receipt_address
from records.stock import count_selectors, counting, selectors
from records.stock.counting_forms import (
    AdjustForm,
    ApproveCountForm,
    CountForm,
    LimitsForm,
    SignCountForm,
    StocktakeForm,
)


def stocktakes(request: GroundRequest) -> HttpResponse:
    newest = count_selectors.stocktakes_of(request.ground)[:50]
    return render(request, "stock/stocktakes.html", {"stocktakes": newest})


def stocktake_new(request: GroundRequest) -> HttpResponse:
    form = StocktakeForm(sent(request), site=request.ground)
    if request.method == "POST" and form.is_valid():
        made = form.carry_out(
            lambda: counting.start_stocktake(
                request.ground, bays=form.chosen(), by=request.person,
                once=form.cleaned_data["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("Print the count sheet, or count with this screen."))
            return redirect("stock:stocktake", made.public_id)
    return render(request, "stock/stocktake_new.html", {"form": form}, status=form.status)


def count_limits(request: GroundRequest) -> HttpResponse:
    site = request.ground
    initial = {
        "over_pct": f"{site.count_over_pct.normalize():f}",
        "over_value": site.count_over_value,
    }
    form = LimitsForm(sent(request), initial=initial)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: counting.set_count_limits(
                site, over_pct=given["over_pct"], over_value=given["over_value"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("The threshold is set."))
            return redirect("stock:stocktakes")
    return render(request, "stock/count_limits.html", {"form": form}, status=form.status)


def stocktake(request: GroundRequest, public_id: str) -> HttpResponse:
    """The lines; what the record said is shown only of those that were counted."""
    found = count_selectors.stocktake_here(request.ground, public_id)
    lines = list(count_selectors.lines_of(found))
    by_line = {each.line.pk: each for each in count_selectors.variances(found)}
    states = {line.state for line in lines}
    context = {
        "stocktake": found,
        "rows": [(line, by_line.get(line.pk)) for line in lines],
        "may_count": may(request, "stock.stock_counted") and states & {"count_open", "counted"},
        "may_sign": may(request, "stock.stocktake_signed") and "counted" in states,
        "may_approve": may(request, "stock.stocktake_approved") and "count_signed" in states,
        "waits": "count_signed" in states,
        "open": sum(line.state == "count_open" for line in lines),
    }
    return render(request, "stock/stocktake.html", context)


def count(request: GroundRequest, public_id: str) -> HttpResponse:
    found = count_selectors.stocktake_here(request.ground, public_id)
    lines = count_selectors.lines_of(found).filter(state__in=("count_open", "counted"))
    form = CountForm(sent(request), lines=list(lines), initial={"counted_at": request.now})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: counting.enter_counts(
                found, form.counts, counted_at=given["counted_at"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("{count} lots are counted.").format(count=len(form.counts)))
            return redirect("stock:stocktake", found.public_id)
    context = {"form": form, "stocktake": found}
    return render(request, "stock/count.html", context, status=form.status)


def sign(request: GroundRequest, public_id: str) -> HttpResponse:
    return _signing(request, public_id, SignCountForm, "counted", counting.sign_stocktake)


def approve(request: GroundRequest, public_id: str) -> HttpResponse:
    return _signing(
        request, public_id, ApproveCountForm, "count_signed", counting.approve_stocktake
    )


def _signing(
    request: GroundRequest, public_id: str, form_class: Any, state: Any, verb: Any
) -> HttpResponse:
    """Both signatures: what is signed, line by line, and its hash."""
    found = count_selectors.stocktake_here(request.ground, public_id)
    form = form_class(
        sent(request), request=request, on=found,
        initial={"shown_hash": counting.content_hash(found, state)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: verb(
                found, meaning=given["meaning"], shown_hash=given["shown_hash"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Signed."))
            return redirect(receipt_address(form.act, found, request.person))
    context = {
        "form": form,
        "stocktake": found,
        "variances": count_selectors.variances(found, state),
        "approving": state == "count_signed",
    }
    return render(request, "stock/stocktake_sign.html", context, status=form.status)


def adjust(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = AdjustForm(
        sent(request), unit=found.product.counted_in, request=request, on=found,
        initial={"shown_hash": counting.record_hash(found)},
    )  # fmt: skip
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: counting.adjust_stock(
                found, counted_now=given["counted"], reason=given["reason"],
                meaning=given["meaning"], shown_hash=given["shown_hash"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            line = count_selectors.lines_of(made).get()
            messages.success(
                request,
                _("The stock of lot {lot} was adjusted.").format(lot=found)
                if line.movement_id
                else _("The difference is over the threshold; a burn manager approves it."),
            )
            return redirect(receipt_address(form.act, found, request.person))
    return render(request, "stock/adjust.html", {"form": form, "lot": found}, status=form.status)
