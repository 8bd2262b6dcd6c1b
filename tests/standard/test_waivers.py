"""Leave to go past a row: asked by one, granted by others, for a time, and for that row alone.

The small standard allows 2000 MJ (F-07). Five boards of 25 kg dry at 8 % hold 125 * 17.3 =
2162.5 MJ; the chart's cap is set to 200 kg here, so that nothing else refuses them.
"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from facility.guarded import opened
from facility.kinds import Duty
from facility.people.permissions import Role
from facility.refusals import (
    LimitExceeded,
    NotHere,
    WrongState,
    WrongValue,
)
from facility.rulebook.models import LimitRow, Waiver
from records.burns import services as burns
from records.burns.models import Burn
from records.inspections.checklists import PRE_BURN
from records.plans.content import Line
from records.plans.models import Finding, KnownAtIgnition
from records.standard import waiving
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_own_work, refuses_role, writes
from tests.builders import NOW

ASKED, GRANTED, ENDED = "ground.waiver_asked", "ground.waiver_granted", "ground.waiver_ended"
TODAY, DAY = NOW.date(), dt.timedelta(days=1)
START = NOW + DAY  # 21:00 on 5 February on the ground
TOMORROW = START.date()


@pytest.fixture
def waivable(ground):
    """F-07 may be waived by the inspector, P-01 by the safety officer with a second person."""
    by_code = {"F-07": {"waivable_by": "inspector"},
               "P-01": {"waivable_by": "safety", "two_people": True}}  # fmt: skip
    rows = [{**row, **by_code.get(row["code"], {})} for row in builders.rows()]
    edition = builders.adopt(ground, "T-2", rows, at=NOW, day=TODAY, caps=("200", "200"))
    builders.accepted_lot(ground)
    ground.row = edition.rows.get(code="F-07")
    ground.safety_row = edition.rows.get(code="P-01")
    return ground


def ask(ground, **changes):
    given = {"row": ground.row, "scope": "ground", "target": "", "reason": "thicker boards came",
             "measure": "one attack line more", "expires_on": TOMORROW, "by": ground.instructor,
             "at": NOW}  # fmt: skip
    given |= changes
    return waiving.ask_waiver(ground.site, given.pop("row"), **given)


def grant(ground, waiver, **changes):
    given = {"by": ground.inspector, "at": NOW, **changes}
    return waiving.grant_waiver(ground.site, waiver, **given)


def end(ground, waiver, **changes):
    given = {"reason": "not needed", "by": ground.safety, "at": NOW, **changes}
    return waiving.end_waiver(ground.site, waiver, **given)


def too_much(ground, **changes):
    return builders.content(ground, 5, **changes)


def refused(ground, content=None, plan=None):
    """The codes that refuse five boards at submission."""
    plan = plan or builders.drafted(ground, content or too_much(ground))
    with refuses(LimitExceeded) as caught:
        builders.plans.submit_plan(
            plan, seen_hash=builders.hash_of(plan), by=ground.instructor, at=NOW
        )
    return {each.rule.code for each in caught.value.findings}


# --- asking


def test_a_waiver_is_asked_and_lifts_nothing_yet(waivable):
    with writes(ASKED, Waiver):
        waiver = ask(waivable)
    assert waiver.state == "asked"
    assert refused(waivable) == {"F-07"}


@pytest.mark.parametrize("role", refused_roles(ASKED))
def test_other_roles_may_not_ask(waivable, role):
    with refuses_role():
        ask(waivable, by=actor(waivable, role))


def test_a_row_that_nobody_may_waive_is_not_asked_for(waivable):
    with refuses(WrongValue, "row"):
        ask(waivable, row=waivable.row.edition.rows.get(code="F-15"))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"scope": "world"}, "scope"), ({"scope": "unit"}, "target"), ({"scope": "plan"}, "target"),
        ({"target": "abc"}, "target"), ({"scope": "plan", "target": "x" * 11}, "target"),
        ({"scope": "unit", "target": "nosuchunit"}, "target"),
        ({"reason": " "}, "reason"), ({"reason": "x" * 301}, "reason"),
        ({"measure": ""}, "measure"), ({"measure": "x" * 301}, "measure"),
        ({"expires_on": TODAY - DAY}, "expires_on"),
        ({"expires_on": TODAY + 93 * DAY}, "expires_on"),
    ],
)  # fmt: skip
def test_an_asking_out_of_bounds_is_refused_by_its_field(waivable, changes, field):
    with refuses(WrongValue, field):
        ask(waivable, **changes)


@pytest.mark.parametrize("days", [0, 92])
def test_it_may_end_today_or_in_three_months(waivable, days):
    with writes(ASKED, Waiver):
        ask(waivable, expires_on=TODAY + days * DAY)


def test_rows_and_units_of_another_ground_are_not_waived_here(waivable, other):
    with opened():
        LimitRow.objects.filter(edition__site=other.site).update(waivable_by="manager")
    with refuses(WrongValue, "row"):
        ask(waivable, row=other.edition.rows.get(code="F-07"))
    with refuses(WrongValue, "target"):
        ask(waivable, scope="unit", target=other.unit.public_id)


# --- granting


def test_it_is_granted_by_the_role_that_the_row_names(waivable):
    waiver = ask(waivable)
    with writes(GRANTED, alters=[Waiver]):
        waiver = grant(waivable, waiver)
    assert (waiver.state, waiver.granted_by) == ("granted", waivable.inspector)


@pytest.mark.parametrize("role", refused_roles(GRANTED))
def test_other_roles_may_not_grant(waivable, role):
    waiver = ask(waivable)
    with refuses_role():
        grant(waivable, waiver, by=actor(waivable, role))


@pytest.mark.parametrize("role", [Role.MANAGER, Role.SAFETY])
def test_nor_may_a_granting_role_that_the_row_does_not_name(waivable, role):
    waiver = ask(waivable)
    with refuses(WrongState):
        grant(waivable, waiver, by=actor(waivable, role))


def test_whoever_asked_does_not_grant(waivable):
    waiver = ask(waivable, by=waivable.inspector)
    with refuses_own_work():
        grant(waivable, waiver)
    grant(waivable, waiver, by=waivable.inspector_two)


def test_the_database_itself_refuses_the_asker_s_grant(waivable):
    waiver = ask(waivable)
    waiver.granted_by = waivable.instructor
    with opened(), pytest.raises(Exception, match="waiver_granted_by_others"):
        waiver.save()


def test_a_safety_row_takes_two_people_neither_of_whom_asked(waivable):
    waiver = ask(waivable, row=waivable.safety_row, by=waivable.manager)
    first = grant(waivable, waiver, by=waivable.safety)
    assert first.state == "asked"  # half of it
    for same in (waivable.safety, waivable.manager):
        with refuses_own_work():
            grant(waivable, waiver, by=same)
    with writes(GRANTED, alters=[Waiver]):
        second = grant(waivable, waiver, by=waivable.manager_two)
    assert (second.state, second.second_by) == ("granted", waivable.manager_two)


def test_half_of_two_signatures_lifts_nothing(waivable):
    """Six learners to one crew instructor; five are allowed."""
    content = builders.content(waivable, 1, crew=builders.crew(waivable, 6))
    waiver = ask(waivable, row=waivable.safety_row)
    grant(waivable, waiver, by=waivable.safety)
    assert refused(waivable, content) == {"P-01"}
    grant(waivable, waiver, by=waivable.manager)
    builders.submitted(waivable, content)


def test_a_waiver_is_granted_once(waivable):
    waiver = grant(waivable, ask(waivable))
    with refuses(WrongState):
        grant(waivable, waiver, by=waivable.inspector_two)


def test_nobody_of_another_ground_grants_or_ends_it(waivable, other):
    waiver = ask(waivable)
    for act, by in ((waiving.grant_waiver, other.inspector), (waiving.end_waiver, other.safety)):
        why = {} if act is waiving.grant_waiver else {"reason": "no"}
        with refuses(NotHere):
            act(other.site, waiver, by=by, at=NOW, **why)
        with refuses_role():
            act(waivable.site, waiver, by=by, at=NOW, **why)


# --- refusing and ending


@pytest.mark.parametrize(("granted", "state"), [(False, "refused"), (True, "ended")])
def test_a_waiver_refused_or_ended_lifts_nothing(waivable, granted, state):
    waiver = ask(waivable)
    if granted:
        grant(waivable, waiver)
    with writes(ENDED, alters=[Waiver]):
        waiver = end(waivable, waiver)
    assert waiver.state == state
    assert refused(waivable) == {"F-07"}
    with refuses(WrongState):
        grant(waivable, waiver, by=waivable.inspector_two)
    with refuses(WrongState):
        end(waivable, waiver)


@pytest.mark.parametrize("role", refused_roles(ENDED))
def test_other_roles_may_not_end_it(waivable, role):
    waiver = ask(waivable)
    with refuses_role():
        end(waivable, waiver, by=actor(waivable, role))


@pytest.mark.parametrize("reason", ["", "x" * 301])
def test_an_end_has_a_reason(waivable, reason):
    waiver = ask(waivable)
    with refuses(WrongValue, "reason"):
        end(waivable, waiver, reason=reason)


# --- what it lifts


@pytest.fixture
def unit_two(waivable):
    return builders.commission(waivable, "Unit 2")


@pytest.mark.parametrize("scope", ["ground", "unit", "plan"])
def test_within_its_scope_it_lifts_the_row(waivable, scope):
    plan = builders.drafted(waivable, too_much(waivable))
    target = {"ground": "", "unit": waivable.unit.public_id, "plan": plan.public_id}[scope]
    grant(waivable, ask(waivable, scope=scope, target=target))
    builders.plans.submit_plan(
        plan, seen_hash=builders.hash_of(plan), by=waivable.instructor, at=NOW
    )


def test_of_another_plan_or_unit_it_lifts_nothing(waivable, unit_two):
    another = builders.drafted(waivable)
    for scope, target in (("plan", another.public_id), ("unit", unit_two.public_id)):
        grant(waivable, ask(waivable, scope=scope, target=target))
    assert refused(waivable) == {"F-07"}


def test_it_lifts_that_row_alone(waivable):
    """Sixteen boards: 400 kg dry against the chart's 200 kg, and over the energy as well."""
    grant(waivable, ask(waivable))
    assert refused(waivable, builders.content(waivable, 16)) == {"Q-1"}


