"""The facts of people, lots, products and of the unit's use over every window, by hand.

In February 2026 the ground is 13 hours ahead of UTC, so that its day ends at 11:00 UTC. A board
holds 25 kg of dry wood and, at 8 %, 25 * 17.3 = 432.5 MJ.

    fire   UTC                  on the ground
    A      31 January 10:30     31 January, 23:30
    B      31 January 12:30      1 February, 01:30
    C       3 February 22:00     4 February, 11:00
    D       4 February 20:00     5 February, 09:00   approved, not burned
    E       5 February 08:00     5 February, 21:00   the one judged
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.kinds import Duty
from facility.people.models import Competence
from facility.rules import words
from facility.rules.engine import Moment
from facility.rules.sheet import from_data
from records.burns import services as burns
from records.plans.content import Line, Place
from records.plans.facts import sheet_of
from records.plans.figures import figures_of
from records.plans.judging import Standard, judge_sheet
from records.plans.models import Finding, KnownAtIgnition
from records.plans.services import withdraw_plan
from tests import builders
from tests.builders import NOW

MINUTE, HOUR, DAY = dt.timedelta(minutes=1), dt.timedelta(hours=1), dt.timedelta(days=1)
BOARD_MJ = 432.5


def utc(month, day, hour, minute=0, year=2026):
    return dt.datetime(year, month, day, hour, minute, tzinfo=dt.UTC)


A, B, C, D, E = utc(1, 31, 10, 30), utc(1, 31, 12, 30), utc(2, 3, 22), utc(2, 4, 20), utc(2, 5, 8)


@pytest.fixture
def roomy(ground):
    """The ground with boards enough, under a standard that sets no limit but a chart."""
    builders.adopt(ground, "T-2", [], at=NOW, day=dt.date(2026, 1, 29), caps=("100",) * 12)
    ground.lot = builders.accepted_lot(ground, 100, at=NOW - 7 * DAY)
    return ground


def planned(ground, start, boards=1, **changes):
    ends_at = start + 30 * MINUTE
    return replace(builders.content(ground, boards, starts_at=start), ends_at=ends_at, **changes)


def burned(ground, start, boards=1, **changes):
    return builders.closed(ground, planned(ground, start, boards, **changes), at=start - HOUR)


@pytest.fixture
def history(roomy):
    """Fires A, B and C done with one board each, D approved."""
    roomy.burns = [burned(roomy, start) for start in (A, B, C)]
    roomy.ahead = builders.approved(roomy, planned(roomy, D), at=NOW)
    return roomy


def sheet(ground, content, *, ahead=True, at=None, plan=None):
    return sheet_of(
        content, site=ground.site, at=at or content.starts_at, plan=plan, planned=ahead, noted={},
        figures=figures_of(ground.site, content.charge),
    )  # fmt: skip


def told(ground, label, content, **options):
    """The facts of the burn (label "") or of one of its people, lots or products."""
    cases = sheet(ground, content, **options).cases
    (case,) = [case for case in cases if case.label == label]
    return {key: known.value for key, known in case.facts.items()}


LEADER, LEARNER = "The instructor", "Learner 1"
EXPOSURES = [f"person.exposures@{window}" for window in ("day", "7d", "28d", "month", "year")]


def exposures(facts):
    return [facts[key] for key in EXPOSURES]


# --- people


def test_fires_done_and_approved_ahead_are_counted_over_every_window(history):
    """That day D and E; in 7 and 28 days and the year all five; in February all but A."""
    for who in (LEADER, LEARNER):
        assert exposures(told(history, who, planned(history, E))) == [2, 5, 5, 4, 5]


def test_at_ignition_only_what_really_burned_counts(history):
    facts = told(history, LEADER, planned(history, E), ahead=False)
    assert exposures(facts) == [1, 4, 4, 3, 4]


def test_days_in_a_row_and_rest_while_planning_and_at_ignition(history):
    """The 5th and the 4th in a row. Rest since D ends at 20:30, 11 h 30 min; or since C, at
    22:30 on the 3rd, 33 h 30 min."""
    facts = told(history, LEADER, planned(history, E))
    assert (facts["person.consecutive_days"], facts["person.rest"]) == (2, 690)
    facts = told(history, LEADER, planned(history, E), ahead=False)
    assert (facts["person.consecutive_days"], facts["person.rest"]) == (2, 2010)


def test_who_stands_outside_is_not_exposed(history):
    facts = told(history, "The safety", planned(history, E))
    assert exposures(facts) == [0, 0, 0, 0, 0]
    assert facts["person.consecutive_days"] == 0
    assert facts["person.rest"] == 1440  # a day, where there was no fire


def test_who_was_at_no_fire_before_counts_this_one(history):
    crew = (*builders.crew(history), Place(history.learners[6], Duty.LEARNER))
    facts = told(history, "Learner 7", planned(history, E, crew=crew))
    assert exposures(facts) == [1, 1, 1, 1, 1]
    assert facts["person.consecutive_days"] == 1


def test_a_plan_judged_again_does_not_count_itself(history):
    plan = builders.approved(history, planned(history, E), at=NOW)
    facts = told(history, LEADER, planned(history, E), plan=plan)
    assert exposures(facts) == [2, 5, 5, 4, 5]


def test_a_plan_withdrawn_no_longer_counts(history):
    withdraw_plan(history.ahead, reason="rain", by=history.instructor, at=NOW)
    assert exposures(told(history, LEADER, planned(history, E))) == [1, 4, 4, 3, 4]


@pytest.mark.parametrize(
    ("start", "counts", "days"),
    [
        (utc(1, 31, 10, 59), [2, 2, 2, 2, 2], 1),  # 23:59 on 31 January
        (utc(1, 31, 11, 1), [1, 2, 2, 1, 2], 2),  # 00:01 on 1 February
        (utc(2, 1, 10, 59), [1, 2, 2, 1, 2], 2),  # 23:59 on 1 February
        (utc(2, 1, 11, 1), [1, 2, 2, 1, 2], 1),  # 00:01 on 2 February: a day between
    ],
)
def test_the_day_and_the_month_end_at_the_ground_s_own_midnight(roomy, start, counts, days):
    burned(roomy, utc(1, 31, 9))  # 22:00 on 31 January
    facts = told(roomy, LEADER, planned(roomy, start))
    assert exposures(facts) == counts
    assert facts["person.consecutive_days"] == days


@pytest.mark.parametrize(
    ("start", "week", "four_weeks"),
    [
        (utc(2, 7, 10, 29), 2, 2), (utc(2, 7, 10, 30), 1, 2),  # to the minute 7 days after A
        (utc(2, 28, 10, 29), 1, 2), (utc(2, 28, 10, 30), 1, 1),  # and 28 days
    ],
)  # fmt: skip
def test_rolling_windows_end_to_the_minute(roomy, start, week, four_weeks):
    burned(roomy, A)
    facts = told(roomy, LEADER, planned(roomy, start))
    assert [facts[key] for key in EXPOSURES[1:3]] == [week, four_weeks]


def test_the_year_ends_at_the_ground_s_own_midnight(db):
    """22:00 on 31 December, then 00:01 on 1 January, both 31 December in UTC."""
    ground = builders.found_ground("Year ground", at=utc(12, 31, 8, year=2025))
    builders.accepted_lot(ground, at=utc(12, 30, 8, year=2025))
    burned(ground, utc(12, 31, 9, year=2025))
    before = told(ground, LEADER, planned(ground, utc(12, 31, 10, 59, year=2025)))
    after = told(ground, LEADER, planned(ground, utc(12, 31, 11, 1, year=2025)))
    assert exposures(before) == [2, 2, 2, 2, 2]
    assert exposures(after) == [1, 2, 2, 1, 1]
    assert after["person.consecutive_days"] == 2


def test_a_fire_later_that_day_counts_that_day_and_not_in_the_days_before(roomy):
    builders.approved(roomy, planned(roomy, E + 2 * HOUR), at=NOW)
    assert exposures(told(roomy, LEADER, planned(roomy, E))) == [2, 1, 1, 2, 2]


@pytest.mark.parametrize(("days", "left"), [(3, 3), (0, 0), (-1, None)])
def test_days_left_of_a_qualification_on_the_ground_s_day(roomy, days, left):
    """Not held that day is not "no days left", which a rule of at least 0 days would let pass."""
    with opened():
        Competence.objects.filter(person=roomy.instructor).update(
            expires_on=dt.date(2026, 2, 5) + days * DAY
        )
    assert told(roomy, LEADER, planned(roomy, E))["person.qualification_days_left"] == left


def test_of_two_duties_the_qualification_that_ends_first_counts(roomy):
    with opened():
        Competence.objects.filter(person=roomy.safety).update(expires_on=dt.date(2026, 2, 15))
        Competence.objects.filter(person=roomy.instructor).update(expires_on=dt.date(2026, 3, 5))
    both = (*builders.crew(roomy), Place(roomy.safety, Duty.CREW))  # no live-fire qualification
    content = planned(roomy, E)
    assert told(roomy, "The safety", content)["person.qualification_days_left"] == 10
    assert told(roomy, LEADER, content)["person.qualification_days_left"] == 28
    facts = told(roomy, "The safety", replace(content, crew=both))
    assert (facts["person.qualification_days_left"], facts["person.duties"]) == (None, 2)


def test_a_learner_needs_no_qualification(roomy):
    assert "person.qualification_days_left" not in told(roomy, LEARNER, planned(roomy, E))


# --- the unit


def use(facts, window):
    return [facts[f"unit.{what}@{window}"] for what in ("burns", "dry_mass", "energy")]


def about(count, boards):
    return pytest.approx([count, boards * 25.0, boards * BOARD_MJ], rel=1e-9)


PLANNED_USE = {  # D counts as a burn, and what it will burn is not known yet
    "day": (2, 1), "7d": (5, 4), "28d": (5, 4), "month": (4, 3), "year": (5, 4),
    "since_inspection": (4, 4), "life": (5, 4),
}  # fmt: skip
IGNITED_USE = {
    "day": (1, 1), "7d": (4, 4), "28d": (4, 4), "month": (3, 3), "year": (4, 4),
    "since_inspection": (4, 4), "life": (4, 4),
}  # fmt: skip


@pytest.mark.parametrize(("ahead", "expected"), [(True, PLANNED_USE), (False, IGNITED_USE)])
def test_burns_mass_and_energy_of_the_unit_over_every_window(history, ahead, expected):
    """One board a fire: 25 kg and 432.5 MJ."""
    facts = told(history, "", planned(history, E), ahead=ahead)
    for window, (count, boards) in expected.items():
        assert use(facts, window) == about(count, boards), window


def test_a_corrected_burn_counts_once_and_with_its_corrected_mass(roomy):
    """Two boards, then one: 25 kg, with the three boards planned 100 kg."""
    burn = burned(roomy, C, 2)
    content = planned(roomy, E, 3)
    assert use(told(roomy, "", content), "month") == about(2, 5)
    burns.correct_burn(
        burn, seen_report=1, ended_at=C + 20 * MINUTE, note="", why="one came back",
        used={roomy.lot.public_id: Decimal(1)}, by=roomy.instructor, at=C + 40 * MINUTE,
    )  # fmt: skip
    facts = told(roomy, "", content)
    for window in ("7d", "28d", "month", "year", "since_inspection", "life"):
        assert use(facts, window) == about(2, 4), window
    assert told(roomy, LEADER, content)["person.rest"] == 34 * 60 - 20  # from 22:20 on the 3rd


def test_without_a_measured_lot_the_burns_are_known_and_the_mass_is_not(history):
    unread = builders.deliver(history)
    content = planned(history, E)
    content = replace(content, charge=(replace(content.charge[0], lot=unread),))
    assert use(told(history, "", content), "month") == [4, None, None]


def test_another_unit_has_a_use_of_its_own(history):
    second = builders.commission(history, "Unit 2")
    line = Line(second.positions.get(name="Ceiling"), history.board, Decimal(1))
    content = planned(history, E, unit=second, charge=(line,))
    assert use(told(history, "", content), "year") == about(1, 1)


@pytest.mark.parametrize(
    ("start", "fires"),
    [
        (D, 2),
        (D + 29 * MINUTE, 2),
        (D + 30 * MINUTE, 1),
        (D - 30 * MINUTE, 1),
        (D - 29 * MINUTE, 2),
    ],
)
def test_fires_planned_for_one_time_in_one_unit_are_counted(history, start, fires):
    """D lasts from 20:00 to 20:30."""
    assert told(history, "", planned(history, start))["burn.fires_in_unit"] == fires


# --- lots and products


def test_a_lot_is_told_by_its_newest_round_of_readings(ground):
    """6, 7, 8, 9 and 10 % are 8 % in the mean; read again two days later, 9 % and 11 % at most."""
    lot = builders.deliver(ground)
    builders.read(ground, lot, "6", "7", "8", "9", "10")
    content = builders.content(ground, 1)
    content = replace(content, charge=(replace(content.charge[0], lot=lot),))
    facts = told(ground, lot.code, content, at=NOW + 36 * HOUR)
    assert (facts["lot.moisture_mean"], facts["lot.moisture_highest"]) == (8, 10)
    assert (facts["lot.readings"], facts["lot.days_since_reading"]) == (5, 1.5)
    assert (facts["lot.accepted"], facts["lot.untreated"]) == (False, True)
    assert (facts["lot.docket_recorded"], facts["lot.class_recorded"]) == (True, False)
    builders.read(ground, lot, "8", "8", "8", "9", "10", "11", at=NOW + 48 * HOUR)
    facts = told(ground, lot.code, content, at=NOW + 72 * HOUR)
    assert (facts["lot.moisture_mean"], facts["lot.moisture_highest"]) == (9, 11)
    assert (facts["lot.readings"], facts["lot.days_since_reading"]) == (6, 1)


def test_a_lot_is_told_as_it_stood_at_the_moment_asked_for(ground):
    """What is read after the fire was lit says nothing of the wood that was lit."""
    lot = builders.accepted_lot(ground)
    content = builders.content(ground, 1)
    content = replace(content, charge=(replace(content.charge[0], lot=lot),))
    builders.read(ground, lot, *["20"] * 6, at=NOW + 48 * HOUR)
    facts = told(ground, lot.code, content, at=NOW + DAY)
    assert (facts["lot.moisture_highest"], facts["lot.readings"]) == (8, 5)
    assert facts["lot.days_since_reading"] == 1


def test_a_lot_without_readings_cannot_be_told(ground):
    lot = builders.deliver(ground)
    content = builders.content(ground, 1)
    content = replace(content, charge=(replace(content.charge[0], lot=lot),))
    facts = told(ground, lot.code, content)
    for fact in ("moisture_mean", "moisture_highest", "days_since_reading"):
        assert facts[f"lot.{fact}"] is None
    assert facts["lot.readings"] == 0


def test_each_lot_and_product_of_the_charge_is_one_case_however_many_lines_it_has(ground):
    first, second = builders.accepted_lot(ground), builders.accepted_lot(ground)
    liquid = builders.accepted_lot(ground, product=ground.liquid)
    whole = builders.content(ground)
    position = whole.charge[0].position
    lines = [(ground.board, first), (ground.board, second), (ground.board, first), (ground.liquid, liquid)]  # fmt: skip
    charge = tuple(Line(position, product, Decimal(1), lot) for product, lot in lines)
    cases = sheet(ground, replace(whole, charge=charge)).cases
    lots = [case.label for case in cases if case.subject == "lot"]
    assert sorted(lots) == sorted([first.code, second.code, liquid.code])
    products = {case.product: case.facts for case in cases if case.subject == "product"}
    assert set(products) == {"particle_board", "liquid"}
    assert products["particle_board"]["product.density"].value == 500.0
    assert products["liquid"]["product.density"].value is None
    assert products["liquid"]["product.kind"].value == "liquid"


# --- kept at ignition


def test_what_was_known_at_ignition_judged_again_by_the_same_edition_says_the_same(history):
    """Under the small standard with windows and people in it, some met and some only cautioned."""
    extra = [
        {"code": "E-1", "title": "Fires in a month", "fact": "person.exposures", "window": "month", "limit": "2"},
        {"code": "E-2", "title": "Mass in a year", "fact": "unit.dry_mass", "window": "year", "limit": "50"},
        {"code": "E-3", "title": "Moisture of a lot", "fact": "lot.moisture_mean", "limit": "8.5"},
        {"code": "E-4", "title": "Density", "fact": "product.density", "limit": "400"},
    ]  # fmt: skip
    soft = {"severity": "caution", "basis": "local", "clause": "9", "comparison": "<="}
    rows = [*builders.rows(U_13="9"), *({**soft, **row} for row in extra)]
    builders.adopt(history, "T-3", rows, at=NOW, day=dt.date(2026, 2, 5), caps=("100",) * 12)
    burn = builders.lit(history, planned(history, E, 2), at=NOW)
    known = KnownAtIgnition.objects.get(version=burn.version)
    edition = history.site.editions.get(code="T-3")
    again = judge_sheet(
        from_data(known.facts), Standard([edition], [history.unit]), moment=Moment.IGNITE
    )
    kept = Finding.objects.filter(version=burn.version, stage="ignite")
    assert kept.count() > len(rows)
    assert kept.filter(verdict="over").count() >= 3
    assert [(row.code, row.about, row.verdict, row.measured, row.sentence) for row in kept] == [
        (found.rule.code, found.label, found.verdict, words.measured(found), words.sentence(found))
        for found in again
    ]
