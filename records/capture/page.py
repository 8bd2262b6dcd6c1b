"""The burn on one page: the picture, the figures, and what was asked of the picture.

The page and its print take the same from here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

import numpy as np
from django.http import QueryDict
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.units import convert, pretty_unit, reader_unit, show
from facility.loggers.meaning import KEPT_IN
from facility.look import burn_chart as chart
from facility.look.reader import current_system
from records.burns.models import Burn, TimelineEvent
from records.burns.timeline import timeline_of
from records.capture import selectors
from records.capture.comparing import charges_of, compared, forecast_of
from records.capture.doses import positions_of
from records.capture.measuring import Measured, measured_of
from records.capture.models import LoggerFile
from records.capture.series import Line, groups_of, lines_of
from records.ground.fitted import newest_fit
from records.plans.forecast import Forecast

# From ember above to steel below: the order of heights is seen without the legend.
TONES = ("#a93f14", "#c25a2c", "#d0854f", "#b59a72", "#8f9a8f", "#6f8f9c", "#5f8296", "#3f5560")
MOST_NAMED = 12  # lines with their name beside them; more would cover each other
ENDS_PHASE = ("stop", "out", "knock_down")
FULL_TALL, LAYER_TALL = 300.0, 170.0
SHORTEST_MIN = 0.1  # of a window


@dataclass(frozen=True, slots=True)
class Asked:
    """What is to be seen: a quantity, a window [min after ignition], groups switched off."""

    quantity: str
    since: float | None = None
    until: float | None = None
    off: tuple[str, ...] = ()

    @property
    def query(self) -> str:
        pairs: list[tuple[str, str]] = [("show", self.quantity), ("groups", "1")]
        pairs += [
            (name, f"{value:.2f}")
            for name, value in (("since", self.since), ("until", self.until))
            if value is not None
        ]
        return urlencode([*pairs, *(("off", each) for each in self.off)])


def asked_in(given: QueryDict, files: Sequence[LoggerFile], burn: Burn) -> Asked:
    """What a query asks for. With ``groups`` the boxes ``on`` tell which groups are shown."""
    quantities = quantities_of(files)
    quantity = given.get("show", "temperature")
    if quantity not in quantities:
        quantity = quantities[0] if quantities else ""
    since, until = _minute(given, "since"), _minute(given, "until")
    if since is not None and until is not None and until - since < SHORTEST_MIN:
        since = until = None
    off = tuple(given.getlist("off"))
    if "on" in given or given.get("groups") == "boxes":
        groups = groups_of(files, quantity, float(burn.unit.height_m))
        off = tuple(group for group in groups if group not in given.getlist("on"))
    return Asked(quantity, since, until, off)


def quantities_of(files: Sequence[LoggerFile]) -> list[str]:
    found = {channel.quantity for file in files for channel in file.channels.all()} - {""}
    return sorted(found, key=list(KEPT_IN).index)


def _minute(given: QueryDict, name: str) -> float | None:
    try:
        minute = float(given.get(name, "").replace(",", "."))
    except ValueError:
        return None
    return minute if abs(minute) < 1e6 else None


@dataclass(frozen=True, slots=True)
class Noted:
    """An event with its number in the picture, and its time after ignition."""

    number: str
    after_s: float
    words: str
    by: str


def noted(burn: Burn) -> list[Noted]:
    """The events of a burn that stand, in order of time, numbered."""
    lines = [line for line in timeline_of(burn) if line.struck_by is None]
    return [
        Noted(str(number), _after(burn, line.event), line.words, line.noted_by.name)
        for number, line in enumerate(lines, 1)
    ]


def _after(burn: Burn, event: TimelineEvent) -> float:
    return float((event.happened_at - burn.ignited_at) / dt.timedelta(seconds=1))


def phases(burn: Burn, last: float) -> list[chart.Phase]:
    """The stages that were called, each until the next one [min]; the last until the fire is out."""
    found: list[chart.Phase] = []
    if burn.current:
        last = (burn.current.ended_at - burn.ignited_at) / dt.timedelta(minutes=1)
    began: tuple[float, str] | None = None
    for event in burn.standing_events():
        minute = _after(burn, event) / 60
        ends = event.kind in ENDS_PHASE
        if began and (ends or event.kind == "stage"):
            found.append(chart.Phase(began[0], minute, began[1]))
            began = None
        if event.kind == "stage":
            began = (minute, str(event.get_stage_display()))
    return [*found, chart.Phase(began[0], max(last, began[0]), began[1])] if began else found


# -- the picture -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Scale:
    """From the unit a value is kept in to that of the reader."""

    slope: float
    shift: float
    name: str

    def of(self, values: Any) -> Any:
        return np.asarray(values, float) * self.slope + self.shift


def scale_to_reader(unit: str) -> Scale:
    shown = reader_unit(unit, current_system())
    if shown == unit:
        return Scale(1.0, 0.0, pretty_unit(unit))
    zero, one = convert(0.0, unit, shown), convert(1.0, unit, shown)
    return Scale(one - zero, zero, pretty_unit(shown))


@dataclass(frozen=True)
class Recording:
    """Everything the picture is drawn from."""

    burn: Burn
    files: Sequence[LoggerFile]
    measured: Measured | None
    forecast: Forecast | None


def recording_of(burn: Burn, files: Sequence[LoggerFile]) -> Recording:
    measured = measured_of(burn, files)
    charge = charges_of([burn]).get(burn.pk) if files else None
    fit = newest_fit(burn.unit) if charge else None
    return Recording(burn, files, measured, forecast_of(burn, charge, fit))


def picture(told: Recording, asked: Asked) -> SafeString:
    """The recording as one image; empty where nothing lies in the window."""
    since, until = (
        None if minute is None else minute * 60 for minute in (asked.since, asked.until)
    )
    lines = lines_of(told.burn, told.files, asked.quantity, since, until, asked.off)
    drawn = [line for line in lines if len(line.seconds) > 1]
    heights = asked.quantity == "temperature" and told.measured is not None
    if not drawn and not heights:
        return SafeString("")
    start, end = _window(told, drawn, asked)
    panels = [_lines_panel(told, asked, drawn)]
    if heights:
        panels.append(_layer_panel(told))
    return chart.image(
        chart.Picture(
            start, end, panels, phases(told.burn, end),
            [(each.after_s / 60, each.number) for each in noted(told.burn)],
            _("minutes after ignition"),
        ),
        _("{quantity} of {count} channels over the burn").format(
            quantity=_(asked.quantity), count=len(drawn)
        ),
    )  # fmt: skip


def _window(told: Recording, lines: Sequence[Line], asked: Asked) -> tuple[float, float]:
    starts = [line.seconds[0] / 60 for line in lines]
    ends = [line.seconds[-1] / 60 for line in lines]
    if told.measured is not None and not lines:
        starts, ends = [told.measured.seconds[0] / 60], [told.measured.seconds[-1] / 60]
    start = asked.since if asked.since is not None else float(min(starts))
    end = asked.until if asked.until is not None else float(max(ends))
    return (start, end) if end > start else (start, start + 1.0)


def _lines_panel(told: Recording, asked: Asked, lines: Sequence[Line]) -> chart.Panel:
    unit = KEPT_IN[asked.quantity]
    scale = scale_to_reader(unit)
    traces = [
        chart.Trace(
            line.seconds / 60, scale.of(line.values), _tone(place, len(lines)),
            label=_named(line) if len(lines) <= MOST_NAMED else "",
        )
        for place, line in enumerate(lines)
    ]  # fmt: skip
    if asked.quantity == "temperature":
        traces += _forecast_traces(told, "layer_temperature", scale)
    name = f"{_(asked.quantity)}, {scale.name}"
    return chart.Panel(name, FULL_TALL, traces, floor=0.0 if unit != "degC" else None)


def _tone(place: int, count: int) -> str:
    return TONES[place * (len(TONES) - 1) // max(count - 1, 1)]


def _named(line: Line) -> str:
    if line.height_m is None:
        return line.label
    return f"{line.label}, {show(line.height_m, 'm', current_system())}"


def _forecast_traces(told: Recording, name: str, scale: Scale) -> list[chart.Trace]:
    """The raw forecast dashed, that with the unit's factors dotted; both count from lighting."""
    found = []
    for forecast, dashes, label in (
        (told.forecast, chart.DASHED, _("forecast")),
        (told.forecast and told.forecast.fitted, chart.DOTTED, _("with factors")),
    ):
        if forecast:
            minutes = forecast.layer.value("time_of_result") / 60
            values = scale.of(forecast.layer.value(name))
            found.append(chart.Trace(minutes, values, chart.QUIET, dashes, label, 1.6))
    return found


