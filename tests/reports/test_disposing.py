"""What is due goes by two signed steps, and nothing else does; the log still checks."""

from __future__ import annotations

import datetime as dt
import io
import zipfile

import pytest
from django.core.management import call_command
from django.db import connections, models

from facility.guarded import opened
from facility.people.models import Person, PersonDetails, RoleHeld
from facility.people.permissions import Role
from facility.refusals import (
    AlreadyDone,
    NotHere,
    OwnWork,
    StaleVersion,
    WrongState,
    WrongValue,
)
from records.audit import heads
from records.audit.disposing import read_disposal
from records.audit.models import Disclosed, Disposal, DisposedFile, DisposedText, Entry
from records.audit.verifying import verify
from records.capture.models import LoggerFile
from records.ground import services as ground_services
from records.pictures.models import PictureData
from records.pictures.reading import read_photograph
from records.plans import services as plans
from records.plans.models import PlanVersion
from records.reports import disposing
from records.stock import receiving
from tests import builders
from tests.asking import actor, acts_after, refused_roles, refuses, refuses_role, writes
from tests.audit.files import NAME, ground_file
from tests.builders import NOW, PASSWORD
from tests.photographs.drawing import photo

ORDERED, DONE = "ground.disposal_ordered", "ground.disposal_done"
DAY = dt.timedelta(days=1)
SECRET = "Unmistakable words about Q."
ENDED = NOW + DAY  # the builders' plans and burns are of the day after
UNTIL = ENDED.date()
IN_6_YEARS = ENDED.replace(year=ENDED.year + 6)  # obsolete risk assessments: common practice
IN_40_YEARS = ENDED.replace(year=ENDED.year + 40)  # COSHH 2002, regulation 10(5)


def withdrawn(ground, why: str = SECRET):
    plan = builders.drafted(ground)
    plans.withdraw_plan(plan, reason=why, by=ground.instructor, at=NOW)
    return plan


def order(ground, kind: str = "plans", **changes):
    given = {"kind": kind, "until": UNTIL, "reason": "its time is over", "by": ground.safety,
             "at": IN_6_YEARS + 2 * DAY}  # fmt: skip
    return disposing.order_disposal(ground.site, **given | changes)


def carry_out(ground, found, **changes):
    return disposing.carry_out(found, **{"by": ground.admin, "at": IN_6_YEARS + 3 * DAY} | changes)


def why_of(plan) -> str:
    return Entry.objects.get(act="plans.plan_withdrawn", obj=plan.named_in_log).why


def test_an_order_says_what_how_much_and_why_and_nothing_goes_yet(ground):
    plan = withdrawn(ground)
    with writes(ORDERED):
        found = order(ground)
    assert (found.texts, found.files, found.people) == (1, 0, 0)
    entry = Entry.objects.first()
    assert (entry.obj, entry.why) == (found.named_in_log, "its time is over")
    assert entry.after["hash"] == found.content_hash
    assert entry.after["meaning"] == disposing.ORDER
    assert why_of(plan) == SECRET


def test_carried_out_the_text_is_gone_its_place_says_so_and_the_tree_holds(ground):
    plan, before = withdrawn(ground), heads.head_now()
    found = order(ground)
    carry_out(ground, found)
    assert why_of(plan) == f"disposed of on 2032-02-08 under order {found.reference}"
    assert not Disclosed.objects.filter(value__contains=SECRET).exists()
    assert verify([before, heads.head_now()]) == []
    entry = Entry.objects.first()
    assert (entry.act, entry.obj, entry.actor) == (DONE, found.named_in_log, ground.admin.public_id)
    told = {key: entry.after[key] for key in ("kind", "until", "texts", "files", "people")}
    assert told == {
        "kind": "plans", "until": UNTIL.isoformat(), "texts": 1, "files": 0, "people": 0,
    }  # fmt: skip
    assert entry.after["ordered_by"] == ground.safety.public_id


def test_without_the_record_of_the_order_the_missing_text_is_a_finding(ground):
    """The control: what the check accepts, it accepts because of the order."""
    withdrawn(ground)
    with opened():
        Disclosed.objects.filter(value__contains=SECRET).erase()
    assert len(verify()) == 1


def test_only_safety_officers_order_and_only_administrators_carry_out(ground):
    withdrawn(ground)
    for role in refused_roles(ORDERED):
        with refuses_role():
            order(ground, by=actor(ground, role))
    found = order(ground)
    for role in refused_roles(DONE):
        with refuses_role():
            carry_out(ground, found, by=actor(ground, role))


