"""The second factor: switched on with a code, asked for at every sign-in, each code once."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.utils import timezone

from facility.people.models import RecoveryCode, SecondFactor, Tries
from facility.people.selectors import has_second_factor
from facility.refusals import TooSoon, WrongState, WrongValue
from records.accounts import second_factor, signing_in
from records.audit.models import Entry
from tests import builders
from tests.asking import acts_after, refuses, writes
from tests.builders import NOW, PASSWORD

ON, OFF = "people.second_factor_on", "people.second_factor_off"
MINUTE = dt.timedelta(minutes=1)


def offered(person):
    sealed = second_factor.offer(person)
    return sealed, second_factor.seed_offered(person, sealed)


def switch_on(ground, person=None, **changes):
    person = person or ground.stores
    sealed, seed = offered(person)
    given = {"sealed": sealed, "code": builders.code_of(seed, NOW), "at": NOW}
    return second_factor.switch_on(ground.site, person, **{**given, **changes})


def test_it_is_switched_on_by_a_code_of_the_key_that_was_offered(ground):
    with writes(ON, SecondFactor, RecoveryCode):
        codes = switch_on(ground)
    assert has_second_factor(ground.stores)
    assert len(set(codes)) == 8


def test_neither_key_nor_codes_are_in_the_database(ground):
    """The key is worked out from the seed and the secret key; the codes are kept as hashes."""
    sealed, seed = offered(ground.stores)
    codes = switch_on(ground, sealed=sealed, code=builders.code_of(seed, NOW))
    key = second_factor.key_of(seed)
    held = SecondFactor.objects.get()
    assert held.seed == seed
    assert key.hex() not in held.seed
    hashes = set(RecoveryCode.objects.values_list("code_hash", flat=True))
    assert not hashes & {each.replace("-", "") for each in codes}
    bits = 24 * 4.9  # 24 of 30 letters and digits, log2(30) = 4.9
    assert {len(each.replace("-", "")) for each in codes} == {24}
    assert bits > 112


def test_another_secret_key_gives_another_key(ground, settings):
    before = second_factor.key_of("seed")
    settings.SECRET_KEY = "another secret"
    assert second_factor.key_of("seed") != before


@pytest.mark.parametrize("code", ["000000", "", "abc"])
def test_a_wrong_code_switches_nothing_on(ground, code):
    with refuses(WrongValue, "code"):
        switch_on(ground, code=code)


def test_an_offer_to_someone_else_or_a_forged_one_is_refused(ground):
    for sealed in (offered(ground.manager)[0], "x", ""):
        with refuses(WrongValue):
            switch_on(ground, sealed=sealed)


def test_it_is_switched_on_once(ground):
    switch_on(ground)
    with refuses(WrongState):
        switch_on(ground)


def sign_in(ground, code, at):
    signing_in.prove_code(ground.stores, code, at=at)


def test_a_code_lets_in_once(ground):
    seed = builders.with_factor(ground.stores, NOW)
    code = builders.code_of(seed, NOW)
    with writes("people.signed_in", Tries, alters=[SecondFactor]):
        sign_in(ground, code, NOW)
    with pytest.raises(WrongValue):
        sign_in(ground, code, NOW)


def test_the_code_that_switched_it_on_does_not_let_in(ground):
    sealed, seed = offered(ground.stores)
    code = builders.code_of(seed, NOW)
    switch_on(ground, sealed=sealed, code=code)
    with pytest.raises(WrongValue):
        sign_in(ground, code, NOW)


def test_a_recovery_code_lets_in_once_however_it_is_typed(ground):
    code = switch_on(ground)[0]
    sign_in(ground, code.upper().replace("-", " "), NOW)
    assert Entry.objects.first().after == {"kind": "recovery code"}
    with pytest.raises(WrongValue):
        sign_in(ground, code, NOW)
    assert RecoveryCode.objects.filter(used_at__isnull=True).count() == 7


def test_the_recovery_code_of_another_person_is_no_code(ground):
    code = switch_on(ground, ground.manager)[0]
    switch_on(ground)
    with pytest.raises(WrongValue):
        sign_in(ground, code, NOW)


def test_wrong_codes_are_logged_and_slow_down(ground):
    builders.with_factor(ground.stores, NOW)
    count = Entry.objects.count()
    for _try in range(3):
        with pytest.raises(WrongValue):
            sign_in(ground, "000000", NOW)
    with pytest.raises(TooSoon):
        sign_in(ground, "000000", NOW)
    assert acts_after(count) == ["people.sign_in_refused"] * 4
    outcomes = [each.after["outcome"] for each in Entry.objects.filter(seq__gte=count)]
    assert outcomes == ["too soon", *["wrong code"] * 3]


def test_it_is_switched_off_with_the_password_and_the_codes_end(ground):
    codes = switch_on(ground)
    with writes(OFF, Tries, alters=[SecondFactor, RecoveryCode]):
        second_factor.switch_off(ground.site, ground.stores, password=PASSWORD, at=NOW)
    assert not has_second_factor(ground.stores)
    switch_on(ground)
    with pytest.raises(WrongValue):
        sign_in(ground, codes[0], NOW)


def test_a_wrong_password_does_not_switch_it_off(ground):
    switch_on(ground)
    with pytest.raises(WrongValue):
        second_factor.switch_off(ground.site, ground.stores, password="wrong", at=NOW)
    assert has_second_factor(ground.stores)


def test_what_is_not_on_cannot_be_switched_off(ground):
    with pytest.raises(WrongState):
        second_factor.switch_off(ground.site, ground.stores, password=PASSWORD, at=NOW)


@pytest.fixture
def today(db):
    return builders.found_ground(at=timezone.now())


def half_way(name="test-stores") -> Client:
    client = Client()
    answer = client.post("/sign-in/?next=/store/", {"sign_in": name, "password": PASSWORD})
    assert answer["Location"] == "/sign-in/code/?next=%2Fstore%2F"
    return client


def test_the_password_alone_opens_nothing(today):
    builders.with_factor(today.stores)
    client = half_way()
    assert client.get("/store/").status_code == 302
    assert client.post("/sign-in/code/", {"code": "000000"}).status_code == 400
    assert client.get("/store/").status_code == 302
    assert not Entry.objects.filter(act="people.signed_in").exists()


def test_password_and_code_lead_to_the_page_that_was_wanted(today):
    seed = builders.with_factor(today.stores)
    client = half_way()
    code = builders.code_of(seed, timezone.now())
    answer = client.post("/sign-in/code/?next=/store/", {"code": code})
    assert answer["Location"] == "/store/"
    assert client.get("/store/").status_code == 200


def test_the_second_step_is_nothing_without_the_first_or_long_after_it(today):
    seed = builders.with_factor(today.stores)
    code = builders.code_of(seed, timezone.now())
    assert Client().post("/sign-in/code/", {"code": code})["Location"] == "/sign-in/"
    client = half_way()
    session = client.session
    session["half way in"] = [today.stores.public_id, int(timezone.now().timestamp()) - 301]
    session.save()
    assert client.post("/sign-in/code/", {"code": code})["Location"] == "/sign-in/"


def test_the_page_shows_the_key_and_the_recovery_codes_once(today, signed_in):
    client = signed_in(today.stores)
    page = client.get("/people/me/second-factor/")
    sealed = page.context["form"]["sealed"].value()
    seed = second_factor.seed_offered(today.stores, sealed)
    code = builders.code_of(seed, timezone.now())
    shown = client.post(
        "/people/me/second-factor/", {"sealed": sealed, "code": code}, follow=True
    ).text
    assert shown.partition("<ol")[2].count("<li>") == 8
    assert "shown once" in client.get("/people/me/recovery-codes/").text
    assert "<ol" not in client.get("/people/me/recovery-codes/").text


def test_roles_named_in_the_settings_do_nothing_before_they_have_one(today, signed_in, settings):
    settings.SECOND_FACTOR_ROLES = frozenset({"manager"})
    manager, stores = signed_in(today.manager), signed_in(today.stores)
    assert stores.get("/store/").status_code == 200
    for method in (manager.get, manager.post):
        assert method("/plans/new/")["Location"] == "/people/me/second-factor/"
    builders.with_factor(today.manager)
    assert manager.get("/plans/new/").status_code == 200
