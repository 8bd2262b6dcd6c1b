"""What the fire of a plan may do: heat release with its band, the hot layer, the main events.

Rests on formulas alone until burns of the ground's own have been measured; says what it takes
for granted.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.constants import (
    BOARD_HEAT_PER_AREA,
    CRIB_AND_BOARD_GROWTH,
    TRAINING_FUEL_EFFECTIVE_HEAT,
)
from facility.calc.heat import flashover_heat_release, heat_release_curve, ventilation_limit
from facility.calc.two_zone import two_zone
from facility.calc.working import CalculationRefused, Working
from facility.look.charts import Chart, Curve, image, thinned
from facility.look.reader import current_system
from facility.rules.words import amount
from facility.sites.models import Opening, OpeningKind, Surface, Unit
from records.plans.figures import LineFigures
from records.plans.judging import Judgement

STEEL_WALL_MM = 2.0  # of a freight container's side: common practice, no source
BOTH_FACES = frozenset({Surface.FLOOR})  # a board in a crib burns on both faces


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that is to happen, seconds after growth begins."""

    what: str
    seconds: float

    @property
    def clock(self) -> str:
        return str(dt.timedelta(seconds=round(self.seconds)))[2:]


@dataclass(frozen=True, slots=True)
class Forecast:
    """The curve and the layer as workings, the chart, and the events read off them."""

    heat: Working
    layer: Working
    opening: Working
    flashover: Working
    moments: tuple[Moment, ...]
    lowest_layer_m: float
    lowest_plane_m: float
    hottest_c: float
    notes: tuple[str, ...]

    @property
    def chart(self) -> SafeString:
        minutes = thinned(self.heat.value("time") / 60)
        megawatts = [thinned(self.heat.value(name) / 1000) for name in BAND]
        limit = self.opening.value() / 1000
        chart = Chart(
            (Curve(minutes, megawatts[0], low=megawatts[1], high=megawatts[2]),),
            _("minutes"),
            "MW",
            ((limit, _("opening limit {limit:.1f} MW").format(limit=limit)),),
        )
        return image(chart, _("Heat release against time, with its band"))

    @property
    def layer_chart(self) -> SafeString:
        minutes = thinned(self.layer.value("time_of_result") / 60)
        heights = tuple(
            Curve(minutes, thinned(self.layer.value(name)), label=label, colour=colour)
            for name, label, colour in (
                ("interface_height", _("hot layer down to"), "#c25a2c"),
                ("neutral_plane", _("neutral plane in the door"), "#5f8296"),
            )
        )
        return image(
            Chart(heights, _("minutes"), _("m above the floor")), _("Layer and neutral plane")
        )


BAND = ("heat_release", "heat_release_low", "heat_release_high")


def exposed_area(figures: Sequence[LineFigures]) -> float:
    """Faces of boards that burn [m2]: one of a hung board, both of one in a crib."""
    area = 0.0
    for each in figures:
        product = each.line.product
        if product.is_board and product.length_m and product.width_m:
            faces = 2 if each.line.position.surface in BOTH_FACES else 1
            area += faces * float(product.length_m * product.width_m * each.line.quantity)
    return area


def widest_door(unit: Unit) -> Opening | None:
    doors = [opening for opening in unit.openings.all() if opening.kind == OpeningKind.DOOR]
    return max(doors, key=lambda door: door.width_m * door.height_m, default=None)


def forecast(
    unit: Unit, figures: Sequence[LineFigures], dry_mass_kg: float | None
) -> Forecast | None:
    """The forecast of a charge in a unit; None while mass, boards or door are not known."""
    area, door = exposed_area(figures), widest_door(unit)
    if not dry_mass_kg or not area or door is None:
        return None
    try:
        return _worked(
            float(unit.length_m), float(unit.width_m), float(unit.height_m),
            float(door.width_m), float(door.height_m), "lined" in unit.wall,
            round(dry_mass_kg, 2), round(area, 3),
        )  # fmt: skip
    except CalculationRefused:
        return None


