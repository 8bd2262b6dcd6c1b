"""Layer rise, neutral plane, overpressure against published values; the source stands at each."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc import plume
from facility.calc.layer import (
    Wall,
    WallTooConductive,
    hot_layer_rise,
    neutral_plane,
    overpressure,
    steel_transfer,
)
from facility.calc.vent_flow import Column, Hole, drive, flows, pressure_at, vented
from facility.calc.working import CalculationRefused
from tests.calc.measured import steckler

LLNL_51 = {
    "method": "mqh", "heat_release": 200.0, "length": 6.0, "width": 4.0, "height": 3.0,
    "door_width": 0.76, "door_height": 2.06, "wall_thickness": 100.0, "conductivity": 0.463,
    "density": 1607.0, "specific_heat": 1000.0, "ambient": 33.0,
}  # fmt: skip


@pytest.mark.parametrize(
    ("seconds", "celsius"),
    [(60, 111.45), (120, 121.05), (180, 127.21), (600, 148.14), (1200, 162.24), (1800, 171.28),
     (2400, 178.07), (3000, 183.57), (3600, 188.21)],
)  # fmt: skip
def test_mqh_as_printed(seconds, celsius):
    """NIST SP 1169, Natural Ventilation (MQH), verification case LLNL 51 (read)."""
    working = hot_layer_rise.of(**LLNL_51, time=seconds)
    assert working.value("layer_temperature") == pytest.approx(celsius, abs=0.006)


def test_mqh_of_the_nuregs_sheet():
    """NUREG-1805 sheet, 15 x 15 x 10 ft, vent 4 x 6 ft, 500 kW, 100 s (read): 125.50616 K. Its
    thermal inertia is typed in as 2.0."""
    foot = 0.3048
    working = hot_layer_rise.of(
        method="mqh", heat_release=500, length=15 * foot, width=15 * foot, height=10 * foot,
        door_width=4 * foot, door_height=6 * foot, time=100, wall_thickness=1000,
        conductivity=2.0, density=1000, specific_heat=1000, ambient=25,
    )  # fmt: skip
    assert working.steps[0].value == pytest.approx(95.31851904, abs=1e-6)
    assert working.value() == pytest.approx(125.50616, abs=1e-4)


@pytest.mark.parametrize(
    ("millimetres", "seconds", "transfer"),
    [(2, 0, 30.0), (2, 60, 23.93), (2, 120, 19.91), (2, 300, 14.31), (2, 600, 12.30),
     (3, 60, 25.69), (3, 120, 22.41), (3, 300, 16.57), (3, 600, 13.16)],
)  # fmt: skip
def test_steel_wall_transfer(millimetres, seconds, transfer):
    """Peatross and Beyler, SFPE Handbook: the equation from memory, the numbers its arithmetic;
    no published value found."""
    wall = Wall(0.054, 7850.0, 0.465, millimetres / 1000)
    assert 1000 * steel_transfer(wall, seconds) == pytest.approx(transfer, abs=0.005)


def test_mqh_refuses_bare_steel():
    """2 mm of steel would take 27 kW/(m2 K) and leave the layer absurdly cold; that plain MQH
    fails in steel rooms: Fire Safety Journal 72 (2015), abstract (read)."""
    steel = {"conductivity": 54.0, "density": 7850.0, "specific_heat": 465.0, "wall_thickness": 2.0}
    with pytest.raises(WallTooConductive):
        hot_layer_rise.of(**{**LLNL_51, **steel}, time=60)


def test_rise_beyond_the_tests_is_marked():
    working = hot_layer_rise.of(**{**LLNL_51, "heat_release": 20_000.0}, time=600)
    assert not working.in_range
    assert "600 K" in working.notes[0]


@pytest.mark.parametrize(
    ("celsius", "height", "flow"), [(199.85, 0.4602, 0.478), (499.85, 0.4199, 0.532),
                                    (799.85, 0.3935, 0.522)],
)  # fmt: skip
def test_well_mixed_room(celsius, height, flow):
    """Rockett and Kawagoe's closed form, zN/H = 1/(1 + (Tg/Ta)^(1/3)), from memory; the flow's
    plateau near 0.5 A sqrt(H) is the known figure. Ambient 293 K."""
    working = neutral_plane.of(
        door_width=1, door_height=1, interface_height=0, layer_temperature=celsius, ambient=19.85
    )
    assert working.value() == pytest.approx(height, abs=5e-4)
    assert working.value("outflow") == pytest.approx(flow, abs=0.003)


def test_door_flow_of_steckler_16():
    """NBSIR 82-2520 test 16 as quoted in a public note (read): door 0.86 m (from memory) x 1.83 m,
    120 °C over 26 °C, neutral plane 1.048 m, mean measured flow 0.616 kg/s. The flow over that
    plane, within 10 %."""
    column = Column(0.0, 393.15, 299.15, 299.15)
    driven = drive(column)
    above = flows([Hole(0.86, 1.048, 1.83)], 0.0, 2.13, -driven.rise_up * 1.048, driven)
    assert above.out_upper == pytest.approx(0.616, rel=0.10)


def test_neutral_plane_of_measured_layers():
    """Every Steckler test: the plane from the measured layers against the plane measured. Within
    0.05 m for mid-room fires but for the small window 41, whose file has eight velocities and
    does not balance; corner fires are known to stray (0.29 m allowed by the data's notes)."""
    for test in steckler():
        working = neutral_plane.of(
            door_width=test.width, door_height=test.height, sill=test.sill,
            interface_height=test.interface, layer_temperature=test.upper,
            lower_rise=test.lower - test.ambient, ambient=test.ambient,
        )  # fmt: skip
        gap = abs(working.value() - test.plane)
        if test.name != "41":
            assert gap <= (0.05 if test.where == "Center" else 0.29), test.name


def test_stack_pressure():
    """SFPE Handbook, chapter 50, equation 50.2 as tested in an open library (read): 13.048 Pa over
    1.52 m between 20 and 800 °C."""
    column = Column(0.0, 1073.15, 293.15, 293.15)
    assert pressure_at(1.52, 0.0, column) == pytest.approx(13.0480901, rel=1e-3)


def test_air_pumped_into_a_shut_room():
    """NIST TN 1889v3, verification, air flow through a single compartment (read): 0.01 m3/s
    through 1 cm2 gives 11 022 Pa; its air is moist, 1 % allowed."""
    working = overpressure.of(gas_temperature=20, leak_area=1e-4, air_supply=0.01)
    assert working.value() == pytest.approx(11_022, rel=0.01)


def test_sealed_room():
    """NIST TN 1889v3, verification, sealed room (read): 20 to 25 °C raises 101 325 Pa by 1728."""
    working = overpressure.of(method="sealed", gas_temperature=25, ambient=20)
    assert working.value() == pytest.approx(1728, abs=0.5)


def test_leaking_needs_a_leak():
    with pytest.raises(CalculationRefused, match="leak_area"):
        overpressure.of(gas_temperature=300, heat_to_gas=100)


def test_plume_of_a_pool_fire():
    """Karlsson and Quintiere, example 4.3 as quoted in a public repository (read): 1690 kW, 1.6 m
    across, 70 % convected, 6.0 m up: 17.19 kg/s. Heskestad's full form gives it within 2 %."""
    air = plume.entrainment(1690, 0.7 * 1690, 6.0, 1.6, 293.15)
    assert air == pytest.approx(17.19, rel=0.02)


@pytest.mark.parametrize(("metres", "flux"), [(0.50, 6.01), (0.75, 3.65), (1.00, 2.33)])
def test_flame_height_behind_printed_heat_fluxes(metres, flux):
    """NIST SP 1169, Fleury test 7 (read): 100 kW on 0.09 m2, 35 % radiated from a third of the
    flame's height, target on the floor. Its gas has 1.0 kJ/(kg K), ours 1.012: 1 % allowed."""
    flame, _ = plume.flame_and_origin(100, math.sqrt(4 * 0.09 / math.pi))
    distance = math.hypot(metres, flame / 3)
    got = metres / distance * 0.35 * 100 / (4 * math.pi * distance**2)
    assert got == pytest.approx(flux, rel=0.01)


@pytest.mark.parametrize(("kind", "share"), [("wall", 0.63), ("corner", 0.40)])
def test_mirrored_plumes(kind, share):
    """NIST TN 1889v1, "Wall and corner plumes" (read): about 0.63 and 0.40 of the free plume, far
    over a small fire."""
    free = plume.entrainment(100, 70, 20.0, 0.3, 293.15)
    assert plume.entrainment(100, 70, 20.0, 0.3, 293.15, kind) / free == pytest.approx(
        share, rel=0.03
    )


hot = st.floats(60, 1100)
levels = st.floats(0.0, 2.5)


def _by_strips(hole, pressure, column, strips=20_000):
    """Flow out and in by summing thin strips: an independent way to the same integral."""
    heights = hole.sill + (np.arange(strips) + 0.5) * (hole.top - hole.sill) / strips
    inside = np.minimum(heights, column.interface)
    rho_out, rho_low, rho_up = (353.0 / t for t in (column.ambient, column.lower, column.upper))
    p = pressure + 9.81 * ((rho_out - rho_low) * inside + (rho_out - rho_up) * (heights - inside))
    rho = np.where(p < 0, rho_out, np.where(heights < column.interface, rho_low, rho_up))
    each = 0.7 * np.sqrt(2 * rho * np.abs(p)) * hole.width * (hole.top - hole.sill) / strips
    return each[p > 0].sum(), each[p < 0].sum()


@given(level=levels, upper=hot, lower=st.floats(0, 200), pressure=st.floats(-15, 15),
       sill=st.floats(0, 1.5))  # fmt: skip
def test_flow_equals_the_sum_of_strips(level, upper, lower, pressure, sill):
    column = Column(level, 293.15 + max(upper, lower), 293.15 + lower, 293.15)
    hole = Hole(0.9, sill, sill + 0.8)
    flow = flows([hole], 0.0, 3.0, pressure, drive(column))
    out, inward = _by_strips(hole, pressure, column)
    assert flow.out_upper + flow.out_lower == pytest.approx(out, rel=2e-3, abs=2e-4)
    assert flow.inward == pytest.approx(inward, rel=2e-3, abs=2e-4)


@given(level=st.floats(0.0, 1.9), upper=hot, made=st.floats(-500, 3000), roof=st.floats(0, 1))
def test_pressure_found_carries_off_what_is_made(level, upper, made, roof):
    column = Column(level, upper + 273.15, 300.0, 293.15)
    holes = [Hole(1.1, 0.0, 2.2)]
    pressure, flow, _ = vented(holes, roof, 2.4, column, made, 0.0)
    again = flows(holes, roof, 2.4, pressure, drive(column))
    for found in (flow, again):
        carried = 1.012 * (
            found.out_upper * column.upper + found.out_lower * column.lower
            - found.inward * column.ambient
        )  # fmt: skip
        assert carried == pytest.approx(made, abs=0.002 * max(abs(made), 100))


@given(level=st.floats(0.0, 1.9), celsius=hot, lower=st.floats(0, 40))
def test_plane_stands_in_the_door_and_flows_agree(level, celsius, lower):
    working = neutral_plane.of(
        door_width=1.0, door_height=2.0, interface_height=level, lower_rise=lower,
        layer_temperature=celsius + 20, ambient=20,
    )  # fmt: skip
    assert 0 <= working.value() <= 2.0
    assert working.value("outflow") == pytest.approx(working.value("inflow"), rel=1e-6, abs=1e-9)


@given(level=st.floats(0.0, 1.6), celsius=hot, lift=st.floats(0.05, 0.3))
def test_a_higher_layer_lifts_the_plane_and_slows_the_flow(level, celsius, lift):
    known = {"door_width": 1.0, "door_height": 2.0, "layer_temperature": celsius}
    low = neutral_plane.of(**known, interface_height=level)
    high = neutral_plane.of(**known, interface_height=level + lift)
    assert high.value() >= low.value() - 1e-9
    assert high.value("outflow") <= low.value("outflow") + 1e-9


@given(heat=st.floats(10, 5000), more=st.floats(1.01, 2))
def test_rise_grows_with_heat_to_the_two_thirds(heat, more):
    one = hot_layer_rise.of(**{**LLNL_51, "heat_release": heat}, time=600).value()
    two = hot_layer_rise.of(**{**LLNL_51, "heat_release": heat * more}, time=600).value()
    assert two / one == pytest.approx(more ** (2 / 3))


@given(area=st.floats(1e-4, 0.1), heat=st.floats(1, 2000), wider=st.floats(1.1, 3))
def test_a_wider_leak_lowers_the_pressure(area, heat, wider):
    known = {"gas_temperature": 300.0, "heat_to_gas": heat}
    tight = overpressure.of(**known, leak_area=area).value()
    assert 0 < overpressure.of(**known, leak_area=area * wider).value() < tight
