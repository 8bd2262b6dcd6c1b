"""Past burns judged again under a draft, and plans still open, against counts made by hand.

A board holds 25 kg of dry wood and, at 8 %, 25 * 17.3 = 432.5 MJ. In February 2026 the ground is
13 hours ahead of UTC. The draft D-1 blocks more than 60 kg (R-1) and cautions beyond 800 MJ (R-2).

    burn   UTC                  on the ground          boards
    A      31 January 10:30     31 January, 23:30      2: 50 kg, 865 MJ     a caution
    B      31 January 12:30      1 February, 01:30     4: 100 kg            refused
    C       3 February 22:00     4 February, 11:00     3: 75 kg             refused
    D       4 February 20:00     5 February, 09:00     1: 25 kg, 432.5 MJ
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from facility.guarded import opened
from records.plans import rejudging
from records.plans.models import KnownAtIgnition, PlanVersion
from records.plans.rejudging import open_plans, rejudge
from records.plans.services import withdraw_plan
from records.standard import services as standard
from records.standard import waiving
from tests import builders
from tests.builders import NOW
from tests.pages import Things

MINUTE, HOUR, DAY = dt.timedelta(minutes=1), dt.timedelta(hours=1), dt.timedelta(days=1)
JANUARY, FEBRUARY = dt.date(2026, 1, 1), dt.date(2026, 2, 28)


def utc(month, day, hour, minute=0):
    return dt.datetime(2026, month, day, hour, minute, tzinfo=dt.UTC)


A, B, C, D = utc(1, 31, 10, 30), utc(1, 31, 12, 30), utc(2, 3, 22), utc(2, 4, 20)
MASS = {"code": "R-1", "title": "Mass", "fact": "charge.dry_mass", "comparison": "<=",
        "limit": "60", "severity": "block", "clause": "1", "basis": "local"}  # fmt: skip
ENERGY = {**MASS, "code": "R-2", "title": "Energy", "fact": "charge.energy", "limit": "800",
          "severity": "caution"}  # fmt: skip


def roomy(ground):
    """The ground with boards enough, under a standard that sets no limit but a chart."""
    builders.adopt(ground, "T-2", [], at=NOW, day=dt.date(2026, 1, 29), caps=("100",) * 12)
    builders.accepted_lot(ground, 100, at=NOW - 7 * DAY)
    return ground


def planned(ground, start, boards):
    content = builders.content(ground, boards, starts_at=start)
    return replace(content, ends_at=start + 30 * MINUTE)


def burned(ground, start, boards):
    return builders.closed(ground, planned(ground, start, boards), at=start - HOUR)


def draft(ground, *rows, code="D-1", charts=True, **more):
    chart = {
        "unit": ground.unit, "caps_dry_kg": [Decimal(100)] * 12, "burns_before_cooling": 2,
        "cooling_min": 60, "wait_min": 30, "trial_on": NOW.date(), "trial_note": "trial",
    }  # fmt: skip
    return standard.draft_edition(
        ground.site, code=code, title="Draft", rows=rows, charts=[chart] if charts else [],
        by=ground.safety, **{"at": NOW, **more},
    )  # fmt: skip


@pytest.fixture
def past(ground):
    """The ground with burns A to D behind it and the draft D-1."""
    roomy(ground)
    ground.burns = [burned(ground, *each) for each in ((A, 2), (B, 4), (C, 3), (D, 1))]
    ground.draft = draft(ground, MASS, ENERGY)
    return ground


def asked(ground, *editions, first=JANUARY, last=FEBRUARY):
    return rejudge(ground.site, list(editions) or [ground.draft], first, last)


def plan_of(burn):
    return burn.version.plan.public_id


# --- past burns


def test_a_tighter_draft_refuses_exactly_the_burns_above_it(past):
    found = asked(past)
    assert (found.burns, found.refused, found.cautioned, found.untold) == (4, 2, 1, 0)
    assert [each.plan for each in found.listed] == [plan_of(burn) for burn in past.burns[1:3]]
    assert [each.unit for each in found.listed] == ["Unit 1", "Unit 1"]
    assert [each.ignited_at for each in found.listed] == [B, C]
    margins = [[(f.rule.code, f.margin) for f in each.findings] for each in found.listed]
    assert margins == [[("R-1", -40)], [("R-1", -15)]]
    assert found.by_row == {("R-1", "Mass"): 2}


def test_months_are_those_of_the_ground(past):
    """A is of January there and B of February, though both are of 31 January in UTC."""
    assert asked(past).by_month == {"2026-01": [1, 0], "2026-02": [3, 2]}


def test_the_standard_that_let_them_start_refuses_none(past):
    in_force = past.site.editions.get(code="T-2")
    found = asked(past, in_force)
    assert (found.burns, found.refused, found.cautioned) == (4, 0, 0)
    assert (found.listed, found.by_row) == ([], {})


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        ((1, 31), (1, 31), [A]),
        ((2, 1), (2, 1), [B]),
        ((2, 2), (2, 3), []),
        ((2, 4), (2, 4), [C]),
        ((2, 4), (2, 5), [C, D]),
        ((1, 31), (2, 4), [A, B, C]),
    ],
)
def test_both_days_of_a_period_belong_to_it_by_the_calendar_of_the_ground(
    past, first, last, expected
):
    all_refused = draft(past, {**MASS, "limit": "10"}, code="D-2")
    found = asked(past, all_refused, first=dt.date(2026, *first), last=dt.date(2026, *last))
    assert [each.ignited_at for each in found.listed] == expected
    assert found.burns == len(expected)


@pytest.mark.parametrize(
    ("start", "day"), [(utc(2, 2, 10, 59), 2), (utc(2, 2, 11), 3), (utc(2, 2, 11, 1), 3)]
)
def test_a_day_begins_at_the_ground_s_own_midnight(ground, start, day):
    """11:00 UTC is midnight there."""
    burned(roomy(ground), start, 1)
    edition = draft(ground, MASS)
    for each in (2, 3):
        on = dt.date(2026, 2, each)
        assert asked(ground, edition, first=on, last=on).burns == (each == day)


def test_a_burn_whose_facts_were_not_kept_is_untold(past):
    forget(past.burns[1])
    found = asked(past)
    assert (found.burns, found.refused, found.untold) == (3, 1, 1)


def test_a_burn_that_still_runs_is_judged_and_hides_none_without_facts(past):
    forget(past.burns[1])
    builders.lit(past, planned(past, D + 3 * HOUR, 3), at=D)
    found = asked(past)
    assert (found.burns, found.refused, found.untold) == (4, 2, 1)


def forget(burn):
    """As if the burn had been lit before facts were kept."""
    with connection.cursor() as cursor:
        table = KnownAtIgnition._meta.db_table
        cursor.execute(f"DELETE FROM {table} WHERE version_id = %s", [burn.version_id])


@pytest.mark.parametrize(
    ("moments", "refused"),
    [("draft", 2), ("submit", 2), ("approve", 2), ("ignite", 2), ("close", 0), ("approve close", 2)],
)  # fmt: skip
def test_what_is_asked_on_the_way_to_ignition_counts_and_what_only_at_the_close_does_not(
    past, moments, refused
):
    edition = draft(past, {**MASS, "asked_at": moments}, code="D-2")
    assert asked(past, edition).refused == refused


def test_waivers_are_left_aside(ground):
    """The waiver let the burn of 75 kg start; the row itself allows 60."""
    roomy(ground)
    row = {**MASS, "waivable_by": "inspector"}
    edition = builders.adopt(
        ground, "T-3", [row], at=NOW, day=dt.date(2026, 2, 4), caps=("100",) * 12
    )
    waiver = waiving.ask_waiver(
        ground.site, edition.rows.get(), scope="ground", target="", reason="thicker boards came",
        measure="one line more", expires_on=D.date() + DAY, by=ground.instructor, at=NOW,
    )  # fmt: skip
    waiving.grant_waiver(ground.site, waiver, by=ground.inspector, at=NOW)
    burn = builders.closed(ground, planned(ground, D, 3), at=NOW)
    found = asked(ground, edition)
    assert [(each.plan, each.findings[0].waiver) for each in found.listed] == [(plan_of(burn), "")]
    assert found.refused == 1


def test_burns_of_another_ground_are_never_counted(past, other):
    burned(roomy(other), C, 4)
    forget(burned(other, D, 4))
    found = asked(past)
    assert (found.burns, found.refused, found.untold) == (4, 2, 0)
    theirs = asked(other, draft(other, MASS))
    assert (theirs.burns, theirs.refused, theirs.untold) == (1, 1, 1)


def test_a_jurisdiction_s_draft_alone_refuses_by_its_rows_and_not_for_want_of_a_chart(past):
    """The charts are the ground's own; 1700 MJ are gone past by B only, with 1730."""
    coast = draft(past, {**ENERGY, "limit": "1700", "severity": "block"}, code="C-1",
                  charts=False, jurisdiction="The coast")  # fmt: skip
    found = asked(past, coast)
    assert (found.burns, found.refused) == (4, 1)
    assert found.by_row == {("R-2", "Energy"): 1}


