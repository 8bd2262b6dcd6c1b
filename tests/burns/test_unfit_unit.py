"""No burn starts in a unit that is unfit, overdue, hot, over its count or restricted, whichever door
it comes by: the page, the service, the import of plans, the command that judges a file."""

from __future__ import annotations

import datetime as dt
import json
from html import unescape

import pytest
from django.core.management import call_command
from django.test import Client
from django.utils import timezone

from facility.refusals import LimitExceeded
from records.burns import services as burns
from records.burns.models import Burn
from records.inspections import services as inspections
from records.inspections.checklists import PRE_BURN
from records.inspections.services import DefectFound
from tests import builders
from tests.asking import refuses, whole_database
from tests.plans.over_cap import as_file

MINUTE, DAY = dt.timedelta(minutes=1), dt.timedelta(days=1)


def stricter(ground, start, **limits):
    """An edition that is in force on the day of the burn."""
    day = start.astimezone(ground.site.zone).date()
    builders.adopt(ground, "T-9", builders.rows(**limits), at=timezone.now() - 3 * DAY, day=day)


def unfit(ground, start, happened):
    inspections.stop_unit(ground.unit, place="door", description="hinge torn", by=ground.safety)


def overdue(ground, start, happened):
    """It was inspected three days ago, and is asked to have been so within one."""
    stricter(ground, start, U_04="1")


def over_count(ground, start, happened):
    """This burn is the first since the inspection, and none is allowed."""
    stricter(ground, start, U_13="0")


def hot(ground, start, happened):
    """The burn before ends ten minutes earlier; the chart wants thirty."""
    before = builders.content(ground, 1, starts_at=start - 40 * MINUTE, ends_at=start - 10 * MINUTE)
    tell = builders.closed if happened else builders.approved
    tell(ground, before, at=timezone.now() - 2 * 60 * MINUTE)


def restricted(**forbids):
    def reason(ground, start, happened):
        found = DefectFound("restricts", "roof", "baffle bent", "roof", **forbids)
        now = timezone.now()
        builders.inspect(ground, ground.unit, at=now, outcome="defect", defect=found)

    return reason


REASONS = [
    pytest.param(unfit, "U-03", id="out of service"),
    pytest.param(overdue, "U-04", id="inspection overdue"),
    pytest.param(over_count, "U-13", id="over its count of burns"),
    pytest.param(hot, "Q-3", id="not cooled down"),
    pytest.param(restricted(no_entry=True), "D-1", id="nobody inside"),
    pytest.param(restricted(most_boards=1), "D-2", id="one board allowed"),
    pytest.param(restricted(most_dry_kg=30), "D-3", id="30 kg allowed"),
]


@pytest.fixture
def now(db):
    return timezone.now().replace(second=0, microsecond=0)


@pytest.fixture
def living(now):
    """A ground of three days ago, with boards, that lives by the machine's clock."""
    ground = builders.found_ground(at=now - 3 * DAY)
    builders.accepted_lot(ground, 100, at=now - 3 * DAY)
    return ground


def issued(ground, now):
    """A plan of two boards for now, with its charge out of the store."""
    return builders.issued(
        ground, builders.content(ground, 2, starts_at=now), at=now - 120 * MINUTE
    )


def by_service(ground, plan, now):
    return burns.start_burn(
        plan, checks=dict.fromkeys(map(str, PRE_BURN), True), present=builders.everyone(plan),
        ignition_method="gas burner", weather="dry", by=ground.instructor, ignited_at=now,
    )  # fmt: skip


def by_page(ground, plan, now):
    client = Client()
    client.force_login(ground.instructor)
    typed = timezone.localtime(now, ground.site.zone).strftime("%Y-%m-%dT%H:%M")
    given = {
        **{f"item_{index}": "on" for index, _item in enumerate(PRE_BURN)}, "ignited_at": typed,
        "ignition_method": "gas burner", "weather": "dry", "once": "k",
        "present": builders.everyone(plan),
    }  # fmt: skip
    return client.post(f"/burns/start/{plan.public_id}/", given)


def test_the_burn_that_every_reason_stops_starts_by_service(living, now):
    assert by_service(living, issued(living, now), now)


def test_the_burn_that_every_reason_stops_starts_by_page(living, now):
    assert by_page(living, issued(living, now), now).status_code == 302
    assert Burn.objects.count() == 1


@pytest.mark.parametrize(("reason", "code"), REASONS)
def test_the_service_does_not_light_it(living, now, reason, code):
    plan = issued(living, now)
    reason(living, now, True)
    with refuses(LimitExceeded) as caught:
        by_service(living, plan, now)
    assert code in {each.rule.code for each in caught.value.findings}


@pytest.mark.parametrize(("reason", "code"), REASONS)
def test_the_page_does_not_light_it(living, now, reason, code):
    plan = issued(living, now)
    reason(living, now, True)
    before = whole_database()
    answer = by_page(living, plan, now)
    assert answer.status_code == 422
    shown = {each.rule.code for each in answer.context["form"].findings}
    assert code in shown
    assert answer.context["form"].findings[0].rule.clause in unescape(answer.text)
    after = whole_database()
    assert {name: rows for name, rows in after.items() if name != "Tries"} == {
        name: rows for name, rows in before.items() if name != "Tries"
    }


@pytest.mark.parametrize("command", ["import_plans", "judge"])
@pytest.mark.parametrize(("reason", "code"), REASONS)
def test_no_command_lets_a_plan_of_it_in(living, now, tmp_path, capsys, reason, code, command):
    start = dt.datetime.combine(
        (now + 2 * DAY).astimezone(living.site.zone).date(), dt.time(12), living.site.zone
    )
    reason(living, start, False)
    path = tmp_path / "plans.json"
    path.write_text(json.dumps([as_file(builders.content(living, 2, starts_at=start))]))
    given = {
        "import_plans": [str(path), "--by", living.instructor.sign_in],
        "judge": ["--plans", str(path)],
    }[command]
    before = whole_database()
    with pytest.raises(SystemExit) as ended:
        call_command(command, *given)
    assert ended.value.code == 1
    said = capsys.readouterr()
    printed = said.err if command == "import_plans" else said.out
    assert f"{code}: " in printed
    assert whole_database() == before
