"""Layouts that loggers write, one small file each."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.loggers.layout import NotUnderstood
from facility.loggers.reading import said, understand


def read(text: str):
    return understand(text.encode(), "file.csv")


def values(found, at: int = 0) -> list[float]:
    return found.channels[at].values.tolist()


@pytest.mark.parametrize("mark", [",", ";", "\t", "|"])
def test_any_delimiter(mark):
    found = read(f"Time{mark}TC1\ns{mark}C\n0{mark}20.5\n1{mark}21\n2{mark}22\n")
    assert found.layout.delimiter == mark
    assert values(found) == [20.5, 21, 22]


def test_decimal_comma():
    found = read("Zeit;T1 [°C]\n0,0;20,5\n0,5;21,25\n1,0;22,0\n")
    assert (found.step_s, values(found)) == (0.5, [20.5, 21.25, 22])


def test_no_header_row():
    found = read("0,20\n1,21\n2,22\n")
    assert found.channels[0].name == "column 2"
    assert found.layout.header_rows == 0


def test_three_header_rows_and_units_in_brackets():
    found = read("Unit 2;;\nTime;Ceiling;Floor\n(min);(F);(F)\n0;68;50\n1;212;50\n2;32;50\n")
    assert found.seconds.tolist() == [0, 60, 120]
    assert values(found) == pytest.approx([20, 100, 0])


def test_units_in_the_name():
    found = read("t (ms),Ceiling [K],Door m/s\n0,293.15,1\n500,373.15,2\n")
    assert found.seconds.tolist() == [0, 0.5]
    assert values(found) == pytest.approx([20, 100])
    assert found.channels[1].meaning.kept_in == "m/s"


def test_clock_that_passes_midnight():
    found = read("Clock,TC1 (C)\n23:59:58,20\n23:59:59,21\n00:00:00,22\n00:00:01,23\n")
    assert found.seconds.tolist() == [0, 1, 2, 3]
    assert found.begun is None


def test_date_and_clock():
    found = read("Timestamp,TC1\n2026-11-25 08:00:00,20\n2026-11-25 08:00:02,21\n")
    assert str(found.begun) == "2026-11-25 08:00:00"
    assert found.step_s == 2


def test_a_date_that_reads_two_ways_is_not_told():
    found = read("Timestamp,TC1\n03/04/2026 08:00:00,20\n03/04/2026 08:00:01,21\n")
    assert found.begun is None
    assert any("two ways" in note for note in found.notes)


def test_day_first_is_told_by_a_day_above_12():
    found = read("Timestamp,TC1\n25.11.2026 08:00:00,20\n25.11.2026 08:00:01,21\n")
    assert str(found.begun) == "2026-11-25 08:00:00"


@pytest.mark.parametrize("cell", ["NaN", "", "OL", "-9999", "OPEN", "---", "1e30"])
def test_no_reading_is_a_gap(cell):
    found = read(f"Time,TC1,TC2\ns,C,C\n0,20,20\n1,{cell},21\n2,22,22\n")
    assert np.isnan(found.channels[0].values[1])
    assert found.channels[0].gaps == 1
    assert found.channels[1].gaps == 0


def test_an_open_thermocouple_is_a_gap_and_said():
    found = read("Time,TC1\ns,C\n0,20\n1,2000\n2,22\n")
    assert np.isnan(found.channels[0].values[1])
    assert "sensor open" in found.channels[0].notes[0]


def test_column_count_that_changes():
    found = read("Time,TC1,TC2\ns,C,C\n0,20,30\n1,21\n2,22,32,42\n")
    assert len(found.channels) == 3
    assert np.isnan(found.channels[1].values[1])
    assert "line 4 has 2 columns instead of 3" in " ".join(found.notes)


def test_a_last_line_that_breaks_off_is_left_out():
    found = read("Time,TC1,TC2\ns,C,C\n0,20,30\n1,21,31\n2,2")
    assert found.rows == 2
    assert "breaks off" in found.notes[0]


def test_rows_missing_and_a_step_that_changes():
    rows = [*range(20), *range(100, 120, 4)]
    found = read("Time,TC1\ns,C\n" + "".join(f"{at},20.{at}\n" for at in rows))
    assert (found.gaps[0].since, found.gaps[0].until) == (19, 100)


def test_times_that_repeat_or_go_back_are_said():
    found = read("Time,TC1\ns,C\n" + "".join(f"{at},20\n" for at in (*range(30), 29, 28, 31)))
    assert (np.diff(found.seconds) >= 0).all()
    assert any("go back" in note for note in found.notes)
    assert any("repeat" in note for note in found.notes)


def test_kelvin_said_to_be_celsius_is_doubted_but_kept():
    rows = "".join(f"{at},20,21,293,22\n" for at in range(5))
    found = read(f"Time,A,B,C,D\ns,C,C,C,C\n{rows}")
    assert values(found, 2)[0] == 293
    assert "kelvin" in found.channels[2].notes[0]


def test_quotes_hold_delimiters():
    found = read('Time,"TC1, ceiling"\ns,C\n"0","20"\n"1","21"\n')
    assert found.channels[0].name == "TC1, ceiling"
    assert values(found) == [20, 21]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_encodings(encoding):
    found = understand("Time;T1 [°C]\n0;20\n1;21\n".encode(encoding))
    assert found.channels[0].meaning.quantity == "temperature"
    assert not found.channels[0].meaning.assumed


@pytest.mark.parametrize(
    ("data", "why"),
    [
        (b"", "empty"),
        (b"\n\n  \n", "empty"),
        (b"Time,TC1\ns,C\n", "no row of numbers"),
        (b"PK\x03\x04\0\0\0\0", "no text"),
        (b"a list of words\nand more of them\n", "separates columns"),
        (b"Name,Colour\nA,red\nB,blue\n", "no row of numbers"),
        (b"A,B\n3,1\n1,4\n2,1\n", "could be the time"),
        (b"Time\n0\n1\n", "separates columns"),
        (b"Time,TC1\n5,1\n5,2\n5,3\n", "could be the time"),
    ],
)
def test_what_is_no_logger_file_is_refused_by_name(data, why):
    with pytest.raises(NotUnderstood, match=why):
        understand(data)


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused(data):
    try:
        found = understand(data)
    except NotUnderstood:
        return
    assert said(found)


@given(st.text(alphabet='0123456789.,;:\n\t-eENan"Time sCK\r', max_size=200))
def test_any_text_of_the_kind_is_read_or_refused(text):
    try:
        found = read(text)
    except NotUnderstood:
        return
    assert found.rows >= 2


@given(st.lists(st.floats(-100, 1300).map(lambda x: round(x, 2)), min_size=3, max_size=40))
def test_what_was_written_is_what_is_read(numbers):
    text = "Time;TC1\ns;C\n" + "".join(
        f"{at};{n}\n".replace(".", ",") for at, n in enumerate(numbers)
    )
    found = read(text)
    assert values(found) == numbers
