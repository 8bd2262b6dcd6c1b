"""Evidence for the engineer, as one document."""

from __future__ import annotations

from django.http import HttpResponse

from facility.people.gate import GroundRequest
from records.ground.selectors import unit_here
from records.reports.engineering import context_of
from records.reports.pdf import pdf_response
from records.reports.printing import carried


def engineer_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    unit = unit_here(request.ground, public_id)
    context = {**context_of(unit, request.now), **carried(request)}
    name = f"engineer-{unit.name}".replace(" ", "-").lower()
    return pdf_response("reports/engineer_pdf.html", context, name, request.GET.get("paper", ""))
