"""The recording of a burn as a document."""

from __future__ import annotations

from django.http import HttpResponse

from facility.people.gate import GroundRequest
from records.burns.selectors import burn_here
from records.capture.page import whole_page
from records.reports.pdf import pdf_response
from records.reports.printing import carried


def recorded_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    """The page as it stands on the screen, window and groups included."""
    burn = burn_here(request.ground, public_id)
    context = {**whole_page(burn, request.GET), **carried(request)}
    name = f"recorded-{burn.reference}".lower()
    return pdf_response("reports/recorded_pdf.html", context, name, request.GET.get("paper", ""))
