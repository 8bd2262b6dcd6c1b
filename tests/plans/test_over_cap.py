"""Each plan that goes past the standard is refused by its row, whichever entrance it comes in by."""

from __future__ import annotations

import json
from html import unescape

import pytest
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from facility.refusals import LimitExceeded
from records.audit.models import Entry
from records.plans import services as plans
from records.plans.models import Finding, Plan, PlanState
from records.plans.selectors import plan_here
from tests import builders
from tests.asking import acts_after, refuses, whole_database
from tests.builders import NOW
from tests.pages import rows
from tests.plans.over_cap import CASES, as_file, boards, content, ready

every_case = pytest.mark.parametrize(
    ("change", "code"), [pytest.param(change, code, id=what) for what, change, code in CASES]
)


def submit(ground, plan, at=NOW):
    plans.submit_plan(plan, seen_hash=builders.hash_of(plan), by=ground.instructor, at=at)


@pytest.fixture
def today(db):
    """A ground that lives now, by the machine's clock, which the pages read."""
    now = timezone.now().replace(second=0, microsecond=0)
    ground = builders.found_ground(at=now)
    ready(ground, now)
    return ground, now


def test_the_plan_that_every_case_starts_from_passes(ground):
    ready(ground, NOW)
    submit(ground, builders.drafted(ground, content(ground, NOW)))


@every_case
def test_the_service_refuses_it_by_that_row(ground, change, code):
    ready(ground, NOW)
    plan = builders.drafted(ground, change(ground, content(ground, NOW), NOW))
    with refuses(LimitExceeded) as caught:
        submit(ground, plan)
    assert code in {each.rule.code for each in caught.value.findings}


def post(ground, plan):
    client = Client()
    client.force_login(ground.instructor)
    given = {"shown_hash": builders.hash_of(plan), "once": "k"}
    return client.post(f"/plans/{plan.public_id}/submit/", given)


@every_case
def test_the_form_refuses_it_in_the_words_of_the_service_and_writes_nothing(today, change, code):
    ground, now = today
    plan = builders.drafted(ground, change(ground, content(ground, now), now), at=now)
    with refuses(LimitExceeded) as caught:
        submit(ground, plan, at=now)
    assert code in {each.rule.code for each in caught.value.findings}
    before = rows()
    response = post(ground, plan)
    assert response.status_code == 422
    assert caught.value.sentence in unescape(response.text)
    assert rows() == before


def test_the_form_shows_the_code_of_every_row_that_refuses(today):
    """Five boards: Q-1 for the mass, J-07 for the energy."""
    ground, now = today
    change = boards(5)
    plan = builders.drafted(ground, change(ground, content(ground, now), now), at=now)
    said = post(ground, plan).text
    assert "Q-1" in said
    assert "J-07" in said


def test_the_form_hands_in_the_plan_that_passes(today):
    ground, now = today
    plan = builders.drafted(ground, content(ground, now), at=now)
    assert post(ground, plan).status_code == 302
    assert plan_here(ground.site, plan.public_id).state == PlanState.SUBMITTED
    assert Finding.objects.filter(version__plan=plan, stage="submit").exists()


@pytest.fixture
def plan_file(tmp_path):
    def write(*plans):
        path = tmp_path / "plans.json"
        path.write_text(json.dumps([as_file(plan) for plan in plans]))
        return str(path)

    return write


def exit_of(command, *given):
    """The exit status of a command as the shell would see it."""
    try:
        call_command(command, *given)
    except SystemExit as ended:
        return ended.code
    return 0


def codes(printed):
    return {line.strip().partition(": ")[0] for line in printed.splitlines()}


@every_case
def test_both_commands_refuse_it_by_that_row_and_write_nothing(
    today, plan_file, capsys, change, code
):
    ground, now = today
    path = plan_file(change(ground, content(ground, now), now))
    before, count = whole_database(), Entry.objects.count()
    assert exit_of("import_plans", path, "--by", ground.instructor.sign_in) == 1
    assert code in codes(capsys.readouterr().err)
    assert exit_of("judge", "--plans", path) == 1
    assert code in codes(capsys.readouterr().out)
    assert whole_database() == before
    assert acts_after(count) == []


def test_both_commands_let_the_plan_pass_and_the_import_hands_it_in(today, plan_file, capsys):
    ground, now = today
    path = plan_file(content(ground, now))
    assert exit_of("judge", "--plans", path) == 0
    assert "could pass" in capsys.readouterr().out
    assert Plan.objects.count() == 0
    assert exit_of("import_plans", path, "--by", ground.instructor.sign_in) == 0
    assert Plan.objects.get().state == PlanState.SUBMITTED
    assert Finding.objects.filter(stage="submit").exists()


def test_there_are_twenty_cases_at_least_each_of_its_own():
    assert len({what for what, _change, _code in CASES}) == len(CASES) >= 20
