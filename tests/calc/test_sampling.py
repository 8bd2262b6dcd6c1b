"""Sampling against published plans and tables; each names where it was printed."""

import math
import statistics
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.special import betaincinv

from facility.calc.sampling import (
    ACCEPTABILITY_CONSTANTS,
    AQLS,
    MEASURING_ROWS,
    MEASURING_SIZES,
    counting_plan,
    drawn_boards,
    lot_verdict,
    measuring_plan,
    readings_needed,
    tolerance_limit,
)
from facility.calc.units import quantity
from facility.calc.working import OutOfSense, UnitNeeded, UnknownInput, WrongDimension

# One lot size in each band of the table, smallest band first.
COUNTING_BANDS = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)


@pytest.mark.parametrize(
    ("level", "letters", "sizes"),
    [
        ("I", "A A B C C D E F G H J K L M", "2 2 3 5 5 8 13 20 32 50 80 125 200 315"),
        ("II", "A B C D E F G H J K L M N P", "2 3 5 8 13 20 32 50 80 125 200 315 500 800"),
        ("III", "B C D E F G H J K L M N P Q", "3 5 8 13 20 32 50 80 125 200 315 500 800 1250"),
    ],
)
def test_counting_letters_and_sizes_as_printed(level, letters, sizes):
    """MIL-STD-105E Table I (= ISO 2859-1 Table 1) read as quoted in AQLSchemes AAZ14Single and at
    pt.scribd.com/document/212342834; letter and size before any arrow is followed."""
    rows = dict(zip("ABCDEFGHJKLMNPQR", (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800,
                                          1250, 2000), strict=True))  # fmt: skip
    for lot_size, letter, size in zip(COUNTING_BANDS, letters.split(), sizes.split(), strict=True):
        assert rows[letter] == int(size)
        # At the AQL on whose diagonal the letter's own plan lies, no arrow moves it.
        assert any(counting_plan(lot_size, level, aql)[:2] == (letter, int(size)) for aql in AQLS)


# Rejection numbers for AQL .65 1.0 1.5 2.5 4.0 6.5 10, general level II, single normal sampling:
# table 1-A at nibs.org/FMOC/DPW_AC/AC-TABLE.ASC, developed from MIL-STD-105E Table II-A.
# "v" means the plan of the row below, "^" that of the row above. Row A prints "^" at AQL 10, where
# no row is above; that cell is left out here and tested below.
PRINTED_REJECTION_NUMBERS = """
A v v v v v 1 -
B v v v v 1 ^ v
C v v v 1 ^ v 2
D v v 1 ^ v 2 3
E v 1 ^ v 2 3 4
F 1 ^ v 2 3 4 6
G ^ v 2 3 4 6 8
H v 2 3 4 6 8 11
J 2 3 4 6 8 11 15
K 3 4 6 8 11 15 22
L 4 6 8 11 15 22 ^
M 6 8 11 15 22 ^ ^
N 8 11 15 22 ^ ^ ^
P 11 15 22 ^ ^ ^ ^
"""


def test_counting_plans_of_the_printed_master_table():
    """Every cell of the table above, arrows included."""
    rows = [line.split() for line in PRINTED_REJECTION_NUMBERS.strip().splitlines()]
    for number, (_, *cells) in enumerate(rows):
        for column, cell in enumerate(cells):
            if cell == "-":
                continue
            row, found = number, cell
            while found in "v^":
                row += 1 if found == "v" else -1
                found = rows[row][column + 1]
            letter, _, most = counting_plan(COUNTING_BANDS[number], "II", AQLS[column])
            assert (letter, most + 1) == (rows[row][0], int(found))


def test_counting_plan_of_a_large_lot():
    """Lot 3201 to 10 000, level II, AQL 1.5, normal: n 200, Ac 7 (AQLSchemes vignette, read)."""
    assert counting_plan(5000, "II", "1.5") == ("L", 200, 7)
    working = readings_needed.of(lot_size=5000, plan="attributes", level="II", aql="1.5")
    assert working.value() == 200
    assert working.words["acceptance_rule"].startswith("accept when no more than 7")


def test_the_smallest_counting_row_looks_down_for_10_percent():
    """MIL-STD-105E Table II-A, row A at AQL 10, from memory: the arrow leads to C, 5 and Ac 1."""
    assert counting_plan(5, "II", "10") == ("C", 5, 1)


