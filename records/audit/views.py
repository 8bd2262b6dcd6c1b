"""The log on screen."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from facility.look.lists import listed
from facility.people.gate import GroundRequest
from records.audit import selectors
from records.audit.tables import EntryFilter, EntryTable


def log(request: GroundRequest) -> HttpResponse:
    found = EntryFilter(
        request.GET,
        queryset=selectors.entries_of(request.ground),
        actors=selectors.actors_on(request.ground),
    )
    context = listed(request, EntryTable, found)
    context["size"] = selectors.log_size()
    return render(request, "audit/log.html", context)