def test_whoever_ordered_it_does_not_carry_it_out_whatever_role_came_since(ground):
    withdrawn(ground)
    found, at = order(ground), IN_6_YEARS + 3 * DAY
    with opened():
        RoleHeld.objects.filter(person=ground.safety).update(until=at.date() - DAY)
    ground_services.give_role(
        ground.site, ground.safety, role=Role.ADMIN, since=at.date(), by=ground.admin, at=at
    )
    with refuses(OwnWork, logged=["audit.refused"]):
        carry_out(ground, found, by=ground.safety)
    carry_out(ground, found)


def test_a_day_not_yet_due_is_refused_and_the_day_it_falls_due_is_not(ground):
    withdrawn(ground)
    with refuses(WrongValue, "until") as caught:
        order(ground, at=IN_6_YEARS - DAY)
    assert "2032-02-05" in caught.value.sentence
    with refuses(WrongValue, "until"):
        order(ground, until=UNTIL + 9 * DAY)
    order(ground, at=IN_6_YEARS)


def test_a_class_of_which_nothing_can_go_or_is_left_or_that_does_not_exist_is_refused(ground):
    with refuses(WrongState):
        order(ground)  # no plan yet
    with refuses(WrongState):
        order(ground, "units")
    with refuses(NotHere):
        order(ground, "letters")


@pytest.mark.parametrize("reason", ["", " ", "x" * 301, "\0"])
def test_the_reason_is_plain_text(ground, reason):
    withdrawn(ground)
    with refuses(WrongValue, "reason"):
        order(ground, reason=reason)


def test_what_was_not_shown_is_not_signed(ground):
    withdrawn(ground)
    shown = disposing.content_of(ground.site, "plans", UNTIL).hash
    withdrawn(ground, "another reason")
    with refuses(StaleVersion):
        order(ground, shown_hash=shown)
    order(ground, shown_hash=disposing.content_of(ground.site, "plans", UNTIL).hash)


def test_an_order_that_no_longer_matches_is_refused(ground):
    withdrawn(ground)
    found = order(ground)
    withdrawn(ground, "another reason")
    with refuses(WrongState):
        carry_out(ground, found)
    newer = order(ground)
    with refuses(WrongState):
        carry_out(ground, newer, shown_hash=found.content_hash)
    carry_out(ground, newer)


def test_nothing_is_carried_out_twice_nor_the_same_form_taken_twice(ground):
    withdrawn(ground)
    found = order(ground, once="form-1")
    with refuses(AlreadyDone):
        order(ground, once="form-1")
    carry_out(ground, found, once="form-2")
    with refuses(AlreadyDone):
        carry_out(ground, found, once="form-2")
    with refuses(WrongState):
        carry_out(ground, found)
    with refuses(WrongState):
        order(ground)  # nothing is left


def test_of_a_plan_that_burned_and_of_another_ground_nothing_goes(ground, other):
    builders.accepted_lot(ground)
    builders.closed(ground)
    withdrawn(other)
    with refuses(WrongState):
        order(ground)


@pytest.fixture
def burned(ground):
    """A burn with its docket photographed and its logger's file kept."""
    lot = builders.accepted_lot(ground)
    shot = read_photograph(photo())
    picture = receiving.photograph_docket(lot.delivery, shot, by=ground.stores, at=NOW)
    burn = builders.closed(ground)
    return lot, picture, builders.logged(ground, burn, at=NOW + 2 * DAY)


def test_the_logger_s_file_goes_with_its_burn_and_its_series_stays(ground, burned, signed_in):
    _lot, _picture, file = burned
    found = order(ground, "burns", until=UNTIL, at=IN_40_YEARS + 3 * DAY)
    assert found.files == 1
    with writes(DONE, alters=[LoggerFile]):
        carry_out(ground, found, at=IN_40_YEARS + 4 * DAY)
    kept = LoggerFile.objects.get(pk=file.pk)
    assert bytes(kept.original) == b""
    assert (kept.sha256, bytes(kept.series)) == (file.sha256, file.series)
    assert found.reference in kept.gone
    client = signed_in(ground.safety)
    assert found.reference in client.get(f"/burns/{file.burn.public_id}/recorded/").text
    answer = client.get(f"/burns/recorded/{file.public_id}/file/")
    assert (answer.status_code, found.reference in answer.text) == (404, True)
    assert verify([heads.head_now()]) == []