def _layer_panel(told: Recording) -> chart.Panel:
    measured = told.measured
    assert measured is not None
    scale = scale_to_reader("m")
    own = chart.Trace(
        measured.seconds / 60, scale.of(measured.height), chart.STEEL,
        label=_("from thermocouples"), width=2.0,
    )  # fmt: skip
    spots = [
        chart.Spot(_after(told.burn, event) / 60, float(scale.of(float(event.height_m))))
        for event in told.burn.standing_events()
        if event.kind == "neutral_plane" and event.height_m is not None
    ]
    name = _("hot layer above, {unit} over the floor").format(unit=scale.name)
    traces = [own, *_forecast_traces(told, "interface_height", scale)]
    top = float(scale.of(measured.ceiling_m))
    return chart.Panel(name, LAYER_TALL, traces, spots, floor=0.0, top=top)


# -- moving about ----------------------------------------------------------------------------


def moves(told: Recording, asked: Asked) -> list[tuple[str, str]]:
    """Words and queries that zoom and move the window."""
    lines = [channel for file in told.files for channel in file.channels.all()]
    if not lines:
        return []
    start, end = _span(told) if asked.since is None or asked.until is None else (0.0, 0.0)
    start = asked.since if asked.since is not None else start
    end = asked.until if asked.until is not None else end
    half, middle = (end - start) / 2, (start + end) / 2
    windows = (
        (_("closer"), middle - half / 2, middle + half / 2),
        (_("wider"), start - half, end + half),
        (_("earlier"), start - half, end - half),
        (_("later"), start + half, end + half),
    )
    found = [
        (words, replace(asked, since=round(low, 2), until=round(high, 2)).query)
        for words, low, high in windows
        if high - low >= 2 * SHORTEST_MIN
    ]
    whole = replace(asked, since=None, until=None).query
    return [*found, (_("whole file"), whole)]


