"""The pages of what loggers recorded of a burn."""

from __future__ import annotations

import datetime as dt
from collections.abc import Generator, Iterator
from typing import Any

from django.contrib import messages
from django.http import HttpResponse, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from facility.calc.units import pretty_unit
from facility.loggers.reading import Understood
from facility.look.forms import sent
from facility.people.gate import GroundRequest
from facility.refusals import ReadOnly, Refused
from records.audit.standing import closed_sentence
from records.burns.selectors import burn_here
from records.capture import page, selectors, services
from records.capture.fires import unit_page
from records.capture.fitting import fit_after, fit_unit
from records.capture.forms import LoggerFileForm
from records.ground.selectors import unit_here

HERE = "[here]"  # where the progress stands in the page around it


def take(request: GroundRequest, public_id: str) -> HttpResponseBase:
    """Read a file, show what was understood, and keep it once that was confirmed."""
    burn = burn_here(request.ground, public_id)
    sensors = selectors.sensors_of(burn.unit)
    keeping = "keep" in request.POST
    form = LoggerFileForm(sent(request), request.FILES or None, sensors=sensors, keeping=keeping)
    context: dict[str, Any] = {"form": form, "burn": burn}
    if request.method == "POST" and form.is_valid():
        if form.read_later:
            return _shown_while_read(request, form, burn)
        found, given = form.found, form.cleaned_data
        assert found is not None
        ignition_s = given["ignition_s"]
        if ignition_s is None:
            ignition_s = _ignition_by_clock(found, burn)
        if keeping:
            kept = form.carry_out(
                lambda: services.take_logger_file(
                    burn, data=form.content, name=given["file"].name, logger=given["logger"],
                    ignition_s=float(ignition_s), sensors=form.chosen(),
                    other_day=given["other_day"], by=request.person, once=given["once"],
                )
            )  # fmt: skip
            if kept:
                fit_after(burn, by=request.person)
                messages.success(
                    request, _("{name} is kept with this burn.").format(name=kept.name)
                )
                return redirect("capture:recorded", burn.public_id)
        context |= _understood(request, form, found, burn, float(ignition_s))
    context["loggers"] = selectors.loggers_of(request.ground)
    fragment = request.headers.get("HX-Request") and not keeping
    template = "capture/understood.html" if fragment else "capture/take.html"
    return render(request, template, context, status=form.status)


def _shown_while_read(request: GroundRequest, form: LoggerFileForm, burn: Any) -> HttpResponseBase:
    """The page that grows while a large file is read and kept; what is refused leaves nothing."""
    if closed := closed_sentence():
        form.refuse(ReadOnly(closed))
        context = {"form": form, "burn": burn, "loggers": selectors.loggers_of(request.ground)}
        return render(request, "capture/take.html", context, status=form.status)
    context = {"burn": burn, "name": form.cleaned_data["file"].name, "here": HERE}
    whole = render_to_string("capture/taking.html", context, request)
    before, _here, after = whole.partition(HERE)

    def told() -> Iterator[str]:
        yield before
        yield from _reading(request, form, burn)
        yield after

    return StreamingHttpResponse(told(), content_type="text/html; charset=utf-8")


def _reading(request: GroundRequest, form: LoggerFileForm, burn: Any) -> Iterator[str]:
    """One paragraph after the other; each lies over the one before it, without a script."""
    given = form.cleaned_data
    try:
        yield _step(0.0)
        form.found = yield from _shares(services.read_by_steps(form.content, given["file"].name))
        ignition_s = given["ignition_s"]
        if ignition_s is None:
            ignition_s = _ignition_by_clock(form.found, burn)
        services.take_logger_file(
            burn, data=form.content, name=given["file"].name, logger=given["logger"],
            ignition_s=float(ignition_s), sensors=form.chosen(), other_day=given["other_day"],
            by=request.person, once=given["once"], found=form.found,
        )  # fmt: skip
    except Refused as refused:
        yield format_html('<p class="errors">{} {}</p>', _("Nothing was kept:"), refused.sentence)
        return
    yield format_html('<p><strong class="say">{}</strong></p>', _("Kept with this burn."))
    fit_after(burn, by=request.person)


def _shares(steps: Generator[float, None, Understood]) -> Generator[str, None, Understood]:
    while True:
        try:
            yield _step(next(steps))
        except StopIteration as done:
            found: Understood = done.value
            return found


def _step(share: float) -> str:
    said = _("{share} % read").format(share=round(100 * share))
    return format_html(
        '<p><progress max="100" value="{}"></progress> {}</p>', round(100 * share), said
    )


def _ignition_by_clock(found: Understood, burn: Any) -> float:
    """The second of the file at which its own clock puts the ignition; 0 where that lies outside."""
    if found.begun is None:
        return 0.0
    lit = burn.ignited_at.astimezone(burn.site.zone).replace(tzinfo=None)
    second = float(found.seconds[0]) + (lit - found.begun) / dt.timedelta(seconds=1)
    return round(second, 1) if found.seconds[0] <= second <= found.seconds[-1] else 0.0


def _understood(
    request: GroundRequest, form: LoggerFileForm, found: Understood, burn: Any, ignition_s: float
) -> dict[str, Any]:
    known = selectors.remembered(request.ground, form.cleaned_data["logger"], burn.unit)
    chosen = form.chosen()
    rows = []
    for channel in found.channels:
        sensor = chosen.get(channel.column)
        rows.append(
            {"channel": channel, "sensor": sensor.pk if sensor else known.get(channel.name),
             "unit": pretty_unit(channel.meaning.kept_in)}
        )  # fmt: skip
    return {
        "found": found,
        "rows": rows,
        "sensors": list(form.sensors.values()),
        "ignition_s": ignition_s,
    }


def recorded(request: GroundRequest, public_id: str) -> HttpResponse:
    """The burn on one page; a fragment with the picture alone where the page is alive."""
    burn = burn_here(request.ground, public_id)
    if request.headers.get("HX-Request"):
        context = page.seen(burn, selectors.files_of(burn), request.GET)
        return render(request, "capture/_recording.html", context)
    return render(request, "capture/recorded.html", page.whole_page(burn, request.GET))


def fires(request: GroundRequest, public_id: str) -> HttpResponse:
    """How the fires of a unit ran against their forecasts, and the factors they ask for."""
    unit = unit_here(request.ground, public_id)
    return render(request, "capture/fires.html", unit_page(unit))


def fit(request: GroundRequest, public_id: str) -> HttpResponse:
    unit = unit_here(request.ground, public_id)
    kept = fit_unit(unit, by=request.person, once=request.POST.get("once", "")[:40])
    messages.success(
        request,
        ngettext(
            "Fitted to {count} burn.", "Fitted to {count} burns.", kept.burns
        ).format(count=kept.burns),
    )  # fmt: skip
    return redirect("capture:fires", unit.public_id)


def original(request: GroundRequest, public_id: str) -> HttpResponse:
    """The file as it came."""
    name, data = selectors.original_of(request.ground, public_id)
    response = HttpResponse(data, content_type="application/octet-stream")
    plain = "".join(each for each in name if each.isalnum() or each in " ._-")
    response.headers["Content-Disposition"] = f'attachment; filename="{plain or "logger.csv"}"'
    return response
