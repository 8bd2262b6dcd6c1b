"""The forecast beside what was recorded: of one burn, and over the burns of a unit."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean, pstdev
from typing import Any

import numpy as np
from django.utils.translation import gettext as _

from facility.calc.fitting import Charge, Fit, traits_of
from records.burns.models import Burn
from records.capture.measuring import Measured, first_at
from records.plans.forecast import Forecast, areas_of, forecast_in, mass_as_lit, room_of

CELSIUS, CLOCK, METRE = "degC", "clock", "m"
AMBIENT_C = 20.0  # the forecast's own


@dataclass(frozen=True, slots=True)
class Compared:
    """One figure as recorded, as calculated, and as calculated with the unit's factors."""

    key: str
    label: str
    unit: str
    measured: float | None
    raw: float | None
    fitted: float | None = None

    @property
    def error(self) -> float | None:
        """What the raw forecast has too much."""
        return _less(self.raw, self.measured)

    @property
    def fitted_error(self) -> float | None:
        return _less(self.fitted, self.measured)

    @property
    def error_unit(self) -> str:
        return "delta_degC" if self.unit == CELSIUS else self.unit


def _less(one: float | None, other: float | None) -> float | None:
    return None if one is None or other is None else one - other


def charges_of(burns: Sequence[Burn]) -> dict[int, Charge]:
    """The charge of each burn by its key: what really burned, and before it is closed what was lit.

    Boards that came back unburned are in neither; the faces are those of the planned charge.
    """
    areas = areas_of(burn.version for burn in burns)
    found = {}
    for burn in burns:
        mass = float(burn.current.dry_mass_kg) if burn.current else mass_as_lit(burn.version)
        if mass and areas[burn.version_id]:
            found[burn.pk] = Charge(round(mass, 2), round(areas[burn.version_id], 3))
    return found


def forecast_of(burn: Burn, charge: Charge | None, fit: Fit | None) -> Forecast | None:
    """The forecast of a burn's charge, with the factors beside it; None where it cannot be made."""
    room = room_of(burn.unit)
    return forecast_in(room, charge, fit) if room and charge else None


def compared(
    measured: Measured, forecast: Forecast, events: Iterable[Any] = (), lit: Any = None
) -> list[Compared]:
    """Figure by figure. The forecast counts its times from where growth begins, the recording
    from the lighting: what is later there may be the lighting alone."""
    raw = _figures(forecast)
    own = _figures(forecast.fitted) if forecast.fitted else {}
    seen = _seen(events, lit)
    traits, lowest = measured.traits, measured.lowest
    rows: list[tuple[str, str, str, float | None]] = [
        ("peak", _("hottest half minute"), CELSIUS, measured.peak_c),
        ("half", _("half of the rise"), CLOCK, measured.half_s),
        ("growing", _("rise, 20 to 80 %"), CLOCK, traits and traits.growing),
        ("hot", _("above half for"), CLOCK, traits and traits.hot),
        ("head", _("at head height"), CLOCK, measured.head_s),
        ("lowest", _("layer down to"), METRE, lowest[0] if lowest else None),
        ("plane", _("neutral plane down to"), METRE, seen.get("plane")),
        ("full", _("fully developed"), CLOCK, seen.get("full")),
        ("decay", _("decay"), CLOCK, seen.get("decay")),
    ]
    return [
        Compared(key, label, unit, value, raw.get(key), own.get(key))
        for key, label, unit, value in rows
        if value is not None or key in ("peak", "half", "head", "lowest")
    ]


def _figures(forecast: Forecast) -> dict[str, float]:
    """The same figures off a forecast."""
    clock = forecast.layer.value("time_of_result")
    rise = forecast.layer.value("layer_temperature") - AMBIENT_C
    height = forecast.layer.value("interface_height")
    found: dict[str, float | None] = {
        "peak": AMBIENT_C + float(np.max(rise)),
        "half": first_at(clock, rise >= 0.5 * np.max(rise)),
        "head": first_at(clock, height <= 1.7),
        "lowest": float(np.min(height)),
        "plane": forecast.lowest_plane_m,
        **{moment.key: moment.seconds for moment in forecast.moments if moment.key != "head"},
    }
    traits = traits_of(clock, rise)
    if traits:
        found |= {"growing": traits.growing, "hot": traits.hot}
    return {key: value for key, value in found.items() if value is not None}


def _seen(events: Iterable[Any], lit: Any) -> dict[str, float]:
    """What people saw: the lowest neutral plane [m], and when stages began [s after lighting]."""
    found: dict[str, float] = {}
    for event in events:
        after = (event.happened_at - lit).total_seconds()
        stage = event.stage or ""
        if event.kind == "neutral_plane" and event.height_m is not None:
            found["plane"] = min(found.get("plane", np.inf), float(event.height_m))
        elif event.kind == "stage" and stage.startswith("fully"):
            found.setdefault("full", after)
        elif event.kind == "stage" and stage.startswith("decay"):
            found.setdefault("decay", after)
    return found


@dataclass(frozen=True, slots=True)
class Errors:
    """How far a forecast was from the recording over several burns: bias and scatter."""

    label: str
    unit: str
    burns: int
    bias: float
    scatter: float
    fitted_bias: float | None
    fitted_scatter: float | None


def errors_over(burns: Iterable[Sequence[Compared]]) -> list[Errors]:
    """Bias and scatter (standard deviation) of each figure, over the burns that have it."""
    by_key: dict[str, list[Compared]] = {}
    for rows in burns:
        for row in rows:
            if row.error is not None:
                by_key.setdefault(row.key, []).append(row)
    return [_errors(rows) for rows in by_key.values()]


def _errors(rows: Sequence[Compared]) -> Errors:
    raw = [row.error for row in rows if row.error is not None]
    own = [row.fitted_error for row in rows if row.fitted_error is not None]
    return Errors(
        rows[0].label, rows[0].error_unit, len(raw), fmean(raw), pstdev(raw),
        fmean(own) if own else None, pstdev(own) if own else None,
    )  # fmt: skip
