"""A unit's history: as a page, as a document while it is short, and with its evidence."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext as _
from django_tables2 import RequestConfig

from facility.look.lists import ROWS
from facility.people.gate import GroundRequest
from facility.sites.models import Unit
from records.audit.heads import head_now
from records.ground.selectors import unit_here
from records.inspections.selectors import unit_state
from records.reports.evidence import Evidence
from records.reports.forms import PeriodForm
from records.reports.history import history_page
from records.reports.life import life_of, period_of
from records.reports.long_history import DOCUMENT, in_one_go, is_long
from records.reports.pdf import pdf_of, pdf_response
from records.reports.printing import carried
from records.reports.tables import HistoryTable


def _asked(request: GroundRequest, public_id: str) -> tuple[Unit, Any, Any, PeriodForm]:
    """The unit, and the first and last day asked for."""
    unit = unit_here(request.ground, public_id)
    form = PeriodForm(request.GET or None)
    start, end = form.period(request.now.astimezone(request.ground.zone).date())
    form.initial = {"start": start, "end": end}
    return unit, start, end, form


def unit_history_page(request: GroundRequest, public_id: str) -> HttpResponse:
    unit, start, end, form = _asked(request, public_id)
    page = history_page(
        unit, start, end, kind=form.chosen_kind(), number=_number(request.GET.get("page", ""))
    )
    table = HistoryTable(page.rows)
    RequestConfig(request, paginate={"per_page": ROWS, "silent": True}).configure(table)
    today = request.now.astimezone(request.ground.zone).date()
    context = {
        "unit": unit,
        "state": unit_state(unit, request.now),
        "life": life_of(unit, period_of(unit, start, end), request.now),
        "whole": (min(unit.commissioned_on, today), today),
        "head": head_now(),
        "form": form,
        "table": table,
        "page": page,
        "long": is_long(unit, start, end),
        "query": f"start={start}&end={end}",
    }
    return render(request, "reports/unit_history.html", context)


def _number(text: str) -> int:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 7 else 1


def _asks_the_worker(request: GroundRequest, unit: Unit, start: Any, end: Any) -> HttpResponse:
    messages.info(
        request, _("This history is too long to be printed while you wait. Ask for it here.")
    )
    return redirect(f"{reverse('reports:papers', args=[unit.public_id])}?start={start}&end={end}")


def _name(unit: Unit, start: Any, end: Any) -> str:
    return f"{unit.name}-{start}-{end}".replace(" ", "-").lower()


def unit_history_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    unit, start, end, _form = _asked(request, public_id)
    if is_long(unit, start, end):
        return _asks_the_worker(request, unit, start, end)
    context = {**in_one_go(unit, start, end, request.now), **carried(request)}
    return pdf_response(DOCUMENT, context, _name(unit, start, end), request.GET.get("paper", ""))


def evidence(request: GroundRequest, public_id: str) -> HttpResponse | StreamingHttpResponse:
    """Everything to check a unit's history without this program, as one zip."""
    unit, start, end, _form = _asked(request, public_id)
    if is_long(unit, start, end):
        return _asks_the_worker(request, unit, start, end)
    context = {**in_one_go(unit, start, end, request.now), **carried(request)}
    document = pdf_of(DOCUMENT, context, request.GET.get("paper", ""))
    name = _name(unit, start, end)
    return bundle_of(Evidence(request.ground, context["head"], f"{name}.pdf", document), name)


def bundle_of(bundle: Evidence, name: str) -> StreamingHttpResponse:
    response = StreamingHttpResponse(bundle.stream(), content_type="application/zip")
    response["Content-Disposition"] = str(content_disposition_header(True, f"evidence-{name}.zip"))
    return response