def test_the_row_of_a_later_edition_is_another_row(waivable):
    grant(waivable, ask(waivable, expires_on=TODAY + 30 * DAY))
    rows = [{**row, "waivable_by": "inspector"} if row["code"] == "F-07" else row
            for row in builders.rows()]  # fmt: skip
    builders.adopt(waivable, "T-3", rows, at=NOW, day=TOMORROW, caps=("200", "200"))
    assert refused(waivable) == {"F-07"}


def test_the_chart_and_the_handover_sheet_are_never_waived(ground):
    """Not even where the standard holds a row of the same code that may be, and was."""
    spare = {"fact": "water.on_site", "comparison": ">=", "limit": "0", "title": "Spare",
             "severity": "block", "basis": "local", "clause": "9", "waivable_by": "manager"}  # fmt: skip
    codes = ("Q-1", "Q-2", "Q-3", "H-1")
    rows = [*builders.rows(F_07="99999", P_01="99"), *({**spare, "code": code} for code in codes)]
    edition = builders.adopt(ground, "T-2", rows, at=NOW, day=TODAY)
    builders.accepted_lot(ground)
    for code in codes:
        ground.row = edition.rows.get(code=code)
        waiver = ask(ground)
        waiving.grant_waiver(ground.site, waiver, by=ground.manager, at=NOW)
    builders.approved(ground, builders.content(ground, 1, starts_at=START - dt.timedelta(hours=1)))
    crowd = (*builders.crew(ground, 7), builders.Place(ground.manager, Duty.CREW))
    plan = builders.drafted(ground, builders.content(ground, 4, crew=crowd))
    assert refused(ground, plan=plan) == {"Q-1", "Q-3", "H-1"}  # 100 > 75 kg, 15 < 30 min, 12 > 10


