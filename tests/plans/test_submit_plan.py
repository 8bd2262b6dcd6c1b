"""Handing a plan in: every blocking limit is asked here, at the cap and just over it."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal

import pytest
from django.template.loader import render_to_string

from facility.guarded import opened
from facility.kinds import Duty
from facility.refusals import AlreadyDone, LimitExceeded, StaleVersion, WrongState
from facility.rulebook.models import Edition
from records.inspections import services as inspections
from records.plans import services as plans
from records.plans.content import Line, Place
from records.plans.models import Finding, Plan, PlanState
from records.plans.selectors import plan_here
from tests import builders
from tests.asking import actor, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW, hash_of

ACT = "plans.plan_submitted"


def submit(plan, **changes):
    given = {"seen_hash": hash_of(plan), "by": changes.pop("by"), "at": NOW}
    return plans.submit_plan(plan, **{**given, **changes})


def findings(caught):
    return {each.rule.code: each for each in caught.value.findings}


def test_a_plan_within_every_limit_is_handed_in_with_its_findings(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    with writes(ACT, Finding, alters=[Plan]):
        judgement = submit(plan, by=ground.instructor)
    assert plan_here(ground.site, plan.public_id).state == PlanState.SUBMITTED
    kept = Finding.objects.filter(version__plan=plan, stage="submit")
    assert kept.count() == len(judgement.findings) == len(builders.ROWS) + 4
    assert not kept.filter(verdict="over").exists()


@pytest.mark.parametrize("role", refused_roles(ACT))
def test_other_roles_may_not_submit(ground, role):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    with refuses_role():
        submit(plan, by=actor(ground, role))


@pytest.mark.parametrize(("boards", "margin"), [(5, -25.0), (6, -50.0), (40, -900.0)])
def test_over_the_cap_is_refused_with_what_is_over(ground, boards, margin):
    """A board holds 25 kg dry; the first burn of the day has a cap of 100 kg."""
    builders.accepted_lot(ground)
    plan = builders.drafted(ground, builders.content(ground, boards))
    with refuses(LimitExceeded) as caught:
        submit(plan, by=ground.instructor)
    over = findings(caught)["Q-1"]
    assert (over.known.value, over.rule.limit, over.margin) == (boards * 25.0, 100.0, margin)
    assert over.rule.clause == "T-1, burn-sequence chart of Unit 1"


def test_exactly_at_the_cap_passes(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground, builders.content(ground, 4))  # 100 kg
    with writes(ACT, Finding, alters=[Plan]):
        submit(plan, by=ground.instructor)


# Three boards hold 75 kg dry and, at 8 %, 75 * 17.3 = 1297.5 MJ. Crew: one crew instructor,
# three learners, one safety officer. The plan starts 8 days after the structural inspection.
AT_AND_OVER = [
    ("F-07", {"F_07": "1297.5"}, {"F_07": "1297.4"}, -0.1),
    ("F-15", {"F_15": "8"}, {"F_15": "7.999"}, -0.001),
    ("P-01", {"P_01": "3"}, {"P_01": "2"}, -1.0),
    ("P-07", {"P_07": "1"}, {"P_07": "2"}, -1.0),
    ("P-06", {"P_06": "1"}, {"P_06": "2"}, -1.0),
    ("U-04", {"U_04": "8"}, {"U_04": "7"}, -1.0),
    ("U-13", {"U_13": "1"}, {"U_13": "0"}, -1.0),
]


@pytest.mark.parametrize(("code", "at_limit", "over", "margin"), AT_AND_OVER)
def test_every_limit_passes_at_its_value_and_refuses_just_beyond(
    ground, code, at_limit, over, margin
):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    builders.adopt(ground, "T-2", builders.rows(**over), at=NOW, day=NOW.date())
    with refuses(LimitExceeded) as caught:
        submit(plan, by=ground.instructor)
    assert list(findings(caught)) == [code]
    assert findings(caught)[code].margin == pytest.approx(margin)
    assert findings(caught)[code].rule.clause == "T-2, test standard"
    day = NOW.date() + dt.timedelta(days=1)
    builders.adopt(ground, "T-3", builders.rows(**at_limit), at=NOW, day=day)
    with writes(ACT, Finding, alters=[Plan]):
        submit(plan, by=ground.instructor)


def without(duty):
    return lambda ground, content: {"crew": tuple(p for p in content.crew if p.duty != duty)}


def with_place(who, duty):
    return lambda ground, content: {"crew": (*content.crew, Place(ground.cast[who], duty))}


def with_liquid(ground, content):
    builders.accepted_lot(ground, product=ground.liquid)
    position = content.charge[0].position
    return {"charge": (*content.charge, Line(position, ground.liquid, Decimal("0.01")))}


def with_a_crowd(ground, content):
    learners = [Place(each, Duty.LEARNER) for each in ground.learners[5:]]
    return {"crew": (*builders.crew(ground, 5), *learners, Place(ground.manager, Duty.CREW))}


@pytest.mark.parametrize(
    ("change", "codes"),
    [
        (without(Duty.IN_CHARGE), {"P-06"}),
        (with_place("manager", Duty.IN_CHARGE), {"P-06"}),
        (without(Duty.SAFETY), {"P-07"}),
        (with_place("safety", Duty.PUMP), {"P-08"}),
        (with_place("stores", Duty.CREW), {"C-03"}),
        (without(Duty.CREW), {"P-01"}),
        (with_liquid, {"F-05"}),
        (with_a_crowd, {"H-1"}),  # 4 + 1 instructors and 7 learners: 12 people, 10 allowed
        (lambda *_: {"charge": ()}, {"Q-1", "F-03", "F-07", "F-15"}),
        (lambda *_: {"crew": ()}, {"P-06", "P-07", "C-03"}),
    ],
)
def test_a_plan_that_breaks_a_rule_is_refused_by_that_rule(ground, change, codes):
    builders.accepted_lot(ground)
    content = builders.content(ground)
    plan = builders.drafted(ground, replace(content, **change(ground, content)))
    with refuses(LimitExceeded) as caught:
        submit(plan, by=ground.instructor)
    assert set(findings(caught)) == codes


def test_without_an_accepted_lot_nobody_can_tell_so_it_is_refused(ground):
    builders.read(ground, builders.deliver(ground))
    plan = builders.drafted(ground)
    with refuses(LimitExceeded) as caught:
        submit(plan, by=ground.instructor)
    assert findings(caught)["F-03"].verdict == "over"
    assert {findings(caught)[code].verdict for code in ("Q-1", "F-07", "F-15")} == {"cannot_tell"}


def test_a_unit_out_of_service_or_never_inspected_is_refused(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    inspections.stop_unit(
        ground.unit, place="door", description="hinge", by=ground.safety, at=NOW
    )  # fmt: skip
    with refuses(LimitExceeded) as caught:
        submit(plan, by=ground.instructor)
    assert set(findings(caught)) == {"U-03"}
    bare = builders.commission(ground, "Unit 2", inspected=False)
    line = replace(
        builders.content(ground).charge[0], position=bare.positions.get(name="Ceiling")
    )  # fmt: skip
    second = builders.drafted(ground, builders.content(ground, unit=bare, charge=(line,)))
    with refuses(LimitExceeded) as caught:
        submit(second, by=ground.instructor)
    assert set(findings(caught)) == {"U-04", "U-13", "Q-1", "Q-2", "Q-3"}  # and it has no chart


def test_on_a_day_without_a_standard_nothing_is_handed_in(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    with opened():
        Edition.objects.filter(site=ground.site).update(in_force_to=NOW.date())
    with refuses(WrongState):
        submit(plan, by=ground.instructor)


def test_only_what_was_seen_is_handed_in(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    seen = hash_of(plan)
    plans.revise_plan(
        plan, builders.content(ground, 2), seen_version=1, by=ground.manager, at=NOW
    )  # fmt: skip
    for wrong in (seen, "", "0" * 64):
        with refuses(StaleVersion):
            submit(plan, seen_hash=wrong, by=ground.instructor)


def test_the_same_form_sent_twice_is_handed_in_once(ground):
    builders.accepted_lot(ground)
    plan = builders.drafted(ground)
    submit(plan, by=ground.instructor, once="form-1")
    with refuses(AlreadyDone):
        submit(plan, by=ground.instructor, once="form-1")


def test_nobody_is_told_that_all_is_met_where_a_caution_is_not(ground):
    """Boards of 500 kg/m3, and a row that cautions above 400."""
    dense = {
        "code": "E-4", "title": "Density", "fact": "product.density", "comparison": "<=",
        "limit": "400", "severity": "caution", "basis": "local", "clause": "9",
    }  # fmt: skip
    builders.accepted_lot(ground)
    met = submit(builders.drafted(ground), by=ground.instructor)
    builders.adopt(ground, "T-3", [*builders.rows(), dense], at=NOW, day=NOW.date())
    cautioned = submit(builders.drafted(ground), by=ground.instructor)
    says_all = "Every limit of the standard is met."
    assert not met.let_through
    assert says_all in render_to_string("plans/answer.html", {"judgement": met})
    assert {each.rule.code for each in cautioned.let_through} == {"E-4"}
    said = render_to_string("plans/answer.html", {"judgement": cautioned})
    assert says_all not in said
    assert "Nothing forbids this burn" in said
    assert "Density" in said
