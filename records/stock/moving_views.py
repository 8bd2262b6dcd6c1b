"""The pages of what moves: bays, splitting, cutting, scrap, what is reserved, and the values."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.calc.working import Working
from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.refusals import Refused
from records.stock import cutting, moving, selectors
from records.stock.moving_forms import CarryForm, CutForm, ScrapForm, SplitForm, ValuesForm
from records.stock.values import period_of, value_of_lot


def lot_extras(lot: Any) -> dict[str, Any]:
    """What the page of a lot shows of its value, its claims, its places and its family."""
    return {
        "value": value_of_lot(lot),
        "reserved": selectors.reservations_of(lot),
        "places": selectors.places_of(lot),
        "children": selectors.children_of(lot),
    }


def carry(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = CarryForm(sent(request), site=request.ground)
    if request.method == "POST" and form.is_valid():
        given, bay = form.cleaned_data, form.chosen()
        assert bay is not None
        made = form.carry_out(
            lambda: moving.carry_lot(
                found, bay=bay, reason=given["reason"], by=request.person, once=given["once"]
            )
        )
        if made:
            messages.success(request, _("Lot {lot} lies in {bay}.").format(lot=found, bay=bay))
            return redirect("stock:lot", found.public_id)
    return render(request, "stock/carry.html", {"form": form, "lot": found}, status=form.status)


def split(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = SplitForm(sent(request), site=request.ground, unit=found.product.counted_in)
    if request.method == "POST" and form.is_valid():
        given, bay = form.cleaned_data, form.chosen()
        assert bay is not None
        made = form.carry_out(
            lambda: moving.split_lot(
                found, quantity=given["quantity"], code=given["code"], bay=bay,
                reason=given["reason"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("Lot {lot} was split off.").format(lot=made))
            return redirect("stock:lot", made.public_id)
    return render(request, "stock/split.html", {"form": form, "lot": found}, status=form.status)


def cut(request: GroundRequest, public_id: str) -> HttpResponse:
    """What the pattern gives is shown before anything is cut: the form asks for it first."""
    found = selectors.lot_here(request.ground, public_id)
    form = CutForm(sent(request), site=request.ground)
    working = None
    if request.method == "POST" and form.is_valid():
        if "try" in request.POST:
            working = _tried(form, found)
        else:
            given = form.cleaned_data
            made = form.carry_out(
                lambda: cutting.cut_sheets(
                    found, sheets=given["sheets"], pattern=form.pattern(), code=given["code"],
                    keep_offcuts=given["keep_offcuts"], bay=form.chosen(), by=request.person,
                    once=given["once"],
                )
            )  # fmt: skip
            if made:
                messages.success(
                    request,
                    _("{count} pieces are in lot {lot}.").format(
                        count=f"{made.received:f}".split(".")[0], lot=made
                    ),
                )
                return redirect("stock:lot", made.public_id)
    context = {"form": form, "lot": found, "working": working}
    return render(request, "stock/cut.html", context, status=form.status)


def _tried(form: CutForm, lot: Any) -> Working | None:
    try:
        return cutting.pattern_of(lot.product, form.pattern())
    except Refused as refused:
        form.refuse(refused)
        return None


def scrap(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.lot_here(request.ground, public_id)
    form = ScrapForm(sent(request), unit=found.product.counted_in)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: moving.scrap(
                found, quantity=given["quantity"], reason=given["reason"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("Written off from lot {lot}.").format(lot=found))
            return redirect("stock:lot", found.public_id)
    return render(request, "stock/scrap.html", {"form": form, "lot": found}, status=form.status)


def reservations(request: GroundRequest) -> HttpResponse:
    held = selectors.reservations_on(request.ground)
    plans: dict[str, list[selectors.Reserved]] = {}
    for each in sorted(held, key=lambda each: (each.until, each.plan)):
        plans.setdefault(each.plan, []).append(each)
    rows = [
        {"plan": plan, "lots": lots, "until": lots[0].until, "lapsed": lots[0].until < request.now}
        for plan, lots in plans.items()
    ]
    return render(request, "stock/reservations.html", {"rows": rows})


def release(request: GroundRequest, public_id: str) -> HttpResponse:
    moving.release_boards(
        request.ground, public_id, by=request.person, once=request.POST.get("once", "")[:40]
    )
    messages.success(request, _("The boards are free for other plans."))
    return redirect("stock:reservations")


def values(request: GroundRequest) -> HttpResponse:
    form = ValuesForm(request.GET or None)
    today = request.now.astimezone(request.ground.zone).date()
    period = period_of(request.ground, *form.period(today))
    return render(request, "stock/values.html", {"form": form, "period": period})