def _span(told: Recording) -> tuple[float, float]:
    spans = []
    for file in told.files:
        shift = (file.zero_at - told.burn.ignited_at).total_seconds()
        ends = [
            channel.highest_s for channel in file.channels.all() if channel.highest_s is not None
        ]
        spans += [(each + shift) / 60 for each in ends]
    if told.measured is not None:
        spans += [told.measured.seconds[0] / 60, told.measured.seconds[-1] / 60]
    return (min(spans), max(spans)) if spans and max(spans) > min(spans) else (0.0, 30.0)


def seen(burn: Burn, files: Sequence[LoggerFile], given: QueryDict) -> dict[str, Any]:
    """What is swapped at each zoom: the picture and all that steers it."""
    told, asked = recording_of(burn, files), asked_in(given, files, burn)
    groups = groups_of(files, asked.quantity, float(burn.unit.height_m))
    return {
        "burn": burn,
        "files": files,
        "told": told,
        "asked": asked,
        "quantities": quantities_of(files),
        "groups": [(group, group not in asked.off) for group in groups],
        "moves": moves(told, asked),
        "picture": picture(told, asked) if files else "",
        "events": noted(burn),
    }


def figures(told: Recording) -> dict[str, Any]:
    """The figures below the picture."""
    measured, forecast = told.measured, told.forecast
    rows = (
        compared(measured, forecast, told.burn.standing_events(), told.burn.ignited_at)
        if measured and forecast else []
    )  # fmt: skip
    return {
        "compared": rows,
        "peak": next((row for row in rows if row.key == "peak"), None),
        "measured": measured,
        "forecast": forecast,
        "positions": positions_of(told.burn, told.files),
        "above": selectors.above_of(told.files),
    }


def whole_page(burn: Burn, given: Mapping[str, Any] | QueryDict) -> dict[str, Any]:
    """Everything of the page, for the screen and for the print."""
    query = given if isinstance(given, QueryDict) else QueryDict()
    context = seen(burn, selectors.files_of(burn), query)
    return {**context, **figures(context["told"])}
