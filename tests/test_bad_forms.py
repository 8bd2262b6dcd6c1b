"""Wrong input is refused whole: a named field, a rule, what was typed kept, nothing written.

One good sending for each form; every field of it is spoiled in every way its kind can be.
"""

from __future__ import annotations

import html
import re

import pytest
from django.db import transaction
from django.test import Client

from records.audit.models import Entry
from tests.forms_table import FORMS, Choice, Form, Number, Text, Time
from tests.pages import Things, rows

MARKUP = "<i>'\";--</i>"


@pytest.fixture
def things(db) -> Things:
    return Things()


def sender(things: Things, form: Form, **options) -> Client:
    client = Client(**options)
    client.force_login(things.ground.cast[form.who])
    return client


def named(things: Things, name: str) -> str:
    """The field as it is sent: how much of a lot was used carries the lot's id."""
    return f"used_{things.lot.public_id}" if name == "used" else name


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


def kept(response, kind, value: str) -> bool:
    """Whether what was typed is still there; a list of choices cannot keep a strange one."""
    typed = isinstance(kind, (Text, Number, Time)) and value.strip() and value.isprintable()
    return not typed or html.escape(value) in response.text.replace("&#x27;", "&#x27;")


@pytest.mark.parametrize("name", FORMS)
def test_the_good_sending_is_accepted_and_logged_once(things, name):
    """The control: without it, every refusal below could have another cause."""
    form = FORMS[name]
    data, address = good(things, form), things.address(form.address)
    before = Entry.objects.count()
    response = sender(things, form).post(address, data)
    assert response.status_code == 302
    acts = list(Entry.objects.filter(seq__gte=before).values_list("act", flat=True))
    assert acts == [form.act]


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
    address, client, before = things.address(form.address), sender(things, form), rows()
    for data in ({}, {"once": "k"}, dict.fromkeys(good(things, form), "   ")):
        response = client.post(address, data)
        assert refused(response) == ""
        assert rows() == before


FOREIGN = [
    (name, field)
    for name, form in FORMS.items()
    for field, kind in form.fields.items()
    if isinstance(kind, Choice) and kind.foreign
]


@pytest.mark.parametrize(("name", "field"), FOREIGN)
def test_a_choice_of_another_ground_is_no_choice(things, name, field):
    form, other = FORMS[name], Things("Other ground")
    data, address = good(things, form), things.address(form.address)
    foreign = form.fields[field].foreign(other)
    before = rows()
    response = sender(things, form).post(address, data | {field: foreign})
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
    assert "it was not recorded twice" in second.text


@pytest.mark.parametrize("name", FORMS)
def test_without_its_token_a_form_is_refused(things, name):
    form = FORMS[name]
    data, address = good(things, form), things.address(form.address)
    before = rows()
    response = sender(things, form, enforce_csrf_checks=True).post(address, data)
    assert response.status_code == 403
    assert rows() == before


@pytest.mark.parametrize("name", FORMS)
def test_three_thousand_parameters_are_refused(things, name):
    form = FORMS[name]
    data = good(things, form) | {f"more_{number}": "1" for number in range(3000)}
    address, before = things.address(form.address), rows()
    assert sender(things, form).post(address, data).status_code == 400
    assert rows() == before


@pytest.mark.parametrize("name", FORMS)
def test_a_field_that_is_not_on_the_form_changes_nothing(things, name):
    """Mass assignment: what the form does not ask for is not taken."""
    form = FORMS[name]
    strange = {"state": "approved", "approved_by": "1", "site": "1", "seq": "0", "by": "x"}
    data, address = good(things, form) | strange, things.address(form.address)
    before = Entry.objects.count()
    assert sender(things, form).post(address, data).status_code == 302
    made = Entry.objects.filter(seq__gte=before)
    assert [(entry.act, entry.actor, entry.site) for entry in made] == [
        (form.act, things.ground.cast[form.who].public_id, things.ground.site.public_id)
    ]


SHOWN_AT = {  # where a text can be read after it was accepted, if not where the form leads
    "delivery": "/store/deliveries/", "product": "/store/products/",
}  # fmt: skip


TEXTS = [
    (name, field)
    for name, form in FORMS.items()
    for field, kind in form.fields.items()
    if isinstance(kind, Text)
]


@pytest.mark.parametrize(("name", "field"), TEXTS)
def test_markup_and_quotes_are_stored_as_typed_and_shown_escaped(things, name, field):
    form = FORMS[name]
    client = sender(things, form)
    data = good(things, form) | {field: MARKUP}
    response = client.post(things.address(form.address), data, follow=True)
    assert response.status_code == 200
    page = client.get(SHOWN_AT[name]).text if name in SHOWN_AT else response.text
    log = Client()
    log.force_login(things.ground.auditor)
    pages = page + log.get("/audit/").text
    assert MARKUP not in pages
    assert html.escape(MARKUP) in pages
