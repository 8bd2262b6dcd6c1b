"""Flow of gas through the openings of a unit that holds a hot layer over a cool one.

Plain floats in, plain floats out: this runs inside the loops of the two-zone model. Pressures
are over the outside at the same height, in Pa; they grow with height because the gas inside is
lighter than the air outside. Source of the segment formula: NIST TN 1889v1, "Calculating flow
through wall vents", after Emmons.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from facility.calc.constants import (
    DOOR_DISCHARGE,
    GAS_DENSITY_KELVIN,
    GAS_SPECIFIC_HEAT,
    GRAVITY,
    ROOF_DISCHARGE,
)

MOST_STEPS = 80
# A straight line carries the flows over the last step: its error is this squared, and less.
NEAR_BALANCE = 0.003
LEAST_RISE = 1e-3  # Pa/m: gas as cold as the air outside gives no measure


class Column(NamedTuple):
    """The gas inside: interface height [m] over the floor, temperatures [K] of both layers and
    outside."""

    interface: float
    upper: float
    lower: float
    ambient: float


class Hole(NamedTuple):
    """An opening in a wall, as it stands open now: width, sill and top over the floor [m]."""

    width: float
    sill: float
    top: float


class Flow(NamedTuple):
    """Mass flows [kg/s] through all openings, and how they change with pressure [kg/(s Pa)].

    ``out_upper`` and ``out_lower`` leave the two layers, ``inward`` comes in; ``inward_high`` is
    the part of it that comes in through the walls above the layer interface.
    """

    out_upper: float
    out_lower: float
    inward: float
    inward_high: float
    out_upper_slope: float
    out_lower_slope: float
    inward_slope: float


STILL = Flow(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)


def density(kelvin: float) -> float:
    """Density [kg/m3] of fire gas at a temperature [K]."""
    return GAS_DENSITY_KELVIN / kelvin


def pressure_at(height: float, floor_pressure: float, column: Column) -> float:
    """Pressure over the outside [Pa] at a height [m]."""
    outside = density(column.ambient)
    below = min(height, column.interface)
    return (
        floor_pressure
        + GRAVITY * (outside - density(column.lower)) * below
        + GRAVITY * (outside - density(column.upper)) * (height - below)
    )


def neutral_height(hole: Hole, floor_pressure: float, column: Column) -> float:
    """Height [m] in a wall opening where inside and outside pressure are equal.

    The sill when everything flows out, the top when everything flows in.
    """
    corners = [hole.sill, min(max(column.interface, hole.sill), hole.top), hole.top]
    pressures = [pressure_at(height, floor_pressure, column) for height in corners]
    if pressures[0] >= 0.0:
        return hole.sill
    for row in (0, 1):
        low, high = pressures[row], pressures[row + 1]
        if high >= 0.0:
            return corners[row] + (corners[row + 1] - corners[row]) * low / (low - high)
    return hole.top


def _part(depth: float, low: float, high: float) -> tuple[float, float, float, float]:
    """Outward and inward integral of sqrt|p| over a depth [m], each followed by its slope.

    The pressure [Pa] runs straight from ``low`` to ``high`` and may change its sign between.
    """
    if low >= 0.0 and high >= 0.0:
        root_low, root_high = math.sqrt(low), math.sqrt(high)
        both = root_low + root_high or 1e-9
        return 2 / 3 * depth * (low + root_low * root_high + high) / both, depth / both, 0.0, 0.0
    if low <= 0.0 and high <= 0.0:
        out, slope, _, _ = _part(depth, -low, -high)
        return 0.0, 0.0, out, slope
    if low > 0.0:
        out, out_slope, inward, slope = _part(depth, high, low)
        return out, out_slope, inward, slope
    inside = depth * low / (low - high)
    root_low, root_high = math.sqrt(-low), math.sqrt(high)
    outside = depth - inside
    return (
        2 / 3 * outside * root_high, outside / root_high if root_high else 0.0,
        2 / 3 * inside * root_low, inside / root_low,
    )  # fmt: skip


class Drive(NamedTuple):
    """What drives the flows, apart from pressure: interface [m]; pressure gained per metre of the
    lower and the upper layer [Pa/m]; flow per root of pressure and area out of the upper, out of
    the lower layer and inward [kg/(s m2 Pa^0.5)], without the share that a vent lets through."""

    interface: float
    rise_low: float
    rise_up: float
    upper: float
    lower: float
    inward: float


def drive(column: Column) -> Drive:
    """The drive of a column of gas."""
    interface, upper, lower, ambient = column
    rho_up, rho_low = GAS_DENSITY_KELVIN / upper, GAS_DENSITY_KELVIN / lower
    rho_out = GAS_DENSITY_KELVIN / ambient
    return Drive(
        interface, GRAVITY * (rho_out - rho_low), GRAVITY * (rho_out - rho_up),
        math.sqrt(2.0 * rho_up), math.sqrt(2.0 * rho_low), math.sqrt(2.0 * rho_out),
    )  # fmt: skip


def flows(
    holes: Sequence[Hole], roof: float, height: float, pressure: float, driven: Drive
) -> Flow:
    """All flows at a floor pressure [Pa]; ``roof`` is the area [m2] open at ``height`` [m]."""
    interface, rise_low, rise_up, upper, lower, inward = driven
    level = pressure + rise_low * interface
    out_up = out_up_s = out_low = out_low_s = in_low = in_s = in_high = 0.0
    for width, sill, top in holes:
        if sill < interface:
            end = top if top < interface else interface
            out, out_s, into, into_s = _part(
                end - sill, pressure + rise_low * sill, pressure + rise_low * end
            )
            out_low += width * out
            out_low_s += width * out_s
            in_low += width * into
            in_s += width * into_s
        if top > interface:
            start = sill if sill > interface else interface
            foot = level - rise_up * interface
            out, out_s, into, into_s = _part(
                top - start, foot + rise_up * start, foot + rise_up * top
            )
            out_up += width * out
            out_up_s += width * out_s
            in_high += width * into
            in_s += width * into_s
    upper, lower, inward = DOOR_DISCHARGE * upper, DOOR_DISCHARGE * lower, DOOR_DISCHARGE * inward
    flow = Flow(
        upper * out_up, lower * out_low, inward * (in_low + in_high), inward * in_high,
        upper * out_up_s, lower * out_low_s, -inward * in_s,
    )  # fmt: skip
    if roof <= 0.0:
        return flow
    return _with_roof(flow, roof, level + rise_up * (height - interface), driven)


def _with_roof(flow: Flow, area: float, pressure: float, driven: Drive) -> Flow:
    """Add a hole in the roof: gas of the hot layer out, or outside air in."""
    root = math.sqrt(max(abs(pressure), 1e-9))
    if pressure >= 0.0:
        share = ROOF_DISCHARGE * area * driven.upper
        return flow._replace(
            out_upper=flow.out_upper + share * root,
            out_upper_slope=flow.out_upper_slope + 0.5 * share / root,
        )
    share = ROOF_DISCHARGE * area * driven.inward
    return flow._replace(
        inward=flow.inward + share * root, inward_slope=flow.inward_slope - 0.5 * share / root
    )


def _moved(flow: Flow, change: float) -> Flow:
    """The flows at a pressure a little higher [Pa], along their slopes."""
    upper, lower, inward, high, upper_slope, lower_slope, inward_slope = flow
    return Flow(
        upper + upper_slope * change, lower + lower_slope * change,
        inward + inward_slope * change, high, upper_slope, lower_slope, inward_slope,
    )  # fmt: skip


def vented(
    holes: Sequence[Hole], roof: float, height: float, column: Column, made: float, guess: float
) -> tuple[float, Flow, float]:
    """Floor pressure [Pa], flows and the next guess, where the openings carry off ``made`` [kW].

    ``made`` is what the gas inside gains, fuel gas and steam included; a gas that cools draws
    air in. ``guess`` is the pressure at the interface a moment ago over the pressure that one
    metre of the upper layer gains [m]: it changes less than the pressure does. Newton's method,
    kept between two bounds.
    """
    interface, upper, lower, ambient = column
    driven = drive(column)
    pressure = guess * driven.rise_up - driven.rise_low * interface
    near = NEAR_BALANCE * max(abs(made), 100.0)
    low, high, stride = -math.inf, math.inf, 1.0
    for _ in range(MOST_STEPS):
        flow = flows(holes, roof, height, pressure, driven)
        gain = made + GAS_SPECIFIC_HEAT * (
            flow.inward * ambient - flow.out_upper * upper - flow.out_lower * lower
        )
        slope = GAS_SPECIFIC_HEAT * (
            flow.inward_slope * ambient
            - flow.out_upper_slope * upper
            - flow.out_lower_slope * lower
        )
        change = -gain / slope if slope < 0.0 else math.copysign(math.inf, gain)
        if abs(gain) <= near and slope < 0.0:
            pressure, flow = pressure + change, _moved(flow, change)
            break
        low, high = (pressure, high) if gain > 0.0 else (low, pressure)
        following = pressure + change
        if not low < following < high:
            stride *= 4.0
            bounded = math.isfinite(low) and math.isfinite(high)
            following = 0.5 * (low + high) if bounded else pressure + math.copysign(stride, gain)
        pressure = following
    over = pressure + driven.rise_low * interface
    return pressure, flow, over / max(driven.rise_up, LEAST_RISE)
