"""One's own password: changed with the old one, and every sitting elsewhere ends."""

from __future__ import annotations

import pytest
from django.test import Client

from facility.people.models import Person, Tries
from facility.people.passwords import is_repetition
from facility.people.permissions import Role
from facility.refusals import AlreadyDone, TooSoon, WrongValue
from records.accounts import services
from records.audit.models import Entry
from records.ground import services as ground_services
from tests.asking import acts_after, refuses, writes
from tests.builders import NOW, PASSWORD

ACT = "people.password_changed"
ANOTHER = "quite another long one"


def change(ground, **changes):
    given = {"old": PASSWORD, "new": ANOTHER, "at": NOW}
    services.change_password(ground.site, ground.stores, **{**given, **changes})


def test_the_new_password_counts_and_the_old_one_no_longer(ground):
    with writes(ACT, Tries, alters=[Person]):
        change(ground)
    person = Person.objects.get(pk=ground.stores.pk)
    assert person.check_password(ANOTHER)
    assert not person.check_password(PASSWORD)
    assert not person.must_change_password


def test_a_wrong_old_password_changes_nothing_and_is_logged(ground):
    count = Entry.objects.count()
    with pytest.raises(WrongValue):
        change(ground, old="not the old one")
    assert acts_after(count) == ["audit.refused"]
    assert Entry.objects.first().after == {"act": ACT, "kind": "wrong password"}
    assert Person.objects.get(pk=ground.stores.pk).check_password(PASSWORD)


def test_guessing_the_old_password_slows_down(ground):
    for _try in range(3):
        with pytest.raises(WrongValue):
            change(ground, old="not the old one")
    with pytest.raises(TooSoon):
        change(ground)


@pytest.mark.parametrize(
    "new",
    [
        PASSWORD, "", "fourteen chars", "1q2w3e4r5t6y7u8i9o0p", "aaaaaaaaaaaaaaaaaaaa",
        "password password", "test-stores-test-stores", "The stores officer",
    ],
)  # fmt: skip
def test_a_password_easily_guessed_or_unchanged_is_refused(ground, new):
    count = Entry.objects.count()
    with pytest.raises(WrongValue) as caught:
        change(ground, new=new)
    assert caught.value.field == "new"
    assert acts_after(count) == []


@pytest.mark.parametrize(
    "new",
    [
        "correct horse battery staple", "alllowercaseletters", "999 little red engines",
        "длинный пароль словами", "  blanks at both ends  ", "x y" * 3 + "!" * 180 + "long enough",
    ],
)  # fmt: skip
def test_no_composition_is_asked_for_and_two_hundred_characters_are_taken(ground, new):
    change(ground, new=new)
    assert Person.objects.get(pk=ground.stores.pk).check_password(new)


@pytest.mark.parametrize(
    ("password", "is_one"),
    [("aaaa", True), ("abab", True), ("Pass pass", True), ("passwords", False), ("abcab", True),
     ("abcabd", False)],
)  # fmt: skip
def test_a_repetition_is_a_piece_over_and_over(password, is_one):
    assert is_repetition(password) is is_one


def test_the_same_form_sent_twice_changes_it_once(ground):
    change(ground, once="form-1")
    with refuses(AlreadyDone):
        services.change_password(
            ground.site, ground.stores, old=ANOTHER, new="and yet another long one", at=NOW,
            once="form-1",
        )  # fmt: skip


def test_the_page_it_was_changed_on_stays_open_and_every_other_ends(ground, signed_in):
    here, elsewhere = signed_in(ground.stores), signed_in(ground.stores)
    given = {"old": PASSWORD, "new": ANOTHER}
    old_key = here.cookies["session"].value
    assert here.post("/people/me/password/", given).status_code == 302
    assert here.get("/store/").status_code == 200
    assert here.cookies["session"].value != old_key
    assert elsewhere.get("/store/").status_code == 302
    assert elsewhere.post("/store/deliveries/new/", {}).status_code == 302


def test_all_sittings_end_when_asked_for_this_one_too(ground, signed_in):
    here, elsewhere = signed_in(ground.stores), signed_in(ground.stores)
    assert here.post("/people/me/end-sessions/").status_code == 302
    for client in (here, elsewhere):
        assert client.get("/store/").status_code == 302
    assert Entry.objects.first().act == "people.sessions_ended"


def test_whoever_has_a_first_password_sees_only_the_page_to_change_it(ground, signed_in):
    person = ground_services.add_person(
        ground.site, name="New One", sign_in="new-one", password=ANOTHER, role=Role.STORES,
        since=NOW.date(), by=ground.admin, at=NOW,
    )  # fmt: skip
    client = signed_in(person)
    for method in (client.get, client.post):
        assert method("/store/products/new/")["Location"] == "/people/me/password/"
    assert client.get("/people/me/password/").status_code == 200
    given = {"old": ANOTHER, "new": "my very own password"}
    assert client.post("/people/me/password/", given)["Location"] == "/people/me/"
    assert client.get("/store/").status_code == 200


def test_passwords_can_be_pasted_and_kept_by_a_password_manager(ground, signed_in):
    """No handler and no length stands in the way (the page policy allows no inline script)."""
    pages = [Client().get("/sign-in/"), signed_in(ground.stores).get("/people/me/password/")]
    for page in pages:
        assert "onpaste" not in page.text
        assert 'maxlength="200"' in page.text
    assert 'autocomplete="current-password"' in pages[0].text
    assert 'autocomplete="new-password"' in pages[1].text
