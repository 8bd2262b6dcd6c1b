"""Files into the store and out of it."""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Iterator
from itertools import groupby
from typing import Any

from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.refusals import NotHere, ReadOnly, Refused
from facility.sheets.cells import sentence
from facility.sheets.writing import MEDIA
from records.audit.standing import closed_sentence
from records.stock import exports, files
from records.stock.files import FileKnown, Judged
from records.stock.forms import StoreFileForm

LISTED = 300  # bad rows shown on the page; the number of all of them is said
EVERY_S = 0.2  # how often progress is told
HERE = "[here]"  # where the progress stands in the page around it


def files_page(request: GroundRequest) -> HttpResponse:
    context = {
        "kinds": files.KINDS, "taken": files.files_taken(request.ground),
        "lists": exports.LISTS.items(), "forms": list(MEDIA), "periodic": exports.PERIODIC,
        "start": request.now.astimezone(request.ground.zone).date() - dt.timedelta(days=365),
        "end": request.now.astimezone(request.ground.zone).date(),
    }  # fmt: skip
    return render(request, "stock/files.html", context)


def file(request: GroundRequest, kind: str) -> HttpResponseBase:
    """A dry run first, which lists every bad row and how each column is understood; then take it."""
    words = dict(files.KINDS)
    if kind not in words:
        raise NotHere(_("No such kind of file."))
    uploads = request.FILES if request.method == "POST" else None
    form = StoreFileForm(sent(request), uploads, kind=kind)
    context: dict[str, Any] = {"form": form, "kind": kind, "word": words[kind]}
    status = 200
    if request.method == "POST" and form.is_valid():
        judged = _judged(request, form, context)
        if judged is not None and request.POST.get("do") == "take" and not judged.faults:
            return _taken(request, judged, form, context)
        if judged is not None and request.POST.get("do") == "remember" and judged.headings:
            context["remembered"] = form.carry_out(lambda: _remember(request, judged))
        elif judged is not None and judged.faults:
            status = judged.status
    status = form.status if form.status != 200 else status
    part = request.headers.get("HX-Request") == "true"
    return render(request, "stock/_file_read.html" if part else "stock/file.html", context, status=status)  # fmt: skip


def _judged(request: GroundRequest, form: StoreFileForm, context: dict[str, Any]) -> Judged | None:
    given, upload = form.cleaned_data, form.cleaned_data["file"]
    data = upload.read(files.LIMITS.bytes + 1)
    try:
        judged = files.judge(
            request.ground, form.kind, data, upload.name, supplier=given.get("supplier", ""),
            reason=given.get("reason", ""), chosen=form.chosen(), now=request.now,
        )  # fmt: skip
    except FileKnown as known:
        context["known"] = known.taken
        form.refuse(known)
        return None
    lines = [sentence(list(each)) for _row, each in groupby(judged.faults, key=lambda fault: fault.row)]  # fmt: skip
    context |= {
        "judged": judged, "faults": lines[:LISTED], "bad": len(lines),
        "choices": files.choices_of(form.kind),
    }  # fmt: skip
    return judged


def _remember(request: GroundRequest, judged: Judged) -> Any:
    return files.remember_columns(
        request.ground, judged, by=request.person, once=request.POST.get("once", "")[:30] + "-map"
    )


def _taken(
    request: GroundRequest, judged: Judged, form: StoreFileForm, context: dict[str, Any]
) -> HttpResponseBase:
    """The page that grows while the file is taken; what is refused on the way undoes all of it.

    All of the taking happens while the answer is drawn, in one thread and one transaction. Whoever
    leaves before the end has taken nothing.
    """
    if closed := closed_sentence():
        form.refuse(ReadOnly(closed))
        return render(request, "stock/file.html", context, status=form.status)
    once = form.cleaned_data["once"]
    steps = files.taking(request.ground, judged, by=request.person, once=once)
    page = render_to_string("stock/file_taking.html", {**context, "here": HERE}, request)
    before, _here, after = page.partition(HERE)
    told = _page(before, _told(judged, steps), after)
    return StreamingHttpResponse(told, content_type="text/html; charset=utf-8")


def _page(before: str, told: Iterator[str], after: str) -> Iterator[str]:
    yield before
    yield from told
    yield after


def _told(judged: Judged, steps: Iterator[int]) -> Iterator[str]:
    """One paragraph after the other; each lies over the one before it, without a script."""
    done, next_at = 0, time.monotonic() + EVERY_S
    yield _step(done, judged.count)
    try:
        for done in steps:
            if time.monotonic() >= next_at:
                next_at = time.monotonic() + EVERY_S
                yield _step(done, judged.count)
    except Refused as refused:
        yield format_html('<p class="errors">{} {}</p>', _("Nothing was taken:"), refused.sentence)
        return
    said = ngettext("{count} row is taken.", "{count} rows are taken.", done).format(count=done)
    yield format_html('<p><strong class="say">{}</strong></p>', said)


def _step(done: int, count: int) -> str:
    said = _("{done} of {count} rows").format(done=done, count=count)
    return format_html('<p><progress max="{}" value="{}"></progress> {}</p>', count, done, said)


def export(request: GroundRequest, what: str, form: str) -> HttpResponseBase:
    """A list of the store as CSV or XLSX; ``start`` and ``end`` are days of the ground."""
    start, end = _day(request, "start", 365), _day(request, "end", -1)
    told = exports.written(request.ground, what, form, start, end)
    response: HttpResponseBase
    if isinstance(told, bytes):
        response = HttpResponse(told, content_type=MEDIA[form])
    else:
        response = StreamingHttpResponse(told, content_type=MEDIA[form])
    response["Content-Disposition"] = f'attachment; filename="{what}.{form}"'
    return response


def _day(request: GroundRequest, name: str, ago: int) -> dt.datetime:
    """The beginning of the day asked for; of one that makes no sense, the usual one."""
    today = request.now.astimezone(request.ground.zone).date()
    day = today - dt.timedelta(days=ago)
    try:
        given = dt.date.fromisoformat(request.GET.get(name, ""))
    except ValueError:
        given = day
    if not 1990 <= given.year <= 2200:
        given = day
    elif name == "end" and name in request.GET:
        given += dt.timedelta(days=1)  # the last day is part of it
    return dt.datetime.combine(given, dt.time(), tzinfo=request.ground.zone)
