"""How the fires of a unit ran against their forecasts: the page of a unit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from facility.calc.fitting import AS_CALCULATED, NAMES, PRIOR_SD, Fit
from facility.sites.models import Unit
from records.capture.comparing import Compared, compared, errors_over, forecast_of
from records.capture.fitting import Evidence, evidence_of
from records.ground.fitted import fits_of, newest_fit

PRIOR = Fit(AS_CALCULATED, tuple(
    tuple(sd**2 if at == row else 0.0 for at in range(len(NAMES)))
    for row, sd in enumerate(PRIOR_SD)
), (), 0, 0)  # fmt: skip


@dataclass(frozen=True)
class Fire:
    """One recorded burn with its figures beside the forecast, by their key."""

    told: Evidence
    rows: dict[str, Compared]


@dataclass(frozen=True, slots=True)
class Factor:
    """One factor with the range that holds it with 80 %, and that before any burn was seen."""

    name: str
    value: float
    low: float
    high: float
    before_low: float
    before_high: float


def factors_of(fit: Fit) -> list[Factor]:
    return [
        Factor(name, fit.factors[at], *fit.within(name), *PRIOR.within(name))
        for at, name in enumerate(NAMES)
    ]


def unit_page(unit: Unit) -> dict[str, Any]:
    fit = newest_fit(unit)
    fires = [_fire(each, fit) for each in evidence_of(unit)]
    counted = [list(fire.rows.values()) for fire in fires if not fire.told.left_out]
    return {
        "unit": unit,
        "fit": fit,
        "factors": factors_of(fit) if fit else [],
        "fits": fits_of(unit),
        "fires": fires,
        "errors": errors_over(counted),
        "counted": len(counted),
    }


def _fire(told: Evidence, fit: Fit | None) -> Fire:
    forecast = forecast_of(told.burn, told.charge, fit)
    if told.measured is None or forecast is None:
        return Fire(told, {})
    rows = compared(told.measured, forecast, told.burn.standing_events(), told.burn.ignited_at)
    return Fire(told, {row.key: row for row in rows})
