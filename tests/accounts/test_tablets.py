"""Shared tablets: enrolled, opened by six digits to record, never to sign, and gone when ended."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.test import Client
from django.utils import timezone

from facility.people import gate, sitting
from facility.people.entrance import Entrance, entering
from facility.people.models import Device, PersonalCode, Tries
from facility.people.permissions import ACTS, BY_CODE, SIGNED
from facility.refusals import AlreadyDone, NotAllowed, WrongState, WrongValue
from records.accounts import links, tablets
from records.accounts import services as accounts
from records.audit import checker
from records.audit.models import Entry
from records.audit.verifying import verify
from records.stock.models import Delivery
from tests import builders
from tests.asking import actor, acts_after, refused_roles, refuses, refuses_role, writes
from tests.builders import NOW, PASSWORD
from tests.forms_table import FORMS
from tests.pages import Things

CODE = "482913"
MINUTE = dt.timedelta(minutes=1)


# -- the services ---------------------------------------------------------------------


def enrol(ground, **changes):
    given = {"name": "yard 1", "by": ground.admin, "at": NOW}
    return tablets.enrol_tablet(ground.site, **{**given, **changes})


def end(ground, device=None, **changes):
    given = {"reason": "lost", "by": ground.admin, "at": NOW}
    tablets.end_tablet(device or enrol(ground)[0], **{**given, **changes})


def set_code(ground, person=None, **changes):
    given = {"code": CODE, "at": NOW}
    tablets.set_code(ground.site, person or ground.stores, **{**given, **changes})


def test_enrolling_keeps_a_name_and_no_key(ground):
    with writes("ground.tablet_enrolled", Device):
        device, key = enrol(ground)
    assert len(key) >= 43  # 256 bits in base64
    assert key not in str(Device.objects.values())
    assert device.name == "yard 1"


@pytest.mark.parametrize("name", ["", " ", "x" * 41, "\0"])
def test_the_name_is_plain_text(ground, name):
    with refuses(WrongValue, "name"):
        enrol(ground, name=name)


def test_two_tablets_of_one_name_are_refused_but_for_one_that_is_ended(ground):
    device, _key = enrol(ground)
    with refuses(WrongValue, "name"):
        enrol(ground, name="YARD 1")
    end(ground, device)
    enrol(ground)


def test_only_administrators_of_this_ground_enrol_and_end(ground, other):
    device, _key = enrol(ground)
    for role in refused_roles("ground.tablet_enrolled"):
        with refuses_role():
            enrol(ground, name="yard 2", by=actor(ground, role))
        with refuses_role():
            end(ground, device, by=actor(ground, role))
    with refuses_role():
        end(ground, device, by=other.admin)


def test_a_tablet_ends_once_and_is_enrolled_once_by_one_form(ground):
    device, _key = enrol(ground, once="form-1")
    with refuses(AlreadyDone):
        enrol(ground, name="yard 2", once="form-1")
    with writes("ground.tablet_ended", alters=[Device]):
        end(ground, device)
    with refuses(WrongState):
        end(ground, device)


def test_a_code_is_kept_as_a_hash_that_the_secret_key_is_part_of(ground, settings):
    with writes("people.code_set", PersonalCode):
        set_code(ground)
    row = PersonalCode.objects.get()
    device, _key = enrol(ground)
    assert CODE not in row.code_hash
    settings.SECRET_KEY = "another"
    with pytest.raises(WrongValue):
        tablets.unlock(device, ground.stores.public_id, CODE, at=NOW)


@pytest.mark.parametrize(
    "code",
    ["", "12345", "1234567", "12345a", "٤٨٢٩١٣", "000000", "999999", "123456", "654321", "234567",
     "901234", "246802", "121212", "123123", "112233"],
)  # fmt: skip
def test_other_than_six_digits_and_trivial_ones_are_refused(ground, code):
    with refuses(WrongValue, "code"):
        set_code(ground, code=code)


@pytest.mark.parametrize("code", [CODE, "482914", "109283", "100001", "471147"])
def test_other_digits_are_taken(ground, code):
    set_code(ground, code=code)


def test_learners_have_no_code(ground):
    with refuses_role():
        set_code(ground, ground.learners[0])


def test_a_password_chosen_by_a_link_ends_the_code(ground):
    set_code(ground)
    key = accounts.make_password_link(
        ground.site, ground.stores, reason="forgot it", by=ground.admin, at=NOW
    )
    new = "quite another long one"
    links.choose_password(key, new=new, again=new, address="198.51.100.7", at=NOW)
    device, _key = enrol(ground)
    with pytest.raises(WrongValue):
        tablets.unlock(device, ground.stores.public_id, CODE, at=NOW)


def test_five_wrong_codes_and_the_right_one_is_worth_nothing_however_long_one_waits(ground):
    device, _key = enrol(ground)
    set_code(ground)
    count = Entry.objects.count()
    for _try in range(5):
        with pytest.raises(WrongValue):
            tablets.unlock(device, ground.stores.public_id, "482914", at=NOW)
    for wait in (0, 60, 60 * 24 * 30):
        later = NOW + wait * MINUTE
        Tries.objects.filter(lasting=False).delete()
        with pytest.raises(NotAllowed):
            tablets.unlock(device, ground.stores.public_id, CODE, at=later)
    assert acts_after(count) == ["people.sign_in_refused"] * 8


def test_wrong_codes_of_one_person_or_tablet_do_not_count_for_another(ground):
    one, _key = enrol(ground)
    two, _key = enrol(ground, name="yard 2")
    for person in (ground.stores, ground.instructor):
        set_code(ground, person)
    for _try in range(5):
        with pytest.raises(WrongValue):
            tablets.unlock(one, ground.stores.public_id, "482914", at=NOW)
    tablets.unlock(two, ground.stores.public_id, CODE, at=NOW)
    tablets.unlock(one, ground.instructor.public_id, CODE, at=NOW)


def test_the_right_code_makes_the_count_begin_anew(ground):
    device, _key = enrol(ground)
    set_code(ground)
    for code in ("482914",) * 4 + (CODE,) + ("482914",) * 4:
        try:
            tablets.unlock(device, ground.stores.public_id, code, at=NOW)
        except WrongValue:
            assert code != CODE
    tablets.unlock(device, ground.stores.public_id, CODE, at=NOW)


def test_someone_of_another_ground_is_not_offered(ground, other):
    device, _key = enrol(ground)
    set_code(other, other.stores)
    with refuses(WrongValue):
        tablets.unlock(device, other.stores.public_id, CODE, at=NOW)


# -- the door -------------------------------------------------------------------------


def test_six_digits_are_for_recording_only():
    assert not BY_CODE & SIGNED
    kinds = {name.partition(".")[0] for name in BY_CODE}
    assert kinds == {"stock", "plans", "burns", "capture", "inspections", "people"}
    assert {name for name in BY_CODE if name.startswith("people.")} == {
        "people.signed_in",
        "people.units_chosen",
    }
    assert set(ACTS) >= BY_CODE


def test_the_entry_says_where_it_was_recorded_and_all_checkers_take_it(ground):
    with entering(Entrance("form", "tablet1234", by_code=True)):
        builders.deliver(ground)
    entry = Entry.objects.get(act="stock.delivery_received")
    said = json.loads(entry.body)
    assert (said["v"], said["src"], said["device"]) == (2, "form", "tablet1234")
    assert "device" not in json.loads(Entry.objects.get(seq=0).body)
    assert verify() == []
    for row in Entry.objects.all():
        assert not list(checker.check_line(row.body.encode(), row.seq, {}))


# -- the pages ------------------------------------------------------------------------


@pytest.fixture
def things(db) -> Things:
    return Things()


@pytest.fixture
def clock(monkeypatch):
    class Clock:
        start = timezone.now()
        seconds = 0.0

        def now(self) -> dt.datetime:
            return self.start + dt.timedelta(seconds=self.seconds)

    clock = Clock()
    for module in (sitting, gate):
        monkeypatch.setattr(module.timezone, "now", clock.now)
    return clock


def tablet(things, *people) -> Client:
    """A locked tablet, enrolled by the administrator on itself."""
    ground, client = things.ground, Client()
    for person in people or (ground.stores,):
        set_code(ground, person, at=things.now)
    client.force_login(ground.admin)
    answer = client.post("/people/tablets/", {"name": "yard 9", "password": PASSWORD})
    assert answer["Location"] == "/lock/"
    cookie = client.cookies["tablet"]
    assert cookie["httponly"]
    assert cookie["samesite"] == "Strict"
    return client


def unlock(client, person, code=CODE, page=""):
    return client.post(f"/lock/?who={person.public_id}&next={page}", {"code": code})


def delivery(things):
    return things.address("stock:delivery_new"), FORMS["delivery"].good(things) | {"once": "d-1"}


def test_the_administrator_is_out_once_the_tablet_is_enrolled(things):
    client = tablet(things)
    assert client.get("/people/tablets/")["Location"] == "/lock/?next=/people/tablets/"


def test_the_lock_page_offers_by_name_those_who_have_a_code(things):
    page = tablet(things).get("/lock/").text
    assert things.ground.stores.name in page
    assert things.ground.manager.name not in page


def test_a_browser_that_is_no_tablet_has_no_lock_page(things):
    set_code(things.ground, at=things.now)
    assert Client().get("/lock/")["Location"] == "/sign-in/"
    assert unlock(Client(), things.ground.stores)["Location"] == "/sign-in/"


def test_unlocked_it_leads_back_to_the_page_and_shows_whose_name_counts(things):
    client = tablet(things)
    answer = unlock(client, things.ground.stores, page="/store/")
    assert answer["Location"] == "/store/"
    page = client.get("/store/").text
    assert f'<div class="at-tablet yard">{things.ground.stores.name}' in page


def test_it_leads_to_no_other_site(things):
    answer = unlock(tablet(things), things.ground.stores, page="https://elsewhere.example/")
    assert answer["Location"] == "/"


def test_what_is_recorded_carries_the_tablet(things):
    client = tablet(things)
    unlock(client, things.ground.stores)
    address, data = delivery(things)
    assert client.post(address, data).status_code == 302
    said = json.loads(Entry.objects.get(once="d-1").body)
    assert said["device"] == Device.objects.get().public_id
    assert said["actor"] == things.ground.stores.public_id


@pytest.mark.parametrize(("idle", "open_still"), [(299, True), (301, False)])
def test_after_five_minutes_of_nothing_it_is_locked(things, clock, idle, open_still):
    client = tablet(things)
    unlock(client, things.ground.stores)
    assert client.get("/store/").status_code == 200
    clock.seconds += idle
    answer = client.get("/store/")
    assert (answer.status_code == 200) is open_still
    assert open_still or answer["Location"] == "/lock/?next=/store/"


def test_ten_hours_end_it_however_busy(things, clock):
    client = tablet(things)
    unlock(client, things.ground.stores)
    while clock.seconds <= 10 * 3600:
        assert client.get("/store/").status_code == 200
        clock.seconds += 250
    assert client.get("/store/").status_code == 302


def test_what_was_sent_after_the_lock_is_kept_for_the_same_person(things, clock):
    client = tablet(things, things.ground.stores, things.ground.instructor)
    unlock(client, things.ground.stores)
    address, data = delivery(things)
    clock.seconds += 301
    assert client.post(address, data)["Location"].startswith("/lock/?next=")
    assert not Entry.objects.filter(once="d-1").exists()
    assert unlock(client, things.ground.stores)["Location"] == "/people/me/typed/"
    page = client.get("/people/me/typed/").text
    assert f'action="{address}"' in page
    assert 'name="docket" value="D-900"' in page
    assert client.post(address, data).status_code == 302
    assert Delivery.objects.filter(docket="D-900").count() == 1
    assert client.get("/people/me/typed/").status_code == 302


def test_what_one_had_typed_is_not_shown_to_the_next(things, clock):
    client = tablet(things, things.ground.stores, things.ground.instructor)
    unlock(client, things.ground.stores)
    clock.seconds += 301
    client.post(*delivery(things))
    assert unlock(client, things.ground.instructor)["Location"] == "/"
    assert client.get("/people/me/typed/").status_code == 302


def test_a_password_is_never_kept_over_a_lock(things, clock):
    client = tablet(things, things.ground.manager)
    unlock(client, things.ground.manager)
    clock.seconds += 301
    form = FORMS["approve"]
    client.post(things.address(form.address), form.good(things))
    assert "typed" not in client.session


def test_signing_without_the_password_is_refused_and_kept(things):
    client = tablet(things, things.ground.manager)
    unlock(client, things.ground.manager)
    form, count = FORMS["approve"], Entry.objects.count()
    data = form.good(things) | {"password": ""}
    count = Entry.objects.count()
    assert client.post(things.address(form.address), data).status_code == 403
    assert acts_after(count) == ["audit.refused"]
    assert Entry.objects.first().after == {"act": form.act, "kind": "personal code"}


def test_signing_with_the_password_works_and_names_the_tablet(things):
    client = tablet(things, things.ground.manager)
    unlock(client, things.ground.manager)
    form = FORMS["approve"]
    answer = client.post(things.address(form.address), form.good(things))
    assert answer.status_code == 302
    entry = Entry.objects.filter(act=form.act).first()
    assert json.loads(entry.body)["device"] == Device.objects.get().public_id


def test_one_password_is_good_for_one_signature(things):
    """The next request of the same sitting has to prove itself again."""
    client = tablet(things, things.ground.manager)
    unlock(client, things.ground.manager)
    form = FORMS["approve"]
    client.post(things.address(form.address), form.good(things))
    data = form.good(things) | {"password": "", "once": "x"}
    assert client.post(things.address(form.address), data).status_code == 403


KEPT_ELSEWHERE = [name for name, form in FORMS.items() if form.act not in BY_CODE | SIGNED]


@pytest.mark.parametrize("name", KEPT_ELSEWHERE)
def test_whatever_is_neither_recording_nor_signed_is_refused_though_the_password_be_right(
    things, name
):
    form = FORMS[name]
    who = things.ground.cast[form.who]
    client = tablet(things, who)
    assert unlock(client, who).status_code == 302
    address, data = things.address(form.address), form.good(things)
    before = Entry.objects.count()
    assert client.post(address, data).status_code == 403
    assert acts_after(before) == ["audit.refused"]
    assert Entry.objects.first().after["kind"] == "personal code"


def test_signed_in_with_the_password_on_a_tablet_everything_is_open(things):
    client = tablet(things)
    client.post("/sign-in/", {"sign_in": "test-admin", "password": PASSWORD})
    form = FORMS["qualification"]
    assert client.post(things.address(form.address), form.good(things)).status_code == 302


def test_the_password_on_that_tablet_takes_back_five_wrong_codes(things):
    client, stores = tablet(things), things.ground.stores
    statuses = [unlock(client, stores, code="482914").status_code for _try in range(5)]
    assert statuses == [400] * 5
    assert unlock(client, stores).status_code == 403
    client.post("/sign-in/", {"sign_in": "test-stores", "password": PASSWORD})
    client.post("/sign-out/")
    assert unlock(client, stores).status_code == 302


def test_an_ended_tablet_ends_the_sitting_at_its_next_request_and_keeps_nothing(things):
    client = tablet(things)
    unlock(client, things.ground.stores)
    address, data = delivery(things)
    end(things.ground, Device.objects.get(), at=things.now)
    assert client.post(address, data)["Location"].startswith("/sign-in/")
    assert not Entry.objects.filter(once="d-1").exists()
    assert unlock(client, things.ground.stores)["Location"] == "/sign-in/"


def test_a_sitting_carried_to_another_browser_is_none(things):
    client = tablet(things)
    unlock(client, things.ground.stores)
    thief = Client()
    thief.cookies["session"] = client.cookies["session"].value
    assert thief.get("/store/")["Location"] == "/sign-in/?next=/store/"


@pytest.mark.parametrize(
    "forged", ["", "x", "{id}", "{id}:", "{id}:wrong", "nobody:{key}", ":{key}"]
)
def test_a_forged_tablet_is_none(things, forged):
    device, key = enrol(things.ground, at=things.now)
    set_code(things.ground, at=things.now)
    client = Client()
    client.cookies["tablet"] = forged.format(id=device.public_id, key=key)
    assert client.get("/lock/")["Location"] == "/sign-in/"
    client.cookies["tablet"] = f"{device.public_id}:{key}"  # the control
    assert client.get("/lock/").status_code == 200


def test_switched_off_a_person_is_out_and_not_offered(things):
    client = tablet(things)
    unlock(client, things.ground.stores)
    accounts.disable_person(
        things.ground.site, things.ground.stores, reason="left", by=things.ground.admin
    )
    assert client.get("/store/").status_code == 302
    assert things.ground.stores.name not in client.get("/lock/").text
