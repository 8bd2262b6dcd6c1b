"""Two grounds in one database: the things of one do not exist for the people of the other."""

from __future__ import annotations

import io
import zipfile

import pytest
from django.apps import apps
from django.test import Client
from django.urls import get_resolver

from facility.guarded import PublicModel
from facility.people.permissions import ADDRESSES, Role
from tests.pages import MORE, THING, Things, rows
from tests.test_addresses import CAST

WITH_ID = [name for name in ADDRESSES if name in THING or name in MORE]


@pytest.fixture
def grounds(db) -> tuple[Things, Things]:
    """Two grounds with every kind of thing in both."""
    here, there = Things("Home ground"), Things("Elsewhere ground")
    for things in (here, there):
        for kind in sorted(set(THING.values())):
            assert getattr(things, kind)
    return here, there


def client_of(things: Things, role: Role) -> Client:
    client = Client()
    client.force_login(things.ground.cast[CAST[role]])
    return client


def inside(name: str, method: str) -> list[Role]:
    return sorted(set(CAST) & (ADDRESSES[name].roles(method) or set()))


def marks_of(things: Things) -> set[str]:
    """What would give a thing of this ground away on a page: ids as stored and as printed."""
    public = [model for model in apps.get_models() if issubclass(model, PublicModel)]
    marks = {things.ground.site.name}
    for model in public:
        for row in model._default_manager.all():
            if getattr(row, "site", None) == things.ground.site:
                marks |= {row.public_id, row.reference}
    marks |= {person.public_id for person in things.ground.cast.values()}
    return marks | {lot.code for lot in things.ground.site.lots.all()}


def test_every_address_with_an_id_is_tried():
    resolver = get_resolver()
    for name in ADDRESSES:
        app, page = name.split(":")
        blanks = resolver.namespace_dict[app][1].reverse_dict[page][0][0][1]
        assert (name in WITH_ID) == ("public_id" in blanks), name


def test_a_thing_of_another_ground_is_not_found_and_nothing_is_written(grounds, subtests):
    here, there = grounds
    before = rows()
    for name in WITH_ID:
        for method in ("GET", "POST"):
            for role in inside(name, method):
                with subtests.test(f"{method} {name} as {role}"):
                    answer = client_of(here, role).generic(method, there.address(name))
                    assert answer.status_code == 404
                    assert there.ground.site.name not in answer.text
    assert rows() == before


def text_of(answer) -> str:
    """What an answer says; of a zip, what the files in it say."""
    content = answer.getvalue()
    if not zipfile.is_zipfile(io.BytesIO(content)):
        return str(content.decode(errors="replace"))
    with zipfile.ZipFile(io.BytesIO(content)) as bundle:
        return "".join(bundle.read(name).decode(errors="replace") for name in bundle.namelist())


def test_no_page_shows_a_thing_of_another_ground(grounds, subtests):
    """Lists, choices of forms and filters alike; a PDF is packed and cannot be read this way."""
    here, there = grounds
    foreign = marks_of(there)
    for name in [each for each in ADDRESSES if not each.endswith("_pdf")]:
        for role in inside(name, "GET"):
            with subtests.test(f"{name} as {role}"):
                answer = client_of(here, role).get(here.address(name))
                text = text_of(answer)
                assert [mark for mark in foreign if mark in text] == []


@pytest.mark.parametrize(
    ("name", "role", "of"),
    [
        ("stock:on_hand", Role.AUDITOR, lambda things: things.lot.code),
        ("plans:plans", Role.AUDITOR, lambda things: things.draft.public_id),
        ("burns:burns", Role.AUDITOR, lambda things: things.closed.public_id),
        ("inspections:units", Role.AUDITOR, lambda things: things.unit.public_id),
        ("ground:people", Role.ADMIN, lambda things: things.ground.stores.public_id),
        ("audit:log", Role.AUDITOR, lambda things: things.lot.public_id),
    ],
)
def test_the_marks_looked_for_are_ones_a_list_shows(grounds, name, role, of):
    """The control of the test above: each ground sees its own, and the other does not."""
    for here, there in (grounds, grounds[::-1]):
        shown = client_of(here, role).get(f"{here.address(name)}?per_page=100").text
        assert of(here) in shown
        assert of(there) not in shown
        assert {of(here)} <= marks_of(here)


@pytest.mark.parametrize("role", [Role.INSTRUCTOR, Role.MANAGER])
def test_live_findings_do_not_judge_another_grounds_plan(grounds, role):
    here, there = grounds
    before = rows()
    answer = client_of(here, role).post("/plans/findings/", {"plan": there.draft.public_id})
    assert answer.status_code == 404
    assert rows() == before


def test_a_ground_where_the_person_holds_no_role_cannot_be_chosen(grounds):
    here, there = grounds
    client = client_of(here, Role.AUDITOR)
    client.post("/choose-ground/", {"ground": there.ground.site.public_id})
    shown = client.get("/store/").text
    assert here.lot.code in shown
    assert there.lot.code not in shown


def test_the_key_of_a_form_sent_on_another_ground_opens_nothing_there(grounds):
    """A once-key is unique in the whole log; sent again from elsewhere it must not lead across."""
    here, there = grounds
    key = "the-same-key"
    given = {"once": key, "place": "wall", "description": "a hole"}
    client_of(there, Role.INSTRUCTOR).post(there.address("inspections:stop"), given)
    before = rows()
    answer = client_of(here, Role.INSTRUCTOR).post(
        here.address("inspections:stop"), given, follow=True
    )
    assert answer.status_code == 404
    assert rows() == before