def test_a_docket_s_picture_goes_once_nothing_of_the_delivery_is_left(ground, burned, signed_in):
    lot, picture, _file = burned
    at = IN_40_YEARS + 3 * DAY
    with refuses(WrongState):  # boards of it lie in the store
        order(ground, "lots", until=UNTIL, at=at)
    with opened():
        type(lot.balance).objects.filter(lot=lot).update(on_hand=0)
    found = order(ground, "lots", until=UNTIL, at=at)
    with writes(DONE, alters=[PictureData]):
        carry_out(ground, found, at=at)
    client = signed_in(ground.safety)
    assert client.get(f"/pictures/{picture.public_id}/").status_code == 404
    page = client.get(f"/store/deliveries/{lot.delivery.public_id}/").text
    assert found.reference in page
    assert f"/pictures/{picture.public_id}/" not in page


def test_a_lot_burned_after_the_day_keeps_its_delivery(ground, burned):
    lot, *_rest = burned
    with opened():
        type(lot.balance).objects.filter(lot=lot).update(on_hand=0)
    with refuses(WrongState):  # delivered the day before, burned on it
        order(ground, "lots", until=UNTIL - DAY, at=IN_40_YEARS + 3 * DAY)


def test_names_of_learners_go_with_their_exposures_and_those_who_signed_stay(ground, burned):
    names = dict(PersonDetails.objects.values_list("person__public_id", "name"))
    at = IN_40_YEARS + 3 * DAY
    found = order(ground, "exposures", until=UNTIL, at=at)
    assert found.people == 3  # as many learners as the crew had
    carry_out(ground, found, at=at)
    now = dict(PersonDetails.objects.values_list("person__public_id", "name"))
    gone = {key for key, name in names.items() if now[key] != name}
    assert gone <= {person.public_id for person in ground.learners}
    assert len(gone) == 3
    assert all(now[key].startswith("erased 2066-02-08") for key in gone)
    assert verify([heads.head_now()]) == []


def test_a_learner_who_burned_again_since_or_works_here_now_stays_named(ground, burned):
    at = IN_40_YEARS + 3 * DAY
    again, works, *_rest = disposing.content_of(ground.site, "exposures", UNTIL).people
    people = Person.objects.in_bulk([again, works], field_name="public_id")
    with opened():
        RoleHeld.objects.filter(person__in=people.values()).update(until=UNTIL)
    ground_services.give_role(
        ground.site, people[again], role=Role.LEARNER, course="B", since=at.date(),
        by=ground.admin, at=at,
    )  # fmt: skip
    ground_services.give_role(
        ground.site, people[works], role=Role.STORES, since=at.date(), by=ground.admin, at=at
    )
    assert not {again, works} & {*disposing.content_of(ground.site, "exposures", UNTIL).people}
    assert order(ground, "exposures", until=UNTIL, at=at).people == 1


def test_too_many_names_for_one_order(ground, burned, monkeypatch):
    monkeypatch.setattr(disposing, "MOST_PEOPLE", 2)
    with refuses(WrongValue, "until"):
        order(ground, "exposures", until=UNTIL, at=IN_40_YEARS + 3 * DAY)


@pytest.mark.parametrize(
    "told",
    [{}, {"disposal": "x"}, {"disposal": "x", "kind": "plans", "until": "soon", "at": "", "by": "",
                             "ordered_by": "", "texts": [], "files": []}],
)  # fmt: skip
def test_a_line_that_is_no_disposal_is_refused(told):
    with pytest.raises(ValueError, match=r".+"):
        read_disposal(told)


@pytest.fixture(scope="module")
def disposed(tmp_path_factory, django_db_blocker):
    """A ground in a file: a backup, then a text and a file are disposed of, then a backup."""
    folder = tmp_path_factory.mktemp("disposed")
    quiet = {"stdout": io.StringIO(), "stderr": io.StringIO()}
    with django_db_blocker.unblock(), ground_file(folder):
        call_command("migrate", run_syncdb=True, verbosity=0)
        made = builders.found_ground()
        builders.accepted_lot(made)
        file = builders.logged(made, builders.closed(made), at=NOW + 2 * DAY)
        raw = bytes(LoggerFile.objects.get().original)
        withdrawn(made)
        call_command("backup", str(folder / "before.zip"), **quiet)
        carry_out(made, order(made))
        at = IN_40_YEARS + 3 * DAY
        found = order(made, "burns", until=UNTIL, at=at)
        carry_out(made, found, at=at)
        call_command("backup", str(folder / "after.zip"), **quiet)
        call_command("export_log", str(folder / "log.jsonl"), **quiet)
        assert verify() == []
    return folder, raw, file.public_id


