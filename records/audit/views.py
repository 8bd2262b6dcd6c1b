"""The log on screen."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import render

from facility.look.lists import listed
from facility.people.gate import GroundRequest
from facility.people.permissions import ACTS
from records.audit import selectors
from records.audit.heads import head_now
from records.audit.places import address_of
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


def receipt(request: GroundRequest, public_id: str) -> HttpResponse:
    """What a signature says, and the head of the log that covers it: to keep or to print."""
    entry = selectors.receipt_here(request.ground, public_id, request.person, request.roles)
    context = {
        "entry": entry,
        "label": ACTS[entry.act].label,
        "name": selectors.names_of([entry.actor]).get(entry.actor, entry.actor),
        "thing": address_of(entry.obj),
        "meaning": entry.after.get("meaning", ""),
        "content": entry.after.get("hash") or entry.after.get("rows", ""),
        "head": head_now(),
    }
    return render(request, "audit/receipt.html", context)
