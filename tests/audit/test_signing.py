"""Signatures: the password again, what was shown, an entry that binds both, and a receipt."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest
from django.utils import timezone

from facility.people.models import Person
from facility.refusals import TooSoon, WrongValue
from records.audit.heads import head_now
from records.audit.models import Entry
from records.audit.signing import re_authenticate
from records.ground import services as ground_services
from records.inspections import services as inspections
from records.inspections.content import content_hash
from tests import builders
from tests.asking import acts_after
from tests.builders import NOW, PASSWORD
from tests.forms_table import FORMS
from tests.pages import Things

ACT = "plans.plan_approved"
SECOND = dt.timedelta(seconds=1)


def prove(ground, password=PASSWORD, at=NOW):
    re_authenticate(ground.manager, password, act=ACT, site=ground.site, on=ground.unit, at=at)


def test_the_right_password_leaves_no_entry(ground):
    count = Entry.objects.count()
    prove(ground)
    assert acts_after(count) == []


def test_a_wrong_password_is_logged_as_a_refused_attempt_of_the_person_at_the_thing(ground):
    count = Entry.objects.count()
    with pytest.raises(WrongValue) as caught:
        prove(ground, "not my password")
    assert caught.value.field == "password"
    entry = Entry.objects.get(seq=count)
    assert (entry.act, entry.actor) == ("audit.refused", ground.manager.public_id)
    assert (entry.obj, entry.after) == (
        ground.unit.named_in_log,
        {"act": ACT, "kind": "wrong password"},
    )
    assert "not my password" not in entry.body


def test_guessing_a_signature_slows_down_and_the_wait_is_logged_once(ground):
    count = Entry.objects.count()
    for _try in range(3):
        with pytest.raises(WrongValue):
            prove(ground, "wrong")
    for _try in range(3):
        with pytest.raises(TooSoon):
            prove(ground)
    kinds = [each.after["kind"] for each in Entry.objects.filter(seq__gte=count).order_by("seq")]
    assert kinds == ["wrong password"] * 3 + ["too many wrong passwords"]
    prove(ground, at=NOW + SECOND)


def test_one_persons_wrong_signatures_do_not_slow_another(ground):
    for _try in range(3):
        with pytest.raises(WrongValue):
            prove(ground, "wrong")
    re_authenticate(ground.manager_two, PASSWORD, act=ACT, site=ground.site, at=NOW)


@pytest.fixture
def things(db) -> Things:
    return Things()


SIGNED = [name for name, form in FORMS.items() if {"password", "shown_hash"} <= set(form.fields)]


def send(things, name, signed_in, **spoiled):
    form = FORMS[name]
    client = signed_in(things.ground.cast[form.who])
    data = form.good(things) | {"once": "k"} | spoiled
    return client, client.post(things.address(form.address), data)


@pytest.mark.parametrize("name", SIGNED)
def test_signing_leads_to_a_receipt_that_says_who_what_when_and_the_head(things, name, signed_in):
    form = FORMS[name]
    shown = form.good(things)["shown_hash"]
    client, answer = send(things, name, signed_in)
    mine = Entry.objects.filter(act=form.act, actor=things.ground.cast[form.who].public_id)
    entry = mine.latest("seq")  # the ground's first lot was accepted by the same hand
    assert answer["Location"] == f"/audit/receipts/{entry.entry_id.hex}/"
    page = client.get(answer["Location"]).text
    at = timezone.localtime(entry.at, things.ground.site.zone)
    said = [
        things.ground.cast[form.who].name, form.good(things)["meaning"], shown,
        f"{at:%H:%M:%S}", f"{at:%z}", f"<dd>{entry.seq}</dd>", head_now().root_text,
    ]  # fmt: skip
    assert [each for each in said if each not in page] == []
    assert (entry.after["hash"], entry.after["meaning"]) == (shown, form.good(things)["meaning"])


@pytest.mark.parametrize("name", SIGNED)
def test_a_form_wrong_otherwise_does_not_try_the_password(things, name, signed_in):
    """So that nobody's count grows by a mistyped reason."""
    send(things, name, signed_in, meaning="")
    count = Entry.objects.count()
    for _try in range(4):
        _client, answer = send(things, name, signed_in, meaning="no such meaning", password="wrong")
        assert answer.status_code == 400
    assert acts_after(count) == []


