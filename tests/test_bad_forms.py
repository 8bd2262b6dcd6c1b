"""Wrong input is refused whole: a named field, a rule, what was typed kept, nothing written.

One good sending for each form; every field of it is spoiled in every way its kind can be.
"""

from __future__ import annotations

import html
import json
import re

import pytest
from django.apps import apps
from django.db import transaction
from django.test import Client

from records.audit.models import Disclosed, Entry
from records.burns.models import TimelineEvent
from records.plans import services as plans
from records.plans.models import PlanVersion
from records.stock.models import LotBalance, MoistureReading, Product
from tests import builders
from tests.forms_table import CONTROL, FORMS, Form, Number, Text, Time
from tests.pages import DAY, OURS, Things, rows

MARKUP = "<i>'\";--{}</i>"


@pytest.fixture
def things(db) -> Things:
    return Things()


def sender(things: Things, form: Form, **options) -> Client:
    client = Client(**options)
    client.force_login(things.ground.cast[form.who])
    return client


def named(things: Things, name: str) -> str:
    """The field as it is sent: some carry the id of the lot or the person they are about."""
    about = {
        "used": things.lot,
        "minutes": things.ground.safety,
        "position": things.ground.safety,
    }
    return f"{name}_{about[name].public_id}" if name in about else name


def good(things: Things, form: Form, key: str = "once-1"):
    return form.good(things) | {"once": key}


def words_of(page: str) -> str:
    return html.unescape(re.sub(r"<[^>]+>", " ", page))


def refused(response) -> str:
    """What is missing from a proper refusal of a form; empty when nothing is."""
    if not 400 <= response.status_code < 500:
        return f"status {response.status_code}"
    if not response.context or "form" not in response.context:
        return ""  # a page of its own says what was refused
    errors = response.context["form"].errors
    if not errors:
        return "no error on the form"
    shown = words_of(response.text)
    unseen = {
        name: message
        for name, messages in errors.items()
        for message in messages
        if message not in shown
    }
    return f"not shown: {unseen}" if unseen else ""


def is_text(form: Form, key: str) -> bool:
    return isinstance(form.fields[key], Text)


def kept(response, kind, value: str) -> bool:
    """Whether what was typed is still there; a list of choices cannot keep a strange one."""
    typed = isinstance(kind, (Text, Number, Time)) and getattr(kind, "drawn", True)
    return not typed or html.escape(value.strip()) in response.text


@pytest.mark.parametrize("name", FORMS)
def test_the_good_sending_is_accepted_once_and_takes_no_field_that_is_not_on_the_form(things, name):
    """The control: without it, every refusal below could have another cause."""
    form = FORMS[name]
    strange = {"state": "approved", "approved_by": "1", "site": "1", "seq": "0", "by": "x"}
    data, address = good(things, form) | strange, things.address(form.address)
    before = Entry.objects.count()
    assert sender(things, form).post(address, data).status_code == 302
    made = Entry.objects.filter(seq__gte=before)
    assert [(entry.act, entry.actor, entry.site) for entry in made] == [
        (form.act, things.ground.cast[form.who].public_id, things.ground.site.public_id)
    ]


@pytest.mark.parametrize("name", FORMS)
def test_each_field_spoiled_is_refused_by_name_and_nothing_is_written(things, name, subtests):
    form = FORMS[name]
    data, address = good(things, form), things.address(form.address)
    client, before = sender(things, form), rows()
    for field, kind in form.fields.items():
        key = named(things, field)
        for value in kind.spoiled(things):
            with subtests.test(f"{field}={value[:30]!r}"), transaction.atomic():
                response = client.post(address, data | {key: value})
                after = rows()
                transaction.set_rollback(True)
                assert refused(response) == ""
                assert after == before
                assert kept(response, kind, value)


@pytest.mark.parametrize("name", FORMS)
def test_an_empty_form_is_refused(things, name):
    form = FORMS[name]
    address, client, keys = things.address(form.address), sender(things, form), good(things, form)
    before = rows()
    for data in ({}, {"once": "k"}, dict.fromkeys(keys, "   ")):
        response = client.post(address, data)
        assert refused(response) == ""
        assert rows() == before


FOREIGN = {
    name: choices
    for name, form in FORMS.items()
    if (
        choices := {
            key: each for key, each in form.fields.items() if getattr(each, "foreign", None)
        }
    )
}


@pytest.mark.parametrize("name", FOREIGN)
def test_a_choice_of_another_ground_is_no_choice(things, name, subtests):
    form, other = FORMS[name], Things("Other ground")
    data, address = good(things, form), things.address(form.address)
    foreign = {field: kind.foreign(other) for field, kind in FOREIGN[name].items()}
    client, before = sender(things, form), rows()
    for field, key in foreign.items():
        with subtests.test(field):
            response = client.post(address, data | {field: key})
            assert refused(response) == ""
            assert rows() == before


