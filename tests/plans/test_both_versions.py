"""Two people change one plan, or correct one burn, at once: the second sees both versions."""

from __future__ import annotations

import re

import pytest

from records.burns import services as burns
from records.plans.models import PlanVersion
from tests import builders
from tests.forms_table import FORMS, plan_data
from tests.pages import Things


@pytest.fixture
def things(db) -> Things:
    return Things()


def table(page: str) -> dict[str, tuple[str, str, bool]]:
    """Label, what was typed, what is stored, and whether the row is marked."""
    body = page.partition('<section class="both"')[2].partition("</section>")[0]
    found = re.findall(
        r'<tr( class="differs")?><th scope="row">(.*?)(?: <span.*?)?</th>'
        r"<td[^>]*>(.*?)</td><td[^>]*>(.*?)</td></tr>", body, re.S,
    )  # fmt: skip
    return {label: (typed, stored, bool(marked)) for marked, label, typed, stored in found}


def collide(things, signed_in, **second):
    """The manager saves first; the instructor, who opened version 1 as well, sends after."""
    plan = things.draft
    address = things.address("plans:edit")
    first, later = signed_in(things.ground.manager), signed_in(things.ground.instructor)
    assert first.get(address).status_code == later.get(address).status_code == 200
    base = plan_data(things) | {"seen_version": "1"}
    theirs = first.post(address, base | {"objective": "theirs", "quantity_0": "2", "once": "a"})
    assert theirs.status_code == 302
    mine = base | {"objective": "mine", "learners": [things.ground.learners[0].public_id]} | second
    return plan, later, address, mine, later.post(address, mine | {"once": "b"})


def test_the_second_is_told_who_saved_and_sees_both_versions_side_by_side(things, signed_in):
    plan, _later, _address, _mine, answer = collide(things, signed_in)
    assert answer.status_code == 409
    assert "The manager saved version 2 of this plan while you were working on it." in answer.text
    assert "The manager saved theirs on" in answer.text
    rows = table(answer.text)
    assert rows["Objective"] == ("mine", "theirs", True)
    assert rows["Charge"][2]
    assert rows["Charge"][0].startswith("Ceiling: 3 Test board")
    assert rows["Charge"][1].startswith("Ceiling: 2 Test board")
    assert rows["Learner"][0] == "Learner 1"
    assert rows["Learner"][1] == "Learner 1\nLearner 2\nLearner 3"
    assert not rows["Unit"][2]
    assert not rows["Stop when"][2]
    assert PlanVersion.objects.filter(plan=plan).count() == 2


def test_what_was_typed_stays_and_is_saved_over_the_other_only_when_sent_again(things, signed_in):
    plan, later, address, mine, answer = collide(things, signed_in)
    seen = re.search(r'name="seen_version" value="(\d+)"', answer.text)
    assert seen is not None
    again = later.post(address, mine | {"seen_version": seen[1], "once": "c"})
    assert again.status_code == 302
    said = list(PlanVersion.objects.filter(plan=plan).values_list("number", "objective"))
    assert said == [(1, "Show the growth of a fire"), (2, "theirs"), (3, "mine")]


def test_a_third_version_meanwhile_is_shown_in_turn(things, signed_in):
    _plan, later, address, mine, _answer = collide(things, signed_in)
    first = signed_in(things.ground.manager)
    third = plan_data(things) | {"seen_version": "2", "objective": "third", "once": "d"}
    assert first.post(address, third).status_code == 302
    answer = later.post(address, mine | {"seen_version": "2", "once": "e"})
    assert answer.status_code == 409
    assert table(answer.text)["Objective"] == ("mine", "third", True)


def test_whoever_decides_on_a_plan_changed_meanwhile_is_led_to_read_it_anew(things, signed_in):
    """A signature does not slide from one content to another, so nothing is offered to sign."""
    address = things.address("plans:approve")
    answer = signed_in(things.ground.manager).post(
        address, FORMS["approve"].good(things) | {"shown_hash": "0" * 64}
    )
    assert answer.status_code == 409
    assert "Read the newest version and decide" in answer.text
    assert 'name="password"' not in answer.text


def test_two_corrections_of_one_burn_are_shown_side_by_side(things, signed_in):
    burn, lot = things.closed, things.lot.public_id
    good = FORMS["correct"].good(things)
    burns.correct_burn(
        burn, seen_report=1, ended_at=burn.current.ended_at, used=builders.used_all(burn),
        note="theirs", why="a note was missing", by=things.ground.manager,
    )  # fmt: skip
    client = signed_in(things.ground.instructor)
    answer = client.post(things.address("burns:correct"), good | {"once": "b"})
    assert answer.status_code == 409
    rows = table(answer.text)
    assert rows["Note"] == ("–", "theirs", True)
    assert rows["Reason"] == ("counted again", "a note was missing", True)
    assert [said.rpartition(": ")[2] for said in rows["Burned"][:2]] == ["2", "3"]
    again = good | {"seen_report": "2", f"used_{lot}": "2", "once": "c"}
    assert client.post(things.address("burns:correct"), again).status_code == 302