@pytest.mark.parametrize("name", SIGNED)
def test_too_many_wrong_signatures_are_answered_with_a_wait(things, name, signed_in):
    statuses = [send(things, name, signed_in, password="wrong")[1].status_code for _ in range(4)]
    assert statuses == [400, 400, 400, 429]


def test_a_receipt_is_shown_to_the_signer_and_to_those_who_read_the_log(things, signed_in):
    _client, answer = send(things, "approve", signed_in)
    cast = things.ground.cast
    seen = {
        who: signed_in(cast[who]).get(answer["Location"]).status_code
        for who in ("manager", "auditor", "instructor", "stores", "admin")
    }
    assert seen == {"manager": 200, "auditor": 200, "instructor": 404, "stores": 404, "admin": 404}


@pytest.mark.parametrize("key", ["x", "0" * 32, "'", "%00", "g" * 32])
def test_what_is_no_receipt_is_not_found(things, signed_in, key):
    assert signed_in(things.ground.auditor).get(f"/audit/receipts/{key}/").status_code in (400, 404)


def test_an_entry_that_is_no_signature_has_no_receipt(things, signed_in):
    entry = Entry.objects.filter(act="ground.person_added").first()
    address = f"/audit/receipts/{entry.entry_id.hex}/"
    assert signed_in(things.ground.auditor).get(address).status_code == 404


def test_a_repair_recorded_meanwhile_is_not_signed_for(things, signed_in):
    shown = content_hash(things.checked)
    inspections.record_repair(
        things.defect, what="and new bolts", done_by=things.ground.inspector_two,
        done_at=things.now, by=things.ground.inspector_two,
    )  # fmt: skip
    _client, answer = send(things, "release", signed_in, shown_hash=shown)
    assert answer.status_code == 409
    assert "Another repair or check was recorded" in answer.text
    assert not Entry.objects.filter(act="inspections.unit_released").exists()


def test_every_part_of_a_return_to_service_is_covered_by_its_hash(ground):
    defect = inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=NOW
    )
    inspections.record_repair(
        defect, what="new hinge", done_by=ground.inspector, done_at=NOW, by=ground.inspector, at=NOW
    )
    seen = {content_hash(defect)}
    for name, value in {
        "place": "roof", "description": "other", "severity": "restricts",
        "found_at": NOW + SECOND, "unit": builders.commission(ground, "Unit 2"),
        "part": "roof", "no_entry": True, "most_boards": 2, "most_dry_kg": Decimal(40),
    }.items():  # fmt: skip
        before = getattr(defect, name)
        setattr(defect, name, value)
        seen.add(content_hash(defect))
        setattr(defect, name, before)
    inspections.record_repair(
        defect, what="paint", done_by=ground.stores, done_at=NOW, by=ground.inspector, at=NOW
    )
    seen.add(content_hash(defect))
    inspections.record_repair(
        defect, what="paint", done_by=ground.stores, done_at=NOW, by=ground.inspector, at=NOW,
        cost=Decimal(12), material="primer", contractor="Yard Welding",
    )  # fmt: skip
    seen.add(content_hash(defect))
    builders.verify(ground, defect)
    seen.add(content_hash(defect))
    assert len(seen) == 13


def test_own_work_is_logged_as_a_refused_attempt_whichever_page_it_came_by(things, signed_in):
    """The instructor wrote the plan, and is made a burn manager later (E3 of the threat list)."""
    person: Person = things.ground.instructor
    ground_services.give_role(
        things.ground.site, person, role="manager",
        since=things.now.astimezone(things.ground.site.zone).date(), by=things.ground.admin,
    )  # fmt: skip
    given = FORMS["approve"].good(things)
    count = Entry.objects.count()
    answer = signed_in(person).post(things.address("plans:approve"), given)
    assert answer.status_code == 403
    entry = Entry.objects.get(seq=count)
    assert (entry.act, entry.after) == ("audit.refused", {"act": ACT, "kind": "own work"})