def test_the_ground_s_own_draft_without_a_chart_refuses_every_burn(past):
    found = asked(past, draft(past, code="D-2", charts=False))
    assert (found.burns, found.refused) == (4, 4)
    assert {code for code, _title in found.by_row} == {"Q-1", "Q-2", "Q-3"}


def copies(burn, count, first=100):
    """Further burns like one, each a version with facts of its own."""
    kept = KnownAtIgnition.objects.get(version=burn.version)
    version = burn.version
    names = [field.attname for field in PlanVersion._meta.fields if field.attname not in ("id", "number")]  # fmt: skip
    given = {name: getattr(version, name) for name in names}
    with opened():
        for number in range(first, first + count):
            copy = PlanVersion(**given, number=number)
            copy.save()
            KnownAtIgnition(version=copy, ignited_at=kept.ignited_at, facts=kept.facts).save()


def test_all_are_counted_and_only_the_first_listed(past):
    copies(past.burns[2], rejudging.KEPT + 3)
    found = asked(past)
    assert (found.burns, found.refused) == (207, 205)
    assert len(found.listed) == 200
    assert found.by_month["2026-02"] == [206, 205]
    assert found.by_row["R-1", "Mass"] == 205


def test_queries_stay_the_same_however_many_burns_there_are(ground):
    roomy(ground)
    burn = burned(ground, C, 3)
    edition = draft(ground, MASS)
    copies(burn, 2)
    few = queries(lambda: asked(ground, edition))
    copies(burn, 27, first=200)
    assert asked(ground, edition).burns == 30
    assert queries(lambda: asked(ground, edition)) == few