def written(folder) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.glob(f"{NAME}*")))


def unpacked(backup) -> bytes:
    with zipfile.ZipFile(backup) as bundle:
        return b"".join(bundle.read(name) for name in bundle.namelist())


def test_text_and_file_are_in_no_byte_of_database_export_or_next_backup(disposed):
    folder, raw, _file = disposed
    piece = raw[: len(raw) // 2][-60:]  # short of a page's end, where SQLite goes on elsewhere
    before = unpacked(folder / "before.zip")
    assert SECRET.encode() in before  # the search can find them
    assert piece in before
    for held in (
        written(folder), unpacked(folder / "after.zip"), (folder / "log.jsonl").read_bytes(),
        (folder / "erasures.jsonl").read_bytes(),
    ):  # fmt: skip
        assert SECRET.encode() not in held
        assert piece not in held


def test_an_older_backup_loses_them_again_when_it_is_put_back(
    disposed, tmp_path, django_db_blocker
):
    folder, _raw, file = disposed
    with django_db_blocker.unblock(), ground_file(tmp_path):
        call_command(
            "restore", str(folder / "before.zip"), erasures=folder / "erasures.jsonl",
            stdout=io.StringIO(), stderr=io.StringIO(),
        )  # fmt: skip
        assert Disposal.objects.count() == 2
        assert DisposedText.objects.exists()
        assert DisposedFile.objects.get().public_id == file
        assert len(Entry.objects.first().after["disposed"]) == 2
        assert verify() == []
        connections["default"].close()
    assert SECRET.encode() not in written(tmp_path)


def make_due(plan) -> None:
    """As if it had ended seven years ago; the pages read the clock."""
    models.QuerySet(PlanVersion).filter(plan=plan).update(
        starts_at=NOW.replace(year=NOW.year - 7), ends_at=NOW.replace(year=NOW.year - 7)
    )


def test_the_pages_from_the_order_to_both_receipts(ground, signed_in):
    plan = withdrawn(ground)
    make_due(plan)
    safety, admin = signed_in(ground.safety), signed_in(ground.admin)
    assert "/audit/retention/plans/order/" in safety.get("/audit/retention/").text
    assert "/audit/retention/plans/order/" not in admin.get("/audit/retention/").text
    page = safety.get("/audit/retention/plans/order/")
    assert plan.reference in page.text
    shown = page.context["form"]["shown_hash"].value()
    given = {"reason": "over", "meaning": disposing.ORDER, "password": PASSWORD}
    count = Entry.objects.count()
    wrong = given | {"shown_hash": shown, "password": "not it, not it"}
    assert safety.post("/audit/retention/plans/order/", wrong).status_code == 400
    assert acts_after(count) == ["audit.refused"]
    answer = safety.post("/audit/retention/plans/order/", given | {"shown_hash": shown})
    receipt = safety.get(answer["Location"])
    assert disposing.ORDER in receipt.text
    found = disposing.orders_of(ground.site)[0].order
    page = admin.get(f"/audit/disposals/{found.public_id}/carry-out/")
    given = {"meaning": disposing.CARRY_OUT, "password": PASSWORD,
             "shown_hash": page.context["form"]["shown_hash"].value()}  # fmt: skip
    answer = admin.post(f"/audit/disposals/{found.public_id}/carry-out/", given)
    assert disposing.CARRY_OUT in admin.get(answer["Location"]).text
    assert found.reference in signed_in(ground.auditor).get("/audit/").text
    assert "The administrator" in safety.get(f"/audit/disposals/{found.public_id}/").text


def test_a_day_that_is_not_due_shows_nothing_to_sign(ground, signed_in):
    safety = signed_in(ground.safety)
    page = safety.get("/audit/retention/plans/order/?until=2100-01-01")
    assert page.status_code == 200
    assert 'name="password"' not in page.text
    for wrong in ("soon", "0001-01-01", "9999-12-31"):
        assert safety.get(f"/audit/retention/plans/order/?until={wrong}").status_code == 400
    assert safety.get("/audit/retention/letters/order/").status_code == 404
    assert safety.get("/audit/retention/units/order/").status_code == 409
