"""Sampling: how many boards of a lot to measure, and what the readings say about the rest.

Two families of plans stand side by side here. Counting plans (attributes) and measuring plans
(variables) name their rows with the same letters but mean different lots and sample sizes by
them, so each has its own table. Law: no lookup is shared between the two.
"""

import hashlib
import math
import statistics
from bisect import bisect_left
from collections.abc import Sequence

from facility.calc.working import (
    Input,
    Outcome,
    OutOfSense,
    Source,
    Step,
    calculation,
    check_whole,
)

LEVELS = ("I", "II", "III")
AQLS = ("0.65", "1.0", "1.5", "2.5", "4.0", "6.5", "10")  # percent; one series for both families
COUNTING, MEASURING = "attributes", "variables"

# Counting plans, ISO 2859-1 Tables 1 and 2-A (the same as MIL-STD-105E Tables I and II-A, read
# at nibs.org and pt.scribd.com/document/212342834). Upper ends of the lot sizes, then letters.
COUNTING_LOTS = (8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000)
COUNTING_LETTERS = {"I": "AABCCDEFGHJKLMN", "II": "ABCDEFGHJKLMNPQ", "III": "BCDEFGHJKLMNPQR"}
COUNTING_ROWS = "ABCDEFGHJKLMNPQR"
COUNTING_SIZES = (2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000)
# The master table for normal inspection repeats one sequence along its diagonals: acceptance
# number 0, an arrow to the row above, an arrow to the row below, then 1, 2, 3 and on to 21.
ARROW_UP, ARROW_DOWN = 1, 2  # their places in the sequence, which hold no number of their own
ACCEPTANCE_NUMBERS = (0, -1, -1, 1, 2, 3, 5, 7, 10, 14, 21)
FIRST_ZERO_ROW = 5  # the row (F) whose acceptance number is 0 at the first AQL above, 0.65

# Measuring plans, ANSI/ASQ Z1.9-2008 Table A-2 (read at studylib.es/doc/9356105) and Table B-1,
# normal inspection, unknown spread, standard deviation method (read at
# web.tecnico.ulisboa.pt/~mcasquilho/acad/cq/Z1.9.B1.html; rows G to P at 2.5 % and above from
# memory, each agreeing with the M of Table B-3 as coded in fjgonzalezmgt/AQLSchemesCust).
MEASURING_LOTS = (
    8, 15, 25, 50, 90, 150, 280, 400, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000,
)  # fmt: skip
MEASURING_LETTERS = {"I": "BBBCDEFGGHIJKLMN", "II": "BBCDEFGHIJKLMNPP", "III": "CDEFGHIJJKLMNPPP"}
MEASURING_ROWS = "BCDEFGHIJKLMNP"
MEASURING_SIZES = (3, 4, 5, 7, 10, 15, 20, 25, 35, 50, 75, 100, 150, 200)
# One line per row, one constant per AQL of the series above; None is an arrow to the row below.
ACCEPTABILITY_CONSTANTS: tuple[tuple[float | None, ...], ...] = (
    (None, None, None, 1.12, 0.958, 0.765, 0.566),
    (None, 1.45, 1.34, 1.17, 1.01, 0.814, 0.617),
    (1.65, 1.53, 1.40, 1.24, 1.07, 0.874, 0.675),
    (1.75, 1.62, 1.50, 1.33, 1.15, 0.955, 0.755),
    (1.84, 1.72, 1.58, 1.41, 1.23, 1.03, 0.828),
    (1.91, 1.79, 1.65, 1.47, 1.30, 1.09, 0.886),
    (1.96, 1.82, 1.69, 1.51, 1.33, 1.12, 0.917),
    (1.98, 1.85, 1.72, 1.53, 1.35, 1.14, 0.936),
    (2.03, 1.89, 1.76, 1.57, 1.39, 1.18, 0.969),
    (2.08, 1.93, 1.80, 1.61, 1.42, 1.21, 1.00),
    (2.12, 1.98, 1.84, 1.65, 1.46, 1.24, 1.03),
    (2.14, 2.00, 1.86, 1.67, 1.48, 1.26, 1.05),
    (2.18, 2.03, 1.89, 1.70, 1.51, 1.29, 1.07),
    (2.18, 2.04, 1.89, 1.70, 1.51, 1.29, 1.07),
)

LOT_SIZE = Input("lot_size", "", "boards in the lot", low=1, high=1e7, valid=(2, 1e7))
LEVEL = Input("level", "", "inspection level; II is the usual one", default="II", choices=LEVELS)
# No published acceptance quality limit for the moisture of boards was found: 4.0 is common
# practice for minor faults, no source.
AQL = Input("aql", "", "acceptance quality limit, percent of boards over the limit", default="4.0",
            choices=AQLS)  # fmt: skip
PASSED_A_PLAN = (
    "Acceptance says that the lot passed a plan, not that every board is dry or clean. The boards "
    "must be drawn at random, one value for each board.",
)