@lru_cache(maxsize=128)
def _worked(
    length: float, width: float, height: float, door_width: float, door_height: float, lined: bool,
    dry_mass: float, area: float,
) -> Forecast:  # fmt: skip
    door = {"door_width": door_width, "door_height": door_height}
    heat = heat_release_curve.of(
        dry_mass=dry_mass, exposed_area=area, heat_per_area=BOARD_HEAT_PER_AREA,
        energy_per_kg=TRAINING_FUEL_EFFECTIVE_HEAT, alpha=CRIB_AND_BOARD_GROWTH,
        opening_width=door_width, opening_height=door_height,
    )  # fmt: skip
    layer = two_zone.of(
        length=length, width=width, height=height, **door,
        time=[round(each, 1) for each in thinned(heat.value("time"), CURVE_POINTS)],
        heat_release=[round(each, 1) for each in thinned(heat.value("heat_release"), CURVE_POINTS)],
        wall="lined" if lined else "steel", wall_thickness=25.0 if lined else STEEL_WALL_MM,
    )  # fmt: skip
    surface = 2 * (length * width + length * height + width * height)
    return Forecast(
        heat=heat,
        layer=layer,
        opening=ventilation_limit.of(width=door_width, height=door_height),
        flashover=flashover_heat_release.of(
            surface_area=surface, width=door_width, height=door_height
        ),
        moments=_moments(heat, layer),
        lowest_layer_m=float(np.min(layer.value("interface_height"))),
        lowest_plane_m=_lowest_plane(layer),
        hottest_c=float(np.max(layer.value("layer_temperature"))),
        notes=(*heat.notes, *layer.notes),
    )  # fmt: skip


def _lowest_plane(layer: Working) -> float:
    """The lowest neutral plane [m] while the fire burns at a tenth of its peak or more."""
    release = layer.value("heat_release_inside")
    burning = release >= 0.1 * np.max(release)
    return float(np.nanmin(layer.value("neutral_plane")[burning]))


def _moments(heat: Working, layer: Working) -> tuple[Moment, ...]:
    """When growth ends, the layer reaches head height and the fire is burnt out."""
    times, release = heat.value("time"), heat.value("heat_release")
    peak = heat.value("peak")
    full = times[np.flatnonzero(release >= 0.99 * peak)]
    moments = [Moment(_("full size"), float(full[0])), Moment(_("decay begins"), float(full[-1]))]
    clock, height = layer.value("time_of_result"), layer.value("interface_height")
    low = np.flatnonzero(height <= HEAD_HEIGHT_M)
    if low.size:
        moments.append(Moment(_("hot layer below head height, 1.7 m"), float(clock[low[0]])))
    moments.append(Moment(_("burnt out"), float(heat.value("burnt_out"))))
    return tuple(sorted(moments, key=lambda moment: moment.seconds))


CURVE_POINTS = 60  # of the heat release handed on; few enough for its working to be asked for
HEAD_HEIGHT_M = 1.7  # of a standing person: common practice, no source


def workings_of(judgement: Judgement) -> list[tuple[str, Working]]:
    """Every figure of a plan that can be asked, with what it is of; for the printed plan."""
    named: dict[str, Working] = {}
    for each in judgement.figures:
        lot = each.lot.code if each.lot else ""
        for working in (
            each.per_board and each.per_board.mass,
            each.per_board and each.per_board.heat,
        ):
            if working:
                named[f"{each.line.product}, {lot}: {working.title}"] = working
    if judgement.load:
        named[judgement.load.title] = judgement.load
    found = forecast(judgement.unit, judgement.figures, judgement.dry_mass_kg)
    for working in (found.heat, found.opening, found.flashover, found.layer) if found else ():
        named[working.title] = working
    return list(named.items())


def taken_for_granted() -> list[str]:
    """The assumptions, in the reader's units."""
    system = current_system()
    return [
        _("boards burn at {rate} of face, hung ones on one face, in a crib on both").format(
            rate=amount(BOARD_HEAT_PER_AREA, "kW/m2", system=system)
        ),
        _("{energy} are released per kg burned").format(
            energy=amount(TRAINING_FUEL_EFFECTIVE_HEAT, "MJ/kg", system=system)
        ),
        _("the widest door stands open, vents stay shut, no water is applied"),
        _("growth is that of a fast fire; lighting with a small flame takes longer"),
    ]