@pytest.mark.parametrize("name", FORMS)
def test_a_form_sent_twice_takes_effect_once_and_leads_to_its_result(things, name):
    form = FORMS[name]
    data, address, client = good(things, form), things.address(form.address), sender(things, form)
    first = client.post(address, data)
    after_first = rows()
    second = client.post(address, data, follow=True)
    assert rows() == after_first
    assert (first.status_code, second.status_code) == (302, 200)
    assert form.leads_to in second.text


@pytest.mark.parametrize("name", FORMS)
def test_a_form_without_its_token_or_with_3000_parameters_is_refused(things, name):
    form = FORMS[name]
    data, address = good(things, form), things.address(form.address)
    before = rows()
    forged = sender(things, form, enforce_csrf_checks=True).post(address, data)
    many = data | {f"more_{number}": "1" for number in range(3000)}
    overgrown = sender(things, form).post(address, many)
    assert (forged.status_code, overgrown.status_code) == (403, 400)
    assert rows() == before


# Where a text can be read after it was accepted, if not where the form leads or in the log.
SHOWN_AT = {  # where a text stands that the page after sending does not show
    "product": lambda things: "/store/products/",
    "close": lambda things: things.address("burns:burn"),
    "correct": lambda things: f"/burns/{things.closed.public_id}/",
}
# Shown later only, on a closed burn; where a board lay is kept with its reading.
NOT_YET_SHOWN = {
    ("start", "ignition_method"), ("start", "weather"),
    ("readings", "place_0"), ("dried", "place_0"),
}  # fmt: skip
MARKED = {  # each field of a form with a text of its own
    name: texts
    for name, form in FORMS.items()
    if (texts := {key: MARKUP.format(n) for n, key in enumerate(form.fields) if is_text(form, key)})
}


@pytest.mark.parametrize("name", MARKED)
def test_markup_and_quotes_are_stored_as_typed_and_shown_escaped(things, name):
    form, texts = FORMS[name], MARKED[name]
    client = sender(things, form)
    response = client.post(things.address(form.address), good(things, form) | texts, follow=True)
    assert response.status_code == 200
    page = client.get(SHOWN_AT[name](things)).text if name in SHOWN_AT else response.text
    log = Client()
    log.force_login(things.ground.auditor)
    pages = page + log.get("/audit/").text
    assert [text for text in texts.values() if text in pages] == []
    unseen = {field for field, text in texts.items() if html.escape(text) not in pages}
    assert unseen == {field for form_name, field in NOT_YET_SHOWN if form_name == name}
    assert set(texts.values()) <= stored_texts()


def stored_texts() -> set[str]:
    """Every text in the database, bodies of the log aside; those beside it are JSON."""
    models = [model for model in apps.get_models() if model.__module__.startswith(OURS)]
    rows_of = (model._default_manager.values() for model in models if model is not Entry)
    texts = {
        value for found in rows_of for row in found for value in row.values() if str is type(value)
    }
    told = map(json.loads, Disclosed.objects.values_list("value", flat=True))
    return texts | {value for value in told if str is type(value)}


def post(things: Things, name: str, **spoiled):
    """Send a form with some fields other than good, and say what came of it."""
    form = FORMS[name]
    data, address = good(things, form) | spoiled, things.address(form.address)
    before = rows()
    response = sender(things, form).post(address, data)
    return response, rows() == before


EARLIER = [  # form, field, how many days from now: before the thing it follows
    ("readings", "read_at", -2), ("close", "ended_at", -2), ("correct", "ended_at", -3),
    ("repair", "done_at", -2), ("plan", "ends_at", 5), ("stage", "happened_at", -2),
    ("plan", "starts_at", -3), ("plan", "starts_at", 800), ("start", "ignited_at", -1),
]  # fmt: skip


@pytest.mark.parametrize(("name", "field", "days"), EARLIER)
def test_times_out_of_order_are_refused(things, name, field, days):
    response, unchanged = post(things, name, **{field: things.typed(things.now + days * DAY)})
    assert response.status_code == 400
    assert refused(response) == ""
    assert unchanged


@pytest.mark.parametrize(
    "name", ["approve", "accept", "confirm", "send back", "plan again", "correct"]
)
def test_what_was_changed_since_it_was_shown_is_refused_as_stale(things, name):
    hidden = {"plan again": {"seen_version": "7"}, "correct": {"seen_report": "7"}}
    response, unchanged = post(things, name, **hidden.get(name, {"shown_hash": "0" * 64}))
    assert response.status_code == 409
    assert refused(response) == ""
    assert unchanged


def test_a_newer_version_is_named_and_what_was_typed_stays(things):
    plan = things.draft
    form = FORMS["plan again"]
    data, address = good(things, form), things.address(form.address)
    plans.revise_plan(
        plan, things.content(5, objective="another"), seen_version=1, by=things.ground.manager,
        at=things.now,
    )  # fmt: skip
    before = rows()
    response = sender(things, form).post(address, data | {"objective": "mine, typed"})
    assert response.status_code == 409
    assert "The manager saved version 2" in words_of(response.text)
    assert "mine, typed" in response.text
    assert rows() == before


