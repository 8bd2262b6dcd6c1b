"""What the fire of a plan may do: heat release with its band, the hot layer, the main events.

The raw forecast rests on formulas alone. Where burns of the unit have been measured and factors
were fitted to them, the same forecast with those factors stands beside it, never in its place.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from typing import Any

import numpy as np
from django.utils.safestring import SafeString
from django.utils.translation import gettext as _

from facility.calc.constants import (
    BOARD_HEAT_PER_AREA,
    CRIB_AND_BOARD_GROWTH,
    TRAINING_FUEL_EFFECTIVE_HEAT,
)
from facility.calc.fitting import (
    AS_CALCULATED,
    LINING_MM,
    STEEL_WALL_MM,
    Charge,
    Factors,
    Fit,
    Room,
    heat_band,
)
from facility.calc.heat import flashover_heat_release, heat_release_curve, ventilation_limit
from facility.calc.two_zone import two_zone
from facility.calc.working import CalculationRefused, Working
from facility.look.charts import STEEL, Chart, Curve, image, thinned
from facility.look.reader import current_system
from facility.rules.words import amount
from facility.sites.models import Opening, OpeningKind, Surface, Unit
from records.ground.fitted import newest_fit
from records.plans.figures import LineFigures
from records.plans.judging import Judgement
from records.plans.models import ChargeLine, KnownAtIgnition, PlanVersion

BOTH_FACES = frozenset({Surface.FLOOR})  # a board in a crib burns on both faces


@dataclass(frozen=True, slots=True)
class Moment:
    """One thing that is to happen, seconds after growth begins; ``key`` tells it from the others."""

    what: str
    seconds: float
    key: str = ""

    @property
    def clock(self) -> str:
        return str(dt.timedelta(seconds=round(self.seconds)))[2:]


@dataclass(frozen=True)
class Forecast:
    """The curve and the layer as workings, the chart, and the events read off them.

    ``fitted`` is the same forecast with the factors of the unit's own burns, if there are any;
    its heat release has the band of ``fit`` instead of that of the laboratories.
    """

    heat: Working
    layer: Working
    opening: Working
    flashover: Working
    moments: tuple[Moment, ...]
    lowest_layer_m: float
    lowest_plane_m: float
    hottest_c: float
    notes: tuple[str, ...]
    factors: Factors = AS_CALCULATED
    band: tuple[Working, Working] | None = None  # low and high heat release, of a fitted one
    fit: Fit | None = None
    fitted: Forecast | None = None

    @property
    def peaks(self) -> tuple[float, float]:
        """The band of the peak [kW]: of the fit where it is a fitted one, else of laboratories."""
        if self.band:
            return self.band[0].value("peak"), self.band[1].value("peak")
        return self.heat.value("peak_low"), self.heat.value("peak_high")

    @cached_property
    def curve(self) -> tuple[Any, ...]:
        """Minutes and megawatts of the heat release: middle, low and high."""
        minutes = self.heat.value("time") / 60
        low, high = (
            [np.interp(minutes, each.value("time") / 60, each.value("heat_release"), right=0.0)
             for each in self.band]
            if self.band else [self.heat.value(name) for name in BAND[1:]]
        )  # fmt: skip
        lines = (self.heat.value("heat_release"), low, high)
        return thinned(minutes), *(thinned(each / 1000) for each in lines)

    @property
    def chart(self) -> SafeString:
        limit = self.opening.value() / 1000
        minutes, middle, low, high = self.curve
        raw = _("as calculated") if self.fitted else ""
        curves = [Curve(minutes, middle, raw, low, high)]
        if self.fitted:
            minutes, middle, low, high = self.fitted.curve
            curves.append(Curve(minutes, middle, _("as it burned here"), low, high, STEEL, True))
        chart = Chart(
            tuple(curves),
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
    return _faces(each.line for each in figures)


def _faces(lines: Iterable[Any]) -> float:
    area = 0.0
    for line in lines:
        product = line.product
        if product.is_board and product.length_m and product.width_m:
            faces = 2 if line.position.surface in BOTH_FACES else 1
            area += faces * float(product.length_m * product.width_m * line.quantity)
    return area


def areas_of(versions: Iterable[PlanVersion]) -> dict[int, float]:
    """Faces of boards that burn [m2] of each version's charge, by the version's key."""
    keys = [version.pk for version in versions]
    rows = ChargeLine.objects.filter(version__in=keys).select_related("product", "position")
    lines: dict[int, list[ChargeLine]] = {key: [] for key in keys}
    for row in rows:
        lines[row.version_id].append(row)
    return {key: _faces(each) for key, each in lines.items()}


def mass_as_lit(version: PlanVersion) -> float | None:
    """Dry mass [kg] of the charge that was lit, as it was known then."""
    kept = KnownAtIgnition.objects.filter(version=version).values_list("facts", flat=True).first()
    cases: Sequence[Mapping[str, Any]] = kept["cases"] if kept else ()
    for case in cases:
        if known := case["facts"].get("charge.dry_mass"):
            return None if known[0] is None else float(known[0])
    return None


def widest_door(unit: Unit) -> Opening | None:
    doors = [opening for opening in unit.openings.all() if opening.kind == OpeningKind.DOOR]
    return max(doors, key=lambda door: door.width_m * door.height_m, default=None)


def forecast(
    unit: Unit, figures: Sequence[LineFigures], dry_mass_kg: float | None
) -> Forecast | None:
    """The forecast of a charge in a unit; None while mass, boards or door are not known."""
    area, room = exposed_area(figures), room_of(unit)
    if not dry_mass_kg or not area or room is None:
        return None
    return forecast_in(room, Charge(round(dry_mass_kg, 2), round(area, 3)), newest_fit(unit))


_LINED = re.compile(r"\blin(?:ed|ing)\b", re.I)


def room_of(unit: Unit) -> Room | None:
    """The unit as the forecast takes it; None without a door."""
    door = widest_door(unit)
    if door is None:
        return None
    return Room(
        float(unit.length_m), float(unit.width_m), float(unit.height_m), float(door.width_m),
        float(door.height_m), bool(_LINED.search(unit.wall)),
    )  # fmt: skip


def forecast_in(room: Room, charge: Charge, fit: Fit | None = None) -> Forecast | None:
    """The raw forecast, with the one under the factors of a fit beside it; None out of all sense."""
    try:
        raw = _worked(room, charge, AS_CALCULATED)
        return replace(raw, fitted=_under(room, charge, fit)) if fit and fit.burns else raw
    except CalculationRefused:
        return None


@lru_cache(maxsize=256)
def _under(room: Room, charge: Charge, fit: Fit) -> Forecast:
    factors = Factors(*(round(each, 3) for each in fit.factors))
    low, high = (
        _heat(room, charge, factors._replace(heat=round(each, 3))) for each in heat_band(fit)
    )
    return replace(_worked(room, charge, factors), band=(low, high), fit=fit)


def _heat(room: Room, charge: Charge, factors: Factors) -> Working:
    return heat_release_curve.of(
        dry_mass=charge.dry_mass, exposed_area=charge.area,
        heat_per_area=BOARD_HEAT_PER_AREA * factors.heat,
        energy_per_kg=TRAINING_FUEL_EFFECTIVE_HEAT, alpha=CRIB_AND_BOARD_GROWTH * factors.growth,
        opening_width=room.door_width, opening_height=room.door_height,
    )  # fmt: skip


@lru_cache(maxsize=256)
def _worked(room: Room, charge: Charge, factors: Factors) -> Forecast:
    door = {"door_width": room.door_width, "door_height": room.door_height}
    heat = _heat(room, charge, factors)
    length, width, height = room[:3]
    layer = two_zone.of(
        length=length, width=width, height=height, **door,
        time=[round(each, 1) for each in thinned(heat.value("time"), CURVE_POINTS)],
        heat_release=[round(each, 1) for each in thinned(heat.value("heat_release"), CURVE_POINTS)],
        wall="lined" if room.lined else "steel",
        wall_thickness=LINING_MM if room.lined else STEEL_WALL_MM, wall_loss=factors.loss,
    )  # fmt: skip
    surface = 2 * (length * width + length * height + width * height)
    return Forecast(
        heat=heat,
        layer=layer,
        opening=ventilation_limit.of(width=room.door_width, height=room.door_height),
        flashover=flashover_heat_release.of(
            surface_area=surface, width=room.door_width, height=room.door_height
        ),
        moments=_moments(heat, layer),
        lowest_layer_m=float(np.min(layer.value("interface_height"))),
        lowest_plane_m=_lowest_plane(layer),
        hottest_c=float(np.max(layer.value("layer_temperature"))),
        notes=(*heat.notes, *layer.notes),
        factors=factors,
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
    moments = [
        Moment(_("full size"), float(full[0]), "full"),
        Moment(_("decay begins"), float(full[-1]), "decay"),
    ]
    clock, height = layer.value("time_of_result"), layer.value("interface_height")
    low = np.flatnonzero(height <= HEAD_HEIGHT_M)
    if low.size:
        moments.append(
            Moment(_("hot layer below head height, 1.7 m"), float(clock[low[0]]), "head")
        )
    moments.append(Moment(_("burnt out"), float(heat.value("burnt_out")), "out"))
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