@pytest.mark.parametrize(
    ("level", "letters"),
    [
        ("I", "B B B C D E F G G H I J K L M N"),
        ("II", "B B C D E F G H I J K L M N P P"),
        ("III", "C D E F G H I J J K L M N P P P"),
    ],
)
def test_measuring_letters_as_printed(level, letters):
    """ANSI/ASQ Z1.9-2008 Table A-2, read at studylib.es/doc/9356105."""
    bands = (8, 15, 25, 50, 90, 150, 280, 400, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000,
             500_001)  # fmt: skip
    found = [measuring_plan(lot_size, level, "10")[0] for lot_size in bands]
    assert found == letters.split()


def test_the_two_families_do_not_share_letters():
    """A lot of 40 is D with 8 boards when counting and D with 5 when measuring; a lot of 450 is H
    with 50 against I with 25 (the tables named above)."""
    assert counting_plan(40, "II", "1.5")[:2] == ("D", 8)
    assert measuring_plan(40, "II", "1.5")[:2] == ("D", 5)
    assert counting_plan(450, "II", "1.0")[:2] == ("H", 50)
    assert measuring_plan(450, "II", "1.0")[:2] == ("I", 25)


# Estimated percent allowed, M, of ANSI/ASQ Z1.9 Table B-3 for AQL .65 1.0 1.5 2.5 4.0 6.5 10, rows
# F to P: read in fjgonzalezmgt/AQLSchemesCust R/AAZ19.R.
PRINTED_M = {
    "F": (2.14, 3.27, 4.72, 7.26, 10.53, 15.17, 20.73),
    "G": (2.09, 3.06, 4.32, 6.55, 9.48, 13.74, 18.97),
    "H": (2.03, 2.93, 4.10, 6.18, 8.95, 13.01, 18.07),
    "I": (2.00, 2.86, 3.97, 5.98, 8.65, 12.60, 17.55),
    "J": (1.87, 2.66, 3.70, 5.58, 8.11, 11.89, 16.67),
    "K": (1.73, 2.47, 3.44, 5.21, 7.61, 11.23, 15.87),
    "L": (1.59, 2.27, 3.17, 4.83, 7.10, 10.58, 15.07),
    "M": (1.52, 2.18, 3.06, 4.67, 6.88, 10.29, 14.71),
    "N": (1.42, 2.05, 2.88, 4.42, 6.56, 9.86, 14.18),
    "P": (1.42, 2.04, 2.86, 4.39, 6.52, 9.80, 14.11),
}


@pytest.mark.parametrize("letter", PRINTED_M)
def test_acceptability_constants_agree_with_the_printed_percent_allowed(letter):
    """k and M of Z1.9 are two forms of one plan: k = (1 - 2 B(M))(n - 1)/sqrt(n), B the inverse
    beta distribution with n/2 - 1 twice (AQLSchemes vignette). Both tables are rounded to about
    three figures, hence 0.012."""
    row = MEASURING_ROWS.index(letter)
    size = MEASURING_SIZES[row]
    for k, percent in zip(ACCEPTABILITY_CONSTANTS[row], PRINTED_M[letter], strict=True):
        half = size / 2 - 1
        linked = (1 - 2 * betaincinv(half, half, percent / 100)) * (size - 1) / math.sqrt(size)
        assert k == pytest.approx(linked, abs=0.012)


@pytest.mark.parametrize(
    ("letter", "printed"),
    [("L", 1.84097), ("D", 1.40)],
)
def test_acceptability_constant_at_1_5_percent(letter, printed):
    """L: 1.84097 in the AQLSchemes vignette; D: Table B-1 at tecnico.ulisboa.pt."""
    row = MEASURING_ROWS.index(letter)
    assert ACCEPTABILITY_CONSTANTS[row][AQLS.index("1.5")] == pytest.approx(printed, abs=0.005)


def test_arrows_of_the_measuring_table_lead_down():
    """Table B-1: at AQL 1.0 a lot of 8 (letter B) takes the plan of C, n 4 and k 1.45."""
    assert measuring_plan(8, "II", "1.0") == ("C", 4, 1.45)
    assert measuring_plan(8, "II", "0.65") == ("D", 5, 1.65)


