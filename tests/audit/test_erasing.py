"""A person is forgotten: the name is nowhere, the log holds, and an old backup forgets as well."""

from __future__ import annotations

import datetime as dt
import io
import json
import zipfile
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, connections

from facility.guarded import opened
from facility.kinds import Duty
from facility.people.models import Person, RoleHeld
from facility.people.permissions import Role
from facility.refusals import OwnWork, WrongState, WrongValue
from records.audit import heads
from records.audit.door import door
from records.audit.erasing import orders_file, orders_in
from records.audit.models import Disclosed, Entry, Erasure
from records.audit.verifying import verify
from records.ground import services as ground_services
from records.ground.erasing import erase_person
from records.inspections import services as inspections
from records.plans.content import Place
from records.plans.models import KnownAtIgnition
from tests import builders
from tests.asking import refuses, refuses_role
from tests.audit.files import NAME, build, ground_file
from tests.builders import NOW

WHO = "Unmistakable Q. Learner"
BASIS = "request of 3 March, Art. 17"


def add_learner(ground, name: str = WHO) -> Person:
    return ground_services.add_person(
        ground.site, name=name, role=Role.LEARNER, course="Course Z", since=NOW.date(),
        by=ground.admin, at=NOW,
    )  # fmt: skip


def erase(ground, person, **changes):
    given = {"basis": BASIS, "by": ground.admin, "at": NOW, **changes}
    return erase_person(ground.site, person, **given)


def test_name_and_texts_about_the_person_go_and_the_key_stays(ground):
    person = add_learner(ground)
    entry = Entry.objects.get(obj=person.named_in_log)
    assert entry.after["course"] == "Course Z"
    erase(ground, person)
    person.refresh_from_db()
    assert person.details.name == f"erased 2026-02-04, {person.reference}"
    assert not Disclosed.objects.filter(entry=entry).exists()
    assert Entry.objects.get(pk=entry.pk).after["course"] == f"erased on 2026-02-04 under: {BASIS}"
    newest = Entry.objects.first()
    assert (newest.act, newest.obj, newest.why) == (
        "ground.person_erased",
        person.named_in_log,
        BASIS,
    )
    assert verify([heads.head_now()]) == []


def test_the_roles_end_and_nobody_signs_in_by_it(ground):
    person = add_learner(ground)
    erase(ground, person)
    person.refresh_from_db()
    assert (person.is_active, person.has_usable_password()) == (False, False)
    assert [row.until for row in person.roles.all()] == [NOW.astimezone(ground.site.zone).date()]


def test_a_reason_that_names_the_person_goes_too_and_other_texts_stay(ground):
    person = add_learner(ground)
    lot_why = f"{WHO.upper()} said so"
    with_name = inspections.stop_unit(
        ground.unit, place="door", description="hinge torn", by=ground.safety, at=NOW
    )
    with door("ground.bay_added", by=ground.stores, site=ground.site, at=NOW, why=lot_why):
        pass
    erased = erase(ground, person)
    assert Entry.objects.filter(act="ground.bay_added").first().why.startswith("erased on")
    assert with_name.description == "hinge torn"
    assert erased.still_named == ()


NAMES = [WHO, 'Zoë "Zo" Näme', "100% O'Hare_x", "Ann Lee"]


@pytest.mark.parametrize("name", NAMES)
def test_what_the_program_wrote_about_the_person_names_nobody_any_more(ground, name):
    """Findings and the facts kept with a plan name each person judged."""
    person, longer = add_learner(ground, name), add_learner(ground, f"Jo{name.lower()}ds")
    builders.accepted_lot(ground)
    crew = (*builders.crew(ground, 2), Place(person, Duty.LEARNER), Place(longer, Duty.LEARNER))
    burn = builders.lit(ground, builders.content(ground, crew=crew))
    version = burn.version
    assert name in json.dumps(facts_of(version), ensure_ascii=False).replace('\\"', '"')
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE records_plans_finding SET about = %s, sentence = %s",
            [name, f"{name}: 100 % of it, not {longer.name}"],
        )
    assert erase(ground, person).still_named == ()
    wanted = f"erased 2026-02-04, {person.reference}"
    for found in version.findings.all():
        assert found.about == wanted
        assert found.sentence == f"{wanted}: 100 % of it, not {longer.name}"
    facts = json.dumps(facts_of(version), ensure_ascii=False).replace('\\"', '"')
    assert wanted in facts
    assert f'"{name}"' not in facts
    assert longer.name in facts


def facts_of(version):
    return KnownAtIgnition.objects.get(version=version).facts


def test_where_the_name_stands_in_a_record_of_the_work_is_said(ground):
    person = add_learner(ground)
    inspections.stop_unit(
        ground.unit, place="door", description=f"{WHO} bent it", by=ground.safety, at=NOW
    )
    (place,) = erase(ground, person).still_named
    assert "defect" in place
    assert "description" in place