def counting_plan(lot_size: int, level: str, aql: str) -> tuple[str, int, int]:
    """Letter, sample size and acceptance number of the single counting plan for a lot.

    Follows the arrows of the master table to the row they point at.
    """
    letter = COUNTING_LETTERS[level][bisect_left(COUNTING_LOTS, lot_size)]
    row, column = COUNTING_ROWS.index(letter), AQLS.index(aql)
    place = row + column - FIRST_ZERO_ROW
    last = len(ACCEPTANCE_NUMBERS) - 1
    if place == ARROW_UP:
        # Nothing is above the first row, so its arrow points down, to the third (from memory).
        row += -1 if row > 0 else 2
    elif place == ARROW_DOWN:
        row += 1
    else:  # runs of arrows lead down to the first 0 or up to the last 21
        row += max(0, -place) - max(0, place - last)
    found = ACCEPTANCE_NUMBERS[row + column - FIRST_ZERO_ROW]
    return COUNTING_ROWS[row], COUNTING_SIZES[row], found


def measuring_plan(lot_size: int, level: str, aql: str) -> tuple[str, int, float]:
    """Letter, sample size and acceptability constant k of the measuring plan for a lot."""
    letter = MEASURING_LETTERS[level][bisect_left(MEASURING_LOTS, lot_size)]
    column = AQLS.index(aql)
    for row in range(MEASURING_ROWS.index(letter), len(MEASURING_ROWS)):
        constant = ACCEPTABILITY_CONSTANTS[row][column]
        if constant is not None:
            return MEASURING_ROWS[row], MEASURING_SIZES[row], constant
    raise AssertionError("the last row of the table has no arrows")


def drawn_boards(seed: str, boards: int, number: int) -> list[int]:
    """The boards to measure, counted from 1, in order: chance that anyone can draw again.

    Each board is ranked by the SHA-256 of ``seed/board``; the first ``number`` are taken. A number
    of boards or more gives all of them.
    """

    def rank(board: int) -> bytes:
        return hashlib.sha256(f"{seed}/{board}".encode()).digest()

    return sorted(sorted(range(1, boards + 1), key=rank)[:number])


def _plan(lot_size: int, plan: str, level: str, aql: str) -> tuple[str, int, str]:
    """Letter, sample size and the rule of acceptance in words."""
    if plan == COUNTING:
        letter, size, most = counting_plan(lot_size, level, aql)
        return letter, size, f"accept when no more than {most} of them are over the limit"
    letter, size, constant = measuring_plan(lot_size, level, aql)
    return letter, size, f"accept when mean + {constant:g} s is at or under the limit"


@calculation(
    subject="sampling",
    title="Readings needed from a lot",
    formula=r"N \rightarrow \mathrm{letter} \rightarrow n",
    inputs=(
        LOT_SIZE,
        Input("plan", "", "attributes counts boards over the limit, variables uses the readings "
              "themselves", choices=(COUNTING, MEASURING)),
        LEVEL,
        AQL,
    ),
    results={"readings": ""},
    source=Source(
        "attributes: ISO 2859-1 Tables 1 and 2-A, by way of MIL-STD-105E; variables: ANSI/ASQ "
        "Z1.9-2008 Tables A-2 and B-1, the k method of ISO 3951-1; single sampling, normal "
        "inspection"
    ),
    cautions=PASSED_A_PLAN,
)  # fmt: skip
def readings_needed(lot_size: float, plan: str, level: str, aql: str) -> Outcome:
    """Boards to measure from a lot, with the letter of the plan and its rule in words.

    The two families never share a table. When the plan asks for as many boards as the lot has,
    or more, every board is measured and each must meet the limit.

    >>> readings_needed.of(lot_size=120, plan="variables", level="II", aql="4.0").value()
    10.0
    >>> readings_needed.of(lot_size=120, plan="attributes", level="II", aql="4.0").value()
    20.0
    """
    boards = check_whole("lot_size", lot_size)
    letter, size, rule = _plan(boards, plan, level, aql)
    if size >= boards:
        size, rule = boards, "measure every board; accept when each meets the limit"
    return Outcome(
        {"readings": float(size)}, words={"code_letter": letter, "acceptance_rule": rule}
    )


def _spread(readings: Sequence[float]) -> float:
    """Standard deviation with n - 1; not known from one reading."""
    return statistics.stdev(readings) if len(readings) > 1 else math.nan


def _verdict(readings: Sequence[float], limit: float, boards: int, size: int, top: float) -> str:
    """Accept, hold or take more. ``top`` is mean + k s; a fully measured lot needs no estimate."""
    if len(readings) < min(size, boards):
        return "take more"
    passes = max(readings) <= limit if len(readings) == boards else top <= limit
    return "accept" if passes else "hold"