def test_verdict_of_the_standards_own_example():
    """MIL-STD-414 Example B-1: 197, 188, 184, 205, 201 against 209, lot of 40, AQL 1 %. Printed,
    from memory: mean 195, s 8.81, k 1.53, accepted since 1.59 is over 1.53. The tables of that
    edition give n 5 to this lot as the present ones do. Readings are in degrees F there, so the
    plain function is called past the bounds of moisture."""
    outcome = lot_verdict.plain([197, 188, 184, 205, 201], 209, 40, "II", "1.0")
    assert outcome.values["mean"] == 195
    assert outcome.values["standard_deviation"] == pytest.approx(8.80, abs=0.01)
    assert outcome.values["acceptability_constant"] == 1.53
    assert outcome.values["readings_needed"] == 5
    assert outcome.words["verdict"] == "accept"
    index = (209 - outcome.values["mean"]) / outcome.values["standard_deviation"]
    assert index == pytest.approx(1.59, abs=0.005)
    assert lot_verdict.plain([197, 188, 184, 205, 201], 208, 40, "II", "1.0").words == {
        "verdict": "hold",
        "code_letter": "D",
    }


READINGS = st.lists(st.floats(4, 25), min_size=5, max_size=5)


def test_too_few_readings_ask_for_more():
    working = lot_verdict.of(readings=[9.0, 9.5], limit=12, lot_size=40)
    assert working.words["verdict"] == "take more"
    assert working.value("readings_needed") == 5
    assert "2 of 5 readings taken" in working.notes


def test_one_reading_has_no_spread_yet():
    working = lot_verdict.of(readings=[9.0], limit=12, lot_size=40)
    assert working.as_dict()["results"]["standard_deviation"]["value"] is None
    assert working.words["verdict"] == "take more"


def test_a_lot_measured_to_the_last_board_is_judged_on_its_wettest():
    assert lot_verdict.of(readings=[9, 11.9], limit=12, lot_size=2).words["verdict"] == "accept"
    assert lot_verdict.of(readings=[9, 12.1], limit=12, lot_size=2).words["verdict"] == "hold"


@given(READINGS, st.floats(5, 30), st.floats(0, 5))
def test_a_higher_limit_never_turns_an_accepted_lot_down(readings, limit, more):
    strict = lot_verdict.of(readings=readings, limit=limit, lot_size=40)
    lenient = lot_verdict.of(readings=readings, limit=limit + more, lot_size=40)
    assert (strict.words["verdict"], lenient.words["verdict"]) != ("accept", "hold")


@given(READINGS)
def test_the_verdict_does_not_depend_on_the_order(readings):
    one = lot_verdict.of(readings=readings, limit=12, lot_size=40)
    other = lot_verdict.of(readings=readings[::-1], limit=12, lot_size=40)
    assert one.value() == pytest.approx(other.value())


@given(st.integers(2, 600_000), st.sampled_from(["I", "II", "III"]), st.sampled_from(AQLS))
def test_no_plan_asks_for_more_boards_than_there_are(lot_size, level, aql):
    for plan in ("attributes", "variables"):
        needed = readings_needed.of(lot_size=lot_size, plan=plan, level=level, aql=aql).value()
        assert 1 <= needed <= lot_size


# One-sided factors: Montgomery and Runger, Applied Statistics and Probability for Engineers, 7th
# ed., Table XII, read in jedludlow/tolerance_interval_py tests/test_oneside_normal.py. Columns
# are coverage/confidence.
COLUMNS = [(90, 90), (95, 90), (99, 90), (90, 95), (95, 95), (99, 95), (90, 99), (95, 99), (99, 99)]
TABLE_XII = {
    3: (4.258, 5.311, 7.340, 6.155, 7.656, 10.553, 13.995, 17.370, 23.896),
    5: (2.742, 3.400, 4.666, 3.407, 4.203, 5.741, 5.362, 6.578, 8.939),
    8: (2.219, 2.754, 3.783, 2.582, 3.187, 4.354, 3.497, 4.285, 5.812),
    10: (2.066, 2.568, 3.532, 2.355, 2.911, 3.981, 3.048, 3.738, 5.074),
    15: (1.867, 2.329, 3.212, 2.068, 2.566, 3.520, 2.521, 3.102, 4.222),
    20: (1.765, 2.208, 3.052, 1.926, 2.396, 3.295, 2.276, 2.808, 3.832),
    30: (1.657, 2.080, 2.884, 1.777, 2.220, 3.064, 2.030, 2.515, 3.447),
    50: (1.559, 1.965, 2.735, 1.646, 2.065, 2.862, 1.821, 2.269, 3.125),
}


@pytest.mark.parametrize("number", TABLE_XII)
def test_tolerance_factors_of_the_printed_table(number):
    readings = [8 + 0.1 * step for step in range(number)]
    for (coverage, confidence), printed in zip(COLUMNS, TABLE_XII[number], strict=True):
        working = tolerance_limit.of(readings=readings, coverage=coverage, confidence=confidence)
        assert working.value("tolerance_factor") == pytest.approx(printed, abs=0.0006)


