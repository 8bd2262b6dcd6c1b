"""The count sheet: lots and marks by bay, a place for the count, and nothing that is on record."""

from __future__ import annotations

from itertools import groupby

from django.http import HttpResponse

from facility.people.gate import GroundRequest
from records.reports.pdf import pdf_response
from records.reports.printing import carried
from records.stock.count_selectors import lines_of, stocktake_here


def count_sheet_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    stocktake = stocktake_here(request.ground, public_id)
    lines = lines_of(stocktake)
    bays = [
        (bay, list(rows))
        for bay, rows in groupby(lines, key=lambda line: line.bay and line.bay.name)
    ]
    context = {"stocktake": stocktake, "bays": bays, **carried(request)}
    name = f"count-sheet-{stocktake.reference}".lower()
    return pdf_response("reports/count_sheet_pdf.html", context, name, request.GET.get("paper", ""))
