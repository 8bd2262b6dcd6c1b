"""Recalls: called and signed, looked at, printed as a notice, lifted by somebody else."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest, may
from facility.refusals import NotHere
from records.audit.selectors import receipt_address
from records.reports import tracing
from records.reports.forms import LiftForm, RecallForm
from records.reports.pdf import pdf_response
from records.reports.printing import carried
from records.reports.tracing import Reader
from records.stock import recalling


def recalls(request: GroundRequest) -> HttpResponse:
    return render(
        request, "reports/recalls.html", {"recalls": recalling.recalls_of(request.ground)[:50]}
    )


def recall_new(request: GroundRequest) -> HttpResponse:
    """Call back what a mark, lot or docket names, with everything of the same boards."""
    asked = (request.GET.get("q") or request.POST.get("q", ""))[:60]
    roots = tracing.named(request.ground, asked)
    if not roots or not tracing.is_exact(asked, roots[0]):
        raise NotHere(_("Name a lot or a docket of this ground; the trace finds it."))
    found = tracing.trace(request.ground, roots, Reader(request.person, request.roles, recall=True))
    shown = recalling.content_hash(found.lots, [each.burn.public_id for each in found.burns])
    form = RecallForm(
        sent(request), request=request, on=roots[0], initial={"shown_hash": shown, "source": "own"}
    )
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: recalling.recall_lots(
                request.ground, roots, source=given["source"], notice=given["notice"],
                reason=given["reason"], used_in=tracing.burns_with, meaning=given["meaning"],
                shown_hash=given["shown_hash"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if made:
            messages.success(request, _("Recalled; every lot of it is held."))
            return redirect(receipt_address(form.act, made, request.person))
    context = {"form": form, "asked": asked, "trace": found}
    return render(request, "reports/recall_new.html", context, status=form.status)


def _shown(request: GroundRequest, public_id: str) -> dict[str, Any]:
    found = recalling.recall_here(request.ground, public_id)
    rows = recalling.lots_recalled(found)
    reader = Reader(request.person, request.roles, recall=True)
    told = tracing.traced(request.ground, [row.lot for row in rows], reader)
    return {"recall": found, "rows": rows, "trace": told}


def recall(request: GroundRequest, public_id: str) -> HttpResponse:
    context = _shown(request, public_id)
    found = context["recall"]
    context["may_lift"] = (
        may(request, "stock.recall_lifted")
        and not hasattr(found, "lifted")
        and found.recalled_by_id != request.person.pk
    )
    return render(request, "reports/recall.html", context)


def lift(request: GroundRequest, public_id: str) -> HttpResponse:
    found = recalling.recall_here(request.ground, public_id)
    shown = {"shown_hash": recalling.lifting_hash(found)}
    form = LiftForm(sent(request), request=request, on=found, initial=shown)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: recalling.lift_recall(
                found, reason=given["reason"], meaning=given["meaning"],
                shown_hash=given["shown_hash"], by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("Lifted; each lot stays held until it is accepted anew."))
            return redirect(receipt_address(form.act, found, request.person))
    context = {
        "form": form, "recall": found, "rows": recalling.lots_recalled(found),
        "own": found.recalled_by_id == request.person.pk,
    }  # fmt: skip
    return render(request, "reports/recall_lift.html", context, status=form.status)


def notice(request: GroundRequest, public_id: str) -> HttpResponse:
    """The recall notice on paper."""
    context = {**_shown(request, public_id), **carried(request)}
    name = f"recall-{context['recall'].reference}".lower()
    return pdf_response("reports/recall_pdf.html", context, name, request.GET.get("paper", ""))
