"""The trace: from a mark, lot or docket to everyone exposed, and back from a burn or a person."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from facility.people.gate import GroundRequest
from facility.people.selectors import person_here
from records.burns.selectors import burn_here
from records.reports import tracing
from records.reports.tracing import Reader


def trace(request: GroundRequest) -> HttpResponse:
    """``?q=`` forward; ``?burn=`` and ``?person=`` back."""
    if burn := request.GET.get("burn", ""):
        found = burn_here(request.ground, burn)
        back = {"burn": found, "origins": tracing.origins_of_burn(found)}
        return render(request, "reports/trace_back.html", back)
    if person := request.GET.get("person", ""):
        return render(request, "reports/trace_back.html", _of_person(request, person))
    return render(request, "reports/trace.html", _forward(request))


def _of_person(request: GroundRequest, public_id: str) -> dict[str, Any]:
    found = person_here(request.ground, public_id)
    reader = Reader(request.person, request.roles)
    origins = tracing.origins_of_person(request.ground, found, reader)
    return {
        "person": found,
        "origins": origins,
        "partly": not reader.reads_all and found.pk != request.person.pk,
        "burns": len({each.burn.pk for each in origins}),
        "dockets": len({each.delivered.delivery_id for each in origins}),
    }


def _forward(request: GroundRequest) -> dict[str, Any]:
    """Several lots of one docket are traced together; lots that only begin so are offered."""
    asked = request.GET.get("q", "")[:60]
    roots = tracing.named(request.ground, asked)
    exact = bool(roots) and tracing.is_exact(asked, roots[0])
    context: dict[str, Any] = {"asked": asked, "roots": roots, "exact": exact}
    if exact:
        reader = Reader(request.person, request.roles)
        context["trace"] = tracing.trace(request.ground, roots, reader)
    return context
