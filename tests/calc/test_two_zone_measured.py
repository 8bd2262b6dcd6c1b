"""The two-zone model against measured rooms, beside the hand correlations.

``pytest -s`` prints the accuracy tables in Markdown. The plume follows what the authors of the
Steckler tests published about their entrainment (NBSIR 82-2520, abstract); since that finding
comes from these very tests, the FSRI rooms are the independent check of the default plume.
"""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache

import numpy as np
import pytest

from facility.calc import plume
from facility.calc.constants import ZERO_CELSIUS
from facility.calc.layer import hot_layer_rise
from facility.calc.unit import Fire, Opening, Unit
from facility.calc.zones import Course, burn
from tests.calc.measured import GYPSUM, Room, Steckler, columns, folder, fsri, steckler

GROUPS: dict[str, Callable[[Steckler], bool]] = {
    "centre burner, doors": lambda test: test.where == "Center" and test.door,
    "centre burner, windows": lambda test: test.where == "Center" and not test.door,
    "wall burner": lambda test: test.where == "Wall",
    "corner burner": lambda test: test.where == "Corner",
    "all 18": lambda test: True,
}
MIRRORED = {"Center": plume.FREE, "Wall": plume.WALL, "Corner": plume.CORNER}


@cache
def predicted(test: Steckler, kind: str) -> tuple[float, float, float]:
    """Rise [K], interface and neutral plane [m] of the model after half an hour."""
    course = burn(test.unit(), test.fire(kind))
    rise = course.layer_temperature[-1] - test.ambient
    return float(rise), float(course.interface[-1]), float(course.neutral_plane[-1])


def mqh_rise(test: Steckler) -> float:
    """Rise [K] by MQH after half an hour, lining as in NIST SP 1169."""
    return float(
        hot_layer_rise.of(
            method="mqh", heat_release=test.heat, length=2.8, width=2.8, height=2.13,
            door_width=test.width, door_height=test.height, time=1800, wall_thickness=12.7,
            conductivity=0.1, density=200, specific_heat=1000, ambient=test.ambient,
        ).value()
    )  # fmt: skip


def well_mixed_plane(test: Steckler) -> float:
    """Neutral plane [m] by hand: Rockett and Kawagoe's well-mixed room (from memory) at the
    temperature that MQH gives."""
    ratio = 1.0 + mqh_rise(test) / (test.ambient + ZERO_CELSIUS)
    return test.sill + test.height / (1.0 + ratio ** (1.0 / 3.0))


def errors(tests: Sequence[Steckler], kind: Callable[[Steckler], str]) -> np.ndarray:
    """Rise as a share, interface and plane in m: predicted less measured, a row per test."""
    rows = []
    for test in tests:
        rise, interface, plane = predicted(test, kind(test))
        rows.append((rise / test.rise - 1.0, interface - test.interface, plane - test.plane))
    return np.array(rows)


def hand_errors(tests: Sequence[Steckler]) -> np.ndarray:
    """The same for the hand correlations, which have no interface."""
    return np.array([
        (mqh_rise(test) / test.rise - 1.0, np.nan, well_mixed_plane(test) - test.plane)
        for test in tests
    ])  # fmt: skip


def in_group(name: str) -> list[Steckler]:
    return [test for test in steckler() if GROUPS[name](test)]


def published(test: Steckler) -> str:
    return test.plume


def test_centre_burner_doors_meet_the_aim():
    """Aim set beforehand, mean absolute: layer rise 15 %, neutral plane 0.06 m."""
    gaps = np.abs(errors(in_group("centre burner, doors"), published)).mean(axis=0)
    assert gaps[0] <= 0.15
    assert gaps[2] <= 0.06


@pytest.mark.parametrize("group", GROUPS)
def test_at_least_as_good_as_the_hand_correlations(group):
    """MQH for the rise, the well-mixed room for the plane, on the same tests and lining."""
    tests = in_group(group)
    model = np.abs(errors(tests, published)).mean(axis=0)
    hand = np.abs(hand_errors(tests)).mean(axis=0)
    assert model[0] <= hand[0]
    assert model[2] <= hand[2]


def test_a_free_plume_alone_is_too_hot_for_small_fires_in_the_draught():
    """Known not to fit: without the published entrainment the centre burners come out about a
    third too hot. The default plume is free, so a planner must choose the draught."""
    gaps = errors(in_group("centre burner, doors"), lambda test: plume.FREE).mean(axis=0)
    assert 0.2 < gaps[0] < 0.6


@pytest.mark.parametrize("room", [0, 1, 2])
def test_fsri_rooms_with_the_default_plume(room):
    """FSRI compartments 2018, 250 kW centre (twice) and 500 kW corner: nothing of the model was
    taken from these. Rise within 15 %, interface within 0.10 m."""
    test = fsri()[room]
    rise, interface, _ = in_window(test, burn(test.unit, test.fire))
    assert rise == pytest.approx(test.rise, rel=0.15)
    assert interface == pytest.approx(test.interface, abs=0.10)


def test_neutral_plane_of_the_fsri_room_with_sound_probes():
    """250 kW centre, second test: within 0.06 m. The first has probes known bad.
    Not reproduced: the 500 kW corner, where the probes put the plane at 0.74 m and the model at
    1.06 m; its middle probes read as high as those known bad, which proves nothing."""
    room = next(each for each in fsri() if each.name == "250kW_Open_Center_2")
    _, _, plane = in_window(room, burn(room.unit, room.fire))
    assert room.plane is not None
    assert plane == pytest.approx(room.plane, abs=0.06)