def test_tolerance_limit_is_near_the_printed_approximation():
    """NIST/SEMATECH e-Handbook 7.2.6.3: n 43, coverage 90 %, confidence 99 %. It prints
    k = 1.8751896 by its own closed form, which is a little above the exact factor."""
    readings = [10 + 0.1 * (step % 7) for step in range(43)]
    working = tolerance_limit.of(readings=readings, coverage=90, confidence=99)
    assert working.value("tolerance_factor") == pytest.approx(1.8751896, abs=0.002)
    mean, spread = statistics.fmean(readings), statistics.stdev(readings)
    assert working.value() == pytest.approx(mean + working.value("tolerance_factor") * spread)


@given(st.lists(st.floats(4, 25), min_size=2, max_size=20), st.floats(50, 99), st.floats(50, 98))
def test_tolerance_limit_rises_with_coverage_and_confidence(readings, coverage, confidence):
    def limit(coverage, confidence):
        return tolerance_limit.of(
            readings=readings, coverage=coverage, confidence=confidence
        ).value("tolerance_factor")

    assert limit(coverage + 0.5, confidence) > limit(coverage, confidence)
    assert limit(coverage, confidence + 1) > limit(coverage, confidence)


def test_a_lot_of_one_board_lies_before_the_tables():
    working = readings_needed.of(lot_size=1, plan="variables")
    assert working.value() == 1
    assert not working.in_range


@pytest.mark.parametrize(
    ("calculation", "given", "refusal"),
    [
        (readings_needed, {"lot_size": quantity(40.5, ""), "plan": "variables"}, OutOfSense),
        (readings_needed, {"lot_size": quantity(0, ""), "plan": "variables"}, OutOfSense),
        (readings_needed, {"lot_size": quantity(1e9, ""), "plan": "variables"}, OutOfSense),
        (readings_needed, {"lot_size": quantity(40, "kg"), "plan": "variables"}, WrongDimension),
        (readings_needed, {"lot_size": 40, "plan": "variables"}, UnitNeeded),
        (readings_needed, {"lot_size": quantity(40, ""), "plan": "guess"}, OutOfSense),
        (readings_needed, {"lot_size": quantity(40, "")}, UnknownInput),
        (
            readings_needed,
            {"lot_size": quantity(40, ""), "plan": "variables", "aql": "3"},
            OutOfSense,
        ),
    ],
)
def test_lots_that_cannot_be_are_refused(calculation, given, refusal):
    with pytest.raises(refusal):
        calculation(**given)


@pytest.mark.parametrize(
    ("readings", "limit", "lot_size"),
    [
        ([201.0], 12, 40),
        ([-1.0], 12, 40),
        ([math.nan], 12, 40),
        ([], 12, 40),
        ([9.0] * 41, 12, 40),
        ([9.0], 0, 40),
        ([9.0], 201, 40),
    ],
)
def test_readings_that_cannot_be_are_refused(readings, limit, lot_size):
    with pytest.raises(OutOfSense):
        lot_verdict.of(readings=readings, limit=limit, lot_size=lot_size)


def test_a_tolerance_limit_needs_two_readings():
    with pytest.raises(OutOfSense, match="readings: 1 value was given; two or more"):
        tolerance_limit.of(readings=[9.0], coverage=95, confidence=95)
    with pytest.raises(OutOfSense, match="coverage"):
        tolerance_limit.of(readings=[9.0, 10.0], coverage=100, confidence=95)


def test_boards_are_drawn_by_their_hash():
    """SHA-256 of "lot-1/1" to "lot-1/4" begin 66, 16, ed, a4 (GNU sha256sum): 2 and 1 come first."""
    assert drawn_boards("lot-1", 4, 2) == [1, 2]


@given(st.integers(1, 300), st.integers(0, 60))
def test_as_many_different_boards_as_asked_for_and_no_others(boards, number):
    drawn = drawn_boards("seed", boards, number)
    assert drawn == sorted(set(drawn))
    assert len(drawn) == min(number, boards)
    assert set(drawn) <= set(range(1, boards + 1))


def test_every_board_is_drawn_about_as_often():
    """5 of 20 by 2,000 seeds: each board 500 times, within five standard deviations of 19.4."""
    counts = Counter(each for seed in range(2000) for each in drawn_boards(f"{seed}", 20, 5))
    assert all(abs(counts[board] - 500) < 97 for board in range(1, 21))