def queries(work):
    with CaptureQueriesContext(connection) as captured:
        work()
    return len(captured)


def test_progress_is_told_and_ends_at_the_whole(past):
    told = []
    rejudge(past.site, [past.draft], JANUARY, FEBRUARY, progress=lambda *each: told.append(each))
    assert told[-1] == (4, 4)


# --- the command


def judged(*given):
    call_command("judge", *given)


PERIOD = ("--from", "2026-01-01", "--to", "2026-02-28")


def test_the_command_prints_the_same_numbers(past, capsys):
    judged("--edition", "D-1", *PERIOD)
    printed = capsys.readouterr().out.splitlines()
    assert printed[0] == (
        "D-1, 2026-01-01 to 2026-02-28: 4 burns judged, 2 would have been refused, "
        "1 more cautioned, 0 without facts"
    )
    assert printed[1].split() == ["R-1", "2", "Mass"]
    assert printed[2] == f"2026-02-01 01:30  Unit 1, plan {plan_of(past.burns[1])}"
    assert printed[3].startswith("    R-1: Mass: 100")
    assert printed[4] == f"2026-02-04 11:00  Unit 1, plan {plan_of(past.burns[2])}"
    assert len(printed) == 6


def test_the_command_says_how_many_it_does_not_list(past, capsys):
    copies(past.burns[2], 203)
    judged("--edition", "D-1", *PERIOD)
    assert capsys.readouterr().out.splitlines()[-1] == "... and 5 more"


@pytest.mark.parametrize(
    "given",
    [
        ("--edition", "D-9", *PERIOD),
        ("--ground", "Nowhere", "--edition", "D-1", *PERIOD),
        PERIOD,
        ("--edition", "D-1", "--from", "2026-01-01"),
        ("--edition", "D-1", "--to", "2026-01-01"),
        ("--edition", "D-1", "--from", "2026-02-02", "--to", "2026-02-01"),
    ],
)
def test_a_wrong_edition_ground_or_period_exits_2(past, given):
    with pytest.raises(CommandError) as caught:
        judged(*given)
    assert caught.value.returncode == 2


def test_where_there_are_two_grounds_one_is_named(past, other, capsys):
    with pytest.raises(CommandError) as caught:
        judged("--edition", "D-1", *PERIOD)
    assert caught.value.returncode == 2
    judged("--ground", "Test ground", "--edition", "D-1", *PERIOD)
    assert "4 burns judged" in capsys.readouterr().out


# --- plans still open