def in_window(room: Room, course: Course) -> tuple[float, float, float]:
    """Mean rise [K], interface and plane [m] over the steady window."""
    at = np.linspace(*room.window, 13)
    rise = np.interp(at, course.time, course.layer_temperature).mean() - room.unit.ambient
    interface = np.interp(at, course.time, course.interface).mean()
    return (
        float(rise),
        float(interface),
        float(np.interp(at, course.time, course.neutral_plane).mean()),
    )


def plywood_room() -> tuple[np.ndarray, np.ndarray, Course]:
    """NBS test 1RWall1: times and measured layer [°C], and the model's course. The first of its two
    heat release columns is used, as measured."""
    header, values = columns(folder("nbs_single_room") / "1RWall1.csv")
    values = values[np.isfinite(values[:, 82])]
    values = values[np.argsort(values[:, 82])]
    time, layer = values[:, 82], values[:, 81]
    lit = time >= 0.0
    heat = np.clip(values[lit, 5] / 1000.0, 0.0, None)
    fire = Fire(tuple(time[lit].tolist()), tuple(heat.tolist()), base=0.3)
    unit = Unit(3.66, 2.44, 2.44, GYPSUM, (Opening(0.76, 2.03),), ambient=22.0)
    assert len(header) > 82
    return time[lit], layer[lit], burn(unit, fire)


def test_peaks_of_the_plywood_bedroom():
    """NBS 1RWall1, plywood furniture: both peaks of the layer over 600 °C (near 250 s and 700 s)
    within 15 % of their rise. Its 1Room6 is not asserted: the heat release there lags the layer
    by about a minute; nor is JH/FRA 21, whose lining the source does not name."""
    time, layer, course = plywood_room()
    for low, high in ((200.0, 300.0), (600.0, 800.0)):
        seen = layer[(time >= low) & (time <= high)].max()
        inside = (course.time >= low) & (course.time <= high)
        assert course.layer_temperature[inside].max() - 22.0 == pytest.approx(seen - 22.0, rel=0.15)


def test_accuracy_tables_are_printed():
    """For DEVELOPERS.md; every test and every group has its row."""
    text = accuracy_tables()
    print(text)
    rows = [line for line in text.splitlines() if line.startswith("| ")]
    assert len(rows) == 3 + len(steckler()) + 4 * len(GROUPS) + 3 * len(fsri()) + 2


def accuracy_tables() -> str:
    """Every table of the model's accuracy, in Markdown."""
    return "\n\n".join((_by_test(), _by_group(), _other_rooms()))


def _by_test() -> str:
    lines = [
        "| Steckler test | burner | opening m | kW | plume | rise K measured / model / MQH "
        "| interface m measured / model | neutral plane m measured / model / by hand |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for test in steckler():
        rise, interface, plane = predicted(test, test.plume)
        lines.append(
            f"| {test.name} | {test.where.lower()} | {test.width:.2f} x {test.height:.2f} "
            f"| {test.heat:g} | {test.plume} | {test.rise:.0f} / {rise:.0f} / {mqh_rise(test):.0f} "
            f"| {test.interface:.2f} / {interface:.2f} "
            f"| {test.plane:.2f} / {plane:.2f} / {well_mixed_plane(test):.2f} |"
        )
    return "\n".join(lines)


def _by_group() -> str:
    lines = [
        "| group (bias, scatter, mean absolute) | n | model | rise % | interface m "
        "| neutral plane m |",
        "|---|---|---|---|---|---|",
    ]
    models = {
        "two-zone, plume as published": lambda tests: errors(tests, published),
        "two-zone, free plume throughout": lambda tests: errors(tests, lambda t: plume.FREE),
        "two-zone, mirrored at wall and corner": lambda tests: errors(
            tests, lambda t: MIRRORED[t.where]
        ),
        "MQH and well-mixed room": hand_errors,
    }
    for group in GROUPS:
        tests = in_group(group)
        for name, reckon in models.items():
            gaps = reckon(tests)
            lines.append(f"| {group} | {len(tests)} | {name} | {_three(100 * gaps[:, 0], 0)} "
                         f"| {_three(gaps[:, 1], 2)} | {_three(gaps[:, 2], 2)} |")  # fmt: skip
    return "\n".join(lines)


def _three(gaps: np.ndarray, places: int) -> str:
    if not np.isfinite(gaps).all():
        return "n/a"
    mean, scatter, size = gaps.mean(), gaps.std(ddof=1), np.abs(gaps).mean()
    return f"{mean:+.{places}f}, {scatter:.{places}f}, {size:.{places}f}"


def _other_rooms() -> str:
    lines = [
        "| other room | plume | rise K measured / model | interface m measured / model "
        "| neutral plane m measured / model |",
        "|---|---|---|---|---|",
    ]
    for room in fsri():
        for kind in (plume.FREE, plume.DRAUGHT, plume.CORNER):
            course = burn(room.unit, replace(room.fire, kind=kind))
            rise, interface, plane = in_window(room, course)
            found = "n/a" if room.plane is None else f"{room.plane:.2f}"
            lines.append(
                f"| {room.name} | {kind} | {room.rise:.0f} / {rise:.0f} "
                f"| {room.interface:.2f} / {interface:.2f} | {found} / {plane:.2f} |"
            )
    time, layer, course = plywood_room()
    for low, high in ((200.0, 300.0), (600.0, 800.0)):
        seen = layer[(time >= low) & (time <= high)].max() - 22.0
        inside = (course.time >= low) & (course.time <= high)
        rise = course.layer_temperature[inside].max() - 22.0
        lines.append(f"| NBS 1RWall1, peak within {low:.0f} to {high:.0f} s | free "
                     f"| {seen:.0f} / {rise:.0f} | n/a | n/a |")  # fmt: skip
    return "\n".join(lines)
