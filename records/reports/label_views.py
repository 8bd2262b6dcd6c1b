"""The labels of a lot: a page to choose size and number, and the sheet itself."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse

from facility.people.gate import GroundRequest
from records.reports import labels as sheets
from records.reports.forms import LabelsForm
from records.reports.pdf import pdf_response
from records.stock.selectors import lot_here


def labels(request: GroundRequest, public_id: str) -> HttpResponse:
    found = lot_here(request.ground, public_id)
    form = LabelsForm(initial={"size": "70x37", "packs": 1, "start": 1})
    return render(request, "reports/labels.html", {"lot": found, "form": form})


def labels_pdf(request: GroundRequest, public_id: str) -> HttpResponse:
    """The sheet; without a question it is one label of the first size."""
    found = lot_here(request.ground, public_id)
    form = LabelsForm(request.GET or {"size": "70x37", "packs": 1, "start": 1})
    if not form.is_valid():
        return render(request, "reports/labels.html", {"lot": found, "form": form}, status=400)
    given = form.cleaned_data
    sheet = sheets.SHEETS[given["size"]]
    address = request.build_absolute_uri(reverse("stock:lot", args=[found.public_id]))
    context = {
        "lot": found,
        "ground": request.ground,
        "sheet": sheet,
        "packs": given["packs"],
        "pages": sheets.placed(sheet, given["packs"], given["start"]),
        "mark_pt": sheets.mark_size_pt(sheet, found.code),
        "qr": sheets.drawn(sheets.code_of(address)),
    }
    name = f"labels-{found.public_id}"
    return pdf_response("reports/lot_labels_pdf.html", context, name, "")
