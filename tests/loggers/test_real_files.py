"""Files of real loggers; what they hold is told by the README beside each of them.

The data are not part of this repository; without them these tests are skipped.
"""

from __future__ import annotations

import pytest

from facility.loggers.layout import NotUnderstood
from facility.loggers.reading import understand
from tests.calc.measured import DATA

pytestmark = pytest.mark.skipif(
    not DATA.is_dir(), reason="measured data are not beside the project"
)

# file, header rows, channels beside the time, first and last second, step: counted in the file
FILES = [
    ("nist_training_structures/Test_24.csv", 2, 156, 0, 1150, 10),
    ("nist_training_structures/Test_3.csv", 2, 104, 0, 1870, 10),
    ("nist_training_structures/Test_6.csv", 2, 94, 0, 1700, 10),
    ("nist_training_structures/Test_24_Floor_1_HGL.csv", 1, 3, 0, 1150, 10),
    ("fsri_compartments_2018/250kW_Open_Center_1.csv", 1, 63, -121, 689, 1),
    ("fsri_compartments_2018/250kW_Open_Center_2.csv", 1, 63, -121, 717, 1),
    ("fsri_compartments_2018/500kW_Open_Corner_1.csv", 1, 68, -121, 774, 1),
    ("fsri_compartments_2018/RedAccent_Closed_Center_1.csv", 1, 49, -120, 1191, 1),
    ("nbs_single_room/1RWall1.csv", 4, 113, 0, 1800, 10),
    ("nbs_single_room/1Room6.csv", 4, 116, 0, 1800, 10),
    ("lined_room_fullscale/JH_FRA_compartment_21.csv", 2, 23, 0, 990, 10),
    ("lined_room_fullscale/JH_FRA_compartment_21_HGL.csv", 1, 3, 0, 990, 10),
    ("logger_layouts/NIST_RSE_2007_01.csv", 2, 63, 0, 4230, 30),
    ("logger_layouts/Test_13.csv", 2, 16, 0, 6330, 10),
]


def read(file: str):
    return understand((DATA / file).read_bytes(), file)


def channel(found, name: str):
    return next(each for each in found.channels if each.name == name)


@pytest.mark.parametrize(("file", "header_rows", "channels", "first", "last", "step"), FILES)
def test_layout_span_and_rate(file, header_rows, channels, first, last, step):
    found = read(file)
    assert found.layout.header_rows == header_rows
    assert len(found.channels) == channels
    assert (found.seconds[0], found.seconds[-1], found.step_s) == (first, last, step)


@pytest.mark.parametrize("folder", ["nist_training_structures", "fsri_compartments_2018",
                                    "nbs_single_room", "lined_room_fullscale", "logger_layouts"])  # fmt: skip
def test_every_file_of_the_folder_is_read_or_refused_by_name(folder):
    no_logger = {"channel_list.csv", "derived_by_us.csv"}
    for file in sorted((DATA / folder).glob("*.csv")):
        if file.name in no_logger or file.name.endswith("_Events.csv"):
            with pytest.raises(NotUnderstood):
                understand(file.read_bytes())
        else:
            assert understand(file.read_bytes()).channels, file.name


def test_oxygen_in_mol_per_mol_is_kept_in_percent():
    """Row 3 of the file: O2_A 2.094E-01 mol/mol."""
    oxygen = channel(read("nist_training_structures/Test_24.csv"), "O2_A")
    assert oxygen.meaning.kept_in == "%"
    assert oxygen.values[0] == pytest.approx(20.94)


def test_kelvin_and_celsius_in_one_file():
    """README: TEMPUP is in C, TEMPLOW in K; row 5 of the file: 24.5 and 296."""
    found = read("nbs_single_room/1RWall1.csv")
    assert channel(found, "TEMPUP").values[0] == pytest.approx(24.5)
    assert channel(found, "TEMPLOW").values[0] == pytest.approx(296 - 273.15)
    assert found.time_column == "TIME"


def test_the_clock_of_the_logger_is_told():
    found = read("fsri_compartments_2018/250kW_Open_Center_1.csv")
    assert str(found.begun) == "2018-12-03 12:22:00"


def test_depth_below_the_ceiling_is_told_from_the_heading():
    found = read("fsri_compartments_2018/250kW_Open_Center_1.csv")
    name = "Quadrant A Temperature 25 mm Below Ceiling"
    assert channel(found, name).meaning.depth_m == pytest.approx(0.025)


def test_blank_cells_are_gaps():
    """The heat release is blank in the last rows of the file."""
    found = read("fsri_compartments_2018/250kW_Open_Center_1.csv")
    assert channel(found, "Heat Release Rate").gaps == 16


def test_a_channel_that_was_not_connected_is_named():
    """README: constant 10.0 on channels that were not connected."""
    found = read("logger_layouts/NIST_RSE_2007_01.csv")
    assert "not connected" in " ".join(channel(found, "TFloorR").notes)