@calculation(
    subject="sampling",
    title="Verdict on a lot from its moisture readings",
    formula=r"\mathrm{accept} \; \mathrm{when} \; \bar{u} + k\,s \leq U",
    inputs=(
        Input("readings", "%", "moisture of the boards drawn, one value each", low=0, high=200,
              valid=(0, 30), many=True),
        Input("limit", "%", "highest moisture allowed", low=0, above_low=True, high=200),
        LOT_SIZE,
        LEVEL,
        AQL,
    ),
    results={
        "upper_estimate": "%", "mean": "%", "standard_deviation": "%",
        "acceptability_constant": "", "readings_needed": "",
    },
    source=Source(
        "k method for one upper limit, spread unknown: ANSI/ASQ Z1.9-2008 Form 1, Tables A-2 and "
        "B-1 (as MIL-STD-414 section B and ISO 3951-1)"
    ),
    cautions=(
        *PASSED_A_PLAN,
        "The method needs readings that scatter like a normal distribution around one mean.",
    ),
)  # fmt: skip
def lot_verdict(
    readings: Sequence[float], limit: float, lot_size: float, level: str, aql: str
) -> Outcome:
    """Accept, hold or take more, from readings [%], the limit [%] and the lot's size.

    ``upper_estimate`` is mean + k s, which must not pass the limit; the verdict is a word. A lot
    measured to the last board is judged on its wettest board. More readings than boards raise
    ``OutOfSense``.

    >>> verdict = lot_verdict.of(readings=[8.1, 8.4, 9.0, 7.9, 8.6], limit=12, lot_size=40)
    >>> verdict.words["verdict"], round(verdict.value(), 2)
    ('accept', 8.86)
    """
    boards = check_whole("lot_size", lot_size)
    if len(readings) > boards:
        raise OutOfSense("readings", f"{len(readings)} values", f"at most {boards} are allowed")
    letter, size, constant = measuring_plan(boards, level, aql)
    mean, spread = statistics.fmean(readings), _spread(readings)
    top = mean + constant * spread
    verdict = _verdict(readings, limit, boards, size, top)
    return Outcome(
        {
            "upper_estimate": top,
            "mean": mean,
            "standard_deviation": spread,
            "acceptability_constant": constant,
            "readings_needed": float(min(size, boards)),
        },
        steps=[
            Step("mean of the readings", mean, "%"),
            Step("standard deviation", spread, "%"),
            Step(f"k of letter {letter}", constant, ""),
        ],
        notes=[f"{len(readings)} of {min(size, boards)} readings taken"],
        words={"verdict": verdict, "code_letter": letter},
    )


@calculation(
    subject="sampling",
    title="Moisture that most of the lot stays under",
    formula=(
        r"U = \bar{u} + k\,s, \qquad k = \frac{t'_{\gamma}(n - 1,\, z_p \sqrt{n})}{\sqrt{n}}"
    ),
    inputs=(
        Input("readings", "%", "moisture of the boards drawn, one value each", low=0, high=200,
              valid=(0, 30), many=True),
        Input("coverage", "%", "share of the boards that is to lie under the limit", low=1,
              high=99.99),
        Input("confidence", "%", "how sure the statement is to be", low=1, high=99.99),
    ),
    results={"upper_limit": "%", "tolerance_factor": ""},
    source=Source(
        "one-sided tolerance limit by the noncentral t distribution: ISO 16269-6 (from memory); "
        "factors checked on Montgomery and Runger, 7th ed., Table XII"
    ),
    cautions=(
        *PASSED_A_PLAN,
        "The closed form in the NIST/SEMATECH e-Handbook 7.2.6.3 is an approximation and comes out "
        "too small for few readings, so it is not used here.",
    ),
)  # fmt: skip
def tolerance_limit(readings: Sequence[float], coverage: float, confidence: float) -> Outcome:
    """Upper limit [%] that a share of the lot [%] stays under, with a confidence [%]; exact.

    From two readings on; one reading raises ``OutOfSense``. Readings must scatter normally.

    >>> limit = tolerance_limit.of(readings=[8, 9, 10, 11, 12], coverage=90, confidence=95)
    >>> round(limit.value("tolerance_factor"), 3)
    3.407
    """
    from scipy.special import nctdtrit  # costs a fifth of a second to load

    number = len(readings)
    if number < 2:
        raise OutOfSense("readings", "1 value", "two or more values are allowed")
    point = statistics.NormalDist().inv_cdf(coverage / 100.0) * math.sqrt(number)
    factor = float(nctdtrit(number - 1, point, confidence / 100.0)) / math.sqrt(number)
    mean, spread = statistics.fmean(readings), _spread(readings)
    return Outcome(
        {"upper_limit": mean + factor * spread, "tolerance_factor": factor},
        steps=[
            Step("mean of the readings", mean, "%"),
            Step("standard deviation", spread, "%"),
            Step("tolerance factor k", factor, ""),
        ],
    )
