"""A one-time link: the person chooses the password, and no administrator ever knows it (ASVS 6.4.6)."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.test import Client
from django.utils import timezone

from facility.people.models import PasswordLink, Person, RecoveryCode, SecondFactor, Tries
from facility.people.permissions import Role
from facility.people.selectors import has_second_factor
from facility.people.throttle import FREE_FROM_ONE_ADDRESS
from facility.refusals import AlreadyDone, NotHere, TooSoon, WrongState, WrongValue
from records.accounts import links, services
from records.audit.models import Disclosed, Entry
from records.ground import services as ground_services
from tests import builders
from tests.asking import acts_after, refuses, writes
from tests.builders import NOW, PASSWORD

MADE, CHOSEN, REFUSED = (
    "ground.password_link_made", "people.password_chosen", "people.link_refused",
)  # fmt: skip
ANOTHER = "quite another long one"
DAY = dt.timedelta(hours=24)
SECOND = dt.timedelta(seconds=1)


def make(ground, person=None, **changes):
    given = {"reason": "forgot it", "by": ground.admin, "at": NOW}
    return services.make_password_link(ground.site, person or ground.stores, **given | changes)


def choose(key, **changes):
    given = {"new": ANOTHER, "again": ANOTHER, "address": "198.51.100.7", "at": NOW}
    return links.choose_password(key, **given | changes)


def now(person: Person) -> Person:
    return Person.objects.get(pk=person.pk)


def does_not_work(key, **changes) -> None:
    """One answer, one entry without the key, and the password as it was."""
    before, count = Person.objects.values_list("pk", "password"), Entry.objects.count()
    before = list(before.order_by("pk"))
    with pytest.raises(NotHere) as caught:
        choose(key, **changes)
    assert caught.value.sentence == links.dead_link().sentence
    assert acts_after(count) == [REFUSED]
    assert list(Person.objects.order_by("pk").values_list("pk", "password")) == before


def test_a_link_is_kept_as_a_hash_and_changes_nothing_by_itself(ground):
    with writes(MADE, PasswordLink):
        key = make(ground)
    assert now(ground.stores).check_password(PASSWORD)
    assert len(key) >= 43  # 256 bits in base64
    row = PasswordLink.objects.values_list("key_hash").get()
    said = [*row, Entry.objects.first().body, *Disclosed.objects.values_list("value", flat=True)]
    assert not [text for text in said if key in text]


def test_whoever_opens_it_chooses_the_password_and_every_open_page_ends(ground):
    key, before = make(ground), now(ground.stores).get_session_auth_hash()
    with writes(CHOSEN, Tries, alters=[Person, PasswordLink]):
        choose(key)
    person = now(ground.stores)
    assert person.check_password(ANOTHER)
    assert not person.check_password(PASSWORD)
    assert person.get_session_auth_hash() != before
    assert not person.must_change_password
    assert Entry.objects.first().actor == person.public_id


def test_somebody_new_has_no_password_until_they_chose_one(ground):
    person = ground_services.add_person(
        ground.site, name="New One", sign_in="new-one", role=Role.STORES, since=NOW.date(),
        by=ground.admin, at=NOW,
    )  # fmt: skip
    assert not person.has_usable_password()
    choose(make(ground, person))
    assert now(person).check_password(ANOTHER)


def test_a_link_works_once(ground):
    key = make(ground)
    choose(key)
    does_not_work(key, new="a third very long one", again="a third very long one")


def test_the_same_form_sent_twice_acts_once(ground):
    key = make(ground)
    choose(key, once="form-1")
    with pytest.raises(AlreadyDone):
        choose(key, once="form-1")


@pytest.mark.parametrize(
    ("at", "works"), [(NOW + DAY - SECOND, True), (NOW + DAY, False), (NOW - SECOND, False)]
)
def test_a_link_works_for_a_day(ground, at, works):
    key = make(ground)
    if works:
        assert choose(key, at=at) == ground.stores
    else:
        does_not_work(key, at=at)


def test_a_new_link_ends_the_one_before_it(ground):
    old, new = make(ground), make(ground)
    does_not_work(old)
    assert choose(new) == ground.stores


def test_switching_off_ends_it_for_good(ground):
    key = make(ground)
    given = {"by": ground.admin, "at": NOW}
    services.disable_person(ground.site, ground.stores, reason="left", **given)
    does_not_work(key)
    with refuses(WrongState):
        make(ground)
    services.enable_person(ground.site, ground.stores, reason="back", **given)
    does_not_work(key)


def test_another_password_ends_it(ground):
    key = make(ground)
    services.change_password(ground.site, ground.stores, old=PASSWORD, new=ANOTHER, at=NOW)
    does_not_work(key)


def test_without_a_role_or_with_work_on_another_ground_it_does_not_work(ground, other):
    key, theirs = make(ground), make(ground, ground.manager)
    services.end_role(ground.site, ground.stores, role=Role.STORES, by=ground.admin, at=NOW)
    does_not_work(key)
    ground_services.give_role(
        other.site, ground.manager, role=Role.STORES, since=NOW.date(), by=other.admin, at=NOW
    )
    does_not_work(theirs)


@pytest.mark.parametrize("key", ["", "x" * 43, "' OR 1=1 --"])
def test_a_link_that_nobody_made_does_not_work(ground, key):
    make(ground)
    does_not_work(key)


def test_whoever_guesses_waits_and_fills_no_log(ground):
    count = Entry.objects.count()
    for _try in range(FREE_FROM_ONE_ADDRESS):
        with pytest.raises(NotHere):
            choose("x")
    for _try in range(3):
        with pytest.raises(TooSoon):
            choose(make(ground))
    refused = [act for act in acts_after(count) if act == REFUSED]
    assert len(refused) == FREE_FROM_ONE_ADDRESS + 1
    assert choose(make(ground), address="203.0.113.9") == ground.stores  # the owner, elsewhere


@pytest.mark.parametrize(
    "password", ["", "fourteen chars", "1q2w3e4r5t6y7u8i9o0p", "the stores officer"]
)
def test_no_easy_password_and_the_link_still_works(ground, password):
    key = make(ground)
    choose_easy = {"new": password, "again": password}
    with pytest.raises(WrongValue) as caught:
        choose(key, **choose_easy)
    assert caught.value.field == "new"
    with pytest.raises(WrongValue) as caught:
        choose(key, again="typed in another way")
    assert caught.value.field == "again"
    assert choose(key) == ground.stores


def test_a_lost_phone_leaves_with_the_use_of_the_link(ground):
    builders.with_factor(ground.stores, NOW)
    key = make(ground, phone_lost=True)
    assert has_second_factor(ground.stores)
    with writes(CHOSEN, Tries, alters=[Person, PasswordLink, SecondFactor, RecoveryCode]):
        choose(key)
    assert not has_second_factor(ground.stores)


def test_a_forgotten_password_alone_leaves_the_second_factor_on(ground):
    builders.with_factor(ground.stores, NOW)
    choose(make(ground))
    assert has_second_factor(ground.stores)


@pytest.fixture
def today(db):
    """The pages read the clock, so this ground lives today."""
    return builders.found_ground(at=timezone.now())


def test_the_pages_from_the_administrator_to_the_first_sign_in(today, signed_in):
    admin, page = signed_in(today.admin), f"/people/{today.stores.public_id}/password/"
    shown = admin.post(page, {"reason": "forgot it"}, follow=True).text
    (path,) = re.findall(r"http://testserver(/choose-password/[\w-]+/)", shown)
    assert path not in admin.get(page).text  # shown once
    assert 'name="password"' not in shown
    visitor = Client()
    opened = visitor.get(path)
    assert opened.status_code == 200
    assert opened["Referrer-Policy"] == "no-referrer"
    assert today.stores.name not in opened.text
    sent = visitor.post(path, {"new": ANOTHER, "again": ANOTHER})
    assert sent["Location"] == "/sign-in/"
    answer = visitor.post("/sign-in/", {"sign_in": "test-stores", "password": ANOTHER})
    assert answer.status_code == 302
    assert visitor.get("/store/").status_code == 200


def test_every_dead_link_gets_the_same_page(today, signed_in):
    given = {"reason": "forgot it", "by": today.admin}
    old = services.make_password_link(
        today.site, today.stores, **given, at=timezone.now() - DAY - SECOND
    )
    used = services.make_password_link(today.site, today.stores, **given)
    links.choose_password(used, new=ANOTHER, again=ANOTHER, address="")
    pages = [Client().get(f"/choose-password/{key}/") for key in (old, used, "never-made")]
    pages += [
        Client().post(f"/choose-password/{key}/", {"new": ANOTHER, "again": ANOTHER})
        for key in (old, used, "never-made")
    ]
    assert {page.status_code for page in pages} == {404}
    # past the head of the page, where each has a token of its own
    said = [re.search("<main.*</main>", page.text, re.S) for page in pages]
    assert len({each[0] for each in said}) == 1


def test_adding_somebody_leads_to_the_link(today, signed_in):
    given = {"name": "New", "role": "stores", "sign_in": "new-one"}
    answer = signed_in(today.admin).post("/people/new/", given)
    person = Person.objects.get(sign_in="new-one")
    assert answer["Location"] == f"/people/{person.public_id}/password/"
    assert not person.has_usable_password()
