"""The way in for tablets: JSON over HTTP, refused whole where it is not what it should be."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.conf import settings
from django.test import Client
from django.utils import timezone

from records.accounts import services as accounts
from records.accounts import tablets
from records.audit.models import Entry
from records.yard import services as yard
from records.yard import shell
from records.yard.models import Seat, SetAside, YardEvent
from tests import builders
from tests.pages import rows
from tests.yard.device import Tablet, ms

OFFICE = "office-0011223344556677"


@pytest.fixture
def now():
    return timezone.now().replace(microsecond=0)


@pytest.fixture
def today(db, now):
    """A ground that lives today, because views read the clock, and its burn."""
    ground = builders.found_ground(at=now - dt.timedelta(days=2))
    builders.accepted_lot(ground, at=now - dt.timedelta(days=2))
    content = builders.content(ground, starts_at=now - dt.timedelta(minutes=10))
    ground.burn = builders.lit(ground, content, at=now - dt.timedelta(days=1))
    return ground


@pytest.fixture
def client(today, signed_in):
    return signed_in(today.instructor)


def sit(client: Client, device: str = OFFICE):
    return post(client, {"device": device}, "/yard/seat/")


def post(client: Client, told, address: str = "/yard/sync/", **options):
    options.setdefault("content_type", "application/json")
    body = told if isinstance(told, (str, bytes)) else json.dumps(told)
    return client.post(address, body, **options)


def batch(*texts: str, device: str = OFFICE, **changes):
    now = {"wall": ms(timezone.now()), "mono": 1_000_000, "boot": "boot-9"}
    return {"v": 1, "device": device, "now": now, "shell": "x", "events": list(texts), **changes}


@pytest.fixture
def tablet(today, client, now):
    assert sit(client).status_code == 200
    return Tablet(
        OFFICE, today.burn.public_id, today.instructor.public_id, now - dt.timedelta(minutes=12)
    )


def test_a_batch_is_answered_event_by_event_with_the_head(client, tablet, now):
    text = tablet.tap("steam", at=now)
    told = post(client, batch(text, "{")).json()
    assert [each["outcome"] for each in told["results"]] == ["stored", "refused"]
    assert told["results"][1]["reason"]
    assert told["head"].splitlines()[1] == str(Entry.objects.count())
    assert post(client, batch(text)).json()["results"][0]["outcome"] == "duplicate"


def test_hello_says_who_and_when_and_gives_the_token(client, today):
    told = client.get("/yard/hello/").json()
    assert (told["person"], told["name"]) == (today.instructor.public_id, today.instructor.name)
    assert abs(told["server"] - ms(timezone.now())) < 5_000
    assert told["shell"] == shell.version()
    assert told["csrf"]


def test_a_seat_is_taken_once_and_says_what_came_last(client, tablet, now):
    assert sit(client).json() == {"last": {"seq": 0, "sha256": ""}}
    text = tablet.tap("steam", at=now)
    post(client, batch(text))
    assert sit(client).json()["last"]["seq"] == 1
    assert Seat.objects.count() == 1


@pytest.mark.parametrize("address", ["/yard/hello/", "/yard/kit/", "/yard/sync/", "/yard/seat/"])
def test_nobody_signed_in_is_told_401_and_nothing_is_stored(today, address):
    before = rows()
    method = "post" if address in ("/yard/sync/", "/yard/seat/") else "get"
    response = getattr(Client(), method)(address)
    assert (response.status_code, response.headers["Content-Type"]) == (401, "application/json")
    assert rows() == before


@pytest.mark.parametrize("role", ["stores", "manager", "safety", "inspector", "auditor", "admin"])
def test_other_roles_are_403(today, signed_in, role, now):
    before = rows()
    assert post(signed_in(today.cast[role]), batch("{}")).status_code == 403
    assert rows() == before


def test_without_the_token_of_the_form_nothing_is_stored(today, tablet, now):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(today.instructor)
    before = rows()
    assert post(strict, batch(tablet.tap("steam", at=now))).status_code == 403
    assert rows() == before


WRONG = {
    "no JSON": ("{", 400), "blank": (" ", 400), "a list": ([], 400), "null": ("null", 400),
    "a text": ('"x"', 400), "not UTF-8": (b"\xff\xfe", 400),
    "an unknown part": (batch(also=1), 400), "no device": ({**batch(), "device": None}, 400),
    "a long device": (batch(device="office-" + "x" * 200), 400),
    "a NUL in the device": (batch(device="office-\x00"), 400),
    "events that are no list": (batch(events={}), 400), "no events": ({"v": 1}, 400),
    "a version as text": (batch(v="1"), 400), "a version as true": (batch(v=True), 400),
    "another version": (batch(v=2), 409),
    "clocks as text": (batch(now={"wall": "1", "mono": 1, "boot": "b"}), 400),
    "clocks with decimals": (batch(now={"wall": 1.5, "mono": 1, "boot": "b"}), 400),
    "no clocks": (batch(now={}), 400),
    "clocks beyond all bounds": (batch(now={"wall": 10**30, "mono": 1, "boot": "b"}), 400),
    "another device": (batch(device="office-of-somebody-else"), 403),
    "201 events": (batch(*["{}"] * 201), 413),
    "nested too deeply": ("[" * 21 + "]" * 21, 400), "nested beyond all bounds": ("[" * 100_000, 400),
    "3 MB": (batch("x" * 3_000_000), 413),
}  # fmt: skip


@pytest.mark.parametrize("name", WRONG)
def test_what_is_wrong_as_a_whole_stores_nothing(client, tablet, name):
    told, status = WRONG[name]
    before = rows()
    response = post(client, told)
    assert response.status_code == status
    assert response.json()["error"]
    assert rows() == before


def test_another_kind_of_content_is_415(client, tablet):
    assert post(client, batch(), content_type="text/plain").status_code == 415
    assert client.post("/yard/sync/", {"v": 1}).status_code == 415


def test_another_method_is_405(client):
    for method in ("get", "put", "patch", "delete"):
        assert getattr(client, method)("/yard/sync/").status_code == 405


def test_answers_are_never_kept_by_a_cache(client):
    for address in ("/yard/hello/", "/yard/kit/"):
        assert "no-store" in client.get(address).headers["Cache-Control"]


def enrolled(today, client):
    device, key = tablets.enrol_tablet(today.site, name="Yard 1", by=today.admin)
    client.cookies[settings.TABLET_COOKIE_NAME] = f"{device.public_id}:{key}"
    return device


def test_an_enrolled_tablet_speaks_for_itself_only(today, client, now):
    device = enrolled(today, client)
    assert sit(client, device.public_id).status_code == 200
    told = Tablet(device.public_id, today.burn.public_id, today.instructor.public_id, now)
    text = told.tap("steam", at=now)
    other, _key = tablets.enrol_tablet(today.site, name="Yard 2", by=today.admin)
    before = rows()
    assert post(client, batch(text, device=other.public_id)).status_code == 403
    assert rows() == before
    assert sit(client, other.public_id).status_code == 400
    assert (
        post(client, batch(text, device=device.public_id)).json()["results"][0]["outcome"]
        == "stored"
    )


def test_a_tablet_that_was_ended_is_refused_and_nothing_is_stored(today, client, now):
    device = enrolled(today, client)
    sit(client, device.public_id)
    text = Tablet(device.public_id, today.burn.public_id, today.instructor.public_id, now).tap(
        "steam", at=now
    )
    tablets.end_tablet(device, reason="lost", by=today.admin)
    before = rows()
    assert post(client, batch(text, device=device.public_id)).status_code == 403
    assert rows() == before


def test_whoever_was_switched_off_is_told_401_and_the_queue_can_come_later(
    today, client, tablet, now
):
    text = tablet.tap("steam", at=now)
    accounts.disable_person(today.site, today.instructor, reason="left", by=today.admin,
                            at=now + dt.timedelta(seconds=60))  # fmt: skip
    assert post(client, batch(text)).status_code == 401
    again = Client()
    again.force_login(today.instructor_two)
    assert post(again, batch(text)).json()["results"][0]["outcome"] == "stored"
    assert YardEvent.objects.get().doubts == ["person_off"]


def test_the_kit_holds_what_the_page_needs_without_a_signal(client, today, tablet, now):
    text = tablet.tap("steam", at=now)
    post(client, batch(text))
    kit = client.get("/yard/kit/").json()
    (burn,) = kit["burns"]
    assert burn["id"] == today.burn.public_id
    assert burn["events"] == [text]
    assert burn["unit"]["openings"][0]["name"] == "door"
    assert {"The safety"} <= {each["name"] for each in burn["people"]}
    assert "neutral_plane" in {each["name"] for each in kit["kinds"]}


def rescue(client, data: bytes):
    from django.core.files.uploadedfile import SimpleUploadedFile

    return client.post("/yard/rescue/", {"file": SimpleUploadedFile("yard.jsonl", data)})


def test_a_rescue_file_goes_the_same_way(client, tablet, now):
    texts = [tablet.tap("steam", at=now) for _n in range(3)]
    post(client, batch(texts[0]))
    response = rescue(client, ("\ufeff" + "\r\n".join(texts) + "\n").encode())
    assert response.status_code == 302
    assert YardEvent.objects.count() == 3
    rescue(client, "\n".join(texts).encode())
    assert YardEvent.objects.count() == 3
    assert not SetAside.objects.exists()


@pytest.mark.parametrize(
    "data", [b"\xff\xfe\x00", b"time,value\n1,2\n", b"PK\x03\x04", b"\n\n", b"[]"]
)
def test_what_is_no_rescue_file_is_refused_whole(client, tablet, data):
    before = rows()
    response = rescue(client, data)
    assert response.status_code == 400
    assert "no rescue file" in response.text
    assert rows() == before


def test_a_rescue_file_that_is_too_large_is_413(client, tablet, monkeypatch):
    monkeypatch.setattr(yard, "MOST_LINES", 2)
    assert rescue(client, b"{}\n{}\n{}\n").status_code == 413
    monkeypatch.setattr(yard, "MOST_BYTES", 10)
    assert rescue(client, b"{}\n" * 9).status_code == 413


def test_the_page_and_its_worker_hold_nothing_of_anybody(today):
    stranger = Client()
    page = stranger.get("/yard/").text
    worker = stranger.get("/yard/worker.js")
    assert today.site.name not in page
    assert worker.headers["Content-Type"].startswith("text/javascript")
    assert f'"{shell.version()}"' in worker.text
    assert stranger.get("/yard/manifest.webmanifest").json()["scope"] == "/yard/"


def test_every_file_the_worker_keeps_is_there(today):
    stranger = Client()
    for address in shell.files():
        if address.startswith("/yard/"):
            assert stranger.get(address).status_code == 200
