"""Every fact of a plan, against figures worked out by hand.

The ground lies in Pacific/Auckland, 13 hours ahead of UTC in summer: its day of 5 February runs
from 4 February 11:00 UTC to 5 February 11:00 UTC. A board holds 25 kg of dry wood; at 8 %
moisture a dry kilogram gives 17.5 - 0.025 * 8 = 17.3 MJ (2.5 MJ to evaporate each kg of water:
EN 1991-1-2 E.2.4).
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.kinds import Duty
from facility.people.models import Competence
from facility.rules.engine import windowed
from facility.rules.facts import Known, Window
from facility.rules.sheet import run_before_cooling
from facility.rules.worked_out import WORKED_OUT
from records.burns import services as burns
from records.inspections import services as inspections
from records.plans import services as plans
from records.plans.content import Line, Place
from records.plans.facts import sheet_of
from records.plans.figures import figures_of
from records.stock import services as stock
from tests import builders
from tests.builders import NOW

START = NOW + dt.timedelta(days=1)  # 21:00 on 5 February on the ground
MINUTE, HOUR, DAY = dt.timedelta(minutes=1), dt.timedelta(hours=1), dt.timedelta(days=1)


def known(ground, content=None, *, at=NOW, cooling_min=60, plan=None, **changes):
    sheet = sheet_for(ground, content or builders.content(ground, **changes), at=at, plan=plan)
    run = run_before_cooling(sheet.pauses_min, cooling_min)
    return {**sheet.cases[0].facts, "burn.before_cooling": Known(float(run))}


def sheet_for(ground, content, *, at=NOW, plan=None):
    return sheet_of(
        content, site=ground.site, at=at, figures=figures_of(ground.site, content.charge),
        plan=plan, planned=True, noted={},
    )  # fmt: skip


def value(ground, fact, content=None, **changes):
    return known(ground, content, **changes)[fact].value


def at(ground, starts_at, boards=1, lasts=30 * MINUTE):
    content = builders.content(ground, boards, starts_at=starts_at)
    return replace(content, ends_at=starts_at + lasts)


def charged(ground, *lines):
    content = builders.content(ground)
    position = content.charge[0].position
    made = (Line(position, product, Decimal(count), lot) for product, count, lot in lines)
    return replace(content, charge=tuple(made))


# --- the charge


def test_three_boards_hold_75_kg_dry_and_1297_5_mj_at_eight_percent(ground):
    builders.accepted_lot(ground)
    found = known(ground)
    assert found["charge.dry_mass"].value == pytest.approx(75.0)
    assert found["charge.energy"].value == pytest.approx(1297.5)


def test_wetter_boards_hold_the_same_dry_mass_and_less_energy(ground):
    """At 12 %: 17.5 - 0.3 = 17.2 MJ per dry kg, 25 kg give 430 MJ."""
    lot = builders.deliver(ground)
    builders.read(ground, lot, *["12"] * 5)
    stock.accept_lot(lot, by=ground.stores, at=NOW)
    found = known(ground, charged(ground, (ground.board, 1, lot)))
    assert found["charge.dry_mass"].value == pytest.approx(25.0)
    assert found["charge.energy"].value == pytest.approx(430.0)


def test_kindling_counts_as_dry_wood_and_liquid_by_its_energy_only(ground):
    """2 kg of kindling at 17.5 are 35 MJ; 1 L of liquid at 0.8 kg/L and 17.5 are 14 MJ."""
    kindling = builders.accepted_lot(ground, product=ground.kindling)
    liquid = builders.accepted_lot(ground, product=ground.liquid)
    found = known(
        ground, charged(ground, (ground.kindling, 2, kindling), (ground.liquid, 1, liquid))
    )  # fmt: skip
    assert found["charge.dry_mass"].value == pytest.approx(2.0)
    assert found["charge.energy"].value == pytest.approx(49.0)
    assert (found["charge.kindling"].value, found["charge.liquid"].value) == (2.0, 1.0)


def test_moisture_is_that_of_the_wettest_and_the_driest_lot(ground):
    lots = []
    for reading in ("6", "11"):
        lot = builders.deliver(ground)
        builders.read(ground, lot, *[reading] * 5)
        stock.accept_lot(lot, by=ground.stores, at=NOW)
        lots.append(lot)
    found = known(ground, charged(ground, *((ground.board, 1, lot) for lot in lots)))
    assert found["charge.moisture_highest"].value == 11.0
    assert found["charge.moisture_lowest"].value == 6.0


def test_a_lot_that_is_not_accepted_is_named(ground):
    waiting = builders.deliver(ground)
    builders.read(ground, waiting)
    found = known(ground, charged(ground, (ground.board, 1, waiting)))["charge.lots_accepted"]
    assert found.value is False
    assert waiting.code in found.why


def test_without_a_named_lot_the_oldest_accepted_one_with_enough_is_taken(ground):
    small = builders.accepted_lot(ground, 2, at=NOW - 3 * DAY)
    older = builders.accepted_lot(ground, 40, at=NOW - 2 * DAY)
    builders.accepted_lot(ground, 40, at=NOW - DAY)
    (three,) = figures_of(ground.site, builders.content(ground, 3).charge)
    (two,) = figures_of(ground.site, builders.content(ground, 2).charge)
    assert (three.lot, two.lot) == (older, small)


@pytest.mark.parametrize("fact", ["charge.dry_mass", "charge.energy", "charge.moisture_highest"])
def test_without_a_measured_lot_or_a_charge_it_cannot_be_told(ground, fact):
    unread = builders.deliver(ground)
    for content in (
        builders.content(ground),
        builders.content(ground, charge=()),
        charged(ground, (ground.board, 1, unread)),
    ):
        assert known(ground, content)[fact].value is None
        assert known(ground, content)[fact].why


# --- burns of the day


def test_the_first_burn_of_the_day_waits_for_nothing(ground):
    found = known(ground)
    assert found["burn.nth_of_day"].value == 1.0
    assert found["burn.before_cooling"].value == 1.0
    assert found["burn.wait"].value >= 24 * 60


def test_done_and_approved_burns_of_that_day_count_and_drafts_do_not(ground):
    builders.accepted_lot(ground)
    builders.adopt(ground, "T-2", [], at=NOW, day=NOW.date(), caps=("100", "100", "100"))
    builders.closed(ground, at(ground, START - 6 * HOUR))
    builders.approved(ground, at(ground, START - 3 * HOUR))
    builders.submitted(ground, at(ground, START - 2 * HOUR))
    builders.drafted(ground, at(ground, START - HOUR))
    assert value(ground, "burn.nth_of_day") == 3.0


def test_a_withdrawn_plan_and_a_later_one_do_not_count(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground, at(ground, START - 3 * HOUR))
    plans.withdraw_plan(plan, reason="off", by=ground.instructor, at=NOW)
    builders.approved(ground, at(ground, START + HOUR))
    assert value(ground, "burn.nth_of_day") == 1.0


def test_a_plan_is_not_its_own_predecessor(ground):
    builders.accepted_lot(ground)
    plan = builders.approved(ground, at(ground, START - MINUTE))
    assert value(ground, "burn.nth_of_day", plan=plan) == 1.0
    assert value(ground, "burn.nth_of_day") == 2.0


def test_a_burn_in_another_unit_does_not_count(ground):
    builders.accepted_lot(ground)
    builders.approved(ground, at(ground, START - 3 * HOUR))
    second = builders.commission(ground, "Unit 2")
    assert value(ground, "burn.nth_of_day", unit=second) == 1.0


@pytest.mark.parametrize(
    ("hour", "minute", "nth"), [(10, 59, 1.0), (11, 0, 2.0)]
)  # 11:00 UTC is midnight on the ground
@pytest.mark.parametrize("build", [builders.approved, builders.closed])
def test_the_day_is_the_ground_s_own_and_not_that_of_utc(ground, build, hour, minute, nth):
    builders.accepted_lot(ground)
    earlier = NOW.replace(hour=hour, minute=minute)
    build(ground, at(ground, earlier, lasts=20 * MINUTE))
    assert value(ground, "burn.nth_of_day", at=START) == nth


def test_a_burn_later_on_the_same_utc_day_may_be_the_first_of_the_next_local_day(ground):
    builders.accepted_lot(ground)
    builders.approved(ground, at(ground, START))  # 21:00 on the 5th
    after_midnight = at(ground, START + 3 * HOUR)  # 00:00 on the 6th, still the 5th in UTC
    assert value(ground, "burn.nth_of_day", after_midnight) == 1.0


@pytest.mark.parametrize(("pause", "run"), [(59, 3.0), (60, 1.0)])
def test_burns_in_a_row_are_counted_back_to_the_last_cooling_pause(ground, pause, run):
    """Two burns, 10 minutes apart, then a pause; cooled after 60 minutes."""
    builders.accepted_lot(ground)
    builders.adopt(
        ground, "T-2", [], at=NOW, day=NOW.date(), caps=("100", "100", "100")
    )  # fmt: skip
    second = START - pause * MINUTE - 20 * MINUTE
    first = second - 50 * MINUTE
    with_no_wait(ground)
    builders.approved(ground, at(ground, first, lasts=40 * MINUTE))
    builders.approved(ground, at(ground, second, lasts=20 * MINUTE))
    assert value(ground, "burn.before_cooling") == run
    assert value(ground, "burn.wait") == float(pause)
    assert value(ground, "burn.nth_of_day") == 3.0


def with_no_wait(ground):
    with opened():
        for chart in ground.unit.charts.all():
            chart.wait_min = 0
            chart.save()


def test_the_wait_is_from_the_real_end_of_a_burn_that_is_closed(ground):
    """Planned to last 45 minutes, closed after 30."""
    builders.accepted_lot(ground)
    builders.closed(ground, at(ground, START - 2 * HOUR, lasts=45 * MINUTE))
    assert value(ground, "burn.wait", at=START) == 90.0


# --- people


@pytest.mark.parametrize(("learners", "instructors", "ratio"), [(5, 1, 5.0), (7, 2, 3.5), (0, 1, 0.0)])  # fmt: skip
def test_learners_are_shared_among_the_crew_instructors(ground, learners, instructors, ratio):
    crew = builders.crew(ground, learners)
    if instructors == 2:
        crew = (*crew, Place(ground.manager, Duty.CREW))
    assert value(ground, "people.learners_per_instructor", crew=crew) == ratio


def test_learners_without_a_crew_instructor_cannot_be_told(ground):
    crew = tuple(place for place in builders.crew(ground) if place.duty != Duty.CREW)
    assert value(ground, "people.learners_per_instructor", crew=crew) is None


def test_people_inside_are_counted_once_and_pump_and_safety_stand_outside(ground):
    """In charge, crew, ignition, observer and 3 learners: 7, of whom one has two duties."""
    doubled = (*builders.crew(ground), Place(ground.instructor, Duty.CREW),
               Place(ground.stores, Duty.PUMP))  # fmt: skip
    assert value(ground, "people.in_unit", crew=doubled) == 7.0


def test_a_safety_officer_with_a_second_duty_is_not_distinct(ground):
    doubled = (*builders.crew(ground), Place(ground.safety, Duty.PUMP))
    assert value(ground, "crew.safety_distinct") is True
    assert value(ground, "crew.safety_distinct", crew=doubled) is False


def test_the_crew_is_counted_by_duty(ground):
    found = known(ground)
    assert found["crew.in_charge"].value == 1.0
    assert found["crew.safety"].value == 1.0
    assert found["crew.ignition_team"].value == 2.0
    assert found["water.on_site"].value == 12000.0


@pytest.mark.parametrize(("ends", "qualified"), [(0, True), (-1, False)])
@pytest.mark.parametrize("who", ["instructor", "instructor_two", "setter", "safety"])
def test_a_qualification_counts_to_its_last_day_on_the_ground(ground, who, ends, qualified):
    day = START.astimezone(ground.site.zone).date()
    with opened():
        Competence.objects.filter(person=ground.cast[who]).update(
            expires_on=day + dt.timedelta(days=ends)
        )
    found = known(ground)["crew.qualified"]
    assert found.value is qualified
    assert qualified or ground.cast[who].name in found.why


def test_a_qualification_of_the_wrong_kind_or_issued_later_does_not_count(ground):
    swapped = [Place(ground.manager, Duty.SAFETY), Place(ground.instructor, Duty.IN_CHARGE)]
    assert value(ground, "crew.qualified", crew=tuple(swapped)) is False
    with opened():
        Competence.objects.update(issued_on=START.date() + 2 * DAY)
    assert value(ground, "crew.qualified") is False


def test_a_crew_of_nobody_cannot_be_told(ground):
    assert value(ground, "crew.qualified", crew=()) is None


# --- the unit


def test_days_and_burns_since_the_structural_inspection(ground):
    """Inspected a week before NOW; the plan starts a day after NOW."""
    assert value(ground, "unit.days_since_inspection") == 8.0
    assert value(ground, "unit.burns_since_inspection") == 1.0  # this one
    builders.accepted_lot(ground)
    builders.closed(ground, at(ground, START - 6 * HOUR))
    assert value(ground, "unit.burns_since_inspection", at=START) == 2.0
    builders.inspect(ground, ground.unit, at=START)
    later = at(ground, START + HOUR)
    assert value(ground, "unit.burns_since_inspection", later, at=START + HOUR) == 1.0
    hour = value(ground, "unit.days_since_inspection", later, at=START + HOUR)
    assert hour == pytest.approx(1 / 24, abs=1e-3)


def test_a_fire_that_ended_before_midnight_still_counts_for_wait_and_cooling(ground):
    """Out at 23:55 on the ground, the next one at 00:05: ten minutes, second in a row, first of
    its day."""
    builders.accepted_lot(ground)
    midnight = dt.datetime(2026, 2, 5, 11, 0, tzinfo=dt.UTC)
    builders.closed(ground, at(ground, midnight - 35 * MINUTE))
    found = known(ground, at(ground, midnight + 5 * MINUTE), at=midnight)
    assert found["burn.wait"].value == 10.0
    assert found["burn.before_cooling"].value == 2.0
    assert found["burn.nth_of_day"].value == 1.0


def test_the_wait_follows_a_corrected_end(ground):
    builders.accepted_lot(ground)
    burn = builders.closed(ground, at(ground, START))
    later = START + 2 * HOUR
    assert value(ground, "burn.wait", at(ground, later), at=later) == 90.0
    burns.correct_burn(
        burn, seen_report=1, ended_at=START + HOUR, used=builders.used_all(burn), note="",
        why="the end was read off the wrong watch", by=ground.instructor, at=later,
    )  # fmt: skip
    assert value(ground, "burn.wait", at(ground, later), at=later) == 60.0


def test_two_lines_do_not_count_on_the_same_boards(ground):
    builders.accepted_lot(ground, 3)
    twice = charged(ground, (ground.board, 2, None), (ground.board, 2, None))
    assert value(ground, "charge.lots_accepted", twice) is False


def test_a_unit_stopped_says_why_and_serves_again_after_its_release(ground):
    defect = inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=NOW
    )  # fmt: skip
    found = known(ground)["unit.in_service"]
    assert (found.value, found.why) == (False, "hinge torn")
    inspections.record_repair(
        defect, what="new hinge", done_by=ground.inspector, done_at=NOW, by=ground.inspector, at=NOW
    )  # fmt: skip
    builders.verify(ground, defect)
    inspections.release_unit(defect, statement="sound", by=ground.inspector_two, at=NOW + HOUR)
    assert value(ground, "unit.in_service", at=NOW + 2 * HOUR) is True


def test_a_unit_never_inspected_cannot_be_told(ground):
    bare = builders.commission(ground, "Unit 2", inspected=False)
    found = known(ground, builders.content(ground, unit=bare))
    assert found["unit.days_since_inspection"].value is None
    assert found["unit.burns_since_inspection"].value is None
    assert found["unit.in_service"].value is True


NOTED = {  # what only the start or the close of a burn can tell
    "burn.ignition_method", "burn.weather_recorded", "burn.pre_check_complete",
    "burn.last_post_check", "burn.post_check_complete", "burn.all_counted_out",
    "burn.added_fuel_counted", "burn.fit_to_burn", "burn.all_briefed", "burn.countersigned",
}  # fmt: skip
FROM_THE_CHART = {"burn.before_cooling", "unit.has_chart"}


def test_every_fact_that_is_worked_out_is_answered_over_every_window_and_no_other(ground):
    builders.accepted_lot(ground)
    sheet = sheet_for(ground, builders.content(ground))
    answered = {key for case in sheet.cases for key in case.facts}
    expected = {
        windowed(fact.key, window)
        for fact in WORKED_OUT
        for window in fact.windows or (Window.BURN,)
    }
    assert answered == expected - NOTED - FROM_THE_CHART
