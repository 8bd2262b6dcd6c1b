"""Documents made by the worker: asked for, watched, taken."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from records.ground.selectors import unit_here
from records.reports import papers as selectors
from records.reports import services
from records.reports.evidence import Evidence
from records.reports.forms import PaperForm, PeriodForm
from records.reports.history_views import bundle_of
from records.reports.pdf import as_download

SHOWN = 20


def papers(request: GroundRequest, public_id: str) -> HttpResponse:
    """The documents asked for of a unit, and the form that asks for one more."""
    unit = unit_here(request.ground, public_id)
    selectors.throw_away_old(request.now)
    today = request.now.astimezone(request.ground.zone).date()
    start, end = PeriodForm(request.GET or None).period(today)
    first = {"start": max(start, min(unit.commissioned_on, today)), "end": min(end, today)}
    form = PaperForm(sent(request), initial={**first, "paper": "a4"})
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        made = form.carry_out(
            lambda: services.ask_for_history(
                unit, given["start"], given["end"], size=given["paper"], by=request.person,
                once=given["once"],
            )
        )  # fmt: skip
        if made:
            return redirect("reports:paper", made.public_id)
    rows = [
        (each, selectors.standing(each, request.now)) for each in selectors.papers_of(unit)[:SHOWN]
    ]
    context = {"unit": unit, "form": form, "rows": rows}
    return render(request, "reports/papers.html", context, status=form.status)


def paper(request: GroundRequest, public_id: str) -> HttpResponse:
    """One document: its state, asked again by the page while something is to be expected."""
    found = selectors.paper_here(request.ground, public_id)
    context: dict[str, Any] = {
        "paper": found,
        "unit": found.unit,
        "standing": selectors.standing(found, request.now),
        "head": selectors.head_of(found) if found.made_at else None,
    }
    template = "reports/_paper.html" if request.headers.get("HX-Request") else "reports/paper.html"
    return render(request, template, context)


def document(request: GroundRequest, public_id: str) -> HttpResponse:
    found = selectors.paper_here(request.ground, public_id)
    return as_download(selectors.document_of(found, request.now), found.file_name)


def evidence(request: GroundRequest, public_id: str) -> StreamingHttpResponse:
    """The document with the log up to the head that it carries, and the checker."""
    found = selectors.paper_here(request.ground, public_id)
    whole = selectors.document_of(found, request.now)
    head, name = selectors.head_of(found), found.file_name
    return bundle_of(Evidence(request.ground, head, f"{name}.pdf", whole), name)
