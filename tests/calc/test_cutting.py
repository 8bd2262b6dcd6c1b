"""Cutting against counts and areas done by hand; no printed example was found."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from facility.calc.cutting import pieces_from_sheet

# sheet, piece [m], kerf [mm] -> pieces, turned, off-cuts, end strip, side strip [m].
# By hand: 2.44 = 2 x 1.2 + 2 x 0.003 + 0.034, 1.22 = 2 x 0.6 + 2 x 0.003 + 0.014;
# 2.44 = 4 x 0.6 + 4 x 0.003 + 0.028, and across 1 x 1.2 with 0.017 left;
# 2.5 x 1.25 in 0.5 x 0.4 with 4 mm: 2.504 / 0.504 = 4.97, 1.254 / 0.404 = 3.10;
# turned 2.504 / 0.404 = 6.2, 1.254 / 0.504 = 2.49, so 12.
BY_HAND = [
    ((2.44, 1.22), (1.2, 0.6), 3, 4, 4, 3, 0.034, 0.014),
    ((2.44, 1.22), (1.22, 0.61), 0, 4, 4, 0, 0, 0),
    ((2.44, 1.22), (1.22, 0.61), 3, 1, 3, 2, 1.217, 0.607),
    ((2.5, 1.25), (0.5, 0.4), 4, 12, 12, 5, 0.484, 0.038),
    ((2.4, 1.2), (1.2, 1.2), 0, 2, 2, 0, 0, 0),
    ((1.2, 0.6), (1.2, 0.3), 5, 1, 0, 1, 0, 0.295),
]


@pytest.mark.parametrize(
    ("sheet", "piece", "kerf", "pieces", "turned", "offcuts", "end", "side"), BY_HAND
)
def test_pieces_and_strips_by_hand(sheet, piece, kerf, pieces, turned, offcuts, end, side):
    working = pieces_from_sheet.of(
        sheet_length=sheet[0], sheet_width=sheet[1], piece_length=piece[0], piece_width=piece[1],
        kerf=kerf,
    )  # fmt: skip
    assert working.value() == pieces
    assert working.value("turned") == turned
    assert working.value("offcuts") == offcuts
    assert working.value("end_strip") == pytest.approx(end, abs=1e-9)
    assert working.value("side_strip") == pytest.approx(side, abs=1e-9)


def test_a_strip_no_wider_than_the_kerf_is_dust():
    """1.0 m in pieces of 0.498 m with 4 mm: two pieces and one kerf are 1.000, nothing is left."""
    working = pieces_from_sheet.of(
        sheet_length=1.0, sheet_width=0.5, piece_length=0.498, piece_width=0.5, kerf=4
    )
    assert (working.value(), working.value("offcuts")) == (2, 0)
    assert working.value("kerf_share") == pytest.approx(0.4)  # 4 mm of 1000


def test_a_piece_larger_than_the_sheet_gives_none_and_says_so():
    working = pieces_from_sheet.of(
        sheet_length=1.2, sheet_width=0.6, piece_length=1.3, piece_width=0.3, kerf=3
    )
    assert (working.value(), working.value("offcut_share")) == (0, 100)
    assert not working.in_range
    assert "the piece is larger than the sheet" in " ".join(working.notes)


SIZE = st.integers(min_value=100, max_value=3000)


@given(SIZE, SIZE, SIZE, SIZE, st.integers(min_value=0, max_value=10))
def test_the_area_of_the_sheet_is_pieces_kerf_and_offcuts(length, width, along, across, kerf):
    working = pieces_from_sheet.of(
        sheet_length=length / 1000, sheet_width=width / 1000, piece_length=along / 1000,
        piece_width=across / 1000, kerf=kerf,
    )  # fmt: skip
    shares = [working.value(f"{name}_share") for name in ("pieces", "kerf", "offcut")]
    assert sum(shares) == pytest.approx(100)
    assert min(shares) >= -1e-9
    # whole millimetres, so the count can be reckoned in integers as well
    assert working.value() == ((length + kerf) // (along + kerf)) * (
        (width + kerf) // (across + kerf)
    )
