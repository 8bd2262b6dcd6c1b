"""An edition as a file, and against another edition."""

from __future__ import annotations

from itertools import groupby
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.refusals import NotHere
from facility.rulebook import diff
from facility.rulebook import selectors as rulebook
from facility.rulebook.diff import Difference
from records.standard import exchange, services
from records.standard.forms import FileForm
from records.standard.selectors import with_units

LISTED = 300  # bad rows shown on the page; the number of all of them is said


def compare(request: GroundRequest, public_id: str, other: str) -> HttpResponse:
    """What an edition asks otherwise than an older one."""
    newer = rulebook.edition_here(request.ground, public_id)
    older = rulebook.edition_here(request.ground, other)
    difference = diff.compare(
        rulebook.row_values(older), rulebook.row_values(newer),
        rulebook.chart_values(older), rulebook.chart_values(newer),
        rulebook.item_values(older), rulebook.item_values(newer),
    )  # fmt: skip
    context = {"edition": newer, "older": older, "difference": difference}
    return render(request, "standard/compare.html", context)


def export(request: GroundRequest, public_id: str, form: str) -> HttpResponse:
    found = rulebook.edition_here(request.ground, public_id)
    if form not in exchange.FORMS:
        raise NotHere(_("CSV, XLSX and JSON can be had."))
    about = {"code": found.code, "title": found.title, "jurisdiction": found.jurisdiction}
    written = exchange.write_rows(
        rulebook.row_values(found), form, edition=about, charts=rulebook.chart_values(found),
        items=rulebook.item_values(found),
    )  # fmt: skip
    answer = HttpResponse(written, content_type=exchange.FORMS[form])
    answer["Content-Disposition"] = f'attachment; filename="standard-{found.public_id}.{form}"'
    return answer


def read_in(request: GroundRequest, public_id: str) -> HttpResponse:
    """Read a file: a dry run first, which lists every bad row or every change; then take it."""
    found = rulebook.edition_here(request.ground, public_id)
    form = FileForm(sent(request), request.FILES if request.method == "POST" else None)
    context: dict[str, Any] = {"form": form, "edition": found}
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        sheet = exchange.read_rows(given["file"].read(), given["file"].name)
        if sheet.faults:
            lines = [exchange.sentence(list(each)) for _row, each in groupby(sheet.faults, key=lambda fault: fault.row)]  # fmt: skip
            context |= {"faults": lines[:LISTED], "bad": len(lines), "count": sheet.count}
            return render(request, "standard/import.html", context, status=422)
        if given["dry_run"]:
            context |= {"difference": _change(found, sheet), "count": sheet.count}
            return render(request, "standard/import.html", context)
        form.carry_out(
            lambda: services.import_rows(
                found, sheet.rows, charts=with_units(request.ground, sheet.charts),
                items=sheet.items, by=request.person, once=given["once"],
            )
        )  # fmt: skip
        if not form.refused:
            messages.success(request, _("{count} rows are taken.").format(count=sheet.count))
            return redirect("standard:edition", found.public_id)
    return render(request, "standard/import.html", context, status=form.status)


def _change(edition: Any, sheet: exchange.Sheet) -> Difference:
    """What taking the file would change; charts that it does not name stay as they are."""
    named = {chart["unit"] for chart in sheet.charts}
    charts = [chart for chart in rulebook.chart_values(edition) if chart["unit"] in named]
    items = rulebook.item_values(edition)
    return diff.compare(
        rulebook.row_values(edition), sheet.rows, charts, sheet.charts, items, sheet.items or items
    )