def test_open_plans_say_what_a_draft_would_newly_block(ground):
    """25 kg pass both; 75 kg only today; 125 kg go past the chart today and past R-1 as well."""
    roomy(ground)
    edition = draft(ground, MASS)
    for day, boards in ((1, 1), (2, 3), (3, 5)):
        builders.drafted(ground, planned(ground, NOW + day * DAY, boards))
    few, some, many = open_plans(ground.site, edition, NOW)
    # ask the same: the stricter speaks for both.
    assert [blocks(each.under.blocking) for each in (few, some, many)] == [[], ["R-1"], ["R-1"]]
    assert [blocks(each.now) for each in (few, some, many)] == [[], [], ["Q-1"]]
    assert [blocks(each.gained) for each in (few, some, many)] == [[], ["R-1"], ["R-1"]]


def test_a_row_that_a_stricter_one_spoke_for_is_nothing_new(ground):
    """125 kg: R-1 (60 kg) speaks today for Q-1 (100 kg), which is all that is left under D-2."""
    builders.adopt(ground, "T-3", [MASS], at=NOW, day=NOW.date(), caps=("100",) * 12)
    builders.accepted_lot(ground)
    builders.drafted(ground, planned(ground, NOW + DAY, 5))
    (found,) = open_plans(ground.site, draft(ground, code="D-2"), NOW)
    assert (blocks(found.now), blocks(found.under.blocking)) == (["R-1"], ["Q-1"])
    assert found.gained == []


def test_a_row_counts_where_a_stricter_one_spoke_for_it(past):
    """Only C and B go past 60 kg; B, with 100 kg, past 90 as well."""
    wider = {**MASS, "code": "R-3", "title": "Wider", "limit": "90"}
    found = asked(past, draft(past, MASS, wider, code="D-2"))
    assert found.by_row == {("R-1", "Mass"): 2, ("R-3", "Wider"): 1}


def blocks(findings):
    return sorted(finding.rule.code for finding in findings)


def test_open_are_plans_that_may_still_burn_by_their_start(ground, other):
    roomy(ground)
    edition = draft(ground, MASS)
    submitted = builders.submitted(ground, planned(ground, NOW + 2 * DAY, 1))
    approved = builders.approved(ground, planned(ground, NOW + DAY, 1))
    gone = builders.drafted(ground, planned(ground, NOW + 3 * DAY, 1))
    withdraw_plan(gone, reason="rain", by=ground.instructor, at=NOW)
    builders.drafted(other)
    burned(ground, NOW + 4 * DAY, 1)
    builders.drafted(ground, planned(ground, NOW - 2 * HOUR, 1))
    found = open_plans(ground.site, edition, NOW)
    assert [each.plan.pk for each in found] == [approved.pk, submitted.pk]


def test_a_plan_for_a_day_without_an_edition_gains_all_that_blocks_it(ground):
    edition = draft(ground, MASS)
    plan = builders.drafted(ground, planned(ground, NOW + DAY, 3))
    builders.accepted_lot(ground)
    end_editions(ground)
    (found,) = open_plans(ground.site, edition, NOW)
    assert found.plan == plan
    assert found.now == []
    assert blocks(found.gained) == ["R-1"]


def end_editions(ground):
    with opened():
        ground.site.editions.filter(in_force_from__isnull=False).update(
            in_force_to=NOW.date() - DAY
        )


# --- the pages


@pytest.fixture
def things(db):
    """A ground that lives today with one burn of 75 kg behind it and one plan of 75 kg ahead."""
    things = Things()
    assert things.closed
    assert things.submitted
    things.tight = draft(things.ground, MASS, at=things.now)
    return things


def page(things, signed_in, name, *, htmx, query=""):
    address = reverse(name, args=[things.tight.public_id])
    headers = {"HX-Request": "true"} if htmx else {}
    response = signed_in(things.ground.manager).get(address + query, headers=headers)
    assert response.status_code == 200
    return response.text


@pytest.mark.parametrize("htmx", [False, True])
def test_the_page_of_past_burns(things, signed_in, htmx):
    text = page(things, signed_in, "reports:rejudge", htmx=htmx)
    assert "1 of 1 burns would have been refused." in text
    assert plan_of(things.closed) in text
    assert "R-1: Mass" in text


def test_the_page_of_past_burns_keeps_to_its_period(things, signed_in):
    day = (things.now - 30 * DAY).date()
    text = page(things, signed_in, "reports:rejudge", htmx=False, query=f"?start={day}&end={day}")
    assert "0 of 0 burns would have been refused." in text


@pytest.mark.parametrize("htmx", [False, True])
def test_the_page_of_open_plans_is_whole_or_a_part_of_the_edition_s(things, signed_in, htmx):
    text = page(things, signed_in, "reports:open_plans", htmx=htmx)
    assert things.submitted.public_id in text
    assert "could not pass" in text
    assert "new against today:" in text
    assert ("<html" in text) is not htmx