def test_who_signed_stays_named(ground):
    with refuses(WrongState) as caught:
        erase(ground, ground.inspector)  # inspected the unit
    assert "signed" in caught.value.sentence


def test_who_holds_a_role_is_not_erased_and_who_held_one_and_signed_nothing_is(ground):
    person = ground.auditor
    with refuses(WrongState) as caught:
        erase(ground, person)
    assert "role" in caught.value.sentence
    with opened():
        RoleHeld.objects.filter(person=person).update(until=NOW.date() - dt.timedelta(days=1))
    erase(ground, person)
    person.refresh_from_db()
    assert (person.sign_in, person.is_active) == (f"-{person.public_id}", False)


def test_it_is_the_administrator_s_once_and_not_about_oneself(ground):
    person = add_learner(ground)
    with refuses_role():
        erase(ground, person, by=ground.manager)
    with refuses(OwnWork):
        erase(ground, ground.admin)
    with refuses(WrongValue, "basis"):
        erase(ground, person, basis=" ")
    erase(ground, person)
    with refuses(WrongState):
        erase(ground, person)


@pytest.fixture(scope="module")
def erased(tmp_path_factory, django_db_blocker):
    """A ground in a file: a backup, then a learner is erased by the command, then a backup."""
    folder = tmp_path_factory.mktemp("erased")
    quiet = {"stdout": io.StringIO(), "stderr": io.StringIO()}
    with django_db_blocker.unblock(), ground_file(folder):
        made = build(folder)
        person = add_learner(made)
        call_command("backup", str(folder / "before.zip"), **quiet)
        assert WHO.encode() in written(folder / NAME)
        call_command(
            "erase_person", person.reference, basis=BASIS, by=made.admin.sign_in.upper(), **quiet
        )
        call_command("backup", str(folder / "after.zip"), **quiet)
        call_command("export_log", str(folder / "log.jsonl"), **quiet)
        assert verify() == []
    return folder, person.public_id


def written(name: Path) -> bytes:
    """The file of the database and whatever lies beside it."""
    return b"".join(path.read_bytes() for path in sorted(name.parent.glob(f"{name.name}*")))


def unpacked(backup: Path) -> bytes:
    with zipfile.ZipFile(backup) as bundle:
        return b"".join(bundle.read(name) for name in bundle.namelist())


def test_the_name_is_in_no_byte_of_file_export_or_next_backup(erased):
    folder, _key = erased
    assert WHO.encode() in unpacked(folder / "before.zip")  # the search can find it
    for held in (
        written(folder / NAME), unpacked(folder / "after.zip"),
        (folder / "log.jsonl").read_bytes(), (folder / "erasures.jsonl").read_bytes(),
    ):  # fmt: skip
        assert WHO.encode() not in held
        assert WHO.encode("utf-16-le") not in held


def test_an_older_backup_forgets_when_it_is_put_back(erased, tmp_path, django_db_blocker):
    folder, key = erased
    said = io.StringIO()
    with django_db_blocker.unblock(), ground_file(tmp_path):
        call_command(
            "restore", str(folder / "before.zip"), erasures=folder / "erasures.jsonl",
            stdout=said, stderr=io.StringIO(),
        )  # fmt: skip
        assert Entry.objects.first().after["erased"] == [key]
        assert Erasure.objects.get().person == key
        assert verify() == []
        connections["default"].close()
    assert "1 people were forgotten again" in said.getvalue()
    assert WHO.encode() not in written(tmp_path / NAME)


def test_a_list_of_erasures_that_is_none_is_refused(erased, tmp_path, django_db_blocker):
    folder, _key = erased
    (tmp_path / "list").write_text('{"person": "x"}\n')
    with (
        django_db_blocker.unblock(), ground_file(tmp_path),
        pytest.raises(CommandError, match="NotABackup") as caught,
    ):  # fmt: skip
        call_command("restore", str(folder / "before.zip"), erasures=tmp_path / "list")
    assert caught.value.returncode == 2


def test_the_order_is_kept_beside_the_database_by_key(erased):
    folder, key = erased
    (order,) = orders_in((folder / "erasures.jsonl").read_text())
    assert (order.person, order.basis) == (key, BASIS)
    assert json.loads((folder / "erasures.jsonl").read_text()).keys() == {
        "person", "at", "by", "basis",
    }  # fmt: skip


@pytest.mark.parametrize("wrong", [{"public_id": "nobody"}, {"by": "nobody"}])
def test_the_command_names_what_it_cannot_find(ground, wrong):
    given = {"public_id": ground.learners[0].public_id, "by": ground.admin.sign_in} | wrong
    with pytest.raises(CommandError, match="Nobody here has nobody") as caught:
        call_command("erase_person", given["public_id"], basis="x", by=given["by"])
    assert caught.value.returncode == 2
    assert not orders_file().exists() or "nobody" not in orders_file().read_text()
