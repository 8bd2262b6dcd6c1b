"""The log on screen, its heads and proofs, and the signature under a restored backup."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, JsonResponse
from django.shortcuts import redirect, render
from django.utils.translation import gettext as _

from facility.look.forms import sent
from facility.look.lists import listed
from facility.people.gate import GroundRequest
from facility.people.permissions import ACTS
from facility.refusals import WrongValue
from records.audit import checker, heads, selectors, services
from records.audit.forms import HeadForm, RestoreForm
from records.audit.notes import HeadNote
from records.audit.places import address_of
from records.audit.qr import qr_code
from records.audit.tables import EntryFilter, EntryTable

SHOWN = 10


def log(request: GroundRequest) -> HttpResponse:
    found = EntryFilter(
        request.GET,
        queryset=selectors.entries_of(request.ground),
        actors=selectors.actors_on(request.ground),
    )
    context = listed(request, EntryTable, found)
    context["size"] = selectors.log_size()
    return render(request, "audit/log.html", context)


def heads_page(request: GroundRequest) -> HttpResponse:
    """The head of now, those known of earlier, and what the log says to one typed in."""
    head = heads.head_now()
    form = HeadForm(request.GET if "note" in request.GET else None)
    asked = form.cleaned_data["note"] if form.is_valid() else None
    context = {
        "head": head,
        "qr": qr_code(head),
        "form": form,
        "asked": asked,
        "answer": heads.answer_to(asked) if asked else None,
        "checks": selectors.newest_checks(SHOWN),
        "head_rows": [_still_holds(head, each) for each in selectors.newest_sent(SHOWN)],
        "checker_sha256": checker.own_sha256(),
    }
    return render(request, "audit/heads.html", context, status=400 if form.errors else 200)


def _still_holds(head: HeadNote, kept: Any) -> tuple[HeadNote, heads.Answer]:
    note = HeadNote(head.origin, kept.size, bytes(kept.root), kept.at)
    return note, heads.answer_to(note)


def head_note(request: GroundRequest) -> HttpResponse:
    return _download(heads.head_now().text, "head.txt", "text/plain; charset=utf-8")


def checker_file(request: GroundRequest) -> HttpResponse:
    source = Path(checker.__file__).read_text(encoding="utf-8")
    return _download(source, "checker.py", "text/x-python; charset=utf-8")


def proof(request: GroundRequest, seq: int) -> HttpResponse:
    """That one entry is in the log, in the form that ``checker.py --proof`` reads."""
    made = heads.inclusion(selectors.entry_here(request.ground, seq))
    return _json(made.as_json(), f"proof-{seq}.json")


def consistency(request: GroundRequest) -> HttpResponse:
    """That the log of an earlier size is the beginning of the log of now."""
    given = request.GET.get("size", "")
    if not (given.isascii() and given.isdigit() and 0 < int(given[:18]) <= selectors.log_size()):
        raise WrongValue(_("Give the number of entries of an earlier head."), field="size")
    return _json(heads.consistency(int(given)).as_json(), f"consistency-{int(given)}.json")


def _json(told: dict[str, Any], name: str) -> HttpResponse:
    response = JsonResponse(told, json_dumps_params={"indent": 1, "ensure_ascii": False})
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def _download(text: str, name: str, kind: str) -> HttpResponse:
    response = HttpResponse(text, content_type=kind)
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    return response


def restored(request: GroundRequest) -> HttpResponse:
    """Answer for a restored backup, so that things are recorded again."""
    form = RestoreForm(sent(request), request=request, on=request.ground)
    if request.method == "POST" and form.is_valid():
        given = form.cleaned_data
        form.carry_out(
            lambda: services.sign_restore(
                request.ground, checked=given["checked"], by=request.person, once=given["once"]
            )
        )
        if not form.refused:
            messages.success(request, _("Signed; things are recorded again."))
            return redirect("audit:heads")
    context = {"form": form, "waits": selectors.restore_waits(), "head": heads.head_now()}
    return render(request, "audit/restored.html", context, status=form.status)


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
        "head": heads.head_now(),
    }
    return render(request, "audit/receipt.html", context)
