"""Signing in: a new session, a growing wait after wrong passwords, and an entry for each refusal."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.utils import timezone

from facility.people.models import Person
from facility.people.permissions import Role
from records.accounts import services
from records.audit.models import Disclosed, Entry
from records.ground import services as ground_services
from tests import builders
from tests.builders import PASSWORD

REFUSED = "people.sign_in_refused"


@pytest.fixture
def ground(db):
    """The pages read the clock, so this ground lives today."""
    return builders.found_ground(at=timezone.now())


def post(client=None, name="test-stores", password=PASSWORD, **options):
    return (client or Client()).post(
        "/sign-in/", {"sign_in": name, "password": password}, **options
    )


def refusals() -> list[dict]:
    return [each.after for each in Entry.objects.filter(act=REFUSED).order_by("seq")]


def test_a_sign_in_begins_a_session_under_a_new_key_and_is_logged(ground):
    client = Client()
    client.cookies["session"] = "a-key-that-someone-else-chose-000"
    before = Entry.objects.count()
    assert post(client).status_code == 302
    assert client.cookies["session"].value != "a-key-that-someone-else-chose-000"
    entry = Entry.objects.get(seq__gte=before)
    assert (entry.act, entry.actor) == ("people.signed_in", ground.stores.public_id)


def test_a_session_key_from_before_signing_in_is_worth_nothing_after(ground):
    builders.with_factor(ground.stores)
    client = Client()
    post(client)  # half way in: the session has a key
    half = client.cookies["session"].value
    code = builders.code_of(ground.stores.second_factor.seed, timezone.now())
    assert client.post("/sign-in/code/", {"code": code}).status_code == 302
    thief = Client()
    thief.cookies["session"] = half
    assert thief.get("/store/").status_code == 302
    assert client.get("/store/").status_code == 200


def test_signing_out_ends_the_session_at_the_server(ground):
    client = Client()
    post(client)
    key = client.cookies["session"].value
    client.post("/sign-out/")
    thief = Client()
    thief.cookies["session"] = key
    assert thief.get("/store/").status_code == 302


def test_the_cookies_are_kept_from_scripts_and_other_sites(ground):
    client = Client()
    post(client)
    for name in ("session", "known"):
        assert client.cookies[name]["httponly"]
        assert client.cookies[name]["samesite"] == "Strict"


@pytest.mark.parametrize(
    ("name", "password"),
    [
        ("test-stores", "not the password"),
        ("TEST-STORES", "not the password"),
        ("nobody", PASSWORD),
    ],
)
def test_every_refusal_gets_the_same_answer_and_one_entry(ground, name, password):
    before = Entry.objects.count()
    response = post(name=name, password=password)
    assert response.status_code == 400
    assert "Sign-in and password do not match an account." in response.text
    assert [each.act for each in Entry.objects.filter(seq__gte=before)] == [REFUSED]


def test_an_entry_names_a_known_account_but_neither_what_was_typed_nor_an_unknown_name(ground):
    post(password="hunter2 hunter2")
    post(name="mistyped-my-password-here", password="hunter2 hunter2")
    known, unknown = Entry.objects.filter(act=REFUSED).order_by("seq")
    assert known.obj == ground.stores.named_in_log
    assert known.actor == unknown.actor == unknown.obj == ""
    assert (known.role, known.after["outcome"]) == ("program", "wrong")
    assert len(unknown.after["code"]) == 12
    kept = [known.body, unknown.body, *Disclosed.objects.values_list("value", flat=True)]
    assert not [text for text in kept if "hunter2" in text or "mistyped" in text]


def test_no_account_without_a_role_or_switched_off_and_no_first_password_too_old_comes_in(ground):
    now = timezone.now()
    services.end_role(ground.site, ground.stores, role=Role.STORES, by=ground.admin)
    services.disable_person(ground.site, ground.manager, reason="left", by=ground.admin)
    ground_services.add_person(
        ground.site, name="Long Away", sign_in="test-away", password="quite another long one",
        role=Role.SAFETY, since=now.date(), by=ground.admin,
        at=now - dt.timedelta(days=7, seconds=1),
    )  # fmt: skip
    answers = {
        post(name="test-stores").status_code,
        post(name="test-manager").status_code,
        post(name="test-away", password="quite another long one").status_code,
    }
    assert answers == {400}
    assert [each["outcome"] for each in refusals()] == [
        "no role",
        "wrong",
        "first password too old",
    ]


def test_after_three_wrong_passwords_the_next_try_waits_though_it_be_right(ground):
    for _try in range(3):
        assert post(password="wrong").status_code == 400
    answer = post()
    assert answer.status_code == 429
    assert answer["Retry-After"] == "1"
    assert "Try again in 1 second." in answer.text
    assert [each["outcome"] for each in refusals()] == ["wrong"] * 3 + ["too soon"]


def test_an_unknown_name_is_slowed_down_alike(ground):
    statuses = [post(name="nobody", password="wrong").status_code for _try in range(4)]
    assert statuses == [400, 400, 400, 429]


def test_a_stranger_who_guesses_does_not_lock_the_owner_out(ground):
    """The owner's browser, where the owner signed in before, counts for itself (ASVS 6.1.1)."""
    owner = Client()
    post(owner)
    owner.post("/sign-out/")
    for _try in range(9):
        post(password="wrong", REMOTE_ADDR="198.51.100.7")
    assert post(REMOTE_ADDR="198.51.100.7").status_code == 429
    assert post(owner).status_code == 302


def test_the_owners_browser_is_slowed_down_by_its_own_tries(ground):
    owner = Client()
    post(owner)
    owner.post("/sign-out/")
    statuses = [post(owner, password="wrong").status_code for _try in range(4)]
    assert statuses == [400, 400, 400, 429]


def test_a_forged_mark_of_a_known_browser_counts_for_nothing(ground):
    for _try in range(4):
        post(password="wrong")
    client = Client()
    client.cookies["known"] = "WyJhIixbImIiXV0:1abc:forged"
    assert post(client).status_code == 429


def test_one_address_that_tries_many_names_is_slowed_down(ground):
    """Twenty free tries, for many people may share an address."""
    for number in range(20):
        assert post(name=f"name-{number}", password="wrong").status_code == 400
    assert post(name="name-20", password="wrong").status_code == 429
    assert post(name="name-20", password="wrong", REMOTE_ADDR="198.51.100.8").status_code == 400


def test_behind_a_proxy_of_ours_the_address_is_the_one_it_names(ground, settings):
    """What stands further left came from the visitor, who may write there anything."""
    settings.PROXIES = 1
    for number in range(20):
        post(name=f"name-{number}", password="wrong", HTTP_X_FORWARDED_FOR=f"1.2.3.{number}, 198.51.100.9")  # fmt: skip
    others = {"HTTP_X_FORWARDED_FOR": "198.51.100.9, 203.0.113.5"}
    assert post(name="a", password="wrong", HTTP_X_FORWARDED_FOR="198.51.100.9").status_code == 429
    assert post(name="a", password="wrong", **others).status_code == 400


def test_a_right_password_makes_the_count_begin_anew(ground):
    passwords = ["wrong", "wrong", PASSWORD, "wrong", "wrong", PASSWORD]
    statuses = [post(password=password).status_code for password in passwords]
    assert statuses == [400, 400, 302, 400, 400, 302]


def test_a_known_account_on_a_fresh_ground_without_people_is_refused_without_an_entry(db):
    assert post(name="nobody").status_code == 400
    assert not Entry.objects.exists()
    assert not Person.objects.exists()