@pytest.mark.parametrize("wrong", ["wrong", builders.PASSWORD + " ", builders.PASSWORD.upper()])
def test_a_signature_with_a_wrong_password_signs_nothing(things, wrong):
    response, unchanged = post(things, "approve", password=wrong)
    assert response.status_code == 400
    assert "nothing was signed" in words_of(response.text)
    assert wrong not in response.text
    assert unchanged


def test_a_plan_over_the_cap_is_refused_with_the_finding(things):
    """Five boards of 25 kg dry are 125 kg, and at 17.5 MJ/kg more than 2100 MJ; the small standard
    allows 100 kg and 2000 MJ."""
    plan = builders.drafted(things.ground, things.content(5, boards=5), at=things.now)
    client, before = Client(), rows()
    client.force_login(things.ground.instructor)
    given = {"shown_hash": builders.hash_of(plan), "once": "k"}
    response = client.post(f"/plans/{plan.public_id}/submit/", given)
    assert response.status_code == 422
    said = words_of(response.text)
    assert "2 limits of the standard are not met" in said
    assert "at most 2\u202f000\u202fMJ allowed" in said
    assert rows() == before


@pytest.mark.parametrize(
    ("act", "given", "status"),
    [
        ("submit", {"shown_hash": ""}, 409), ("submit", {"shown_hash": "x" * 5000}, 409),
        ("withdraw", {"reason": ""}, 400), ("withdraw", {"reason": "   "}, 400),
        ("withdraw", {"reason": "x" * 501}, 400), ("withdraw", {"reason": CONTROL}, 400),
    ],
)  # fmt: skip
def test_the_small_forms_on_a_plan_are_refused_alike(things, act, given, status):
    client, address = Client(), f"/plans/{things.draft.public_id}/{act}/"
    client.force_login(things.ground.instructor)
    before = rows()
    assert client.post(address, given | {"once": "k" * 60}).status_code == status
    assert rows() == before


COMMAS = [  # form, field, typed, and where the number is then read
    ("adjust", "counted", "190,0", lambda: LotBalance.objects.get().on_hand, 190),
    ("readings", "reading_2", "8,5", lambda: MoistureReading.objects.last().moisture_pct, 8.5),
    ("neutral plane", "height_m", "1,25", lambda: TimelineEvent.objects.get().height_m, 1.25),
    ("neutral plane", "height_m", "125 cm", lambda: TimelineEvent.objects.get().height_m, 1.25),
    ("product", "thickness_mm", "18,5", lambda: newest_product().thickness_mm, 18.5),
    ("product", "thickness_mm", "0,0185 m", lambda: newest_product().thickness_mm, 18.5),
    ("plan", "water_l", "12 000", lambda: PlanVersion.objects.last().water_l, 12000),
]


def newest_product() -> Product:
    return Product.objects.get(name="Thick board")


@pytest.mark.parametrize(("name", "field", "typed", "stored", "value"), COMMAS)
def test_decimal_commas_and_other_units_of_the_same_kind_are_read(
    things, name, field, typed, stored, value
):
    response, unchanged = post(things, name, **{field: typed})
    assert response.status_code == 302
    assert not unchanged
    assert float(stored()) == value


SIGN_INS = [
    {}, {"sign_in": "", "password": ""}, {"sign_in": "   ", "password": "   "},
    {"sign_in": "x" * 41, "password": builders.PASSWORD},
    {"sign_in": "test-stores", "password": "x" * 201},
    {"sign_in": "test-stores", "password": "wrong"}, {"sign_in": "nobody", "password": "wrong"},
    {"sign_in": "' OR 1=1 --", "password": "' OR 1=1 --"},
    {"sign_in": "<script>", "password": builders.PASSWORD},
    {"sign_in": "test\x00stores", "password": builders.PASSWORD},
]  # fmt: skip


@pytest.mark.parametrize("given", SIGN_INS)
def test_a_wrong_sign_in_is_refused_and_starts_no_session(things, given):
    client, before = Client(), rows()
    response = client.post("/sign-in/", given)
    assert response.status_code == 400
    assert refused(response) == ""
    assert "<script>" not in response.text.partition("<h1>")[2]
    assert client.get("/store/").status_code == 302
    assert rows() == before


def test_an_unknown_name_and_a_wrong_password_get_the_same_answer(things):
    known, unknown = (
        Client().post("/sign-in/", {"sign_in": name, "password": "wrong"}).context["form"].errors
        for name in ("test-stores", "nobody")
    )
    assert known == unknown


def test_signing_in_needs_its_token_and_leads_only_to_our_own_pages(things):
    given = {"sign_in": "test-stores", "password": builders.PASSWORD}
    assert Client(enforce_csrf_checks=True).post("/sign-in/", given).status_code == 403
    away = Client().post("/sign-in/?next=https://example.org/", given)
    assert away["Location"] == "/"
    assert Client().post("/sign-in/?next=/store/", given)["Location"] == "/store/"


def test_units_of_measure_are_one_of_two(things):
    client, before = Client(), rows()
    client.force_login(things.ground.stores)
    for units in ("", "imperial", "<b>"):
        assert client.post("/choose-units/", {"units": units}).status_code == 400
    assert rows() == before
