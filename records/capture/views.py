"""The pages of what loggers recorded of a burn."""

from __future__ import annotations

import datetime as dt
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.units import pretty_unit
from facility.loggers.meaning import KEPT_IN
from facility.loggers.reading import Understood
from facility.look import charts
from facility.look.forms import sent
from facility.people.gate import GroundRequest
from records.burns.selectors import burn_here
from records.capture import selectors, services
from records.capture.forms import LoggerFileForm

# From ember above to steel below: the order of heights is seen without the legend.
TONES = ("#a93f14", "#c25a2c", "#d0854f", "#b59a72", "#8f9a8f", "#6f8f9c", "#5f8296", "#3f5560")


def take(request: GroundRequest, public_id: str) -> HttpResponse:
    """Read a file, show what was understood, and keep it once that was confirmed."""
    burn = burn_here(request.ground, public_id)
    sensors = selectors.sensors_of(burn.unit)
    form = LoggerFileForm(sent(request), request.FILES or None, sensors=sensors)
    context: dict[str, Any] = {"form": form, "burn": burn}
    if request.method == "POST" and form.is_valid():
        found, given = form.found, form.cleaned_data
        assert found is not None
        ignition_s = given["ignition_s"]
        if ignition_s is None:
            ignition_s = _ignition_by_clock(found, burn)
        if "keep" in request.POST:
            kept = form.carry_out(
                lambda: services.take_logger_file(
                    burn, data=form.content, name=given["file"].name, logger=given["logger"],
                    ignition_s=float(ignition_s), sensors=form.chosen(),
                    other_day=given["other_day"], by=request.person, once=given["once"],
                )
            )  # fmt: skip
            if kept:
                messages.success(
                    request, _("{name} is kept with this burn.").format(name=kept.name)
                )
                return redirect("capture:recorded", burn.public_id)
        context |= _understood(request, form, found, burn, float(ignition_s))
    context["loggers"] = selectors.loggers_of(request.ground)
    fragment = request.headers.get("HX-Request") and "keep" not in request.POST
    template = "capture/understood.html" if fragment else "capture/take.html"
    return render(request, template, context, status=form.status)


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
    """Temperatures by height with the events of the burn on the same axis."""
    burn = burn_here(request.ground, public_id)
    files = selectors.files_of(burn)
    quantities = sorted({
        channel.quantity for file in files for channel in file.channels.all() if channel.quantity
    }, key=list(KEPT_IN).index)  # fmt: skip
    quantity = request.GET.get("show", "temperature")
    if quantity not in quantities:
        quantity = quantities[0] if quantities else ""
    since, until = _minute(request, "since"), _minute(request, "until")
    lines = selectors.lines_of(burn, quantity, since and since * 60, until and until * 60)
    context = {
        "burn": burn,
        "files": files,
        "quantities": quantities,
        "quantity": quantity,
        "above": selectors.above_of(files),
        "since": request.GET.get("since", ""),
        "until": request.GET.get("until", ""),
        "chart": _chart(burn, quantity, lines) if lines else "",
    }
    fragment = bool(request.headers.get("HX-Request"))
    return render(request, "capture/chart.html" if fragment else "capture/recorded.html", context)


def _minute(request: GroundRequest, name: str) -> float | None:
    try:
        return float(request.GET.get(name, "").replace(",", "."))
    except ValueError:
        return None


def _chart(burn: Any, quantity: str, lines: list[selectors.Line]) -> SafeString:
    curves = tuple(
        charts.Curve(
            tuple((line.seconds / 60).tolist()), tuple(line.values.tolist()),
            line.label if len(lines) <= len(TONES) else "",
            colour=TONES[at * len(TONES) // max(len(lines), len(TONES))],
        )
        for at, line in enumerate(lines) if len(line.seconds) > 1
    )  # fmt: skip
    if not curves:
        return SafeString("")
    marks = tuple(
        ((event.happened_at - burn.ignited_at) / dt.timedelta(minutes=1), _word(event))
        for event in burn.events.all()
    )
    first = min(curve.x[0] for curve in curves)
    last = max(curve.x[-1] for curve in curves)
    chart = charts.Chart(
        curves, _("minutes after ignition"), f"{_(quantity)}, {pretty_unit(KEPT_IN[quantity])}",
        marks=tuple(mark for mark in marks if first <= mark[0] <= last), wide=8.4, tall=4.2,
    )  # fmt: skip
    words = _("{quantity} of {count} channels over the burn").format(
        quantity=_(quantity), count=len(lines)
    )
    return charts.image(chart, words)


def _word(event: Any) -> str:
    if event.kind == "stage":
        return str(event.get_stage_display())
    if event.kind == "neutral_plane":
        return _("neutral plane {height} m").format(height=event.height_m)
    return str(event.get_kind_display())


def original(request: GroundRequest, public_id: str) -> HttpResponse:
    """The file as it came."""
    name, data = selectors.original_of(request.ground, public_id)
    response = HttpResponse(data, content_type="application/octet-stream")
    plain = "".join(each for each in name if each.isalnum() or each in " ._-")
    response.headers["Content-Disposition"] = f'attachment; filename="{plain or "logger.csv"}"'
    return response