# --- from submission to ignition


def light(ground, plan, at):
    return burns.start_burn(
        plan, checks={str(item): True for item in PRE_BURN}, present=builders.everyone(plan),
        ignition_method="gas burner", weather="dry", by=ground.instructor, ignited_at=at, at=at,
    )  # fmt: skip


def test_it_carries_a_plan_to_the_fire_and_every_finding_names_it(waivable):
    waiver = grant(waivable, ask(waivable))
    plan = builders.issued(waivable, too_much(waivable))
    light(waivable, plan, START)
    kept = Finding.objects.filter(version__plan=plan, code="F-07").order_by("id")
    assert [(row.stage, row.verdict, row.waiver) for row in kept] == [
        (stage, "over", waiver.public_id) for stage in ("submit", "approve", "ignite")
    ]
    assert set(Finding.objects.exclude(code="F-07").values_list("waiver", flat=True)) == {""}


def test_expired_before_the_day_of_the_burn_it_lifts_nothing(waivable):
    grant(waivable, ask(waivable, expires_on=TODAY))
    assert refused(waivable) == {"F-07"}


def test_expired_when_the_fire_is_to_be_lit_the_burn_is_refused(waivable):
    """Planned for 21:00 on its last day; at 00:30 on the ground it has run out."""
    grant(waivable, ask(waivable))
    plan = builders.issued(waivable, too_much(waivable))
    with refuses(LimitExceeded) as caught:
        light(waivable, plan, START + dt.timedelta(hours=3, minutes=30))
    assert {each.rule.code for each in caught.value.findings} == {"F-07"}
    light(waivable, plan, START + dt.timedelta(hours=2, minutes=59))
    assert Burn.objects.count() == KnownAtIgnition.objects.count() == 1


def test_ended_after_approval_the_burn_is_refused(waivable):
    waiver = grant(waivable, ask(waivable))
    plan = builders.issued(waivable, too_much(waivable))
    end(waivable, waiver)
    with refuses(LimitExceeded):
        light(waivable, plan, START)


def test_a_waiver_granted_after_the_plan_was_refused_lets_it_pass(waivable):
    plan = builders.drafted(waivable, too_much(waivable))
    assert refused(waivable, plan=plan) == {"F-07"}
    grant(waivable, ask(waivable))
    builders.approve(waivable, plan)


def test_what_cannot_be_told_is_lifted_as_well(waivable):
    """A charge whose lot nobody measured has no known energy; every other rule still refuses."""
    position = waivable.unit.positions.get(name="Ceiling")
    line = Line(position, waivable.board, Decimal(1), builders.deliver(waivable))
    grant(waivable, ask(waivable))
    codes = refused(waivable, builders.content(waivable, charge=(line,)))
    assert codes == {"Q-1", "F-03", "F-15"}
