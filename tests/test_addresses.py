"""Who reaches which address: every address, every role, GET and POST, against the one table.

The expected answer is read from ``permissions.ADDRESSES``; what must hold is that the gate, the
addresses and the table are one thing.
"""

from __future__ import annotations

import pytest
from django.conf import settings
from django.db import transaction
from django.test import Client

from facility.people.permissions import ADDRESSES, SIGNS_IN, Role
from records.accounts import services as accounts
from tests.pages import Things, names_of_addresses

METHODS = ("GET", "POST")
STRANGER = None
DOOR = Client(raise_request_exception=False)
CAST = {
    Role.STORES: "stores", Role.MANAGER: "manager", Role.INSTRUCTOR: "instructor",
    Role.SAFETY: "safety", Role.INSPECTOR: "inspector", Role.AUDITOR: "auditor",
    Role.ADMIN: "admin",
}  # fmt: skip


def expected(name: str, method: str, role: Role | None) -> str:
    roles = ADDRESSES[name].roles(method)
    if roles is None:
        return "no such method"
    if ADDRESSES[name].public:
        return "inside"
    if role is STRANGER:
        return "sign in first"
    return "inside" if role in roles & SIGNS_IN else "not yours"


def answered(response) -> str:
    if response.status_code == 302 and response["Location"].startswith("/sign-in/?next="):
        return "sign in first"
    if response.status_code >= 500:
        return "broken"
    return {405: "no such method", 403: "not yours", 401: "sign in first"}.get(
        response.status_code, "inside"
    )


def knock(session: str, method: str, address: str) -> str:
    """Ask one address, and undo what the answer wrote, a sign-out included."""
    DOOR.cookies.clear()
    DOOR.cookies[settings.SESSION_COOKIE_NAME] = session
    with transaction.atomic():
        response = DOOR.generic(method, address)
        transaction.set_rollback(True)
    return answered(response)


@pytest.fixture
def things(db) -> Things:
    return Things()


def session_of(things: Things, role: Role | None) -> str:
    if role is STRANGER:
        return ""
    ground = things.ground
    client = Client()
    client.force_login(ground.learners[0] if role == Role.LEARNER else ground.cast[CAST[role]])
    return client.cookies[settings.SESSION_COOKIE_NAME].value


def test_the_table_lists_exactly_the_addresses_there_are():
    assert sorted(names_of_addresses()) == sorted(ADDRESSES)


def test_every_address_answers_every_role_as_the_table_says(things, monkeypatch):
    """Who gets a document is asked here; that it can be made is asked elsewhere, and takes long."""
    monkeypatch.setattr("records.reports.pdf.render_pdf", lambda *given, **more: b"%PDF")
    addresses = {name: things.address(name) for name in ADDRESSES}
    sessions = {role: session_of(things, role) for role in (*Role, STRANGER)}
    wrong = [
        f"{method} {name} as {role}: {got}, the table says {wanted}"
        for name, address in addresses.items()
        for method in METHODS
        for role, session in sessions.items()
        if (got := knock(session, method, address)) != (wanted := expected(name, method, role))
    ]
    assert wrong == []


@pytest.mark.parametrize("method", ["PUT", "PATCH", "DELETE", "OPTIONS", "TRACE"])
def test_no_address_takes_another_method(things, method):
    session = session_of(things, Role.MANAGER)
    open_to_it = [
        name
        for name in ADDRESSES
        if knock(session, method, things.address(name)) != "no such method"
    ]
    assert open_to_it == []


def test_an_address_missing_from_the_table_answers_nobody(things, monkeypatch):
    address = things.address("stock:lot")
    monkeypatch.delitem(ADDRESSES, "stock:lot")
    for role in Role:
        assert knock(session_of(things, role), "GET", address) == "not yours"


def test_a_person_switched_off_is_a_stranger_at_once_and_stays_one(things):
    """The open page can neither read nor write, also not once the account is on again."""
    ground, session = things.ground, session_of(things, Role.STORES)
    assert knock(session, "GET", "/store/") == "inside"
    accounts.disable_person(ground.site, ground.stores, reason="left", by=ground.admin)
    for method in METHODS:
        assert knock(session, method, "/store/deliveries/new/") == "sign in first"
    accounts.enable_person(ground.site, ground.stores, reason="came back", by=ground.admin)
    assert knock(session, "GET", "/store/") == "sign in first"
    ground.stores.refresh_from_db()
    assert knock(session_of(things, Role.STORES), "GET", "/store/") == "inside"


def test_a_role_that_has_ended_opens_nothing_at_the_next_request(things):
    ground, session = things.ground, session_of(things, Role.STORES)
    assert knock(session, "GET", "/store/") == "inside"
    accounts.end_role(ground.site, ground.stores, role=Role.STORES, by=ground.admin)
    for method in METHODS:
        assert knock(session, method, "/store/deliveries/new/") == "not yours"
