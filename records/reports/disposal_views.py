"""How long records are kept, and disposing of what is due: ordered by one, carried out by another."""

from __future__ import annotations

import datetime as dt

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest, may
from facility.refusals import WrongValue
from records.audit.places import address_of
from records.audit.selectors import names_of, receipt_address
from records.reports import disposing
from records.reports.forms import CarryOutForm, DisposalForm
from records.reports.retention import class_of, held_here, latest_due

MOST_SHOWN = 200


def retention(request: GroundRequest) -> HttpResponse:
    today = request.now.astimezone(request.ground.zone).date()
    rows = [
        (held, disposing.DISPOSABLE.get(held.kind.key)) for held in held_here(request.ground, today)
    ]
    orders = [(each, class_of(each.order.kind)) for each in disposing.orders_of(request.ground)]
    context = {"rows": rows, "orders": orders}
    return render(request, "reports/retention.html", context)


def disposal_new(request: GroundRequest, kind: str) -> HttpResponse:
    """Show exactly what would go up to a day, and sign the order for it."""
    found = disposing.class_to_dispose(kind)
    latest = latest_due(found, request.now.astimezone(request.ground.zone).date())
    until = _day(request.GET.get("until", ""), latest)
    content = disposing.content_of(request.ground, kind, until)
    form = DisposalForm(
        sent(request), request=request, on=None, initial={"shown_hash": content.hash}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: disposing.order_disposal(
                request.ground, kind=kind, until=until, reason=given["reason"],
                meaning=given["meaning"], shown_hash=given["shown_hash"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("Ordered; an administrator carries it out."))
            return redirect(receipt_address(form.act, made, request.person))
    context = {
        "form": form, "kind": found, "what": disposing.DISPOSABLE[kind].what, "until": until,
        "latest": latest, "early": until > latest, **_going(content),
    }  # fmt: skip
    return render(request, "reports/disposal_new.html", context, status=form.status)


def _day(text: str, latest: dt.date) -> dt.date:
    """The day asked for, or the latest that is due."""
    if not text:
        return latest
    try:
        day = dt.date.fromisoformat(text)
    except ValueError:
        raise WrongValue(_("{given} is no day.").format(given=text[:40]), field="until") from None
    if not 1900 <= day.year <= 2200:
        raise WrongValue(_("The year {year} is too far off.").format(year=day.year), field="until")
    return day


def _going(content: disposing.Content) -> dict[str, object]:
    """What would go, for a page: the first things one by one, and how many there are of each."""
    shown = content.things[:MOST_SHOWN]
    names = names_of(each.public_id for each in shown if each.named)
    words = {
        "plan": _("plan"), "burn": _("burn"), "lot": _("lot"), "delivery": _("delivery"),
        "person": _("person"),
    }  # fmt: skip
    return {
        "content": content,
        "things": [
            (each, words[each.kind], address_of(each.obj), names.get(each.public_id, ""))
            for each in shown
        ],
        "more": len(content.things) - len(shown),
    }


def disposal(request: GroundRequest, public_id: str) -> HttpResponse:
    ordered = disposing.order_here(request.ground, public_id)
    context = {
        "ordered": ordered, "order": ordered.order, "kind": class_of(ordered.order.kind),
        "may_carry_out": may(request, "ground.disposal_done") and not ordered.disposal,
    }  # fmt: skip
    return render(request, "reports/disposal.html", context)


def carry_out(request: GroundRequest, public_id: str) -> HttpResponse:
    """Show again what goes, and sign for erasing it."""
    ordered = disposing.order_here(request.ground, public_id)
    order = ordered.order
    content = disposing.content_of(request.ground, order.kind, order.until)
    form = CarryOutForm(
        sent(request), request=request, on=order, initial={"shown_hash": content.hash}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: disposing.carry_out(
                order, meaning=given["meaning"], shown_hash=given["shown_hash"],
                by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Disposed of; the entry says by whose order."))
            return redirect(receipt_address(form.act, order, request.person))
    context = {
        "form": form, "ordered": ordered, "order": order, "kind": class_of(order.kind),
        "own": order.ordered_by_id == request.person.pk,
        "matches": content.hash == order.content_hash, **_going(content),
    }  # fmt: skip
    return render(request, "reports/disposal_carry_out.html", context, status=form.status)
